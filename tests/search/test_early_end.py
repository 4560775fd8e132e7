"""A search that ends early, foreign answers, and other ways in which the line was once wrong."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from ringset.cli import main
from ringset.schema.answer import Answer
from ringset.schema.loading import load_answer, load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.places import SCENARIOS
from tests.support.studies import Json, load, small


def scenario(name: str, **fields: object) -> Json:
    data: Json = json.loads((SCENARIOS / f"{name}.json").read_text())
    return data | fields


@pytest.mark.cases(fast=2)
@pytest.mark.parametrize("name", ["six_joint_arm", "seven_joint_arm"])
@pytest.mark.parametrize("work", [0.001, 0.01, 0.05])
def test_a_search_that_ends_early_states_what_its_rings_are(name: str, work: float) -> None:
    """A merely feasible solution may leave parts and cutters switched on that no ring needs."""
    study = load_study(json.dumps(scenario(name, search={"work_limit": work})))
    answer = solve(study)
    assert answer.status in ("found", "proven", "undecided")
    assert judge(study, answer) == []


def test_a_reach_that_dwarfs_the_others_needs_no_cut_after_cut() -> None:
    """Units follow what is left of the limit, not the limit."""
    data = small()
    data["robots"][0]["joints"][0]["reach_mm"] = 100000.0
    data["robots"][0]["tool_point_target_um"] = 1e6
    first = solve(load(data))
    assert first.status == "proven"
    data["robots"][0]["tool_point_target_um"] = first.tool_points[0].error_um
    data["search"] = {"time_limit_s": 20.0}
    second = solve(load(data))
    assert second.status == "proven"
    assert second.totals == first.totals


def test_two_ceilings_that_conflict_are_both_named() -> None:
    """A material ceiling that holds alone is not called impossible by itself."""
    data = small() | {"target": {"angle_target_arcsec": 180.0}}
    least = solve(load(data | {"wishes": {"order": ["material", "heads"]}}))
    fewest = solve(load(data | {"wishes": {"order": ["heads"]}}))
    assert least.totals is not None
    assert fewest.totals is not None
    assert fewest.totals.heads < least.totals.heads
    wishes = {
        "order": ["material"],
        "material_max_kg": least.totals.material_kg,
        "heads_max": fewest.totals.heads,
    }
    answer = solve(load(data | {"wishes": wishes}))
    assert answer.status == "impossible"
    assert answer.reasons == ["wishes.heads_max and wishes.material_max_kg: cannot hold together"]


def test_a_robot_may_be_called_like_a_field() -> None:
    data = small()
    data["robots"][0]["name"] = "wishes.arm"
    data["robots"][0]["tool_point_target_um"] = 500.0
    data["wishes"] = {"order": ["cutters"], "cutters_max": 0}
    answer = solve(load(data))
    assert answer.status == "impossible"
    assert answer.reasons == ["wishes.cutters_max 0: the least possible is 1"]


def test_very_different_numbers_of_robots_under_a_ceiling_of_heads_are_answered() -> None:
    data = scenario("family_three_arms")
    for robot, count in zip(data["robots"], (1_000_000, 7, 1), strict=True):
        robot["count"] = count
        robot.pop("tool_point_target_um")
    data["wishes"] = {"order": ["cutters", "heads"], "heads_max": 20_000_000}
    assert solve(load_study(json.dumps(data))).status == "proven"


def test_minus_zero_states_the_same_as_zero() -> None:
    data = small()
    data["robots"][0]["joints"][0]["reach_mm"] = -0.0
    minus = solve(load(data)).to_json()
    data["robots"][0]["joints"][0]["reach_mm"] = 0.0
    assert solve(load(data)).to_json() == minus


def test_a_stated_point_far_off_gives_numbers() -> None:
    head = {"stated_gap_mm": 50.0, "stated_module_mm": 0.05, "third_harmonic": 0.0}
    answer = solve(load(small() | {"head": head}))
    assert answer.status in ("proven", "impossible")
    assert "nan" not in " ".join(answer.reasons)


def test_a_table_of_nothing_is_no_error(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = tmp_path / "t.csv"
    study = SCENARIOS / "impossible_wrist.json"
    assert main.main(["solve", str(study), "--table", str(table)]) == 3
    assert not table.exists()
    assert "no table written" in capsys.readouterr().err


@pytest.mark.slow
def test_links_are_followed_and_pipes_written_to(tmp_path: Path) -> None:
    study = SCENARIOS / "two_joint_table.json"
    target, link = tmp_path / "target.json", tmp_path / "link.json"
    target.write_text("old")
    link.symlink_to(target)
    assert main.main(["solve", str(study), "--answer", str(link)]) == 0
    assert link.is_symlink()
    assert load_answer(target.read_text()).status == "proven"
    assert main.main(["solve", str(study), "--answer", "/dev/null"]) == 0
    assert Path("/dev/null").is_char_device()


@pytest.mark.parametrize("options", [("--answer", "{study}"), ("--table", "{study}")])
def test_the_study_is_never_overwritten(
    options: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = tmp_path / "study.json"
    text = (SCENARIOS / "two_joint_table.json").read_text()
    study.write_text(text)
    command = ["solve", str(study), *(o.format(study=study) for o in options)]
    assert main.main(command) == 2
    assert "the same file as STUDY" in capsys.readouterr().err
    assert study.read_text() == text


@pytest.fixture(scope="module")
def seven() -> tuple[Study, Answer]:
    study = load_study((SCENARIOS / "seven_joint_arm.json").read_text())
    return study, solve(study)


@pytest.mark.parametrize(
    "fields",
    [
        {"bore_mm": 600.0}, {"bore_mm": 0.0}, {"bore_mm": -5.0}, {"bore_mm": 1e300},
        {"bore_mm": float("nan")}, {"tool_point_um": 1e300}, {"teeth": 1}, {"module_mm": 1e-300},
        {"gap_mm": -1.0}, {"blank_kg": float("inf")},
    ],
)  # fmt: skip
def test_the_judge_names_absurd_numbers_instead_of_failing(
    fields: dict[str, float], seven: tuple[Study, Answer]
) -> None:
    study, answer = seven
    rings = [answer.rings[0].model_copy(update=fields), *answer.rings[1:]]
    assert judge(study, answer.model_copy(update={"rings": rings})) != []


@pytest.mark.parametrize(
    "change",
    [
        lambda a: a.model_copy(update={"status": "impossible", "rings": [], "totals": None}),
        lambda a: a.model_copy(update={"cautions": ["all is well"]}),
        lambda a: a.model_copy(update={"title": "another"}),
        lambda a: _proof(a, seed=9),
        lambda a: _proof(a, material_unit_kg=1000.0),
        lambda a: _proof(a, stages=[a.proof.stages[0].model_copy(update={"unit": "tons"})]),
    ],
)
def test_the_judge_finds_answers_that_were_tampered_with(
    change: Callable[[Answer], Answer], seven: tuple[Study, Answer]
) -> None:
    study, answer = seven
    assert judge(study, change(answer)) != []


def _proof(answer: Answer, **fields: object) -> Answer:
    return answer.model_copy(update={"proof": answer.proof.model_copy(update=fields)})
