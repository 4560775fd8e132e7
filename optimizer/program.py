"""The integer program of a sifted table: the one place where real numbers become integers.

Columns: a Boolean per row (joint takes this ring with these heads), one per ring part that several
joints could share, one per cutter. Every coefficient is a small integer. Real limits (tool point,
material) are rounded so that no allowed answer is ever cut off, shares down and limits up; an answer
that slips through the rounding is caught by `Program.allowed`, in real numbers, and cut off by name. So
bounds hold for the real limits, and so do answers.

The pinned CP-SAT release can certify wrong optima once the coefficients of one row add up to more than
2^31 (google/or-tools#5293), so every row given to it is kept below 2^30 and checked (`guard`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from optimizer.catalogue import Floats, Ints
from optimizer.columns import Columns, Objective, Owners, Units, cutters_of, nobody, parts_of
from optimizer.patterns import Patterns, head_patterns, no_patterns
from optimizer.physics.limits import room
from optimizer.sift import needs_of
from optimizer.study import Wish
from optimizer.table import Table, least_per_joint

__all__ = [
    "Ceilings",
    "Held",
    "Limits",
    "Objective",
    "Owners",
    "Program",
    "RowTooLarge",
    "Units",
    "build",
]

#: No row of the program may total more than this over all its columns.
ROW_TOTAL_MAX = 2**30
#: Real limits are counted in about this many units: one unit is then of the size of the feasibility
#: tolerance (1e-6) of the engine that gives the second opinion.
LIMIT_UNITS = 1_000_000
#: Material and money are counted in the finest power of ten that keeps the total below this many units.
AMOUNT_UNITS = 2**40
#: Finest units: a milligram, a hundredth of the currency.
FINEST_KG, FINEST_MONEY = 1e-6, 1e-2

#: What a wish may come to at most, as the study states it: pieces, kg, money.
Ceilings = Mapping[Wish, float]
#: What a wish is held at, in the whole units in which it is counted.
Held = Mapping[Wish, int]


class RowTooLarge(OverflowError):
    """A row of the program whose total passes ROW_TOTAL_MAX."""


@dataclass(frozen=True)
class Limits:
    """Named inequalities weights x <= right over all columns, in whole numbers.

    `units` tells how many whole units one real unit of each line makes; they differ with the rows. So does
    `least`, lines x joints: what each joint's rows are counted from, in real units.
    """

    names: tuple[str, ...]
    weights: sparse.csr_array
    right: Ints
    units: Floats
    least: sparse.csr_array

    @cached_property
    def totals(self) -> Floats:
        """Sums of the sizes of every line's weights."""
        line = np.repeat(np.arange(len(self.names)), np.diff(self.weights.indptr))
        sizes = np.abs(self.weights.data).astype(np.float64)
        return np.bincount(line, sizes, len(self.names)).astype(np.float64)

    def counting(self, columns: NDArray[np.intp]) -> list[int]:
        """Return the lines that count every one of these columns once, and nothing else."""
        found = []
        for line in range(len(self.names)):
            entries = slice(self.weights.indptr[line], self.weights.indptr[line + 1])
            where, weights = self.weights.indices[entries], self.weights.data[entries]
            if len(where) == len(columns) and np.all(weights == 1):
                found += [line] * np.array_equal(np.sort(where), np.sort(columns))
        return found

    def most_of(self, columns: NDArray[np.intp], otherwise: int) -> int:
        """Return how many of these columns the lines that count them allow."""
        return min((int(self.right[line]) for line in self.counting(columns)), default=otherwise)

    def with_line(self, name: str, weights: sparse.csr_array, right: int) -> Limits:
        """Return the limits with one more line."""
        stacked = sparse.csr_array(sparse.vstack([self.weights, weights]))
        right_sides, units = np.append(self.right, right), np.append(self.units, 1.0)
        nothing = sparse.csr_array((1, self.least.shape[1]))
        least = sparse.csr_array(sparse.vstack([self.least, nothing], format="csr"))
        return Limits((*self.names, name), stacked, right_sides, units, least)


@dataclass(frozen=True)
class RealLimits:
    """Limits in real numbers over all columns: values x <= right; `limits` holds them rounded."""

    values: sparse.csr_array
    right: Floats


@dataclass(frozen=True)
class Program:
    """Minimise a wish: one row per joint, rows ask for their part and cutter, and limits hold."""

    table: Table
    rows: int
    columns: int
    joints: int
    joint: Ints
    parts: Owners
    cutters: Owners
    patterns: Patterns
    limits: Limits
    real: RealLimits
    objectives: dict[Wish, Objective]
    ranks: Ints

    def with_needed_columns(self, rows: NDArray[np.intp]) -> Ints:
        """Return the columns of a choice: its rows, and just the parts and cutters that they need."""
        x = np.zeros(self.columns, dtype=np.int64)
        x[rows] = 1
        for owners in (self.parts, self.cutters):
            asked = owners.columns()[rows]
            x[asked[asked >= 0]] = 1
        return x

    @property
    def present(self) -> NDArray[np.bool_]:
        """Joints that have rows; joints that follow others have none."""
        return np.bincount(self.joint, minlength=self.joints) > 0

    @property
    def ring_columns(self) -> NDArray[np.intp]:
        """Columns that stand for a ring part each: rows of a ring of one joint only, and shared parts."""
        return np.union1d(np.flatnonzero(self.parts.pair < 0), self.parts.owner)

    def one_row_each(self, x: Ints) -> bool:
        """Say whether every joint that has rows has exactly one of them."""
        counts = np.bincount(self.joint[x[: self.rows] > 0], minlength=self.joints)
        return bool(np.all(counts == self.present))

    def allowed(self, x: Ints) -> bool:
        """Say whether the chosen rows keep every limit, the real ones not only rounded."""
        real = self.real.values @ x.astype(np.float64) <= self.real.right
        return bool(np.all(real) and np.all(self.limits.weights @ x <= self.limits.right))

    def without(self, x: Ints) -> Program:
        """Return the program with one choice of rows cut off."""
        rows = np.flatnonzero(x[: self.rows])
        line = sparse.csr_array(
            (np.ones(len(rows), np.int64), (np.zeros(len(rows), np.int64), rows)), (1, self.columns)
        )
        return replace(
            self, limits=self.limits.with_line("beyond a real limit", line, len(rows) - 1)
        )


def units_of(table: Table) -> Units:
    """Return the units of a whole table; every program of its rows counts in them."""
    once = float(table.part_cost.sum() + table.cutter_cost.sum())
    return Units(
        material_kg=_unit(table, table.material_kg, 0.0, FINEST_KG),
        cost=_unit(table, table.cost, once, FINEST_MONEY),
    )


def build(
    table: Table, units: Units, wish: Wish | None, ceilings: Ceilings, held: Held
) -> Program:  # fmt: skip
    """Return the program of sifted rows that minimises `wish` under `ceilings`, with wishes `held`."""
    needed = frozenset(ceilings) | frozenset(held) | ({wish} if wish is not None else set())
    needs = needs_of(table, needed)
    patterns = no_patterns(table)
    if needs.heads:
        heads = [int(limit["heads"]) for limit in (ceilings, held) if "heads" in limit]
        table, patterns = head_patterns(table, min(heads, default=None))
    n = len(table)
    parts, ring_of = parts_of(table, n) if needs.ring_parts else nobody(n)
    cutters, cutter_of = cutters_of(table, n + len(ring_of)) if needs.cutters else nobody(n)
    columns = Columns(table, units, parts, ring_of, cutters, cutter_of)
    objectives = {name: columns.objective(name) for name in sorted(needed)}
    limits, real = _limits(columns, objectives, ceilings, held)
    return Program(
        table=table,
        rows=n,
        columns=columns.total,
        joints=table.joints,
        joint=table.joint,
        parts=parts,
        cutters=cutters,
        patterns=patterns,
        limits=limits,
        real=real,
        objectives=objectives,
        ranks=np.pad(_ranks(table), (0, columns.total - n)),
    )


def guard(name: str, weights: Ints, limit: int) -> None:
    """Raise RowTooLarge if a row given to CP-SAT totals ROW_TOTAL_MAX or more."""
    total = int(np.sum(np.abs(weights), dtype=object)) + abs(limit)
    if total >= ROW_TOTAL_MAX:
        raise RowTooLarge(f"row {name!r}: total {total}, allowed less than {ROW_TOTAL_MAX}")


def _unit(table: Table, amounts: Floats, once: float, finest: float) -> float:
    """Return the finest power of ten times `finest` that keeps the largest total in AMOUNT_UNITS."""
    largest = -least_per_joint(-amounts, table.joint, table.joints)
    total = float(np.sum(largest[np.isfinite(largest)])) + once
    power = 0
    while total / (finest * 10.0**power) > AMOUNT_UNITS:
        power += 1
    return float(f"{finest * 10.0**power:.0e}")


def _limits(
    columns: Columns, objectives: dict[Wish, Objective], ceilings: Ceilings, held: Held
) -> tuple[Limits, RealLimits]:
    """Return every limit as a line of whole numbers, and the real ones among them as they are."""
    table, lines = columns.table, _Lines(columns)
    for wish in sorted(ceilings):
        if wish in ("material", "cost"):
            lines.amount(wish, ceilings[wish])
        else:
            lines.whole(f"wishes.{wish}_max", objectives[wish], int(ceilings[wish]))
    for wish in sorted(held):
        lines.whole(f"held {wish}", objectives[wish], held[wish])
    for sums in table.sums:
        for number, name in enumerate(sums.names):
            counted = np.flatnonzero(sums.group[table.joint] == number)
            lines.real(name, counted, sums.values[counted], float(sums.limits[number]))
    return lines.stacked()


class _Lines:
    """Collects limits line by line."""

    def __init__(self, columns: Columns) -> None:
        self.columns = columns
        self.names: list[str] = []
        self.units: list[float] = []
        self.whole_lines: list[tuple[NDArray[np.intp], Ints, float]] = []
        self.real_lines: list[tuple[NDArray[np.intp], Floats, float]] = []
        self.least: list[tuple[NDArray[np.intp], Floats, float]] = []

    def whole(self, name: str, objective: Objective, value: int) -> None:
        """Add the line that keeps an objective at `value` or below, in its whole units."""
        limit = objective.weight_within(value)
        most = int(np.sum(objective.weights)) + 1  # a ceiling that nothing reaches asks no more
        used = np.flatnonzero(objective.weights)
        self.names.append(name)
        self.units.append(1.0 / objective.scale)
        self.whole_lines.append((used, objective.weights[used], max(min(limit, most), -most)))
        self._counted_from(np.zeros(1) if objective.least is None else objective.least)

    def amount(self, wish: Wish, ceiling: float) -> None:
        """Add a ceiling of material or money, in real numbers."""
        table, own = self.columns.table, self.columns
        limit = float(ceiling + room(ceiling))
        if wish == "material":
            self.real("wishes.material_max_kg", np.arange(len(table)), table.material_kg, limit)
            return
        single = own.parts.pair < 0
        values = [
            table.cost + np.where(single, table.part_cost[table.ring], 0.0),
            table.part_cost[own.ring_of],
            table.cutter_cost[own.cutter_of],
        ]
        self.real("wishes.cost_max", np.arange(own.total), np.concatenate(values), limit)

    def real(self, name: str, used: NDArray[np.intp], values: Floats, limit: float) -> None:
        """Add a limit in real numbers, and in whole units less each joint's least, cutting off no answer."""
        table = self.columns.table
        rows = used < len(table)
        joint = table.joint[used[rows]]
        least = least_per_joint(values[rows], joint, table.joints)
        least = np.where(np.isfinite(least), least, 0.0)
        excess = values.copy()
        excess[rows] -= least[joint]
        spare = limit - float(np.sum(least))
        # sift drops rows that take more than the spare (but where two sums empty a joint), so that is
        # what is counted
        room_left = max(spare, 1e-12 * limit)
        units = min(
            LIMIT_UNITS / room_left, (ROW_TOTAL_MAX // 4) / max(float(excess.sum()), 1e-300)
        )
        # a millionth of a unit covers the rounding of the subtraction itself
        weights = np.maximum(0, np.floor(excess * units - 1e-6)).astype(np.int64)
        whole = int(np.ceil(max(spare * units, -1e6) + 1e-6))
        self.names.append(name)
        self.units.append(units)
        self.whole_lines.append((used, weights, whole))
        self.real_lines.append((used, values, limit))
        self._counted_from(least)

    def _counted_from(self, least: Floats | Ints) -> None:
        joints = np.flatnonzero(least)
        self.least.append((joints, least[joints].astype(np.float64), 0.0))

    def stacked(self) -> tuple[Limits, RealLimits]:
        """Return all lines as matrices."""
        whole, right = _matrix(self.whole_lines, self.columns.total, np.int64)
        real, real_right = _matrix(self.real_lines, self.columns.total, np.float64)
        least, _ = _matrix(self.least, self.columns.table.joints, np.float64)
        limits = Limits(tuple(self.names), whole, right, np.array(self.units), least)
        return limits, RealLimits(real, real_right)


def _matrix(lines: list[Any], columns: int, kind: Any) -> tuple[sparse.csr_array, Any]:
    """Return (used columns, weights, right) line by line as a matrix and its right side."""
    first = np.cumsum([0, *(len(used) for used, _, _ in lines)])
    where = np.concatenate([np.empty(0, np.int64), *(used for used, _, _ in lines)])
    weights = np.concatenate([np.empty(0, kind), *(weights for _, weights, _ in lines)])
    matrix = sparse.csr_array((weights, where, first), shape=(len(lines), columns))
    return matrix, np.array([right for _, _, right in lines], dtype=kind)


def _ranks(table: Table) -> Ints:
    """Return each row's place among its joint's rows by mass, heads, error and canonical order."""
    place = np.arange(len(table))
    order = np.lexsort((place, table.error, table.heads, table.material_kg, table.joint))
    ranks = np.empty(len(table), dtype=np.int64)
    first = np.searchsorted(table.joint[order], np.arange(table.joints))
    ranks[order] = place - first[table.joint[order]]
    return ranks
