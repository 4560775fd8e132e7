"""Ring parts that stand already and do not count, on general tables against the listing of every answer."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from ringset.reduction.least_covers import reduced_to_covers
from ringset.reduction.reduce import reduce
from ringset.reduction.table import Table
from ringset.reduction.units import Units, reduction_units
from ringset.schema.study import Wish
from ringset.verification.certificate.covers import certificate_rows_of_few_rings
from tests.search.test_tables_answered import COARSE, climbing, covered, split, split_at_once
from tests.support.answered import Route, ways_of_tables
from tests.support.pair_tables import paired_table
from tests.support.routes import as_it_is, unimproved, unlisted, unreduced
from tests.support.tables import listed, random_table


def standing(seed: int, made: Table) -> Table:
    """Return a table of which some ring parts stand: they do not count, and most of them cost nothing."""
    rng = np.random.default_rng(10**7 + seed)
    counted = rng.random(len(made.part_cost)) < rng.choice((0.3, 0.6, 0.85))
    free = counted | (rng.random(len(counted)) < 0.1)
    return replace(made, counted_part=counted, part_cost=np.where(free, made.part_cost, 0.0))


def standing_table(seed: int) -> Table:
    return standing(seed, random_table(seed))


def standing_pairs(seed: int) -> Table:
    return standing(seed, paired_table(seed))


@pytest.mark.cases(fast=2, slow=7)
@pytest.mark.parametrize(
    ("route", "units", "kind", "first", "tables"),
    [(as_it_is, None, standing_table, 20_000, 60), (as_it_is, None, standing_pairs, 21_000, 40),
     (covered, None, standing_table, 22_000, 80), (unreduced, None, standing_table, 22_200, 30),
     (split, None, standing_table, 22_300, 40), (split_at_once, None, standing_table, 22_400, 50),
     (climbing, None, standing_table, 22_500, 25), (unlisted, COARSE, standing_table, 22_600, 25),
     (unimproved, None, standing_table, 22_700, 40), (covered, COARSE, standing_table, 23_000, 400),
     (as_it_is, None, standing_table, 24_000, 1000), (as_it_is, None, standing_pairs, 25_500, 500)],
)  # fmt: skip
def test_the_best_of_all_answers_is_found_where_some_parts_stand(
    route: Route, units: Units | None, kind: object, first: int, tables: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    route(monkeypatch)
    assert callable(kind)
    seen: Counter[str] = Counter(ways_of_tables(kind, range(first, first + tables), units))
    assert seen["proven"] >= tables // 3


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize(("first", "tables"), [(30_000, 150), (31_000, 400), (32_000, 5000)])
def test_rows_leave_only_where_no_answer_needs_them(first: int, tables: int) -> None:
    """By dominance, and by both ways to least covers: the best stays, and what is in an answer stays."""
    left = 0
    for seed in range(first, first + tables):
        made = replace(standing_table(seed), sums=())
        answers = listed(made, reduction_units(made))
        parts, kg = answers.values["ring_parts"], answers.values["material"]
        for most in np.unique(parts).tolist():
            used = np.unique(answers.picks[parts <= most])
            for keep in (
                reduced_to_covers(made, int(most), 10_000),
                certificate_rows_of_few_rings(made, int(most)),
            ):
                assert keep[used].all(), (seed, most)
                left += int((~keep).sum())
        needed: frozenset[Wish] = frozenset(["ring_parts", "material"])
        few = reduce(made, needed)
        rest = listed(few, reduction_units(made))
        for most in np.unique(parts).tolist():
            within = rest.values["ring_parts"] <= most
            assert rest.values["material"][within].min() == kg[parts <= most].min(), (seed, most)
    assert left >= tables // 4


def test_a_part_that_counts_never_takes_the_place_of_one_that_stands() -> None:
    """Of two alike rings the one in production stays; the table without it would count one part."""
    seen = 0
    for seed in range(200):
        made = standing_table(seed)
        assert made.counted_part is not None
        answers = listed(made, reduction_units(made))
        free = answers.values["ring_parts"] == 0
        few = reduce(made, frozenset(["ring_parts"]))
        if (free & answers.within_sums).any():
            rest = listed(few, reduction_units(made))
            assert (rest.values["ring_parts"][rest.within_sums] == 0).any(), seed
            seen += 1
    assert seen >= 20
