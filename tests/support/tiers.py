"""Long campaigns in two tiers: some cases in the fast one, the others in the slow one."""

from __future__ import annotations

from collections.abc import Iterable

import pytest


def slow(*values: object) -> object:
    """Return one case of a parametrized test that belongs to the slow tier."""
    return pytest.param(*values, marks=pytest.mark.slow)


def first_fast(cases: Iterable[object], fast: int) -> list[object]:
    """Return the cases, of one value each, all but the first `fast` in the slow tier."""
    return [case if place < fast else slow(case) for place, case in enumerate(cases)]
