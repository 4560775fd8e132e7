"""Rows that ask for two ring parts: the search and the reduction against every answer, listed."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from ringset.reduction.reduce import reduce
from ringset.reduction.table import TableRows
from ringset.reduction.units import Units, reduction_units
from tests.support.answered import Route, ways_of_tables
from tests.support.pair_tables import paired_table
from tests.support.routes import as_it_is, unimproved, unlisted, unreduced
from tests.support.tables import listed, random_ceilings, random_order
from tests.support.tuned import tune


def large(patch: pytest.MonkeyPatch) -> None:
    """Treat every program as a large one, and let multipliers of earlier wishes drop rows."""
    tune(patch, climb_rows=1, large_rows=1, mixed_rows=1, reuse_rows=0, kernel_rows_of_highs=1)


@pytest.mark.cases(fast=0, slow=3)
@pytest.mark.parametrize(
    ("route", "units", "first", "tables"),
    [(as_it_is, None, 0, 120), (as_it_is, Units(0.5, 1.0), 200, 40), (large, None, 300, 40),
     (unlisted, None, 400, 40), (unimproved, None, 500, 40), (unreduced, None, 600, 40)],
)  # fmt: skip
def test_the_best_of_all_answers_is_found_and_proven(
    route: Route,
    units: Units | None,
    first: int,
    tables: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    route(monkeypatch)
    seen: Counter[str] = Counter()
    seen.update(ways_of_tables(paired_table, range(first, first + tables), units))
    assert seen["proven"] >= tables // 3
    assert seen["multipliers"] >= 5
    assert (seen["listing"] == 0) == (route is unlisted)


@pytest.mark.slow
def test_the_reduction_keeps_the_best_of_every_table_and_drops_rows() -> None:
    dropped = rows = 0
    for seed in range(2000, 2250):
        made, rng = paired_table(seed), np.random.default_rng(seed)
        units = reduction_units(made)
        answers = listed(made, units)
        order, ceilings = random_order(rng), random_ceilings(rng, answers)
        few = reduce(made, frozenset(order) | frozenset(ceilings))
        left = listed(made.take(TableRows(few.index)), units)
        assert left.best(order, ceilings) == answers.best(order, ceilings), seed
        dropped += len(made) - len(few)
        rows += len(made)
    assert dropped > rows // 4
