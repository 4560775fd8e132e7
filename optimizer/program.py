"""The integer program of a sifted catalogue: the one place where real numbers become integers.

Columns: a Boolean per row (joint takes this ring with these heads), one per ring part that several
joints could share, one per cutter. Every coefficient is a small integer. Real limits (tool point,
material) are rounded so that no allowed answer is ever cut off, shares down and limits up; an answer
that slips through the rounding is caught by `Program.allowed`, in real numbers, and cut off by name. So
bounds hold for the real limits, and so do answers.

The pinned CP-SAT release can certify wrong optima once the coefficients of one row add up to more than
2^31 (google/or-tools#5293), so every row given to it, also those that hold an earlier wish, is kept
below 2^30 and checked (`guard`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from optimizer.catalogue import Floats, Ints
from optimizer.physics.limits import room, whole_units
from optimizer.rate import Rated
from optimizer.sift import (
    battery_limit_ua,
    battery_shares_ua,
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
#: Real limits are counted in about this many units: one unit is then of the size of the feasibility
#: tolerance (1e-6) of the engine that gives the second opinion.
LIMIT_UNITS = 1_000_000
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
class RealLimit:
    """A limit in real numbers: the sum of `values` over the chosen rows is at most `limit`."""

    name: str
    values: Floats
    limit: float


@dataclass(frozen=True)
class Program:
    """Minimise wishes one after another: one Boolean per joint, links, and limits.

    `joint` gives the joint of each of the first `rows` columns. `links` holds, per line, a group of
    rows that needs a column of its own (ring part or cutter): sum(group) - column <= 0. `part` is the
    part column of each row, -1 where only one joint could use its ring. `limits` are
    whole numbers; those of `real` among them are rounded to the side of the answers.
    """

    rows: int
    columns: int
    joints: int
    joint: Ints
    links: sparse.csr_array
    limits: list[Row]
    real: list[RealLimit]
    objectives: dict[Wish, Objective]
    ranks: Ints
    part: Ints
    material_unit_kg: float

    def with_needed_columns(self, rows: list[int]) -> Ints:
        """Return the columns of a choice: its rows, and just the parts and cutters that they need.

        A search that ends early may leave more of those at 1 than its rows need.
        """
        x = np.zeros(self.columns, dtype=np.int64)
        x[rows] = 1
        used = np.asarray(self.links[:, : self.rows] @ x[: self.rows]) > 0
        entries = np.repeat(used, np.diff(self.links.indptr)) & (self.links.data < 0)
        x[self.links.indices[entries]] = 1
        return x

    def allowed(self, x: Ints) -> bool:
        """Say whether the chosen rows keep every real limit, not only the rounded one."""
        chosen = np.flatnonzero(x[: self.rows])
        return all(float(np.sum(real.values[chosen])) <= real.limit for real in self.real)


def build(study: Study, rated: Rated) -> Program:
    """Return the program of sifted rows."""
    rows = rated.catalogue
    n, joints = len(rows), len(rows.joints)
    links, part, part_column, cutter_column, columns = _links(study, rated)
    count = rows.per_joint(lambda r: float(r.robot.count))
    mass_kg = rated.blank_kg * count
    unit_kg = _material_unit_kg(rows.joint, mass_kg, joints)
    mass = whole_units(mass_kg, unit_kg)
    by_wish: dict[Wish, Objective] = {
        "cutters": _ones(columns, cutter_column),
        "ring_parts": _ones(columns, part_column),
        "heads": _shifted(rows.heads * count.astype(np.int64), rows.joint, joints, columns),
        "material": _shifted(mass, rows.joint, joints, columns),
    }
    objectives = {wish: by_wish[wish] for wish in by_wish if matters(study, wish)}
    real = [
        *_material_ceiling(study, mass_kg),
        *_tool_points(study, rated),
        *_batteries(study, rated),
    ]
    ceilings = _ceilings(study, objectives)
    if "heads" in objectives and float(np.sum(objectives["heads"].weights)) >= ROW_TOTAL_MAX // 4:
        # very different numbers of robots built: the row would be too large, so count it like a mass
        ceilings = [row for row in ceilings if row.name != "wishes.heads_max"]
        real += _heads_ceiling(study, rows.heads * count)
    rounded = [_rounded(limit, rows.joint, joints, columns) for limit in real]
    return Program(
        rows=n,
        columns=columns,
        joints=joints,
        joint=rows.joint,
        links=links,
        limits=ceilings + rounded,
        real=real,
        objectives=objectives,
        ranks=np.pad(_ranks(rated), (0, columns - n)),
        part=part,
        material_unit_kg=unit_kg,
    )


def guard(name: str, weights: Ints, limit: int) -> None:
    """Raise RowTooLarge if a row given to CP-SAT totals ROW_TOTAL_MAX or more."""
    total = int(np.sum(np.abs(weights), dtype=object)) + abs(limit)
    if total >= ROW_TOTAL_MAX:
        raise RowTooLarge(f"row {name!r}: total {total}, allowed less than {ROW_TOTAL_MAX}")


def hold(name: str, objective: Objective, value: int) -> Row:
    """Return the row that keeps an objective at `value` or below."""
    return Row(name, objective.weights, (value - objective.offset) // objective.scale)


def _links(
    study: Study, rated: Rated
) -> tuple[sparse.csr_array, Ints, NDArray[np.intp], NDArray[np.intp], int]:
    """Return link lines, each row's part column, what counts as part and cutter, the column count.

    A ring that only one joint could use needs no column of its own: its row is its ring part.
    """
    rows, n = rated.catalogue, len(rated.catalogue)
    lines: list[tuple[NDArray[np.intp], int]] = []
    columns = n
    part = np.full(n, -1, dtype=np.int64)
    parts = np.empty(0, dtype=np.intp)
    cutters = np.empty(0, dtype=np.intp)
    if matters(study, "ring_parts"):
        ring = np.unique(ring_keys(rated), return_inverse=True)[1]
        pairs = np.unique(np.stack([ring, rows.joint]), axis=1)
        shared = np.bincount(pairs[0], minlength=1) > 1
        own_column = np.cumsum(shared) - 1 + columns
        is_shared = shared[ring]
        lines += _groups(np.flatnonzero(is_shared), ring, rows.joint, own_column)
        part[is_shared] = own_column[ring[is_shared]]
        columns += int(shared.sum())
        parts = np.concatenate([np.flatnonzero(~is_shared), np.arange(n, columns)])
    if matters(study, "cutters") and np.any(rated.cutter >= 0):
        cutter = np.unique(rated.cutter, return_inverse=True)[1]
        own_column = np.arange(cutter.max() + 1) + columns
        lines += _groups(np.arange(n), cutter, rows.joint, own_column)
        cutters = own_column
        columns += len(own_column)
    return _link_matrix(lines, columns), part, parts, cutters, columns


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


def _material_unit_kg(joint: Ints, mass_kg: Floats, joints: int) -> float:
    """Return the finest power of ten mg that keeps the largest total below MATERIAL_UNITS."""
    largest = -least_per_joint(-mass_kg, joint, joints)
    milligrams = 1.0
    while np.sum(largest) * 1e6 / milligrams > MATERIAL_UNITS:
        milligrams *= 10.0
    return milligrams * 1e-6


def _ceilings(study: Study, objectives: dict[Wish, Objective]) -> list[Row]:
    """Return the ceilings that are whole numbers by nature."""
    wishes = study.wishes
    ceilings: dict[Wish, int | None] = {
        "cutters": wishes.cutters_max,
        "ring_parts": wishes.ring_parts_max,
        "heads": wishes.heads_max,
    }
    rows = []
    for wish, ceiling in ceilings.items():
        if ceiling is not None:
            row = hold(f"wishes.{wish}_max", objectives[wish], ceiling)
            most = int(np.sum(row.weights)) + 1  # a ceiling that nothing reaches asks no more
            rows.append(Row(row.name, row.weights, max(min(row.limit, most), -most)))
    return rows


def _material_ceiling(study: Study, mass_kg: Floats) -> list[RealLimit]:
    ceiling = study.wishes.material_max_kg
    if ceiling is None:
        return []
    return [RealLimit("wishes.material_max_kg", mass_kg, float(ceiling + room(ceiling)))]


def _heads_ceiling(study: Study, heads: Floats) -> list[RealLimit]:
    ceiling = study.wishes.heads_max
    return [] if ceiling is None else [RealLimit("wishes.heads_max", heads, ceiling + 0.5)]


def _tool_points(study: Study, rated: Rated) -> list[RealLimit]:
    """Return the tool-point sum and limit of every robot that has a target."""
    rows = rated.catalogue
    shares = tool_point_shares(rated)
    counts = tool_point_joints(study, rated)
    limits = []
    for index, robot in enumerate(study.robots):
        if robot.tool_point_target_um is None:
            continue
        mine = counts & np.array([ref.robot is robot for ref in rows.joints])
        limit = tool_point_limit(robot.tool_point_target_um, robot.tool_point_rule)
        values = np.where(mine[rows.joint], shares, 0.0)
        limits.append(RealLimit(f"robots[{index}].tool_point_target_um", values, limit))
    return limits


def _batteries(study: Study, rated: Rated) -> list[RealLimit]:
    """Return the current and its limit of every robot whose battery has a stated life."""
    rows, shares = rated.catalogue, battery_shares_ua(rated)
    limits = []
    for index, robot in enumerate(study.robots):
        limit = None if robot.battery is None else battery_limit_ua(robot.battery)
        if limit is None:
            continue
        mine = np.array([ref.robot is robot for ref in rows.joints])
        values = np.where(mine[rows.joint], shares, 0.0)
        limits.append(RealLimit(f"robots[{index}].battery.life_min_years", values, limit))
    return limits


def _rounded(real: RealLimit, joint: Ints, joints: int, columns: int) -> Row:
    """Return a real limit in whole units, less each joint's least value, cutting off no answer."""
    least = least_per_joint(real.values, joint, joints)
    excess = real.values - least[joint]
    spare = real.limit - float(np.sum(least))
    # sift drops rows that take more than the spare (but where two sums empty a joint), so that is
    # what is counted
    room_left = max(spare, 1e-12 * real.limit)
    units = min(LIMIT_UNITS / room_left, (ROW_TOTAL_MAX // 4) / max(float(np.sum(excess)), 1e-300))
    # a millionth of a unit covers the rounding of the subtraction itself
    weights = np.maximum(0, np.floor(excess * units - 1e-6)).astype(np.int64)
    limit = int(np.ceil(max(spare * units, -1e6) + 1e-6))
    return Row(real.name, np.pad(weights, (0, columns - len(weights))), limit)


def _ranks(rated: Rated) -> Ints:
    """Return each row's place among its joint's rows by mass, heads, error, module, teeth, bore."""
    rows = rated.catalogue
    order = np.lexsort(
        (rows.bore_steps, rows.teeth, rows.module, rated.error_arcsec, rows.heads, rated.blank_kg, rows.joint)
    )  # fmt: skip
    ranks = np.empty(len(rows), dtype=np.int64)
    first = np.searchsorted(rows.joint[order], np.arange(len(rows.joints)))
    ranks[order] = np.arange(len(rows)) - first[rows.joint[order]]
    return ranks
