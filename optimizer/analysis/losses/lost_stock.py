"""Stock sizes that are lost: bars, tubes and plates, and which rows are left without one.

Wishes know nothing of stock, so a size takes rows with it only where nothing else on stock suits: a joint
whose ring is turned from stock is then given one that the stock left suits. A joint with a ring that no stock
suits as it is buys that blank elsewhere. It may go on so, but not with a ring that the lost size alone suits.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from ringset.analysis.losses.lost import Lost
from ringset.analysis.losses.models import BlankInstead, LossKind
from ringset.arrays import Mask
from ringset.catalogue.partners import catalogue_second_rows
from ringset.catalogue.ring_sizes import catalogue_ring_sizes
from ringset.catalogue.rows import Catalogue
from ringset.manufacturing.blanks import shop_blanks, shop_has_blanks
from ringset.physics.machining import Blank
from ringset.schema.answer import Answer, RingPart
from ringset.schema.shop import Shop
from ringset.schema.study import Study


@dataclass(frozen=True, order=True)
class StockSize:
    """A stock size in mm: `outer` is the diameter of a bar or tube, or the thickness of a plate."""

    kind: LossKind
    outer: float
    bore: float

    @classmethod
    def of(cls, blank: Blank) -> StockSize:
        """Return the size that a blank is sawn from."""
        if blank.kind == "plate":
            return cls("plate", blank.length_mm, 0.0)
        return cls("tube" if blank.kind == "tube" else "bar", blank.outer_mm, blank.inner_mm)

    @property
    def name(self) -> str:
        """Its numbers."""
        return f"{self.outer:g}" + (f" x {self.bore:g}" if self.kind == "tube" else "")

    @property
    def thing(self) -> str:
        """What it is, in words."""
        more = {"plate": " thick", "tube": f" x bore {self.bore:g}"}.get(self.kind, "")
        return f"{self.kind} {self.outer:g}{more}"

    def taken_from(self, shop: Shop) -> Shop:
        """Return a shop without it."""
        left: dict[str, object] = {}
        if self.kind == "bar":
            left["bars_mm"] = [bar for bar in shop.bars_mm if bar != self.outer]
        elif self.kind == "plate":
            left["plates_mm"] = [plate for plate in shop.plates_mm if plate != self.outer]
        else:
            mine = (self.outer, self.bore)
            left["tubes"] = [tube for tube in shop.tubes if (tube.outer_mm, tube.bore_mm) != mine]
        return shop.model_copy(update=left)


@dataclass(frozen=True)
class LostStock(Lost):
    """A stock size; `shop` states it, `poorer` is the shop without it."""

    shop: Shop = field(kw_only=True)
    poorer: Shop = field(kw_only=True)
    answer: Answer = field(kw_only=True)
    rows: Catalogue = field(kw_only=True)

    def left(self) -> Mask:
        """Return the rows whose rings the stock left suits, or no stock where it suits none now."""
        elsewhere = _bought_elsewhere(self.shop, self.answer)
        joints = self.rows.joints
        free = np.array([(ref.robot.name, ref.joint.name) in elsewhere for ref in joints])
        kept = self._suited(self.rows, free)
        others, place = catalogue_second_rows(self.rows)
        has = place >= 0
        kept[has] &= self._suited(others, free)[place[has]]
        return kept

    def _suited(self, rows: Catalogue, free: Mask) -> Mask:
        sizes = catalogue_ring_sizes(self.shop, rows)
        ring = (sizes.tip, sizes.bore, rows.per_joint(lambda ref: ref.joint.face_width_mm))
        unsuited = ~shop_has_blanks(self.shop, *ring)
        return shop_has_blanks(self.poorer, *ring) | (free[rows.joint] & unsuited)

    def used(self, answer: Answer) -> bool:
        """Say whether an answer has a ring that cannot do without the size."""
        elsewhere = _bought_elsewhere(self.shop, self.answer)
        parts = {part.id: part for part in answer.ring_parts}
        return not all(
            _blanks(self.poorer, part) or (ring.place in elsewhere and not _blanks(self.shop, part))
            for ring in answer.every_ring
            for part in [parts[ring.ring_part]]
        )


def lost_stock(study: Study, answer: Answer, rows: Catalogue) -> Iterator[Lost]:
    """Yield every stock size that blanks of an answer come from, as lost; `rows` are inside all limits."""
    shop = study.shop
    users: dict[StockSize, list[RingPart]] = {}
    for part in answer.ring_parts:
        for blank in _blanks(shop, part)[:1]:
            users.setdefault(StockSize.of(blank), []).append(part)
    for size, parts in sorted(users.items()):
        poorer = size.taken_from(shop)
        others = [_blanks(poorer, part) for part in parts]
        yield LostStock(
            size.kind, size.name, size.thing,
            list(dict.fromkeys(joint for part in parts for joint in part.used_on)),
            "no ring inside its limits can be turned from the stock left",
            blanks=[
                _instead(part, _blanks(shop, part)[0], found[0])
                for part, found in zip(parts, others, strict=True)
                if all(others)
            ],
            shop=shop, poorer=poorer, answer=answer, rows=rows,
        )  # fmt: skip


def _blanks(shop: Shop, part: RingPart) -> list[Blank]:
    return shop_blanks(shop, part.tip_diameter_mm, part.bore_mm, part.face_width_mm)


def _instead(part: RingPart, before: Blank, after: Blank) -> BlankInstead:
    more = part.quantity * (after.bought_kg - before.bought_kg)
    return BlankInstead(
        ring_part=part.id, before=before.text, after=after.text, bought_more_kg=more
    )


def _bought_elsewhere(shop: Shop, answer: Answer) -> set[tuple[str, str]]:
    """Return the joints of an answer that have a ring which no stock of the shop suits."""
    missing = {part.id for part in answer.ring_parts if not _blanks(shop, part)}
    return {ring.place for ring in answer.every_ring if ring.ring_part in missing}
