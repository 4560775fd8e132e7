"""A bound that an allowed answer beats stops the search; what a later search betters is told as reached."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from ringset.analysis.explanation import limit_prices
from ringset.analysis.front import front as fronts
from ringset.reduction.table import FirstRows, TableRows
from ringset.reduction.units import reduction_units
from ringset.schema.study import Search, Wish
from ringset.search import lexicographic as searching
from ringset.search.bounds import column_generation
from ringset.search.bounds.lagrangian import (
    Bound,
    BoundBroken,
    IntegerMultipliers,
    lagrangian_bound,
    named_multipliers,
)
from ringset.search.engines.result import Solved
from ringset.search.exact import branch_and_bound
from ringset.search.exact.enumeration import best_enumerated
from ringset.search.lexicographic import Solver
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program, build_search_program
from ringset.search.one_wish import minimise_wish as minimise_one
from ringset.search.state.context import SearchContext, search_columns_of_answer
from ringset.search.state.incumbent import Incumbent
from ringset.search.state.result import StageResult
from ringset.search.wishes_in_turn import minimise_wishes
from tests.search.test_tables_answered import split_and_listed, unpriced
from tests.support.narrow import present
from tests.support.studies import load, random_study
from tests.support.tables import Row, random_table, table
from tests.support.tuned import tune

PLAIN = table(
    [Row(0, 0, kg=1.0), Row(0, 1, kg=2.0), Row(1, 1, kg=2.0), Row(1, 2, kg=1.5), Row(1, 0, kg=3.0)]
)


def raised(units: int) -> Callable[..., Bound]:
    """Return an `lagrangian_bound` whose bound is some units of the weights too high."""

    def broken(program: Program, objective: Objective, whole: IntegerMultipliers) -> Bound:
        bound = lagrangian_bound(program, objective, whole)
        return replace(bound, scaled=bound.scaled + units * whole.scale)

    return broken


def test_a_bound_above_the_answer_at_hand_stops_the_search(monkeypatch: pytest.MonkeyPatch) -> None:
    assert (
        minimise_wishes(PLAIN, reduction_units(PLAIN), ["ring_parts"], {}, Search()).status
        == "proven"
    )
    monkeypatch.setattr(column_generation, "lagrangian_bound", raised(1))
    with pytest.raises(BoundBroken, match="ring_parts: an allowed answer comes to 1, but 2"):
        minimise_wishes(PLAIN, reduction_units(PLAIN), ["ring_parts"], {}, Search())


def test_an_answer_found_below_the_bound_of_a_node_stops_the_search(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Bounds of nodes are told a unit too high, yet below the answer at hand, so that they are listed."""
    split_and_listed(monkeypatch)
    tune(monkeypatch, nodes_at_once=1)
    relaxed_node, listed_node = column_generation.guided_relaxation, best_enumerated
    true: list[Bound] = []

    def broken(program: Program, objective: Objective, known: Any, worth: int, ends: Any) -> Any:
        relaxed = present(relaxed_node(program, objective, known, worth, ends))
        bound = relaxed.bound
        true.append(bound)
        most = (worth - 1) * bound.multipliers.scale
        higher = max(bound.scaled, min(bound.scaled + bound.multipliers.scale, most))
        return replace(relaxed, bound=replace(bound, scaled=higher))

    monkeypatch.setattr(branch_and_bound, "guided_relaxation", broken)
    monkeypatch.setattr(
        branch_and_bound, "best_enumerated", lambda p, o, _, best: listed_node(p, o, true[-1], best)
    )
    stopped = 0
    for seed in range(800, 840):
        made = random_table(seed)
        try:
            minimise_wishes(made, reduction_units(made), ["cost"], {}, Search())
        except BoundBroken:
            stopped += 1
    assert stopped >= 3


def test_a_bound_of_one_engine_that_the_other_beats_is_withdrawn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unpriced(monkeypatch)
    poor = FirstRows(np.array([0, 2]))
    solver = Solver(PLAIN, reduction_units(PLAIN), {}, Search())
    held: dict[Wish, int] = {"material": 10**9}
    for too_high in (0, 1):

        def lies(
            context: SearchContext, program: Program, objective: Objective, *_: object, **__: object
        ) -> Solved:
            x = search_columns_of_answer(program, poor)
            return Solved("OPTIMAL", x, objective.value(x) + too_high)  # noqa: B023

        monkeypatch.setattr(SearchContext, "answer", lies)
        stage, rows = solver.minimise("ring_parts", held, poor)
        assert stage.value == len(np.unique(PLAIN.ring[rows])) == 1 + too_high
        assert (stage.bound, stage.confirmed_by, stage.proven) == (0, "nothing", False)


def test_a_node_whose_values_lie_between_those_of_the_answer_at_hand_is_not_settled_early() -> None:
    """Heads are counted in fives in the node, and 12 at hand lies between 11 and 16 of its answers."""
    rows = [Row(0, 0, 1), Row(0, 1, 2), Row(1, 2, 1, kg=9.0), Row(1, 2, 2)]
    made = table(rows, weight=[1, 5])
    solver = Solver(made, reduction_units(made), {"material": 7.0}, Search())
    run = Incumbent(solver.context, "heads", {}, made, FirstRows(np.array([1, 3])))
    none = IntegerMultipliers(16, *(np.zeros(size, dtype=np.int64) for size in (1, 2, 0, 0)))
    run.learn(named_multipliers(run.program, run.objective, none))
    node = branch_and_bound._Node(made.take(np.array([0, 2, 3])), (), present(run.last))
    assert run.build(node.table).objectives["heads"].scale == 5
    assert run.value == 12
    looked = branch_and_bound._look(run, node, np.arange(2), run.value, ())
    assert looked is not None
    assert looked.nodes == []
    for x, least in looked.answers:
        run.take(looked.program, x, least)
    assert (run.value, run.best.tolist()) == (11, [0, 3])


def test_a_loosened_limit_that_lets_in_a_value_between_two_steps_is_asked_again() -> None:
    """The row of one head came in and took the place of that of two: 11 heads are possible, no longer 12."""
    rows = [Row(0, 0, 1), Row(1, 2, 1, kg=9.0), Row(1, 2, 2)]
    made = table(rows, weight=[1, 5])
    solver = Solver(made, reduction_units(made), {"material": 7.0}, Search())
    program = build_search_program(made, solver.units, "heads", solver.ceilings, {})
    objective = program.objectives["heads"]
    relaxed = present(
        column_generation.relax_program(program, objective, TableRows(np.array([0, 2])), np.inf)
    )
    assert relaxed.bound.least == 1
    found = SimpleNamespace(
        multipliers=lambda _: [named_multipliers(program, objective, relaxed.bound.multipliers)]
    )
    prices: Any = SimpleNamespace(
        order=["heads"], least={"heads": 12}, units=solver.units, solver=found
    )
    still = limit_prices.Pricing._still_least(prices, solver, np.array([True, False, False]))
    assert still == []
    prices.least = {"heads": 11}
    still = limit_prices.Pricing._still_least(prices, solver, np.array([True, False, False]))
    assert still == ["heads"]


def test_prices_that_drop_a_row_of_the_answer_at_hand_stop_the_search(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def priced(program: Program, objective: Objective, whole: IntegerMultipliers) -> Bound:
        bound = lagrangian_bound(program, objective, whole)
        return replace(bound, costs=bound.costs + 2**59)

    assert (
        minimise_wishes(PLAIN, reduction_units(PLAIN), ["material"], {}, Search()).status
        == "proven"
    )
    monkeypatch.setattr(column_generation, "lagrangian_bound", priced)
    with pytest.raises(BoundBroken, match="dropped"):
        minimise_wishes(PLAIN, reduction_units(PLAIN), ["material"], {}, Search())


def test_an_answer_whose_rows_a_program_lacks_is_not_taken_for_another() -> None:
    solver = Solver(PLAIN, reduction_units(PLAIN), {}, Search())
    program = build_search_program(
        PLAIN.take(np.array([0, 2, 3])), solver.units, "material", {}, {}
    )
    with pytest.raises(BoundBroken, match="dropped"):
        search_columns_of_answer(program, FirstRows(np.array([1, 2])))


@pytest.mark.slow
def test_a_cell_of_a_front_that_is_better_than_the_cell_it_lies_in_stops_the_front(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The first cell, without ceilings, is told as proven with the rows that its search began with."""
    minimise, told = Solver.minimise, []

    def broken(
        solver: Solver, wish: Wish, held: dict[Wish, int], start: Any, enough: Any = None
    ) -> Any:
        if (wish == "material") != ("material" in held) and len(held) < 2:
            value = solver.value(wish, start)
            told.append(value)
            return StageResult(wish, value, value, "multipliers"), start
        return minimise(solver, wish, held, start, enough)

    studies = [load(random_study(seed)) for seed in range(7000, 7040)]
    monkeypatch.setattr(Solver, "minimise", broken)
    monkeypatch.setattr(Solver, "break_ties", lambda solver, held, rows: rows)
    stopped = 0
    for study in studies:
        try:
            fronts.find_front(study, ["ring_parts", "material"])
        except BoundBroken:
            stopped += 1
    assert told
    assert stopped >= 3


def test_a_wish_that_a_later_search_brings_further_down_is_told_as_reached(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Time ends before the heads are searched; the ring part that both joints share needs fewer of them."""
    rows = [
        Row(0, 0, 2, value=1.0), Row(0, 1, 1, value=2.0), Row(1, 1, 1, value=1.0),
        Row(1, 2, 1, value=0.5),
    ]  # fmt: skip
    made = table(rows, 10.0)
    monkeypatch.setattr(
        searching, "minimise_wish",
        lambda run: run.result("nothing") if run.wish == "heads" else minimise_one(run),
    )  # fmt: skip
    choice = minimise_wishes(made, reduction_units(made), ["heads", "ring_parts"], {}, Search())
    assert choice.rows.tolist() == [1, 2]
    assert [stage.value for stage in choice.stages] == [2, 1]
    assert choice.status == "found"
    assert choice.reasons == ["heads: 2 found, at least 0 proven; search ended"]
