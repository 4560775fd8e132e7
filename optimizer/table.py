"""What the search sees of the rings: one row per (joint, ring, head count), and what each row adds up to.

Nothing here knows a ring's physics. A row belongs to a joint, a ring part and a cutter; it has heads,
material and money, and values that are summed over the joints of a robot against a limit (tool point,
battery). `sift`, `program` and `choose` work on such a table, wherever it comes from.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.catalogue import Floats, Ints
from optimizer.physics.backup import largest_current_ua
from optimizer.physics.limits import room
from optimizer.physics.toolpoint import lever_error_um
from optimizer.rate import Weighed
from optimizer.robot_electronics import Battery
from optimizer.study import Robot, Study

Rows = NDArray[np.intp] | NDArray[np.bool_]


@dataclass(frozen=True)
class Sums:
    """Values that are summed over the joints of each group and must stay within its limit.

    `group` holds per joint the group it counts in, -1 for none; `values` (one per row) are 0 or more.
    Where `follows_heads` holds, a row's value only grows with its number of heads.
    """

    names: tuple[str, ...]
    limits: Floats
    group: Ints
    values: Floats
    follows_heads: bool = False


@dataclass(frozen=True)
class Table:
    """Rows to choose from, sorted by joint; arrays are parallel unless said otherwise.

    No two rows agree in joint, ring and heads.

    `ring` and `cutter` are whole numbers, -1 for no cutter. `heads` are those on the joint; `weight`
    holds per joint how often it is built. `material_kg` and `cost` are for all that are built; money
    of a ring part or a cutter comes once each (`part_cost` by ring, `cutter_cost` by cutter number).
    `head_cost` is the part of `cost` that one head makes. `error` ranks rows that are equal otherwise.
    `index` tells where a row stood in the first table.
    """

    joints: int
    weight: Ints
    joint: Ints
    ring: Ints
    cutter: Ints
    heads: Ints
    material_kg: Floats
    cost: Floats
    error: Floats
    index: Ints
    part_cost: Floats
    cutter_cost: Floats
    head_cost: float
    sums: tuple[Sums, ...]

    def __len__(self) -> int:
        return len(self.joint)

    @property
    def built_heads(self) -> Ints:
        """Heads of every row over all that are built."""
        return self.heads * self.weight[self.joint]

    def take(self, rows: Rows) -> Table:
        """Return the given rows only (indices or mask)."""
        columns = {name: getattr(self, name)[rows] for name in _PER_ROW}
        sums = tuple(replace(s, values=s.values[rows]) for s in self.sums)
        return replace(self, sums=sums, **columns)


_PER_ROW = ("joint", "ring", "cutter", "heads", "material_kg", "cost", "error", "index")
assert set(_PER_ROW) < {field.name for field in fields(Table)}


def table_of(study: Study, rated: Weighed) -> Table:
    """Return the table of rated rows that are inside all limits of their joints."""
    rows = rated.catalogue
    weight = np.array([ref.robot.count for ref in rows.joints], dtype=np.int64)
    built = weight[rows.joint]
    ring = ring_keys(rated)
    head, once_a_part, once_a_cutter = 0.0, 0.0, 0.0
    prices = study.shop.prices
    if prices is not None:
        head, once_a_part, once_a_cutter = prices.head, prices.set_up_per_ring_part, prices.cutter
    return Table(
        joints=len(rows.joints),
        weight=weight,
        joint=rows.joint,
        ring=ring,
        cutter=rated.cutter,
        heads=rows.heads,
        material_kg=rated.blank_kg * built,
        cost=pieces_money(study, rated, built),
        error=rated.error_arcsec,
        index=np.arange(len(rows)),
        part_cost=np.full(int(ring.max(initial=-1)) + 1, once_a_part),
        cutter_cost=np.full(int(rated.cutter.max(initial=-1)) + 1, once_a_cutter),
        head_cost=head,
        sums=(_tool_points(study, rated), _batteries(study, rated)),
    )


def pieces_money(study: Study, rated: Weighed, built: Ints) -> Floats:
    """Return the money of every row's pieces and heads, for all that are built; 0 without prices."""
    rows, prices = rated.catalogue, study.shop.prices
    if prices is None:
        return np.zeros(len(rows))
    piece = prices.piece(study.shop.flank_class, rated.blank_kg, rows.teeth)
    return np.asarray(built * (piece + rows.heads * prices.head))


def ring_keys(rated: Weighed) -> Ints:
    """Return a whole number per row that is equal for rows of the same ring part, in canonical order."""
    rows = rated.catalogue
    _, width = np.unique(rows.per_joint(lambda r: r.joint.face_width_mm), return_inverse=True)
    if len(rows) == 0:
        return np.empty(0, dtype=np.int64)
    key = rows.module * (rows.teeth.max() + 1) + rows.teeth
    key = key * (rows.bore_steps.max() + 1) + rows.bore_steps
    _, key = np.unique(key * (width.max() + 1) + width, return_inverse=True)
    return np.asarray(key, dtype=np.int64)


def tool_point_shares(rated: Weighed) -> Floats:
    """Return every row's share of its robot's tool-point sum: um^2 for rss, um for sum."""
    rows = rated.catalogue
    lever = np.asarray(
        lever_error_um(rows.per_joint(lambda r: r.joint.reach_mm), rated.error_arcsec)
    )
    squared = np.array([ref.robot.tool_point_rule == "rss" for ref in rows.joints])[rows.joint]
    return np.where(squared, lever**2, lever)


def tool_point_limit(target_um: float, rule: str) -> float:
    """Return the limit of a tool-point sum (um^2 for rss, um for sum), room for rounding included."""
    with_room = float(target_um + room(target_um))
    return with_room**2 if rule == "rss" else with_room


def tool_point_reached_um(total: float, rule: str) -> float:
    """Return the error in um at the tool point that a tool-point sum comes to (um^2 for rss, um for sum)."""
    return total**0.5 if rule == "rss" else total


def battery_shares_ua(rated: Weighed) -> Floats:
    """Return every row's average current in uA from its robot's battery; 0 without battery."""
    rows = rated.catalogue
    current = rows.per_joint(
        lambda r: (
            0.0
            if r.robot.battery is None or r.head.backup_current_ua is None
            else r.head.backup_current_ua * r.robot.battery.unpowered_share
        )
    )
    return current * rows.heads


def battery_limit_ua(battery: Battery) -> float | None:
    """Return the largest average current in uA for the stated life, room for rounding included.

    The room is that of the life, so that both ways to put the limit let the same answers pass.
    """
    life = battery.life_min_years
    if life is None:
        return None
    return float(
        largest_current_ua(
            battery.capacity_ah,
            battery.usable_share,
            life - room(life),
            battery.self_discharge_per_year,
        )
    )


def least_per_joint(values: Floats, joint: Ints, joints: int) -> Floats:
    """Return the least value among each joint's rows; infinity for a joint without rows."""
    least = np.full(joints, np.inf)
    np.minimum.at(least, joint, values)
    return least


def _tool_points(study: Study, rated: Weighed) -> Sums:
    """Return the tool-point sums of all robots that have a target."""

    def limit(robot: Robot) -> float | None:
        target = robot.tool_point_target_um
        return None if target is None else tool_point_limit(target, robot.tool_point_rule)

    counted = np.array([ref.joint.reach_mm > 0.0 for ref in rated.catalogue.joints], dtype=np.bool_)
    field, values = "tool_point_target_um", tool_point_shares(rated)
    return _sums(study, rated, field, limit, counted, values, follows_heads=False)


def _batteries(study: Study, rated: Weighed) -> Sums:
    """Return the currents of all robots whose battery has a stated life."""

    def limit(robot: Robot) -> float | None:
        return None if robot.battery is None else battery_limit_ua(robot.battery)

    every = np.ones(len(rated.catalogue.joints), dtype=np.bool_)
    field, values = "battery.life_min_years", battery_shares_ua(rated)
    return _sums(study, rated, field, limit, every, values, follows_heads=True)


def _sums(
    study: Study, rated: Weighed, field: str, limit_of: Callable[[Robot], float | None],
    counted: NDArray[np.bool_], values: Floats, follows_heads: bool,
) -> Sums:  # fmt: skip
    """Return the sums of all robots whose `field` sets a limit, over those of their joints that count."""
    limits: list[float] = []
    names: list[str] = []
    group_of: dict[str, int] = {}
    for index, robot in enumerate(study.robots):
        limit = limit_of(robot)
        if limit is not None:
            group_of[robot.name] = len(limits)
            limits.append(limit)
            names.append(f"robots[{index}].{field}")
    rows = rated.catalogue
    robots = np.array([group_of.get(ref.robot.name, -1) for ref in rows.joints], dtype=np.int64)
    group = np.where(counted, robots, -1)
    return Sums(
        names=tuple(names),
        limits=np.array(limits),
        group=group,
        values=np.where(group[rows.joint] >= 0, values, 0.0),
        follows_heads=follows_heads,
    )
