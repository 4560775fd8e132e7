"""The limits of a program, where real limits become whole numbers that cut off no allowed answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ringset.arrays import Floats, Ints
from ringset.physics.limit_rule import rounding_allowance
from ringset.reduction.table import table_least_per_joint
from ringset.schema.gives import Aim
from ringset.schema.study import Wish
from ringset.search.model.objective import Objective
from ringset.search.model.variables import Columns, Variables

#: No row of the program may total more than this over all its columns.
ROW_TOTAL_MAX = 2**30


#: Real limits are counted in about this many units: one unit is then of the size of the feasibility
#: tolerance (1e-6) of the engine that gives the second opinion.
LIMIT_UNITS = 1_000_000


#: What a wish may come to at most, as the study states it: pieces, kg, money.
Ceilings = Mapping[Wish, float]


#: What a wish, or a weighed sum of two, is held at, in the whole units in which it is counted.
Held = Mapping[Wish, int] | Mapping[Aim, int]


def search_held_by_aim(held: Held) -> dict[Aim, int]:
    """Return what is held as one dictionary of wishes and sums, in the order of their names."""
    return dict(sorted(held.items(), key=lambda one: str(one[0])))


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

    def counting(self, columns: Columns) -> list[int]:
        """Return the lines that count every one of these columns once, and nothing else."""
        found = []
        for line in range(len(self.names)):
            entries = slice(self.weights.indptr[line], self.weights.indptr[line + 1])
            where, weights = self.weights.indices[entries], self.weights.data[entries]
            if len(where) == len(columns) and np.all(weights == 1):
                found += [line] * np.array_equal(np.sort(where), np.sort(columns))
        return found

    def most_of(self, columns: Columns, otherwise: int) -> int:
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


def guard_search_row(name: str, weights: Ints, limit: int) -> None:
    """Raise RowTooLarge if a row given to CP-SAT totals ROW_TOTAL_MAX or more."""
    total = int(np.sum(np.abs(weights), dtype=object)) + abs(limit)
    if total >= ROW_TOTAL_MAX:
        raise RowTooLarge(f"row {name!r}: total {total}, allowed less than {ROW_TOTAL_MAX}")


def _limits(
    columns: Variables, objectives: dict[Aim, Objective], ceilings: Ceilings, held: Held
) -> tuple[Limits, RealLimits]:
    """Return every limit as a line of whole numbers, and the real ones among them as they are."""
    table, lines = columns.table, _Lines(columns)
    for wish in sorted(ceilings):
        if wish in ("material", "cost"):
            lines.amount(wish, ceilings[wish])
        else:
            lines.whole(f"wishes.{wish}_max", objectives[wish], int(ceilings[wish]))
    for aim, most in search_held_by_aim(held).items():
        lines.whole(f"held {aim}", objectives[aim], most)
    for sums in table.sums:
        for number, name in enumerate(sums.names):
            counted = np.flatnonzero(sums.group[table.joint] == number)
            lines.real(name, counted, sums.values[counted], float(sums.limits[number]))
    return lines.stacked()


class _Lines:
    """Collects limits line by line."""

    def __init__(self, columns: Variables) -> None:
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
        limit = float(ceiling + rounding_allowance(ceiling))
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
        least = table_least_per_joint(values[rows], joint, table.joints)
        least = np.where(np.isfinite(least), least, 0.0)
        excess = values.copy()
        excess[rows] -= least[joint]
        spare = limit - float(np.sum(least))
        # the reduction drops rows that take more than the spare (but where two sums empty a joint), so
        # that is what is counted
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
