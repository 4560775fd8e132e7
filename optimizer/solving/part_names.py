"""The names of an answer's ring parts: those of an earlier answer for the same rings, else the next free."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from ringset.catalogue.bore_zones import catalogue_zone_at
from ringset.schema.answer import JointRing, RingPart
from ringset.schema.earlier_names import EarlierNames, RingKey
from ringset.schema.part_numbers import (
    NO_PREFIX,
    PartNumbers,
    part_name_number,
    part_names_sorted,
    part_numbers_taken,
)
from ringset.schema.standing import SAME_MM, PartInProduction
from ringset.schema.study import Study

#: What makes rings one part: module, teeth, bore and width in mm, lower and upper limit of the bore in um.
PartKey = tuple[float, int, float, float, float, float]


def composed_part_key(ring: JointRing | RingPart) -> PartKey:
    """Return what makes a ring the same part as another of its answer."""
    return (
        round(ring.module_mm, 9), ring.teeth, round(ring.bore_mm, 9), ring.face_width_mm,
        ring.bore_lower_um, ring.bore_upper_um,
    )  # fmt: skip


def composed_standing_names(study: Study, rings: list[JointRing]) -> list[str | None]:
    """Return by ring the name of the part in production that it is, None for a new one."""
    return [
        next((part.name for part in study.shop.parts_in_production if _is(study, ring, part)), None)
        for ring in rings
    ]


def _is(study: Study, ring: JointRing, part: PartInProduction) -> bool:
    if not part.is_ring(ring.module_mm, ring.teeth, ring.bore_mm, ring.face_width_mm):
        return False
    zone = catalogue_zone_at(study.shop, part.bore_zone, part.bore_mm)
    ends = (ring.bore_lower_um, zone.lower_um), (ring.bore_upper_um, zone.upper_um)
    return all(abs(own - other) <= SAME_MM for own, other in ends)


def composed_part_names(
    prefix: str, rings: Sequence[RingKey], earlier: EarlierNames | None,
    standing: Sequence[str | None], taken: Sequence[str],
) -> tuple[list[str], PartNumbers | None]:  # fmt: skip
    """Return the name of each of some different rings, and what became of the earlier names, if any.

    A ring in production has its own name (`standing`, None for new ones). New numbers follow in the order of
    `rings` the largest that was ever used, whatever its prefix, by answers or by parts in production (`taken`
    are their names).
    """
    start = prefix or NO_PREFIX
    of_rings = {} if earlier is None else earlier.of_rings
    used = set() if earlier is None else {*of_rings.values(), *earlier.retired}
    numbers = [*map(part_name_number, used), *part_numbers_taken(taken)]
    following = itertools.count(max(numbers, default=0) + 1)
    owned = set(taken)
    known = [of_rings.get(ring) for ring in rings]
    kept = [
        None if own is not None or name in owned else name
        for name, own in zip(known, standing, strict=True)
    ]
    names = [
        own or name or f"{start}{next(following)}" for own, name in zip(standing, kept, strict=True)
    ]
    if earlier is None:
        return names, None
    return names, PartNumbers(
        kept=part_names_sorted(name for name in kept if name is not None),
        retired=part_names_sorted(used - set(names)),
    )
