"""The search core beside published optima of OR-Library: facility location and p-median.

All 22 problems of tests/data/orlib (its README.md names the sources) go through the same code as a
study: `reduce`, `program`, `minimise_wishes`. Every optimum must be reached and proven, to half the last
printed digit. pmed6 alone takes longer than all others together; it runs in tests/bench/bench_location.py.
"""

from dataclasses import replace

import numpy as np
import pytest

from ringset.schema.study import Search
from ringset.search.wishes_in_turn import minimise_wishes
from tests.published.locations import known_optima, problem

SLOW = ("pmed6.txt",)
FILES = [file for file in known_optima() if file not in SLOW]


def test_every_problem_of_the_folder_is_here() -> None:
    assert len(known_optima()) == 22
    assert len(FILES) == 22 - len(SLOW)


@pytest.mark.cases(fast=13)
@pytest.mark.parametrize("file", FILES)
def test_the_published_optimum_is_reached_and_proven(file: str) -> None:
    given = problem(file)
    choice = minimise_wishes(
        given.table, given.units, [given.wish], given.ceilings, Search(time_limit_s=60.0)
    )
    assert choice.status == "proven", choice.reasons
    (stage,) = choice.stages
    assert stage.value == stage.bound
    assert stage.confirmed_by != "nothing"
    assert stage.value * given.unit == pytest.approx(
        float(given.optimum), rel=0.0, abs=given.tolerance
    )


@pytest.mark.parametrize("file", ["cap71.txt", "cap134.txt", "pmed1.txt", "pmed5.txt"])
def test_the_chosen_rows_come_to_the_published_optimum(file: str) -> None:
    """Added up by hand: every customer served once, every site used paid once."""
    given = problem(file)
    table = given.table
    choice = minimise_wishes(
        table, given.units, [given.wish], given.ceilings, Search(time_limit_s=60.0)
    )
    chosen = table.take(table.places_of(choice.rows))
    assert np.array_equal(np.sort(chosen.joint), np.arange(table.joints))
    sites = np.unique(chosen.ring)
    assert len(sites) <= given.ceilings.get("ring_parts", len(table.part_cost))
    total = chosen.cost.sum() + chosen.material_kg.sum() + table.part_cost[sites].sum()
    assert total == pytest.approx(float(given.optimum), rel=0.0, abs=given.tolerance)


def test_one_site_more_or_less_changes_the_optimum() -> None:
    """The ceiling on ring parts is what makes a p-median problem: it must bind."""
    given = problem("pmed1.txt")
    p = given.ceilings["ring_parts"]
    values = []
    for most in (p - 1, p + 1):
        choice = minimise_wishes(
            given.table, given.units, ["material"], {"ring_parts": most}, Search(time_limit_s=60.0)
        )
        values.append(choice.stages[0].value)
    assert values[1] < int(given.optimum) < values[0]


@pytest.mark.parametrize("count", ["new", "all"])
@pytest.mark.parametrize("file", [file for file in FILES if file.startswith("cap")])
def test_sites_that_stand_already_save_just_their_fixed_costs(file: str, count: str) -> None:
    """With the sites of an optimum free, the optimum is the published value less their fixed costs.

    No choice A of sites can then do better: it costs no less than the optimum before, less what its own free
    sites cost, and these cost no more than all that are free.
    """
    given = problem(file)
    table = given.table
    first = minimise_wishes(table, given.units, [given.wish], {}, Search(time_limit_s=60.0))
    sites = np.unique(table.take(table.places_of(first.rows)).ring)
    free = table.part_cost.copy()
    free[sites] = 0.0
    counted = np.ones(len(free), dtype=np.bool_)
    counted[sites] = False
    made = replace(table, part_cost=free, counted_part=counted if count == "new" else None)
    order = [given.wish, "ring_parts"]
    choice = minimise_wishes(made, given.units, order, {}, Search(time_limit_s=60.0))
    assert choice.status == "proven", choice.reasons
    expected = float(given.optimum) - float(table.part_cost[sites].sum())
    reached = choice.stages[0].value * given.unit
    assert reached == pytest.approx(expected, rel=0.0, abs=given.tolerance)
    assert choice.stages[1].value == (0 if count == "new" else len(sites))
