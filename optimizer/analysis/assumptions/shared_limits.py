"""How much of the limits over joints some rings use: tool points, batteries, lines, mass and inertia.

No row alone tells of these limits, so neither the error of a ring nor the number of rings inside does.
"""

from __future__ import annotations

import numpy as np

from ringset.arrays import Floats
from ringset.physics.battery_backup import battery_life_years
from ringset.rating.rated import Weighed
from ringset.rating.ring_sums import RING_SUMS, rated_ring_sum_limit, rated_ring_sums
from ringset.rating.robot_sums import (
    rated_battery_shares_ua,
    rated_polling_cycle_us,
    rated_tool_point_shares,
    rated_tool_point_um,
)
from ringset.reduction.table import table_least_per_joint
from ringset.schema.study import TOOL_POINT_TARGETS, Robot, Study


def assumption_shared_uses(study: Study, rows: Weighed) -> Floats:
    """Return which part of its tool points, battery, line and ring sums every robot of a study uses.

    The study is canonical. Six numbers per robot (0 or more, no unit), the least that `rows` come to: 1 uses
    a limit up, 0 stands where none is stated, infinity where a joint has no row. A tool point counts as error
    over target, and as repeatability over its own target (each less the study's reserve), a battery as life
    asked over life given, a line as cycle over longest cycle, mass and inertia of rings as what they come to
    over the most allowed.
    """
    joints = rows.catalogue.joints
    currents = table_least_per_joint(
        rated_battery_shares_ua(rows), rows.catalogue.joint, len(joints)
    )
    shares = {
        field: table_least_per_joint(
            rated_tool_point_shares(rows, field), rows.catalogue.joint, len(joints)
        )
        for field in TOOL_POINT_TARGETS
    }
    sums = {
        field: table_least_per_joint(
            RING_SUMS[field](study, rows.catalogue), rows.catalogue.joint, len(joints)
        )
        for field in rated_ring_sums(study)
    }
    uses: list[float] = []
    for robot in study.robots:
        mine = [ref.robot.name == robot.name for ref in joints]
        points = [
            _tool_point_use(study, robot, field, float(least[mine].sum()))
            for field, least in shares.items()
        ]
        uses += [*points, _battery_use(robot, float(currents[mine].sum()))]
        line = robot.line
        most = None if line is None else line.cycle_max_us
        cycle = (
            0.0
            if most is None
            else rated_polling_cycle_us([ref for ref, own in zip(joints, mine, strict=True) if own])
        )
        uses.append(0.0 if most is None else cycle / most)
        for field in RING_SUMS:
            limit = rated_ring_sum_limit(robot, field)
            uses.append(0.0 if limit is None else float(sums[field][mine].sum()) / limit)
    return np.array(uses)


def _tool_point_use(study: Study, robot: Robot, field: str, total: float) -> float:
    """Return what a robot uses of one of its targets at the tool point, by its field."""
    target = getattr(robot, field)
    if target is None:
        return 0.0
    reached = rated_tool_point_um(total, robot.tool_point_rule)
    return float(reached / study.target.less_reserve(target))


def _battery_use(robot: Robot, drawn_ua: float) -> float:
    """Return what a robot uses of the life of its battery."""
    battery = robot.battery
    if battery is None or battery.life_min_years is None:
        return 0.0
    if not np.isfinite(drawn_ua):
        return np.inf
    if drawn_ua <= 0.0 and battery.self_discharge_per_year <= 0.0:
        return 0.0  # lasts for ever
    life = battery_life_years(
        battery.capacity_ah, battery.usable_share, drawn_ua, battery.self_discharge_per_year
    )
    return battery.life_min_years / float(life)
