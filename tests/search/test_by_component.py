"""Joints that share no ring, settled component by component, against the listing of every answer."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import pytest

from ringset.reduction.table import FirstRows, Table
from ringset.reduction.units import reduction_units
from ringset.schema.study import Search, Wish
from ringset.search import one_wish as staging
from ringset.search.bounds.lagrangian import BoundBroken
from ringset.search.exact import (
    branch_and_bound,
    by_component,
    by_engines,
    component,
)
from ringset.search.lexicographic import Solver
from ringset.search.state.context import SearchContext
from ringset.search.state.incumbent import Incumbent
from ringset.search.wishes_in_turn import minimise_wishes
from tests.support.answered import Route, proven_best
from tests.support.tables import Row, listed, random_table, side_by_side, table
from tests.support.tiers import campaign, slow
from tests.support.tuned import tune

ORDERS: list[list[Wish]] = [["material"], ["cost"], ["heads"], ["material", "heads"]]


def at_once(patch: pytest.MonkeyPatch) -> None:
    """Take every program for a large one, and start from poor answers."""
    tune(patch, reuse_rows=0, large_rows=1)
    patch.setattr(staging, "greedy_incumbent", lambda *_: None)


def step_by_step(patch: pytest.MonkeyPatch) -> None:
    """Look for answers within as little as there is, and list none of them."""
    at_once(patch)
    tune(patch, component_gap=1e-3, component_near=1e-9, listed_max=0)
    patch.setattr(branch_and_bound, "search_relaxed_most_shares", lambda *_: None)


def unclimbed(patch: pytest.MonkeyPatch) -> None:
    """Climb nowhere: bounds come from linear programs and nodes alone."""
    at_once(patch)
    tune(patch, component_turns=1, steps_max=0)


def random_components(seed: int) -> Table:
    """Return a table of two or three components, of one to three joints each."""
    rng = np.random.default_rng(seed)
    sizes = ((2, 2), (3, 1), (1, 1, 2), (2, 1))[seed % 4]
    made = [random_table(int(rng.integers(10**6)), joints=size) for size in sizes]
    return side_by_side(made)


@pytest.mark.cases(fast=0)
@pytest.mark.parametrize(
    ("route", "first", "tables"),
    [(at_once, 0, 30), slow(step_by_step, 1000, 30), campaign(unclimbed, 2000, 30)],
)
def test_the_best_of_all_components_is_found_and_proven(
    route: Route,
    first: int,
    tables: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Components under a ceiling of ring parts give the best of all listed answers, one by one."""
    route(monkeypatch)
    seen: Counter[str] = Counter()
    honest, step = by_component.settle_by_component, by_component._Components.step

    def counted(run: Incumbent) -> bool:
        done = honest(run)
        seen["settled"] += done
        return done

    def stepped(together: Any, *more: Any) -> bool:
        seen["components"] += len(together.components)
        seen["steps"] += 1
        return step(together, *more)

    monkeypatch.setattr(staging, "settle_by_component", counted)
    monkeypatch.setattr(by_component._Components, "step", stepped)
    for seed in range(first, first + tables):
        made, rng = random_components(seed), np.random.default_rng(seed)
        units = reduction_units(made)
        answers = listed(made, units)
        within = answers.within_sums
        if not within.any():
            continue
        ceilings: dict[Wish, float] = {}
        parts = np.unique(answers.values["ring_parts"][within])
        ceilings["ring_parts"] = float(rng.choice(parts[: 1 + len(parts) // 2]))
        if rng.random() < 0.7:
            ceilings["cutters"] = float(rng.integers(1, 3))
        order = ORDERS[seed % 4]
        choice, _ = proven_best(made, units, answers, order, ceilings, seed)
        seen.update(stage.confirmed_by for stage in choice.stages)
    assert seen["settled"] >= tables // 3, seen
    assert seen["steps"] >= 4 * tables // 5, seen  # least covers leave some with nothing to settle
    assert seen["components"] >= 2 * seen["steps"], seen


TWO_COMPONENTS = [
    # component 1: one ring of 5 kg for both joints, or one of 1 and one of 2 kg
    Row(0, 0, kg=5.0), Row(1, 0, kg=5.0), Row(0, 1, kg=1.0), Row(1, 2, kg=2.0),
    # component 2: one ring of 4 kg for both joints, or two of 1 kg
    Row(2, 3, kg=4.0), Row(3, 3, kg=4.0), Row(2, 4, kg=1.0), Row(3, 5, kg=1.0),
]  # fmt: skip


@pytest.mark.parametrize(("parts", "kg"), [(2, 18.0), (3, 11.0), (4, 5.0)])
def test_parts_go_to_the_component_where_they_save_most(
    parts: int, kg: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By hand: a third part saves 7 kg on component 1 and 6 kg on component 2."""
    at_once(monkeypatch)
    made = table(TWO_COMPONENTS)
    choice = minimise_wishes(
        made, reduction_units(made), ["material"], {"ring_parts": parts}, Search()
    )
    assert choice.status == "proven"
    assert made.material_kg[choice.rows].sum() == kg
    assert choice.stages[0].confirmed_by == "halves"


def ties_of(made: Table, wish: Wish, ceilings: dict[Wish, float]) -> Any:
    solver = Solver(made, reduction_units(made), ceilings, Search())
    each = [np.flatnonzero(made.joint == joint)[0] for joint in range(made.joints)]
    start = FirstRows(np.array(each))
    run = Incumbent(solver.context, wish, {}, made, start)
    return by_component._ties(run.program, run.program.objectives[wish])


def test_what_ties_all_joints_leaves_no_components() -> None:
    made = table(TWO_COMPONENTS)
    tied = ties_of(made, "material", {"ring_parts": 3})
    assert tied.component.tolist() == [0, 0, 1, 1]
    assert tied.parts_most == 3
    assert ties_of(made, "material", {}) is None  # nothing counts parts: one relaxation does
    assert ties_of(made, "heads", {"ring_parts": 3, "material": 12.0}) is None
    summed = table(TWO_COMPONENTS, limit=1.0)
    assert ties_of(summed, "material", {"ring_parts": 3}) is None
    paid = table(TWO_COMPONENTS, cutter_cost=[2.0])
    assert ties_of(paid, "cost", {"ring_parts": 3, "cutters": 1}) is None
    one = table(TWO_COMPONENTS[:4])
    assert ties_of(one, "material", {"ring_parts": 2}) is None


def test_a_bound_of_a_component_that_an_answer_beats_stops_the_search(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    at_once(monkeypatch)
    made = table(TWO_COMPONENTS)
    learn = component.Component.learn

    def too_high(one: component.Component, *more: Any) -> None:
        learn(one, *more)
        one.least = np.where(one.least == component.NEVER, component.NEVER, one.least + 10**9)

    monkeypatch.setattr(component.Component, "learn", too_high)
    with pytest.raises(BoundBroken):
        minimise_wishes(made, reduction_units(made), ["material"], {"ring_parts": 3}, Search())


def test_a_search_that_ends_early_claims_no_more_than_was_proven(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """No step is ever done: the bound is that of all rows, and nothing is proven."""
    at_once(monkeypatch)
    monkeypatch.setattr(by_component._Components, "step", lambda *_: False)
    for name in ("search_relaxed_answer", "settle_by_branching"):
        monkeypatch.setattr(staging, name, lambda *_: None)
    made = table(TWO_COMPONENTS)
    solver = Solver(made, reduction_units(made), {"ring_parts": 3}, Search())
    run = Incumbent(solver.context, "material", {}, made, FirstRows(np.array([0, 1, 6, 7])))
    assert not by_component.settle_by_component(run)
    best = int(listed(made, solver.units).best(["material"], {"ring_parts": 3})[0])  # type: ignore[index]
    assert run.low <= best
    assert run.value >= best


def test_no_engine_is_given_a_program_when_the_time_is_over(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(SearchContext, "answer", lambda *_, **__: pytest.fail("CP-SAT was asked"))
    monkeypatch.setattr(by_engines, "highs_optimum", lambda *_: pytest.fail("HiGHS was asked"))
    made = table(TWO_COMPONENTS)
    solver = Solver(made, reduction_units(made), {"ring_parts": 3}, Search())
    run = Incumbent(solver.context, "material", {}, made, FirstRows(np.array([0, 1, 6, 7])))
    solver.stop()
    assert by_engines.prove_by_engines(run, [(run.program, 0, None)]) == "nothing"
    assert run.low < run.value
    assert run.low <= int(listed(made, solver.units).best(["material"], {"ring_parts": 3})[0])  # type: ignore[index]
