"""What of an answer can be lost, and which rows of the study are left without it.

A cutter takes all rows with it that need it, a ring part all rows that make it, as a second ring too. Every
joint states its one head, so without a head nothing is left. Of stock sizes `lost_stock` tells.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from ringset.analysis.losses.models import BlankInstead, LossKind
from ringset.analysis.losses.words import lost_joints_words
from ringset.arrays import Ints, Mask
from ringset.errors import Fault, StudyError
from ringset.rating.rated import Weighed
from ringset.rating.robot_sums import rated_part_keys
from ringset.schema.answer import Answer, Cutter, RingPart
from ringset.schema.study import Study
from ringset.solving.chosen_rings import chosen_row_places, chosen_rows
from ringset.solving.part_names import composed_part_key
from ringset.wording import wording_of_cutter, wording_of_part


@dataclass(frozen=True)
class Lost:
    """A thing of an answer that is lost; `none_left` says why a joint has no row left.

    `nothing` says why nothing is possible at all, where that needs no search; `blanks` are told where the
    answer stays as it is.
    """

    kind: LossKind
    name: str
    thing: str
    joints: list[str]
    none_left: str = ""
    nothing: str = ""
    blanks: list[BlankInstead] = field(default_factory=list)

    @property
    def searched(self) -> bool:
        """Whether the best answer without it has to be searched."""
        return not self.nothing and not self.blanks

    def left(self) -> Mask:
        """Return which rows are left without it."""
        raise NotImplementedError

    def used(self, answer: Answer) -> bool:
        """Say whether another answer has it; read off the answer alone."""
        raise NotImplementedError


@dataclass(frozen=True)
class LostCutter(Lost):
    """A cutter; `number` is that of the rows that need it."""

    cutter: Cutter = field(kw_only=True)
    number: int = field(kw_only=True)
    cutter_of_row: Ints = field(kw_only=True)

    def left(self) -> Mask:
        """Return the rows that need another cutter."""
        return np.asarray(self.cutter_of_row != self.number)

    def used(self, answer: Answer) -> bool:
        """Say whether an answer has a cutter that does the same."""
        mine = self.cutter
        return any(
            (one.kind, one.module_mm, one.tooth_range)
            == (mine.kind, mine.module_mm, mine.tooth_range)
            for one in answer.cutters
        )


@dataclass(frozen=True)
class LostPart(Lost):
    """A ring part; `number` is that of the rows whose ring, or second ring, it is."""

    part: RingPart = field(kw_only=True)
    number: int = field(kw_only=True)
    part_of_row: Ints = field(kw_only=True)
    second_of_row: Ints | None = field(kw_only=True)

    def left(self) -> Mask:
        """Return the rows that make other parts only."""
        left = np.asarray(self.part_of_row != self.number)
        return left if self.second_of_row is None else left & (self.second_of_row != self.number)

    def used(self, answer: Answer) -> bool:
        """Say whether an answer has a part of the same sizes."""
        mine = composed_part_key(self.part)
        return any(composed_part_key(one) == mine for one in answer.ring_parts)


def lost_things(study: Study, answer: Answer, inside: Weighed) -> Iterator[Lost]:
    """Yield cutters, heads and ring parts of an answer to a canonical study, each as lost.

    `inside` are the study's rows inside all limits. Raises StudyError for an answer of other rows.
    """
    rows = chosen_rows(study, answer)
    places = chosen_row_places(inside.catalogue, rows)
    if (places < 0).any():
        label = rows.joints[int(np.flatnonzero(places < 0)[0])].label
        allowed = "a ring inside all limits of its joint"
        raise StudyError([Fault("answer.rings", f"another one on {label}", allowed)])
    row = {
        (ref.robot.name, ref.joint.name): int(at)
        for ref, at in zip(rows.joints, places, strict=True)
    }
    for cutter in answer.cutters:
        mine = [ring for ring in answer.rings if ring.cutter == cutter.id]
        yield LostCutter(
            "cutter", cutter.id, wording_of_cutter(cutter), [ring.label for ring in mine],
            f"every ring inside its limits needs {cutter.id}", cutter=cutter,
            number=int(inside.cutter[row[mine[0].place]]), cutter_of_row=inside.cutter,
        )  # fmt: skip
    yield from _heads(study)
    first, second = rated_part_keys(inside)
    numbers = {ring.ring_part: int(first[row[ring.place]]) for ring in answer.rings}
    if second is not None:
        numbers |= {r.ring_part: int(second[row[r.place]]) for r in answer.second_rings}
    for part in answer.ring_parts:
        yield LostPart(
            "ring part", part.id, wording_of_part(part), list(part.used_on),
            "no other ring is inside its limits", part=part, number=numbers[part.id],
            part_of_row=first, second_of_row=second,
        )  # fmt: skip


def _heads(study: Study) -> Iterator[Lost]:
    readers: dict[str | None, list[str]] = {}
    for robot in study.robots:
        for joint in robot.joints:
            readers.setdefault(joint.head, []).append(f"{robot.name}/{joint.name}")
    for head, joints in sorted(readers.items(), key=lambda item: item[0] or ""):
        thing = "the shared head" if head is None else f"head {head}"
        text = f"without it {lost_joints_words(joints)} cannot be read at all, for the study states no "
        text += "other head for them"
        name = "head" if head is None else f"heads.{head}"
        yield Lost("head", name, thing, joints, nothing=text)
