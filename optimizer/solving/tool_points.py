"""What the chosen rings come to at the tool points: errors and repeatabilities, and what targets leave."""

from __future__ import annotations

import numpy as np

from ringset.physics import toolpoint
from ringset.schema.answer import JointRing, ToolPoint
from ringset.schema.study import Study
from ringset.schema.targets import answer_target_left_percent


def composed_percent_left(reached: float, stated: float | None) -> float | None:
    """Return what is left of a target in percent; None without one."""
    return None if stated is None else answer_target_left_percent(reached, stated)


def composed_tool_points(study: Study, rings: list[JointRing]) -> list[ToolPoint]:
    """Return the tool point of every robot, in the order of the study."""
    points = []
    for robot in study.robots:
        mine = [ring for ring in rings if ring.robot == robot.name]
        levers = np.array([ring.tool_point_um for ring in mine])
        weights = levers**2 if robot.tool_point_rule == "rss" else levers
        whole, rule = float(weights.sum()), robot.tool_point_rule
        error = toolpoint.combined_lever_error_um(levers, rule)
        scattered = np.array([ring.tool_point_repeatability_um for ring in mine])
        scatter = toolpoint.combined_lever_error_um(scattered, rule)
        points.append(
            ToolPoint(
                robot=robot.name,
                count=robot.count,
                rule=rule,
                error_um=error,
                target_um=robot.tool_point_target_um,
                target_left_percent=composed_percent_left(error, robot.tool_point_target_um),
                repeatability_um=scatter,
                repeatability_target_um=robot.tool_point_repeatability_target_um,
                repeatability_left_percent=composed_percent_left(
                    scatter, robot.tool_point_repeatability_target_um
                ),
                shares={
                    ring.joint: float(weight) / whole if whole > 0.0 else 0.0
                    for ring, weight in zip(mine, weights, strict=True)
                },
            )
        )
    return points
