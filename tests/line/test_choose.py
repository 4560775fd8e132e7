"""The search claims no more than two routes agree on."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from optimizer import choose as searching
from optimizer import multipliers
from optimizer.answer import Answer
from optimizer.choose import StageResult, choose
from optimizer.judge import judge
from optimizer.line import solve
from optimizer.program import Program, build
from optimizer.sift import sift
from optimizer.study import Study
from tests.line.studies import Json, inside_rows, joint, load, random_study, small, two_robots

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.fixture(scope="module")
def study() -> Study:
    return load(two_robots()).canonical()


@pytest.fixture(scope="module")
def program(study) -> Program:
    return build(study, sift(study, inside_rows(study)))


@pytest.fixture(scope="module")
def values(study, program) -> list[int]:
    return [stage.value for stage in choose(program, study.wishes.order, study.search).stages]


@pytest.fixture
def no_multipliers(monkeypatch):
    """Leave only the second engine to confirm a bound."""
    monkeypatch.setattr(multipliers, "bound", lambda *_: None)


# -- proven, found -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "bound", "confirmed_by", "proven"),
    [
        (3, 3, "multipliers", True),
        (3, 3, "second engine", True),
        (3, 3, "nothing", False),
        (3, 2, "multipliers", False),
        (3, 2, "second engine", False),
    ],
)
def test_a_stage_is_proven_by_its_bound_and_a_second_route(value, bound, confirmed_by, proven):
    assert StageResult("heads", value, bound, confirmed_by).proven is proven


def test_all_stages_are_proven_on_a_plain_study(study, program, values):
    choice = choose(program, study.wishes.order, study.search)
    assert choice.status == "proven"
    assert choice.reasons == []
    assert [stage.wish for stage in choice.stages] == list(study.wishes.order)
    assert [stage.bound for stage in choice.stages] == values


@pytest.mark.usefixtures("no_multipliers")
def test_the_second_engine_confirms_where_multipliers_do_not(study, program, values):
    choice = choose(program, study.wishes.order, study.search)
    assert choice.status == "proven"
    assert {stage.confirmed_by for stage in choice.stages} == {"second engine"}
    assert [stage.value for stage in choice.stages] == values


@pytest.mark.usefixtures("no_multipliers")
@pytest.mark.parametrize(
    "claim",
    [
        lambda result: SimpleNamespace(status=0, x=result.x, fun=result.fun + 1.0),
        lambda result: SimpleNamespace(status=0, x=result.x, fun=result.fun - 1.0),
        lambda result: SimpleNamespace(status=2, x=None, fun=None),
        lambda result: SimpleNamespace(status=1, x=result.x, fun=result.fun),
        lambda result: SimpleNamespace(status=4, x=None, fun=None),
    ],
    ids=["worse", "better", "infeasible", "ended", "failed"],
)
def test_a_second_engine_that_disagrees_leaves_the_answer_unproven(
    claim, study, program, values, monkeypatch
):
    honest = searching.optimize.milp
    monkeypatch.setattr(searching.optimize, "milp", lambda *a, **k: claim(honest(*a, **k)))
    choice = choose(program, study.wishes.order, study.search)
    assert choice.status == "found"
    assert [stage.value for stage in choice.stages] == values
    assert {stage.confirmed_by for stage in choice.stages} == {"nothing"}
    assert len(choice.reasons) == len(values)
    assert all("not confirmed" in reason for reason in choice.reasons)


@pytest.mark.usefixtures("no_multipliers")
def test_an_unproven_answer_says_found_and_why_and_passes_the_judge(study, monkeypatch):
    ended = SimpleNamespace(status=1, x=None, fun=None)
    monkeypatch.setattr(searching.optimize, "milp", lambda *a, **k: ended)
    answer = solve(study)
    assert answer.status == "found"
    assert len(answer.reasons) == 4
    assert judge(study, answer) == []


def test_bad_multipliers_cost_proof_but_never_truth(study, program, values, monkeypatch):
    def useless(weights, lines, _):
        upper, equal = lines.upper.shape[0], lines.equal.shape[0]
        return multipliers.exact(weights, lines, np.zeros(upper), np.zeros(equal))

    monkeypatch.setattr(multipliers, "bound", useless)
    choice = choose(program, study.wishes.order, study.search)
    assert [stage.value for stage in choice.stages] == values
    assert choice.status == "proven"


@pytest.mark.usefixtures("no_multipliers")
def test_a_search_that_ends_early_states_a_bound_below_its_value(study, program, monkeypatch):
    honest = searching._Run._solve

    def ended(self, stage, objective, alive):
        solved = honest(self, stage, objective, alive)
        bound = None if solved.bound is None else solved.bound - 1
        return replace(solved, status="FEASIBLE", bound=bound)

    monkeypatch.setattr(searching._Run, "_solve", ended)
    choice = choose(program, study.wishes.order, study.search)
    assert choice.status == "found"
    assert all(stage.bound < stage.value for stage in choice.stages)
    assert all("search ended" in reason for reason in choice.reasons)


# -- impossible, undecided ---------------------------------------------------------------------------


def no_way() -> tuple[Study, Program]:
    data = two_robots()
    data["wishes"]["ring_parts_max"] = 1
    study = load(data).canonical()
    return study, build(study, sift(study, inside_rows(study)))


def test_impossible_needs_both_engines(monkeypatch):
    study, program = no_way()
    assert choose(program, study.wishes.order, study.search).status == "impossible"
    for status in (0, 1, 4):
        other = SimpleNamespace(status=status, x=None, fun=None)
        monkeypatch.setattr(searching.optimize, "milp", lambda *a, other=other, **k: other)
        choice = choose(program, study.wishes.order, study.search)
        assert choice.status == "undecided"
        assert "disagree" in choice.reasons[0]


def test_a_false_infeasible_of_the_first_engine_is_not_believed(study, program, monkeypatch):
    nothing = searching._Solved("INFEASIBLE", None, None)
    monkeypatch.setattr(searching._Run, "_solve", lambda *_: nothing)
    choice = choose(program, study.wishes.order, study.search)
    assert choice.status == "undecided"


@pytest.mark.parametrize("seed", [3, 14, 22, 31])
@pytest.mark.parametrize("search", [{"time_limit_s": 1e-6}, {"work_limit": 1e-6}])
def test_no_time_gives_nothing_wrong(seed, search):
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


def test_an_end_before_any_answer_is_undecided(study, monkeypatch):
    nothing = searching._Solved("UNKNOWN", None, None)
    monkeypatch.setattr(searching._Run, "_solve", lambda *_: nothing)
    answer = solve(study)
    assert answer.status == "undecided"
    assert "search.time_limit_s" in answer.reasons[0]
    assert answer.proof.repeatable is False
    assert judge(study, answer) == []


# -- repeatable, progress ----------------------------------------------------------------------------


def test_an_answer_is_repeatable_unless_the_clock_or_workers_steered(study, monkeypatch):
    assert solve(study).proof.repeatable is True
    two = study.search.model_copy(update={"workers": 2})
    assert solve(study.model_copy(update={"search": two})).proof.repeatable is False
    start = searching.time.monotonic()
    ticks = iter(range(10**6))
    monkeypatch.setattr(searching.time, "monotonic", lambda: start + 50.0 * next(ticks))
    assert solve(study).proof.repeatable is False


def test_progress_is_told_and_only_improves(study, program, values):
    told: list[tuple[str, int | None, int | None]] = []
    choose(program, study.wishes.order, study.search, lambda *line: told.append(line))
    assert {stage for stage, _, _ in told} & set(study.wishes.order)
    for wish, value in zip(study.wishes.order, values, strict=True):
        bests = [best for stage, best, _ in told if stage == wish and best is not None]
        assert bests == sorted(bests, reverse=True)
        assert all(best >= value for best in bests)


def test_an_exception_of_the_listener_ends_the_search(study, program):
    def stop(*_: Any) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        choose(program, study.wishes.order, study.search, stop)


# -- limits are inclusive, names are free, fine steps are answered -----------------------------------


def met_exactly(data: Json, first: Answer) -> Answer:
    """Solve again with a limit set to just what `first` reached; `first` must stay possible."""
    tight = load(data)
    target = tight.robots[0].tool_point_target_um
    points = [first.tool_points[0].model_copy(update={"target_um": target})]
    stamped = first.model_copy(update={"study_sha256": tight.fingerprint(), "tool_points": points})
    assert judge(tight, stamped) == []
    again = solve(tight)
    reached = [[(s.wish, s.value) for s in a.proof.stages] for a in (first, again)]
    assert reached[0] == reached[1]
    return again


@pytest.mark.parametrize("rule", ["rss", "sum"])
def test_a_tool_point_target_that_is_met_exactly_is_met(rule):
    data = small()
    data["robots"][0].update(tool_point_target_um=460.0, tool_point_rule=rule)
    if rule == "sum":
        data["robots"][0]["tool_point_target_um"] = 700.0
    first = solve(load(data))
    data["robots"][0]["tool_point_target_um"] = first.tool_points[0].error_um
    assert met_exactly(data, first).status == "proven"


def test_a_material_ceiling_that_is_met_exactly_is_met():
    data = {**small(), "wishes": {"order": ["material"]}}
    first = solve(load(data))
    data["wishes"]["material_max_kg"] = first.totals.material_kg
    assert met_exactly(data, first).status == "proven"


def test_names_may_hold_any_sign():
    data = two_robots()
    data["robots"][0].update(name="a/b", joints=[joint("c", 40.0)])
    data["robots"][1].update(name="a", joints=[joint("b/c", 90.0)])
    data["robots"][0]["tool_point_target_um"] = None
    assert solve(load(data)).status == "proven"


def test_a_fine_bore_step_is_answered():
    data = json.loads((SCENARIOS / "six_joint_arm.json").read_text())
    data["shop"] = {**data.get("shop", {}), "bore_step_mm": 0.1}
    assert solve(load(data)).status == "proven"
