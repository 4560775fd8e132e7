"""From rated rows to the table that the search sees, which knows no ring."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats
from ringset.rating.rated import Weighed
from ringset.rating.ring_sums import RING_SUMS, rated_ring_sum_limit, rated_ring_sums
from ringset.rating.robot_sums import (
    rated_battery_limit_ua,
    rated_battery_shares_ua,
    rated_part_keys,
    rated_pieces_money,
    rated_tool_point_limit,
    rated_tool_point_shares,
)
from ringset.rating.standing import rated_counted_parts, rated_cutters_owned
from ringset.reduction.table import FirstRows, Sums, Table
from ringset.schema.study import Robot, Study


def reduction_table(study: Study, rated: Weighed) -> Table:
    """Return the table of rated rows that are inside all limits of their joints."""
    rows = rated.catalogue
    weight = np.array([ref.robot.count for ref in rows.joints], dtype=np.int64)
    built = weight[rows.joint]
    ring, second = rated_part_keys(rated)
    new = rated_counted_parts(study, rated, ring, second)
    owned = rated_cutters_owned(study, rated)
    only_new = study.wishes.count == "new"
    head, once_a_part, once_a_cutter = 0.0, 0.0, 0.0
    prices = study.shop.prices
    if prices is not None:
        head, once_a_part, once_a_cutter = prices.head, prices.set_up_per_ring_part, prices.cutter
    return Table(
        joints=len(rows.joints),
        weight=weight,
        joint=rows.joint,
        ring=ring,
        # an owned cutter is none to be had, or one without a price
        cutter=np.where(owned, -1, rated.cutter) if only_new else rated.cutter,
        heads=rated.all_heads,
        material_kg=rated.blank_kg * built,
        cost=rated_pieces_money(study, rated, built),
        error=rated.error_arcsec,
        index=FirstRows(np.arange(len(rows))),
        part_cost=np.where(new, once_a_part, 0.0),
        cutter_cost=_cutter_cost(rated, np.where(owned, 0.0, once_a_cutter)),
        head_cost=head,
        sums=(
            _tool_points(study, rated),
            _batteries(study, rated),
            *_scatters(study, rated),
            *(_ring_sum(study, rated, field) for field in rated_ring_sums(study)),
        ),
        second=second,
        counted_part=None if new.all() or not only_new else new,
    )


def _cutter_cost(rated: Weighed, money: Floats) -> Floats:
    """Return the money of every cutter by its number, of that by row; numbers that no row needs cost none."""
    cost = np.zeros(int(rated.cutter.max(initial=-1)) + 1)
    asks = rated.cutter >= 0
    cost[rated.cutter[asks]] = money[asks]
    return cost


def _scatters(study: Study, rated: Weighed) -> Iterator[Sums]:
    """Yield the repeatability sums at the tool point where some robot has a target for them.

    A sum more weakens the reduction, so a study without such a target has none.
    """
    field = "tool_point_repeatability_target_um"
    if any(getattr(robot, field) is not None for robot in study.robots):
        yield _tool_points(study, rated, field)


def _tool_points(study: Study, rated: Weighed, field: str = "tool_point_target_um") -> Sums:
    """Return the tool-point sums of all robots that have a target, by its field."""

    def limit(robot: Robot) -> float | None:
        return rated_tool_point_limit(study.target, robot, field)

    counted = np.array([ref.joint.reach_mm > 0.0 for ref in rated.catalogue.joints], dtype=np.bool_)
    values = rated_tool_point_shares(rated, field)
    return _sums(study, rated, field, limit, counted, values, follows_heads=False)


def _batteries(study: Study, rated: Weighed) -> Sums:
    """Return the currents of all robots whose battery has a stated life."""

    def limit(robot: Robot) -> float | None:
        return None if robot.battery is None else rated_battery_limit_ua(robot.battery)

    every = np.ones(len(rated.catalogue.joints), dtype=np.bool_)
    field, values = "battery.life_min_years", rated_battery_shares_ua(rated)
    return _sums(study, rated, field, limit, every, values, follows_heads=True)


def _ring_sum(study: Study, rated: Weighed, field: str) -> Sums:
    """Return what the finished rings of all robots that bound it come to; it knows no heads."""

    def limit(robot: Robot) -> float | None:
        return rated_ring_sum_limit(robot, field)

    every = np.ones(len(rated.catalogue.joints), dtype=np.bool_)
    values = RING_SUMS[field](study, rated.catalogue)
    return _sums(study, rated, field, limit, every, values, follows_heads=False)


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
