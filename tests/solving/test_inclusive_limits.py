"""Limits are inclusive, names are free, fine steps are answered."""

from __future__ import annotations

import json

import pytest

from ringset.schema.answer import Answer
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.narrow import present
from tests.support.places import SCENARIOS
from tests.support.studies import Json, joint, load, small, two_robots


def met_exactly(data: Json, first: Answer) -> Answer:
    """Solve again with a limit set to just what `first` reached; `first` must stay possible."""
    tight = load(data)
    target = tight.robots[0].tool_point_target_um
    stated = {"target_um": target, "target_left_percent": None if target is None else 0.0}
    points = [first.tool_points[0].model_copy(update=stated)]
    stamped = first.model_copy(update={"study_sha256": tight.fingerprint(), "tool_points": points})
    assert judge(tight, stamped) == []
    again = solve(tight)
    reached = [[(s.wish, s.value) for s in a.proof.stages] for a in (first, again)]
    assert reached[0] == reached[1]
    return again


@pytest.mark.parametrize("rule", ["rss", "sum"])
def test_a_tool_point_target_that_is_met_exactly_is_met(rule: str) -> None:
    data = small()
    data["robots"][0].update(tool_point_target_um=460.0, tool_point_rule=rule)
    if rule == "sum":
        data["robots"][0]["tool_point_target_um"] = 700.0
    first = solve(load(data))
    data["robots"][0]["tool_point_target_um"] = first.tool_points[0].error_um
    assert met_exactly(data, first).status == "proven"


def test_a_material_ceiling_that_is_met_exactly_is_met() -> None:
    data = {**small(), "wishes": {"order": ["material"]}}
    first = solve(load(data))
    data["wishes"]["material_max_kg"] = present(first.totals).material_kg
    assert met_exactly(data, first).status == "proven"


def test_names_may_hold_any_sign() -> None:
    data = two_robots()
    data["robots"][0].update(name="a/b", joints=[joint("c", 40.0)])
    data["robots"][1].update(name="a", joints=[joint("b/c", 90.0)])
    data["robots"][0]["tool_point_target_um"] = None
    assert solve(load(data)).status == "proven"


@pytest.mark.slow
def test_a_fine_bore_step_is_answered() -> None:
    data = json.loads((SCENARIOS / "six_joint_arm.json").read_text())
    data["shop"] = {**data.get("shop", {}), "bore_step_mm": 0.1}
    assert solve(load(data)).status == "proven"
