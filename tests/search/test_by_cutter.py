"""One cutter after another, and large objectives within a band, against the listing of every answer."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from ringset.reduction.table import TableRows
from ringset.reduction.units import reduction_units
from ringset.schema.study import Search, Wish
from ringset.search import one_wish as staging
from ringset.search.engines import cp_sat as cp_sat_engine
from ringset.search.engines.cp_sat import cp_sat
from ringset.search.engines.cross_check import highs_optimum
from ringset.search.engines.result import Solved
from ringset.search.exact import by_cutter as parting
from ringset.search.exact import by_engines, improvement
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program, build_search_program
from ringset.search.state import context
from ringset.search.state.incumbent import Incumbent
from ringset.search.wishes_in_turn import minimise_wishes
from tests.support.answered import Route, proven_best
from tests.support.tables import listed, random_ceilings, random_order, random_table
from tests.support.tiers import campaign, slow
from tests.support.tuned import tune


def helped(patch: pytest.MonkeyPatch) -> None:
    """Let the search do no more than one relaxation before it takes cutters apart."""
    patch.setattr(staging, "search_relaxed_answer", lambda *_: None)
    patch.setattr(improvement, "improve_incumbent", lambda *_: False)
    patch.setattr(staging, "best_enumerated", lambda *_: (False, None))
    tune(patch, listed_first=0)


def searched(patch: pytest.MonkeyPatch) -> None:
    """Leave the parts to the engines: list and split nothing, look for no answers but the best."""
    helped(patch)
    patch.setattr(parting, "best_enumerated", lambda *_: (False, None))
    patch.setattr(parting, "search_relaxed_most_shares", lambda *_: None)
    tune(patch, cutter_nodes=0)
    for module in (staging, parting):
        patch.setattr(module, "settle_by_branching", lambda *_: False)


def asked_once(patch: pytest.MonkeyPatch) -> None:
    """Ask HiGHS after CP-SAT only: no best answer of a part is known before."""
    searched(patch)
    patch.setattr(parting, "_improve", lambda *_: None)


def at_once(patch: pytest.MonkeyPatch) -> None:
    """Take cutters apart before any relaxation of all of them."""
    tune(patch, mixed_rows=0)


def at_once_asked_before(patch: pytest.MonkeyPatch) -> None:
    """Take them apart at once, and let HiGHS find the best of every part before CP-SAT is asked."""
    searched(patch)
    at_once(patch)
    tune(patch, cutter_few_rows=0, cutter_looks=(None,))


@pytest.mark.cases(fast=0)
@pytest.mark.parametrize(
    ("route", "first", "tables"),
    [(helped, 0, 150), campaign(searched, 1000, 150), campaign(asked_once, 2000, 150),
     slow(at_once, 3000, 150), campaign(at_once_asked_before, 4000, 150)],
)  # fmt: skip
def test_the_best_of_all_cutters_is_found_and_proven(
    route: Route,
    first: int,
    tables: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Random tables of one cutter give the best of all listed answers by each route, and each route is taken.

    Rows left as good as the answer at hand hold that answer.
    """
    route(monkeypatch)
    seen: Counter[str] = Counter()
    honest = parting.settle_by_cutter

    def counted(run: Incumbent) -> list[parting.CutterPart]:
        parts = honest(run)
        seen.update(["apart"], parts=len(parts), at_once=run.last is None)
        return parts

    def all_there(run: Incumbent) -> Any:
        left = parting.settling_rows_of_equal_cutters(run)
        assert np.all(np.isin(run.best, left.index))
        return left

    def asked(*given: Any) -> Any:
        seen.update(["asked"])
        return highs_optimum(*given)

    monkeypatch.setattr(parting, "settle_by_cutter", counted)
    monkeypatch.setattr(staging, "settling_rows_of_equal_cutters", all_there)
    monkeypatch.setattr(parting, "highs_optimum", asked)
    for seed in range(first, first + tables):
        made, rng = random_table(seed), np.random.default_rng(seed)
        units = reduction_units(made)
        answers = listed(made, units)
        ceilings = random_ceilings(rng, answers)
        others: list[Wish] = [wish for wish in random_order(rng) if wish != "cutters"]
        order: list[Wish] = ["cutters", *others]
        if not seed % 3:
            order = others or ["material"]
            ceilings["cutters"] = 1.0
        choice, _ = proven_best(made, units, answers, order, ceilings, seed)
        seen.update(stage.confirmed_by for stage in choice.stages)
    assert seen["apart"] >= 20, seen
    assert (seen["at_once"] >= 20) == (route in (at_once, at_once_asked_before)), seen
    assert (seen["asked"] >= 20) == (route is at_once_asked_before), seen
    if route is asked_once:
        assert seen["parts"] >= 20, seen
        assert seen["second engine"] >= 20, seen


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize("lie", ["worse", "none"])
def test_a_part_that_the_engines_tell_differently_is_not_proven(
    lie: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What CP-SAT says alone is no proof, whether HiGHS finds a worse answer or none."""
    asked_once(monkeypatch)
    honest = highs_optimum

    def second(program: Any, objective: Objective, ends: float) -> Any:
        x = honest(program, objective, ends)
        return None if x is None or lie == "none" else with_more(program, objective, x)

    monkeypatch.setattr(by_engines, "highs_optimum", second)
    monkeypatch.setattr(by_engines, "highs_infeasible", lambda *_: False)
    unproven = 0
    for seed in range(300, 340):
        made = random_table(seed)
        units = reduction_units(made)
        order: list[Wish] = ["cutters", "material"]
        best = listed(made, units).best(order, {})
        choice = minimise_wishes(made, units, order, {}, Search())
        if best is None:
            continue
        values = [stage.value for stage in choice.stages]
        assert all(stage.bound <= least for stage, least in zip(choice.stages, best, strict=True))
        if choice.status == "proven":
            assert values == best
        unproven += choice.status != "proven"
    assert unproven >= 3


@pytest.mark.slow
def test_a_part_that_one_engine_calls_empty_and_the_other_does_not_is_not_proven(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """CP-SAT finds no answer at all in a part where HiGHS finds one, if none that is better."""
    asked_once(monkeypatch)
    honest, lied, lies = cp_sat, False, 0

    def empty(
        program: Any, objective: Any, search: Any, ends: Any, hint: Any, *more: Any
    ) -> Solved:  # fmt: skip
        nonlocal lied
        band = more[-1]
        if band is None or hint is not None:  # no stage, or the part that the best answer is in
            return honest(program, objective, search, ends, hint, *more)
        lied = lied or highs_optimum(program, objective, np.inf) is not None
        return Solved("INFEASIBLE", None)

    monkeypatch.setattr(context, "cp_sat", empty)
    for seed in range(900, 1100):
        made = random_table(seed)
        units = reduction_units(made)
        order: list[Wish] = ["cutters", "material"]
        best = listed(made, units).best(order, {})
        if best is None:
            continue
        lied = False
        choice = minimise_wishes(made, units, order, {}, Search())
        assert all(stage.bound <= least for stage, least in zip(choice.stages, best, strict=True))
        assert not (lied and choice.status == "proven"), seed
        lies += lied
    assert lies >= 3


def with_more(program: Program, objective: Objective, x: np.ndarray) -> np.ndarray:
    """Return an allowed answer that is worse, or else none."""
    for row in program.taken(x):
        for other in np.flatnonzero(program.joint == program.joint[row]):
            rows = np.setdiff1d(program.taken(x), [row])
            y = program.with_needed_columns(TableRows(np.append(rows, other)))
            if program.allowed(y) and objective.value(y) > objective.value(x):
                return y
    return x


@pytest.mark.parametrize("seed", range(400, 440))
def test_a_large_objective_is_exact_within_a_band(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The least is told exactly where the band is narrow, and never too high a bound where it is not."""
    made, rng = replace(random_table(seed), sums=()), np.random.default_rng(seed)
    units = reduction_units(made)
    wish: Wish = "material" if seed % 2 else "cost"
    program = build_search_program(made, units, wish, {}, {})
    objective = program.objectives[wish]
    total = int(objective.weights.sum())
    answers = listed(made, units)
    values = np.sort(answers.values[wish][answers.allowed({})])
    if len(values) == 0 or total < 64:
        pytest.skip("no answer, or no large objective")
    monkeypatch.setattr(cp_sat_engine, "ROW_TOTAL_MAX", total // 4)
    monkeypatch.setattr(cp_sat_engine, "guard_search_row", lambda *_: None)
    least, some = int(values[0]), int(rng.choice(values))
    for low in (least, least - int(rng.integers(0, 3)) * objective.scale):
        solved = cp_sat(program, objective, Search(), np.inf, band=(low, some))
        assert solved.status in ("OPTIMAL", "FEASIBLE")
        assert solved.x is not None
        assert solved.bound is not None
        assert solved.bound <= least <= objective.value(solved.x)
        if solved.status == "OPTIMAL":
            assert objective.value(solved.x) == solved.bound == least
    below = cp_sat(program, objective, Search(), np.inf, band=(least - 10**6, least - 1))
    assert below.status in ("NOTHING WITHIN", "OPTIMAL", "FEASIBLE")
    assert below.x is None or objective.value(below.x) >= least
