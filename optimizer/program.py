"""The integer program of a sifted catalogue: the one place where real numbers become integers.

Columns: a Boolean per row (joint takes this ring with these heads), one per ring part that several
joints could share, one per cutter. Every coefficient is a small integer rounded to the safe side:
errors and masses up, limits down. The pinned CP-SAT release can certify wrong optima once the
coefficients of one row add up to more than 2^31 (google/or-tools#5293), so every row, also those that
hold an earlier wish, is kept below 2^30 and checked.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from optimizer.catalogue import Floats, Ints
from optimizer.physics.limits import room, whole_units
from optimizer.rate import Rated, per_joint
from optimizer.sift import (
    least_per_joint,
    matters,
    ring_keys,
    tool_point_joints,
    tool_point_limit,
    tool_point_shares,
)  # fmt: skip
from optimizer.study import Study, Wish

#: No row of the program may total more than this over all its columns.
ROW_TOTAL_MAX = 2**30
#: Tool-point limits are counted in about this many units: one unit is then of the size of the
#: feasibility tolerance (1e-6) of the engine that gives the second opinion.
TOOL_POINT_UNITS = 1_000_000
#: Material is counted in the finest power of ten mg that keeps the total below this many units.
MATERIAL_UNITS = 4_000_000


class RowTooLarge(OverflowError):
    """A row of the program whose total passes ROW_TOTAL_MAX."""


@dataclass(frozen=True)
class Objective:
    """A wish as whole numbers: value = offset + scale * (weights . x)."""

    weights: Ints
    offset: int = 0
    scale: int = 1

    def value(self, x: Ints) -> int:
        """Return the value of the columns `x` in whole units."""
        return self.offset + self.scale * int(self.weights @ x)


@dataclass(frozen=True)
class Row:
    """A named inequality weights . x <= limit over all columns."""

    name: str
    weights: Ints
    limit: int


@dataclass(frozen=True)
class Program:
    """Minimise wishes one after another: one Boolean per joint, links, and limits.

    `joint` gives the joint of each of the first `rows` columns. `links` holds, per line, a group of
    rows that needs a column of its own (ring part or cutter): sum(group) - column <= 0.
    """

    rows: int
    columns: int
    joints: int
    joint: Ints
    links: sparse.csr_array
    limits: list[Row]
    objectives: dict[Wish, Objective]
    ranks: Ints
    material_unit_kg: float
    tool_point_room: float
    impossible: list[str]


def build(study: Study, rated: Rated) -> Program:
    """Return the program of sifted rows; raises RowTooLarge if a row cannot be kept small."""
    rows = rated.catalogue
    n, joints = len(rows), len(rows.joints)
    links, part_column, cutter_column, columns = _links(study, rated)
    unit_kg, mass = _material(rated)
    count = per_joint(rows, lambda r: float(r.robot.count)).astype(np.int64)
    by_wish: dict[Wish, Objective] = {
        "cutters": _ones(columns, cutter_column),
        "ring_parts": _ones(columns, part_column),
        "heads": _shifted(rows.heads * count, rows.joint, joints, columns),
        "material": _shifted(mass, rows.joint, joints, columns),
    }
    objectives = {wish: by_wish[wish] for wish in by_wish if matters(study, wish)}
    limits = _ceilings(study, objectives, unit_kg)
    tool_rows, tool_room, impossible = _tool_points(study, rated, columns)
    for row in limits + tool_rows:
        guard(row)
    return Program(
        rows=n,
        columns=columns,
        joints=joints,
        joint=rows.joint,
        links=links,
        limits=limits + tool_rows,
        objectives=objectives,
        ranks=np.pad(_ranks(rated), (0, columns - n)),
        material_unit_kg=unit_kg,
        tool_point_room=tool_room,
        impossible=impossible,
    )


def guard(row: Row) -> Row:
    """Return `row` if its total stays below ROW_TOTAL_MAX; raise RowTooLarge if not."""
    total = int(np.sum(np.abs(row.weights), dtype=object)) + abs(row.limit)
    if total >= ROW_TOTAL_MAX:
        raise RowTooLarge(f"row {row.name!r}: total {total}, allowed less than {ROW_TOTAL_MAX}")
    return row


def hold(name: str, objective: Objective, value: int) -> Row:
    """Return the guarded row that keeps an objective at `value` or below."""
    limit = (value - objective.offset) // objective.scale
    return guard(Row(name, objective.weights, limit))


def _links(
    study: Study, rated: Rated
) -> tuple[sparse.csr_array, NDArray[np.intp], NDArray[np.intp], int]:
    """Return link lines, the columns that count as ring parts and as cutters, and the column count.

    A ring that only one joint could use needs no column of its own: its row is its ring part.
    """
    rows, n = rated.catalogue, len(rated.catalogue)
    lines: list[tuple[NDArray[np.intp], int]] = []
    columns = n
    parts = np.empty(0, dtype=np.intp)
    cutters = np.empty(0, dtype=np.intp)
    if matters(study, "ring_parts"):
        ring = np.unique(ring_keys(rated), return_inverse=True)[1]
        pairs = np.unique(np.stack([ring, rows.joint]), axis=1)
        shared = np.bincount(pairs[0], minlength=1) > 1
        own_column = np.cumsum(shared) - 1 + columns
        is_shared = shared[ring]
        lines += _groups(np.flatnonzero(is_shared), ring, rows.joint, own_column)
        columns += int(shared.sum())
        parts = np.concatenate([np.flatnonzero(~is_shared), np.arange(n, columns)])
    if matters(study, "cutters") and np.any(rated.cutter >= 0):
        cutter = np.unique(rated.cutter, return_inverse=True)[1]
        own_column = np.arange(cutter.max() + 1) + columns
        lines += _groups(np.arange(n), cutter, rows.joint, own_column)
        cutters = own_column
        columns += len(own_column)
    return _link_matrix(lines, columns), parts, cutters, columns


def _link_matrix(lines: list[tuple[NDArray[np.intp], int]], columns: int) -> sparse.csr_array:
    """Return one line per group: 1 for each of its rows, -1 for the column it needs."""
    line, column, value = [np.empty(0, np.int64)], [np.empty(0, np.int64)], [np.empty(0, np.int64)]
    for number, (group, owner) in enumerate(lines):
        line.append(np.full(len(group) + 1, number, dtype=np.int64))
        column.append(np.append(group, owner))
        value.append(np.append(np.ones(len(group), dtype=np.int64), -1))
    return sparse.csr_array(
        (np.concatenate(value), (np.concatenate(line), np.concatenate(column))),
        shape=(len(lines), columns),
    )


def _groups(
    which: NDArray[np.intp], owner: NDArray[np.intp], joint: Ints, column: NDArray[np.intp]
) -> list[tuple[NDArray[np.intp], int]]:
    """Return (rows, column) for every pair of owner and joint among the rows `which`."""
    if len(which) == 0:
        return []
    key = owner[which] * (int(joint.max()) + 1) + joint[which]
    order = np.argsort(key, kind="stable")
    starts = np.flatnonzero(np.diff(key[order], prepend=np.int64(-1)))
    return [(which[g], int(column[owner[which[g[0]]]])) for g in np.split(order, starts[1:])]


def _ones(columns: int, which: NDArray[np.intp]) -> Objective:
    weights = np.zeros(columns, dtype=np.int64)
    weights[which] = 1
    return Objective(weights)


def _shifted(values: Ints, joint: Ints, joints: int, columns: int) -> Objective:
    """Return a sum over rows less each joint's least value, in units of the common divisor.

    Exactly one row per joint is taken, so the shift is a constant; it keeps coefficients small.
    """
    least = least_per_joint(values.astype(np.float64), joint, joints).astype(np.int64)
    spread = values - least[joint]
    scale = max(1, int(np.gcd.reduce(spread))) if len(spread) else 1
    return Objective(np.pad(spread // scale, (0, columns - len(values))), int(least.sum()), scale)


def _material(rated: Rated) -> tuple[float, Ints]:
    """Return the counting unit in kg and every row's blank mass, times robots built, in units."""
    rows = rated.catalogue
    mass = rated.blank_kg * per_joint(rows, lambda r: float(r.robot.count))
    largest = -least_per_joint(-mass, rows.joint, len(rows.joints))
    milligrams = 1.0
    while np.sum(largest) * 1e6 / milligrams > MATERIAL_UNITS:
        milligrams *= 10.0
    unit_kg = milligrams * 1e-6
    return unit_kg, whole_units(mass, unit_kg)


def _ceilings(study: Study, objectives: dict[Wish, Objective], unit_kg: float) -> list[Row]:
    wishes = study.wishes
    kg = wishes.material_max_kg
    ceilings: dict[Wish, int | None] = {
        "cutters": wishes.cutters_max,
        "ring_parts": wishes.ring_parts_max,
        "heads": wishes.heads_max,
        "material": None if kg is None else int(np.floor((kg + room(kg)) / unit_kg)),
    }
    return [
        Row(f"wishes.{wish}_max", objectives[wish].weights, _held(objectives[wish], ceiling))
        for wish, ceiling in ceilings.items()
        if ceiling is not None
    ]


def _held(objective: Objective, value: int) -> int:
    """Return the limit of the weights for a value, no larger than the weights could ever reach."""
    most = int(np.sum(objective.weights)) + 1
    return max(min((value - objective.offset) // objective.scale, most), -most - 1)


def _tool_points(study: Study, rated: Rated, columns: int) -> tuple[list[Row], float, list[str]]:
    """Return one row per robot with a tool-point target, the share left unused, and what cannot be."""
    rows = rated.catalogue
    shares = tool_point_shares(rated)
    least = least_per_joint(shares, rows.joint, len(rows.joints))
    counts = tool_point_joints(study, rated)
    lines: list[Row] = []
    impossible: list[str] = []
    unused = 0.0
    for index, robot in enumerate(study.robots):
        if robot.tool_point_target_um is None:
            continue
        mine = counts & np.array([ref.robot is robot for ref in rows.joints])
        limit = tool_point_limit(robot.tool_point_target_um, robot.tool_point_rule)
        spare = limit - float(np.sum(least[mine]))
        name = f"robots[{index}].tool_point_target_um"
        if spare < 0.0:
            impossible.append(name)
            continue
        weights, units, room_left = _counted(
            np.where(mine[rows.joint], shares - least[rows.joint], 0.0), spare, limit
        )
        unused = max(unused, room_left * (int(mine.sum()) + 1))
        lines.append(Row(name, np.pad(weights, (0, columns - len(rows))), units))
    return lines, unused, impossible


def _counted(excess: Floats, spare: float, limit: float) -> tuple[Ints, int, float]:
    """Return excess shares in whole units (up), the spare in units (down), one unit over the limit."""
    total = float(np.sum(excess))
    units_per_share = TOOL_POINT_UNITS / limit
    if total > 0.0:
        units_per_share = min(units_per_share, (ROW_TOTAL_MAX // 2) / total)
    weights = whole_units(excess, 1.0 / units_per_share)
    return weights, int(np.floor(spare * units_per_share + 1e-6)), 1.0 / (units_per_share * limit)


def _ranks(rated: Rated) -> Ints:
    """Return each row's place among its joint's rows by mass, error, module, teeth, bore, heads."""
    rows = rated.catalogue
    order = np.lexsort(
        (rows.heads, rows.bore_steps, rows.teeth, rows.module, rated.error_arcsec, rated.blank_kg, rows.joint)
    )  # fmt: skip
    ranks = np.empty(len(rows), dtype=np.int64)
    first = np.searchsorted(rows.joint[order], np.arange(len(rows.joints)))
    ranks[order] = np.arange(len(rows)) - first[rows.joint[order]]
    return ranks
