"""Studies with a reserve below their accuracy targets, and the same with the targets themselves tightened."""

from __future__ import annotations

import copy

from ringset.schema.study import Study
from tests.support.studies import Json, load


def reserved(data: Json, percent: float) -> Study:
    """Return the study with a reserve."""
    data = copy.deepcopy(data)
    data["target"]["reserve_percent"] = percent
    return load(data)


def tightened(data: Json, percent: float) -> Study:
    """Return the study without reserve whose every accuracy target is that much tighter."""
    data = copy.deepcopy(data)
    share = 1.0 - percent / 100.0
    data["target"]["angle_target_arcsec"] *= share
    for robot in data["robots"]:
        if robot.get("tool_point_target_um") is not None:
            robot["tool_point_target_um"] *= share
        for joint in robot["joints"]:
            if joint.get("angle_target_arcsec") is not None:
                joint["angle_target_arcsec"] *= share
    return load(data)
