"""Long campaigns in three tiers: some cases in the fast one, some in the slow one, the rest on demand.

`pytest -m campaign` runs the rest, beside the campaigns of `tests/bench`.
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest


def slow(*values: object) -> object:
    """Return one case of a parametrized test that belongs to the slow tier."""
    return pytest.param(*values, marks=pytest.mark.slow)


def campaign(*values: object) -> object:
    """Return one case of a parametrized test that is run on demand."""
    return pytest.param(*values, marks=pytest.mark.campaign)


def first_fast(cases: Iterable[object], fast: int) -> list[object]:
    """Return the cases, of one value each: the first `fast`, then half of the rest in the slow tier.

    The other half is a campaign, run on demand.
    """
    every = list(cases)
    some = fast + -(-(len(every) - fast) // 2)
    tiers = [pytest.mark.slow] * some + [pytest.mark.campaign] * (len(every) - some)
    return [
        case if place < fast else pytest.param(case, marks=tier)
        for place, (case, tier) in enumerate(zip(every, tiers, strict=True))
    ]
