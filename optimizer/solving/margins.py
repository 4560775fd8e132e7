"""How far a row is inside every limit that applies to it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ringset.catalogue.check import Check
from ringset.schema.answer import Margin

#: The order in which an answer lists margins, lower limits before upper ones; others follow in that of the
#: table of limits.
FIRST = (
    "bore_min_mm", "shop.rim_min_mm", "shop.rim_min_depths", "tip_min_mm", "head.module_min_mm",
    "head.teeth_min", "target.resolution_bits", "head.gap_left_min_mm", "bore_max_mm", "tip_max_mm",
    "housing_max_mm", "shop.rim_max_mm", "head.module_max_mm", "head.teeth_max", "head.tooth_rate_max_hz",
    "shop.clamp_runout_share",
)  # fmt: skip
#: Two limits on the least rim: only the one that asks more is listed, the first where both ask the same.
RIMS = ("shop.rim_min_mm", "shop.rim_min_depths")


def solved_margins(checks: dict[str, Check], row: int) -> list[Margin]:
    """Return the margin of one row to every limit that applies to it.

    `checks` are those of all its limits (`rating.limits.rated_checks_in_full`), `row` is an index into their
    columns.
    """
    return [
        Margin(
            limit=name,
            value=value,
            allowed=allowed,
            unit=check.unit,
            margin=check.sign * (allowed - value) + 0.0,
        )
        for name, check in sorted(_listed(checks, row), key=lambda item: item[1].sign)
        for value, allowed in [(float(check.value[row]), float(check.allowed[row]))]
    ]


def _listed(checks: dict[str, Check], row: int) -> Iterator[tuple[str, Check]]:
    """Yield the limits that apply to a row, those of `FIRST` first."""
    least, by_depth = (float(checks[name].allowed[row]) for name in RIMS)
    slack = RIMS[0] if by_depth > least else RIMS[1]
    for name in dict.fromkeys([*FIRST, *checks]):
        if name in checks and name != slack and np.isfinite(checks[name].allowed[row]):
            yield name, checks[name]
