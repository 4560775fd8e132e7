"""Blockers and reliefs are what they claim, by ways that share nothing with how they are found."""

from __future__ import annotations

import json
import random
from itertools import combinations as pairs_of
from pathlib import Path

import pytest

from ringset.analysis.explanation.explain import explain_study
from ringset.analysis.explanation.impossible import explain_impossible, explained_study_is_possible
from ringset.analysis.explanation.models import Way
from ringset.cli import main
from ringset.errors import StudyError
from ringset.infeasibility.minimal_sets import impossible_transversals
from ringset.reporting.explanation_text import explanation_text, joint_sets_text
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.standards.modules import standard_series_modules
from tests.support.places import SCENARIOS
from tests.support.studies import Json, joint, load, small
from tests.support.why_checks import (
    check_joint,
    check_none_missing,
    check_reliefs,
    check_shared,
    tight_joint,
    tight_study,
)

IMPOSSIBLE = sorted(SCENARIOS.glob("impossible_*.json"))
#: A fair sample; tests/bench/bench_why.py runs all.
SAMPLE = 12


# -- smallest sets that meet all -------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(40))
def test_transversals_are_those_that_listing_finds(seed: int) -> None:
    rng = random.Random(seed)
    members = range(rng.randint(1, 8))
    sets = [
        frozenset(rng.sample(members, rng.randint(1, len(members))))
        for _ in range(rng.randint(0, 7))
    ]
    meeting = [
        set(chosen)
        for count in range(len(members) + 1)
        for chosen in pairs_of(members, count)
        if all(one & set(chosen) for one in sets)
    ]
    smallest = [m for m in meeting if not any(other < m for other in meeting)]
    found, whole = impossible_transversals(sets)
    assert whole
    assert sorted(map(sorted, found)) == sorted(map(sorted, smallest))


# -- random studies --------------------------------------------------------------------------------


@pytest.mark.slow
def test_blockers_of_a_joint_are_impossible_minimal_and_all() -> None:
    assert sum(check_joint(seed) for seed in range(2 * SAMPLE)) > SAMPLE


@pytest.mark.slow
def test_blockers_across_joints_are_impossible_and_minimal() -> None:
    assert sum(check_shared(seed) for seed in range(SAMPLE)) > SAMPLE // 3


@pytest.mark.slow
def test_reliefs_of_a_joint_free_it_and_one_step_less_does_not() -> None:
    assert sum(check_reliefs(seed, tight_joint(seed))[1] for seed in range(SAMPLE)) > SAMPLE // 2


@pytest.mark.slow
def test_reliefs_across_joints_free_the_study_and_one_step_less_does_not() -> None:
    assert (
        sum(check_reliefs(seed, tight_study(seed))[1] for seed in range(SAMPLE // 2)) > SAMPLE // 6
    )


@pytest.mark.slow
def test_no_relief_of_a_joint_is_missing() -> None:
    for seed in range(SAMPLE):
        check_none_missing(tight_joint(seed))


# -- scenarios -------------------------------------------------------------------------------------


def test_there_are_five_kinds_of_impossible_scenarios() -> None:
    assert len(IMPOSSIBLE) >= 5


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("path", IMPOSSIBLE, ids=lambda path: path.stem)
def test_every_change_shown_for_an_impossible_scenario_solves_and_less_does_not(path: Path) -> None:
    study = load_study(path.read_text())
    explanation = explain_impossible(study)
    assert explanation.status == "impossible"
    assert explanation.complete
    assert explanation.blockers
    assert len(explanation.singles) + sum(map(len, explanation.fronts)) >= 2
    ways = [*explanation.singles, *(way for front in explanation.fronts for way in front)]
    for way in ways:
        values = {resolve_field_path(study, change.path): change.value for change in way.changes}
        answer = solve(edited_study(study, values))
        assert answer.status == "proven"
        numbers = [(c.value, c.given) for c in way.changes if not isinstance(c.value, list)]
        for value, given in numbers:
            assert not isinstance(given, list)
            assert abs(value - given) > 0.0


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("path", IMPOSSIBLE, ids=lambda path: path.stem)
def test_an_impossible_scenario_is_explained_on_one_screen(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main.main(["why", str(path)]) == 0
    text = capsys.readouterr().out
    assert len(text.splitlines()) <= 30
    assert max(map(len, text.splitlines())) <= 100
    assert "Least changes that free it" in text


@pytest.mark.slow
def test_one_cutter_is_named_with_the_joints_that_need_two() -> None:
    text = (SCENARIOS / "impossible_one_cutter.json").read_text()
    explanation = explain_impossible(load_study(text))
    assert [b.text for b in explanation.blockers] == ["cutters at most 1 with base and wrist"]


def test_a_wider_gap_frees_a_gap_that_closes() -> None:
    study = load_study((SCENARIOS / "impossible_gap.json").read_text())
    (gap,) = [w for w in explain_impossible(study).singles if w.changes[0].path == "head.gap_mm"]
    value = gap.changes[0].value
    assert isinstance(value, float)
    for gap_mm, expected in ((value, True), (round(value - 0.01, 2), False)):
        changed = edited_study(study, {resolve_field_path(study, "head.gap_mm"): gap_mm})
        assert explained_study_is_possible(changed) == expected


# -- studies by hand -------------------------------------------------------------------------------


def two_stuck() -> Json:
    """Two joints without a ring, each for want of room."""
    data = small()
    for row in data["robots"][0]["joints"][:2]:
        row["tip_max_mm"] = row["bore_min_mm"] + 8.0
        row.pop("tip_min_mm", None)
    return data


def test_two_stuck_joints_are_freed_by_two_changes() -> None:
    explanation = explain_impossible(load(two_stuck()))
    assert {blocker.joint for blocker in explanation.blockers} == {"joint 1", "joint 2"}
    ways = [way for front in explanation.fronts for way in front]
    both = [
        way
        for way in ways
        if {c.path for c in way.changes} == {f"joints.joint {n}.tip_max_mm" for n in (1, 2)}
    ]
    assert both or explanation.singles


def test_three_stuck_joints_are_freed_by_changes_that_help_together() -> None:
    data = two_stuck()
    row = data["robots"][0]["joints"][2]
    row["tip_max_mm"] = row["bore_min_mm"] + 8.0
    row.pop("tip_min_mm")
    data["fixed"] = ["shop.rim_min_mm", "head.module_min_mm", "shop.clamp_runout_share"]
    explanation = explain_impossible(load(data))
    assert explanation.together is not None
    study = load(data)
    values = {resolve_field_path(study, c.path): c.value for c in explanation.together.changes}
    assert len(values) == 3
    assert solve(edited_study(study, values)).status == "proven"


def test_polling_that_takes_too_long_is_freed_by_more_time_or_a_faster_line() -> None:
    data = small()
    data["robots"][0]["line"] = {"cycle_max_us": 100.0}
    study = load(data)
    explanation = explain_impossible(study)
    assert [blocker.text for blocker in explanation.blockers] == ["line polled in 100 us"]
    assert "What cannot hold together" in explanation_text(explanation)
    paths = {way.changes[0].path for way in explanation.singles}
    assert paths == {"robots.arm.line.cycle_max_us", "robots.arm.line.bit_rate_mbit_per_s"}
    exact(study, explanation.singles, 0.1)


def exact(study: Study, ways: list[Way], step: float) -> None:
    """Check that each change of one limit frees the study and that one step less does not."""
    for way in ways:
        (change,) = way.changes
        assert isinstance(change.value, float)
        assert isinstance(change.given, float)
        less = change.value + (step if change.value < change.given else -step)
        path = resolve_field_path(study, change.path)
        assert explained_study_is_possible(edited_study(study, {path: change.value})), change
        assert not explained_study_is_possible(edited_study(study, {path: round(less, 9)})), change


@pytest.mark.campaign
def test_a_battery_may_last_less_long_or_be_larger() -> None:
    data = small()
    data["head"] = {"backup_current_ua": 10.0}
    data["robots"][0]["battery"] = {"capacity_ah": 1.0, "life_min_years": 40.0}
    data["robots"][0]["battery"]["self_discharge_per_year"] = 0.0
    study = load(data)
    explanation = explain_impossible(study)
    paths = {way.changes[0].path for way in explanation.singles}
    assert paths == {"robots.arm.battery.life_min_years", "robots.arm.battery.capacity_ah"}
    exact(study, explanation.singles, 0.01)
    # 40 years and one: seen only if the search for a shorter life does not stop at half of what is left
    (life,) = [w for w in explanation.singles if w.changes[0].path.endswith("life_min_years")]
    years = life.changes[0].value
    assert isinstance(years, float)
    assert years < 4.0


@pytest.mark.slow
def test_a_cost_ceiling_is_eased_to_the_last_step() -> None:
    data = small()
    data["shop"]["prices"] = {
        "cutter": 400.0, "set_up_per_ring_part": 250.0, "material_per_kg": 4.37, "head": 149.9,
        "machine_per_hour": 70.0, "cutting_minutes_per_tooth": {"6": 0.1},
    }  # fmt: skip
    data["wishes"] = {"cost_max": 100.0}
    study = load(data)
    ways = explain_impossible(study).singles
    (way,) = [w for w in ways if w.changes[0].path == "wishes.cost_max"]
    exact(study, [way], 0.01)


def test_limits_off_their_step_are_eased_to_the_next_one() -> None:
    data = small()
    data["robots"][0]["joints"][1] |= {"bore_min_mm": 41.0, "bore_max_mm": 42.0}
    data["robots"][0]["joints"][2] |= {"bore_min_mm": 41.0}
    data["shop"]["bore_step_mm"] = 2.5
    study = load(data)
    found = {w.changes[0].path: w.changes[0].value for w in explain_impossible(study).singles}
    assert found["joints.joint 2.bore_max_mm"] == 42.5
    assert found["joints.joint 2.bore_min_mm"] == 40.0


def test_two_tool_points_that_no_ring_reaches_are_eased_together() -> None:
    data = small()
    for number in (1, 2):
        robot = json.loads(json.dumps(data["robots"][0]))
        robot |= {"name": f"arm {number}", "tool_point_target_um": 10.03 * number}
        data["robots"].append(robot)
    data["robots"].pop(0)
    study = load(data)
    explanation = explain_impossible(study)
    assert explanation.singles == []
    (way,) = explanation.fronts[0]
    assert [c.path for c in way.changes] == [
        f"robots.arm {number}.tool_point_target_um" for number in (1, 2)
    ]
    values = {resolve_field_path(study, change.path): change.value for change in way.changes}
    assert solve(edited_study(study, values)).status == "proven"


def test_three_ceilings_that_collide_apart_are_eased_together() -> None:
    data = small()
    data["robots"][0]["tool_point_target_um"] = 10.0
    data["robots"][0]["line"] = {"cycle_max_us": 100.0}
    data["wishes"] = {"material_max_kg": 0.01}
    study = load(data)
    explanation = explain_impossible(study)
    assert explanation.together is not None
    assert len(explanation.together.changes) == 3
    values = {resolve_field_path(study, c.path): c.value for c in explanation.together.changes}
    assert solve(edited_study(study, values)).status == "proven"


def test_sets_of_joints_are_told_in_few_words() -> None:
    pairs = [list(pair) for pair in pairs_of("abcd", 2)]
    assert joint_sets_text(pairs) == ["any 2 of a, b, c and d"]
    assert joint_sets_text([["x", *pair] for pair in pairs]) == ["x, any 2 of a, b, c and d"]
    assert joint_sets_text(pairs[:3]) == ["a and one of b, c and d"]
    assert joint_sets_text([["a"], ["b"]]) == ["one of a and b"]
    assert joint_sets_text([["a", "b"], ["c", "d"]]) == ["a and b", "c and d"]


def test_a_joint_that_no_module_comes_near_says_so() -> None:
    data = wrist(shop={"modules": [5.0]})
    (blocker,) = explain_impossible(load(data)).blockers
    assert blocker.text == "wrist: modules on offer"
    assert [member.path for member in blocker.members] == ["shop.modules"]


def test_a_shop_without_a_module_near_may_add_the_nearest_that_does() -> None:
    data = wrist(shop={"modules": [5.0]})
    data["robots"][0]["joints"][0]["tip_max_mm"] = 80.0
    study = load(data)
    (way,) = explain_impossible(study).singles
    (change,) = way.changes
    assert change.path == "shop.modules"
    assert isinstance(change.value, list)
    changed = edited_study(study, {resolve_field_path(study, "shop.modules"): change.value})
    assert explained_study_is_possible(changed)
    (added,) = set(change.value) - {5.0}
    for module in standard_series_modules("din780_i"):
        if added < module <= study.head.module_max_mm:  # nearer to what the shop has
            assert not explained_study_is_possible(
                edited_study(study, {resolve_field_path(study, "shop.modules"): [module, 5.0]})
            )


def test_a_finer_bore_step_frees_a_window_between_two_steps() -> None:
    data = wrist(shop={"modules": [1.0], "bore_step_mm": 7.0})
    data["robots"][0]["joints"][0] |= {"bore_min_mm": 51.0, "bore_max_mm": 54.5, "tip_max_mm": 80.0}
    study = load(data)
    ways = explain_impossible(study).singles
    (way,) = [w for w in ways if w.changes[0].path == "shop.bore_step_mm"]
    assert [change.value for change in way.changes] == [2.0]  # 50 and 55 are out of reach of 5
    path = resolve_field_path(study, "shop.bore_step_mm")
    assert explained_study_is_possible(edited_study(study, {path: 2.0}))


def test_stuck_joints_have_the_value_that_would_do_for_each() -> None:
    explanation = explain_impossible(load(two_stuck()))
    study = load(two_stuck())
    for blocker in explanation.blockers:
        for member in blocker.members:
            if member.path.endswith("tip_max_mm"):
                assert member.best is not None
                row = {j["name"]: j for j in two_stuck()["robots"][0]["joints"]}[str(blocker.joint)]
                for tip, expected in ((member.best, True), (round(member.best - 0.01, 2), False)):
                    data = two_stuck()
                    data["robots"][0]["joints"] = [row | {"tip_max_mm": tip, "reach_mm": 0.0}]
                    assert explained_study_is_possible(load(data)) == expected
    assert "would do" in explanation_text(explanation)
    assert study.fingerprint() == explanation.study_sha256


@pytest.mark.campaign
def test_the_order_in_which_joints_are_listed_changes_nothing() -> None:
    data = json.loads((SCENARIOS / "impossible_ring_parts.json").read_text())
    first = explain_impossible(load(data))
    data["robots"][0]["joints"].reverse()
    second = explain_impossible(load(data))
    assert first.blockers == second.blockers
    assert first.singles == second.singles


# -- fixed limits and bad input --------------------------------------------------------------------


def wrist(**fields: object) -> Json:
    return {
        "robots": [{"name": "arm", "joints": [joint("wrist", 50.0, tip_max_mm=58.0)]}],
        "target": {"angle_target_arcsec": 90.0},
        **fields,
    }


@pytest.mark.parametrize("inside", [True, False])
def test_a_fixed_limit_is_in_no_relief(inside: bool) -> None:
    fixed = ["joints.wrist.tip_max_mm", "robots.arm.joints.wrist.bore_min_mm"]
    free = explain_impossible(load(wrist()))
    held = (
        explain_impossible(load(wrist(fixed=fixed)))
        if inside
        else explain_impossible(load(wrist()), fixed)
    )
    paths = {c.path for way in free.singles for c in way.changes}
    assert "joints.wrist.tip_max_mm" in paths
    ways = [*held.singles, *(way for front in held.fronts for way in front)]
    changed_paths = {c.path for way in ways for c in way.changes}
    assert not changed_paths & {"joints.wrist.tip_max_mm", "joints.wrist.bore_min_mm"}
    assert held.blockers == free.blockers


def test_an_unknown_fixed_path_is_refused_with_the_nearest_ones() -> None:
    with pytest.raises(StudyError, match=r"fixed\[0\].*allowed: joints\.wrist\.tip_max_mm"):
        load(wrist(fixed=["joints.wrst.tip_max_mm"]))
    with pytest.raises(StudyError, match=r"allowed: joints\.wrist\.tip_max_mm"):
        explain_impossible(load(wrist()), ["joints.wrist.tip_mx_mm"])


def test_a_step_out_of_range_is_refused() -> None:
    with pytest.raises(StudyError, match=r"step: given 0\.5; allowed: 0\.001 to 0\.25"):
        explain_study(load(small()), step=0.5)


def test_a_possible_study_has_no_blockers() -> None:
    explanation = explain_impossible(load(small()))
    assert (explanation.status, explanation.blockers, explanation.singles) == ("possible", [], [])
