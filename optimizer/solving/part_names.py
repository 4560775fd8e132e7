"""The names of an answer's ring parts: those of an earlier answer for the same rings, else the next free."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from ringset.schema.earlier_names import EarlierNames, RingKey
from ringset.schema.part_numbers import (
    NO_PREFIX,
    PartNumbers,
    part_name_number,
    part_names_sorted,
)


def composed_part_names(
    prefix: str, rings: Sequence[RingKey], earlier: EarlierNames | None
) -> tuple[list[str], PartNumbers | None]:
    """Return the name of each of some different rings, and what became of the earlier names, if any.

    New numbers follow in the order of `rings` the largest that was ever used, whatever its prefix.
    """
    start = prefix or NO_PREFIX
    if earlier is None:
        return [f"{start}{number}" for number in range(1, len(rings) + 1)], None
    used = {*earlier.of_rings.values(), *earlier.retired}
    following = itertools.count(max(map(part_name_number, used)) + 1)
    kept = [earlier.of_rings.get(ring) for ring in rings]
    names = [name or f"{start}{next(following)}" for name in kept]
    return names, PartNumbers(
        kept=part_names_sorted(name for name in kept if name is not None),
        retired=part_names_sorted(used - set(kept)),
    )
