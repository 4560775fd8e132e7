"""The search claims no more than two routes agree on."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import optimize

from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.table import Sums, Table
from ringset.reduction.units import reduction_units
from ringset.schema.answer import Confirmation
from ringset.schema.study import Search, Study
from ringset.search import lexicographic as searching
from ringset.search import one_wish as staging
from ringset.search.bounds import column_generation
from ringset.search.engines import cp_sat, cross_check, highs
from ringset.search.engines.result import Solved
from ringset.search.state import context
from ringset.search.state.result import Choice, StageResult
from ringset.search.wishes_in_turn import minimise_wishes
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.electronic_studies import STARTS_WITH_A_SEARCH, with_batteries
from tests.support.studies import inside_rows, load, random_study, two_robots
from tests.support.tables import Row, table
from tests.support.tuned import switch_off


@pytest.fixture(scope="module")
def study() -> Study:
    return load(two_robots()).canonical()


@pytest.fixture(scope="module")
def rows(study: Study) -> Table:
    return reduction_table(study, inside_rows(study))


def chosen(study: Study, rows: Table, listener: Any = None) -> Choice:
    wishes = study.wishes
    units = reduction_units(rows)
    return minimise_wishes(rows, units, wishes.order, wishes.ceilings(), study.search, listener)


@pytest.fixture(scope="module")
def values(study: Study, rows: Table) -> list[int]:
    return [stage.value for stage in chosen(study, rows).stages]


@pytest.fixture
def no_multipliers(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave only the second engine to confirm a bound."""
    for module in (searching, staging):
        monkeypatch.setattr(module, "relax_program", lambda *_, **__: None)


# -- proven, found -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "bound", "confirmed_by", "proven"),
    [
        (3, 3, "multipliers", True),
        (3, 3, "listing", True),
        (3, 3, "halves", True),
        (3, 3, "second engine", True),
        (3, 3, "nothing", False),
        (3, 2, "multipliers", False),
        (3, 2, "listing", False),
        (3, 2, "second engine", False),
    ],
)
def test_a_stage_is_proven_by_its_bound_and_a_second_route(
    value: int, bound: int, confirmed_by: Confirmation, proven: bool
) -> None:
    assert StageResult("heads", value, bound, confirmed_by).proven is proven


def test_all_stages_are_proven_on_a_plain_study(
    study: Study, rows: Table, values: list[int]
) -> None:
    choice = chosen(study, rows)
    assert choice.status == "proven"
    assert choice.reasons == []
    assert [stage.wish for stage in choice.stages] == list(study.wishes.order)
    assert [stage.bound for stage in choice.stages] == values


@pytest.mark.usefixtures("no_multipliers")
def test_the_second_engine_confirms_where_multipliers_do_not(
    study: Study, rows: Table, values: list[int]
) -> None:
    choice = chosen(study, rows)
    assert choice.status == "proven"
    assert {stage.confirmed_by for stage in choice.stages} == {"second engine"}
    assert [stage.value for stage in choice.stages] == values


def anything_instead(honest: Any, weights: Any, **more: Any) -> Any:
    """Maximise instead: an allowed answer, called optimal, that is worse."""
    return honest(-np.asarray(weights), **more)


def claims(status: int, keep_x: bool) -> Any:
    """Return an engine that states another status than it found."""

    def lying(honest: Any, weights: Any, **more: Any) -> Any:
        x = honest(weights, **more).x if keep_x else None
        return SimpleNamespace(status=status, x=x, fun=None)

    return lying


@pytest.mark.usefixtures("no_multipliers")
@pytest.mark.parametrize(
    "lying",
    [anything_instead, claims(2, False), claims(1, True), claims(1, False), claims(4, False),
     claims(0, False)],
    ids=["worse", "infeasible", "ended", "nothing", "failed", "empty"],
)  # fmt: skip
def test_a_second_engine_that_disagrees_leaves_the_answer_unproven(
    lying: Callable[..., Any],
    study: Study,
    rows: Table,
    values: list[int],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(optimize, "milp", partial(lying, optimize.milp))
    choice = chosen(study, rows)
    assert choice.status == "found"
    assert [stage.value for stage in choice.stages] == values
    assert {stage.confirmed_by for stage in choice.stages} == {"nothing"}
    assert len(choice.reasons) == len(values)
    assert all("not confirmed" in reason for reason in choice.reasons)


@pytest.mark.usefixtures("no_multipliers")
def test_a_false_infeasible_of_the_presolve_is_asked_again_without(
    study: Study, rows: Table, values: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    honest = optimize.milp
    asked = []

    def false_infeasible(weights: Any, **more: Any) -> Any:
        asked.append(more["options"]["presolve"])
        if asked[-1]:
            return SimpleNamespace(status=2, x=None, fun=None)
        return honest(weights, **more)

    monkeypatch.setattr(optimize, "milp", false_infeasible)
    choice = chosen(study, rows)
    assert choice.status == "proven"
    assert [stage.value for stage in choice.stages] == values
    assert asked == [True, False] * len(values)


@pytest.mark.usefixtures("no_multipliers")
def test_an_answer_of_the_second_engine_beyond_a_real_limit_confirms_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """It is cut off, and the engine asked again."""
    rows = [Row(0, 0, kg=2.0, value=2.0), Row(0, 1, kg=1.0, value=5.0), Row(0, 2, kg=3.0)]
    made, honest, asked = table(rows, 4.0), highs.highs, []
    switch_off(monkeypatch, "reduction")

    def too_good(program: Any, *given: Any, **more: Any) -> Solved:
        asked.append(program.limits.names)
        if len(asked) == 1:
            return Solved("OPTIMAL", program.with_needed_columns(np.array([1])))
        return honest(program, *given, **more)

    monkeypatch.setattr(cross_check, "highs", too_good)
    choice = minimise_wishes(made, reduction_units(made), ["material"], {}, Search())
    assert choice.rows.tolist() == [0]
    assert choice.stages[0].confirmed_by == "second engine"
    assert asked == [("sum",), ("sum", "beyond a real limit")]


@pytest.mark.usefixtures("no_multipliers")
def test_an_unproven_answer_says_found_and_why_and_passes_the_judge(
    study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    ended = SimpleNamespace(status=1, x=None, fun=None)
    monkeypatch.setattr(optimize, "milp", lambda *a, **k: ended)
    answer = solve(study)
    assert answer.status == "found"
    assert len(answer.reasons) == 4
    assert judge(study, answer) == []


@pytest.mark.parametrize("size", [0.0, 1.0, 1e4])
def test_bad_multipliers_cost_proof_but_never_truth(
    size: float, study: Study, rows: Table, values: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    honest, rng = column_generation._multipliers, np.random.default_rng(1)

    def useless(*given: Any) -> Any:
        real = honest(*given)
        fields = {name: rng.normal(0.0, size, len(part)) for name, part in vars(real).items()}
        return replace(real, **fields)

    monkeypatch.setattr(column_generation, "_multipliers", useless)
    choice = chosen(study, rows)
    assert [stage.value for stage in choice.stages] == values
    assert choice.status == "proven"


@pytest.mark.usefixtures("no_multipliers")
def test_a_search_that_ends_early_states_a_bound_below_its_value(
    study: Study, rows: Table, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest = cp_sat.cp_sat

    def ended(*given: Any) -> Solved:
        solved = honest(*given)
        bound = None if solved.bound is None else solved.bound - 1
        return replace(solved, status="FEASIBLE", bound=bound)

    monkeypatch.setattr(context, "cp_sat", ended)
    choice = chosen(study, rows)
    assert choice.status == "found"
    assert all(stage.bound < stage.value for stage in choice.stages)
    assert all("search ended" in reason for reason in choice.reasons)


@pytest.mark.usefixtures("no_multipliers")
def test_a_bound_of_one_engine_alone_is_no_proof(
    study: Study, rows: Table, values: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An engine that calls the answer at hand optimal is not believed by itself."""

    def content(program: Any, objective: Any, search: Any, ends: Any, hint: Any, *_: Any) -> Solved:
        if objective is None or hint is None:
            return cp_sat.cp_sat(program, objective, search, ends)
        return Solved("OPTIMAL", hint, objective.value(hint))

    monkeypatch.setattr(context, "cp_sat", content)
    choice = chosen(study, rows)
    assert choice.status == "found"
    # the second engine's better answer is taken, and the bound that it beats is withdrawn
    beaten = [stage for stage in choice.stages if not stage.proven]
    assert beaten
    assert beaten[0].confirmed_by == "nothing"
    assert beaten[0].bound < beaten[0].value
    assert [stage.value for stage in choice.stages] == values


# -- impossible, undecided ---------------------------------------------------------------------------


def no_way(study: Study) -> Study:
    """Return the study with a ceiling that no answer keeps."""
    wishes = study.wishes.model_copy(update={"ring_parts_max": 1})
    return study.model_copy(update={"wishes": wishes})


def two_sums(limit: float) -> Table:
    """Return a table in which accuracy asks for two heads and the battery allows them to one joint.

    With a limit of 7.25 two answers are possible, below that none; each sum alone can be kept.
    """
    rows = [Row(joint, joint, heads, value=5.0 / heads**2) for joint in (0, 1) for heads in (1, 2)]
    group = np.zeros(2, dtype=np.int64)
    heads = np.array([1.0, 2.0, 1.0, 2.0])
    battery = Sums(("battery",), np.array([3.0]), group, heads, follows_heads=True)
    return table([row._replace(value=row.value + row.joint) for row in rows], limit, sums=[battery])


def searched(made: Table, **search: Any) -> Choice:
    return minimise_wishes(made, reduction_units(made), ["heads", "material"], {}, Search(**search))


def test_sums_that_conflict_are_impossible_and_without_conflict_answered() -> None:
    assert searched(two_sums(7.25)).status == "proven"
    assert searched(two_sums(7.0)).status == "impossible"


def test_impossible_by_sums_needs_both_engines(monkeypatch: pytest.MonkeyPatch) -> None:
    honest = optimize.milp
    for status in (0, 1, 4):
        other = SimpleNamespace(status=status, x=None, fun=None)
        monkeypatch.setattr(optimize, "milp", lambda *a, other=other, **k: other)
        choice = searched(two_sums(7.0))
        assert choice.status == "undecided"
        assert "disagree" in choice.reasons[0]
    # with presolve and without
    for believed in (True, False):

        def half(*given: Any, believed: bool = believed, **more: Any) -> Any:
            if more["options"]["presolve"] == believed:
                return honest(*given, **more)
            return SimpleNamespace(status=1, x=None, fun=None)

        monkeypatch.setattr(optimize, "milp", half)
        assert searched(two_sums(7.0)).status == "undecided"


def test_a_false_infeasible_of_the_first_engine_is_not_believed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(context, "cp_sat", lambda *_: Solved("INFEASIBLE", None))
    choice = searched(two_sums(7.25))
    assert choice.status == "undecided"
    assert "disagree" in choice.reasons[0]


def test_impossible_by_a_ceiling_needs_a_proven_least(
    study: Study, rows: Table, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert chosen(no_way(study), rows).status == "impossible"
    for module in (searching, staging):
        monkeypatch.setattr(module, "relax_program", lambda *_, **__: None)
    assert chosen(no_way(study), rows).status == "impossible"
    for status in (1, 2, 4):
        other = SimpleNamespace(status=status, x=None, fun=None)
        monkeypatch.setattr(optimize, "milp", lambda *a, other=other, **k: other)
        choice = chosen(no_way(study), rows)
        assert choice.status == "undecided"
        assert "wishes.ring_parts_max" in choice.reasons[0]


@pytest.mark.usefixtures("no_multipliers")
@pytest.mark.parametrize("status", ["INFEASIBLE", "UNKNOWN"])
def test_an_engine_that_finds_nothing_costs_proof_but_never_the_answer_at_hand(
    status: str, study: Study, rows: Table, values: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(context, "cp_sat", lambda *_: Solved(status, None))
    wishes = study.wishes.model_copy(update={"ring_parts_max": None, "cutters_max": None})
    choice = chosen(study.model_copy(update={"wishes": wishes}), rows)
    assert choice.status == "found"
    assert [stage.value for stage in choice.stages] >= values
    assert {stage.confirmed_by for stage in choice.stages} == {"nothing"}


@pytest.mark.parametrize("seed", [3, 14, 22, 31])
@pytest.mark.parametrize("search", [{"time_limit_s": 1e-6}, {"work_limit": 1e-6}])
def test_no_time_gives_nothing_wrong(seed: int, search: dict[str, float]) -> None:
    data = random_study(seed)
    whole = solve(load(data))
    short = solve(load({**data, "search": {**data["search"], **search}}))
    assert (short.status == "impossible") <= (whole.status == "impossible")
    assert short.reasons or short.status == "proven"
    best = [stage.value for stage in whole.proof.stages]
    reached = [stage.value for stage in short.proof.stages]
    if short.status == "proven":
        assert reached == best
    assert reached == [] or reached >= best


def test_an_end_before_any_answer_is_undecided(monkeypatch: pytest.MonkeyPatch) -> None:
    """A study whose battery and tool point pull against each other, so that a search must start."""
    study = load(with_batteries(STARTS_WITH_A_SEARCH))
    assert solve(study).status == "proven"
    monkeypatch.setattr(context, "cp_sat", lambda *_: Solved("UNKNOWN", None))
    answer = solve(study)
    assert answer.status == "undecided"
    assert "search.time_limit_s" in answer.reasons[0]
    assert answer.proof.repeatable is False
    assert judge(study, answer) == []


# -- repeatable, progress ----------------------------------------------------------------------------


def test_an_answer_is_repeatable_unless_the_clock_or_workers_steered(
    study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert solve(study).proof.repeatable is True
    two = study.search.model_copy(update={"workers": 2})
    assert solve(study.model_copy(update={"search": two})).proof.repeatable is False
    start = time.monotonic()
    ticks = iter(range(10**6))
    monkeypatch.setattr(time, "monotonic", lambda: start + 50.0 * next(ticks))
    assert solve(study).proof.repeatable is False


def test_progress_is_told_and_only_improves(study: Study, rows: Table, values: list[int]) -> None:
    told: list[tuple[str, int | None, int | None]] = []
    chosen(study, rows, lambda *line: told.append(line))
    assert {stage for stage, _, _ in told} & set(study.wishes.order)
    for wish, value in zip(study.wishes.order, values, strict=True):
        bests = [best for stage, best, _ in told if stage == wish and best is not None]
        assert bests == sorted(bests, reverse=True)
        assert all(best >= value for best in bests)


def test_an_exception_of_the_listener_ends_the_search(study: Study, rows: Table) -> None:
    def stop(*_: Any) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        chosen(study, rows, stop)
