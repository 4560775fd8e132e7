"""A joint without rings beside joints with many: what collides there does not hang on the others."""

from __future__ import annotations

from typing import Any

import pytest

from ringset.analysis.explanation.impossible import explain_impossible, explained_study_is_possible
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.study import Study
from tests.support.studies import load


def wide_arm(tool_point_um: float | None) -> Study:
    """Return an arm whose wrist has no ring, beside five joints with a hundred thousand rows."""
    sizes = {
        "base": (70, 95, 170, 850), "shoulder": (60, 80, 150, 800), "elbow": (45, 60, 118, 480),
        "forearm": (40, 52, 104, 260), "wrist": (30, 38, 44, 180), "flange": (25, 34, 64, 90),
    }  # fmt: skip
    names = ("bore_min_mm", "bore_max_mm", "tip_max_mm", "reach_mm")
    joints = [{"name": name, **dict(zip(names, of, strict=True))} for name, of in sizes.items()]
    robot = {"name": "arm", "joints": joints, "tool_point_target_um": tool_point_um}
    return load({"robots": [robot], "target": {"angle_target_arcsec": 80.0}})


@pytest.mark.campaign
def test_what_other_joints_share_hides_no_limit_of_a_joint_without_rings() -> None:
    """However many rows the others have, the wrist's own are looked at as far out as by itself."""
    alone, shared = (explain_impossible(wide_arm(target)) for target in (None, 120.0))
    assert shared.margin < alone.margin

    def members(found: Any) -> set[frozenset[str]]:
        return {
            frozenset(member.path for member in one.members)
            for one in found.blockers
            if one.joint == "wrist"
        }

    wrist = "joints.wrist"
    assert members(alone) == {
        frozenset({f"{wrist}.tip_max_mm", f"{wrist}.head_counts", "target.angle_target_arcsec"})
    }
    assert members(shared) == members(alone)
    larger = edited_study(
        wide_arm(None), {resolve_field_path(wide_arm(None), f"{wrist}.tip_max_mm"): 54.0}
    )
    assert explained_study_is_possible(larger), "a wider tip limit alone lets a ring in"
