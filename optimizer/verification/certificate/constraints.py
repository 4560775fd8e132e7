"""What an answer must be checked against: the rows in question, a wish in whole units, and every limit.

Numbers come as they are in the table: real limits stay real, wishes count whole units. So nothing here
depends on which rows a search had left, or in which units it counted a limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints
from ringset.physics.limit_rule import number_in_whole_units, rounding_allowance
from ringset.reduction.table import Table
from ringset.schema.gives import Aim, WeighedSum
from ringset.schema.study import Wish

#: Sizes of the whole units of material (kg) and money; other wishes count pieces.
Sizes = Mapping[Wish, float]
#: Room for the order in which real numbers are added, far below any unit.
ORDER_ROOM = 1e-12


@dataclass(frozen=True)
class Line:
    """rows . x + parts . y + cutters . y <= right, in whole numbers of any sign or in real ones (0 or more).

    Numbers below 0 stand in counts of at least so many (`tree`), of ring parts and cutters alone. A weighed
    sum may pass 2^53, from which on doubles are no longer exact: where it is held, `right` is an `int`.
    """

    name: str
    rows: Ints | Floats
    parts: Ints | Floats
    cutters: Ints | Floats
    right: float

    @property
    def whole(self) -> bool:
        """Whether all its numbers are whole."""
        return self.rows.dtype.kind == "i"

    def take(self, rows: NDArray[np.bool_]) -> Line:
        """Return the line on some of its rows."""
        return Line(self.name, self.rows[rows], self.parts, self.cutters, self.right)

    def most(self, room: float) -> float:
        """Return the right side with a relative room for rounding, which never makes it tighter."""
        return self.right + abs(self.right) * room


def certificate_wish_line(table: Table, sizes: Sizes, wish: Aim, most: float = np.inf) -> Line:
    """Return a wish in whole units as a line: pieces, or material and money rounded up row by row.

    A weighed sum is the sum of two such lines, each as often as it weighs.
    """
    if isinstance(wish, WeighedSum):
        (first, one), (second, other) = wish.parts
        a, b = (certificate_wish_line(table, sizes, part) for part in (first, second))
        return Line(
            str(wish),
            one * a.rows + other * b.rows,
            one * a.parts + other * b.parts,
            one * a.cutters + other * b.cutters,
            most,
        )
    rows = np.zeros(len(table), dtype=np.int64)
    parts = np.zeros(len(table.part_cost), dtype=np.int64)
    cutters = np.zeros(len(table.cutter_cost), dtype=np.int64)
    if wish == "cutters":
        cutters = np.ones_like(cutters)
    elif wish == "ring_parts":
        parts = table.part_weight
    elif wish == "heads":
        rows = table.built_heads.astype(np.int64)
    elif wish == "material":
        rows = number_in_whole_units(table.material_kg, sizes[wish])
    else:
        rows = number_in_whole_units(table.cost, sizes[wish])
        parts = number_in_whole_units(table.part_cost, sizes[wish])
        cutters = number_in_whole_units(table.cutter_cost, sizes[wish])
    return Line(wish, rows, parts, cutters, most)


def certificate_lines(
    table: Table,
    sizes: Sizes,
    ceilings: Mapping[Wish, float],
    held: Mapping[Wish, int] | Mapping[Aim, int],
) -> list[Line]:
    """Return every limit of an answer: ceilings, held wishes, and the sums of every group."""
    none, nothing = np.zeros(len(table.part_cost)), np.zeros(len(table.cutter_cost))
    lines = []
    for wish in sorted(ceilings):
        most = float(ceilings[wish] + rounding_allowance(ceilings[wish]))
        if wish == "material":
            lines.append(Line("wishes.material_max_kg", table.material_kg, none, nothing, most))
        elif wish == "cost":
            lines.append(
                Line("wishes.cost_max", table.cost, table.part_cost, table.cutter_cost, most)
            )
        else:
            line = certificate_wish_line(table, sizes, wish, float(int(ceilings[wish])))
            lines.append(
                Line(f"wishes.{wish}_max", line.rows, line.parts, line.cutters, line.right)
            )
    for aim, most in sorted(held.items(), key=lambda one: str(one[0])):
        line = certificate_wish_line(table, sizes, aim)
        lines.append(Line(f"held {aim}", line.rows, line.parts, line.cutters, most))
    for sums in table.sums:
        group = sums.group[table.joint]
        for number, name in enumerate(sums.names):
            values = np.where(group == number, sums.values, 0.0)
            lines.append(Line(name, values, none, nothing, float(sums.limits[number])))
    return lines


@dataclass(frozen=True)
class RowsInQuestion:
    """The rows still in question: an answer below the claimed value would be made of them.

    `pair` numbers the (ring, joint) pairs of rows whose ring several joints could take, or is a second ring
    somewhere, -1 for the others, whose rows carry their part's numbers themselves. `rings` are the ring parts
    that no row carries.
    """

    table: Table
    wish: Line
    lines: tuple[Line, ...]
    pair: Ints
    pair_ring: Ints
    rings: Ints

    @property
    def empty(self) -> bool:
        """Whether some joint has no row left."""
        return bool((np.bincount(self.table.joint, minlength=self.table.joints) == 0).any())

    def take(self, rows: NDArray[np.bool_]) -> RowsInQuestion:
        """Return the rest with only some of its rows."""
        lines = [line.take(rows) for line in self.lines]
        return certificate_rows(self.table.take(rows), self.wish.take(rows), lines)

    def row_numbers(self, line: Line) -> Ints | Floats:
        """Return a line's numbers by row, with those of parts that only one joint could take."""
        if not len(self.table) or not np.any(line.parts):
            return line.rows
        numbers = line.rows.copy()
        alone = self.pair < 0
        numbers[alone] += line.parts[self.table.ring[alone]]
        return numbers

    def least_numbers(self, line: Line) -> Ints | Floats:
        """Return by row what an answer that takes it adds to a line at least: an answer's total is no less
        than the sum of these over its rows.

        A ring part or cutter comes once, whoever shares it: numbers from 0 are left out then, and those
        below 0 counted for every row that needs it.
        """
        numbers = self.row_numbers(line)
        if not len(self.table) or min(line.parts.min(initial=0), line.cutters.min(initial=0)) >= 0:
            return numbers
        table, numbers = self.table, numbers.copy()
        shared = self.pair >= 0
        numbers[shared] += np.minimum(line.parts[table.ring[shared]], 0)
        for asked, many in ((table.second, line.parts), (table.cutter, line.cutters)):
            has = np.empty(0, dtype=np.intp) if asked is None else np.flatnonzero(asked >= 0)
            if asked is not None and len(has):
                numbers[has] += np.minimum(many[asked[has]], 0)
        return numbers

    def below(self, value: int) -> int:
        """Return the largest value below `value` that these rows could come to.

        Values differ by multiples of a common divisor: of the rows' differences on each joint and of
        the numbers of parts and cutters.
        """
        rows = self.row_numbers(self.wish)
        least = np.full(self.table.joints, np.iinfo(np.int64).max)
        np.minimum.at(least, self.table.joint, rows)
        rings, cutters = self.rings, self.table.cutter
        numbers = [
            rows - least[self.table.joint],
            self.wish.parts[rings],
            self.wish.cutters[np.unique(cutters[cutters >= 0])],
        ]
        step = max(1, int(np.gcd.reduce(np.concatenate(numbers).astype(np.int64))))
        base: int = sum(least.tolist())
        return base + step * ((value - 1 - base) // step)


def certificate_rows(table: Table, wish: Line, lines: list[Line]) -> RowsInQuestion:
    """Return rows in question; ring parts are told apart only where some line counts them."""
    pair = np.full(len(table), -1, dtype=np.int64)
    pair_ring = rings = np.empty(0, dtype=np.int64)
    if any(np.any(line.parts != 0) for line in (wish, *lines)):
        key, of = np.unique(table.ring * table.joints + table.joint, return_inverse=True)
        ring = key // table.joints
        shared = np.bincount(ring, minlength=len(table.part_cost))[ring] > 1
        seconds = np.empty(0, dtype=np.int64)
        if table.second is not None:
            seconds = np.unique(table.second[table.second >= 0])
            shared |= np.isin(ring, seconds)
        pair = np.where(shared, np.cumsum(shared) - 1, -1)[of]
        pair_ring = ring[shared]
        rings = np.union1d(pair_ring, seconds)
    return RowsInQuestion(table, wish, tuple(lines), pair, pair_ring, rings)


def certificate_line_total(table: Table, line: Line, rows: NDArray[np.intp]) -> float:
    """Return what the chosen rows, with the parts and cutters they need, come to in a line.

    It is an `int`, and exact, where the line is in whole numbers.
    """
    cutters, rings = table.cutter[rows], table.ring[rows]
    if table.second is not None:
        seconds = table.second[rows]
        rings = np.concatenate([rings, seconds[seconds >= 0]])
    total = (
        line.rows[rows].sum()
        + (line.parts[np.unique(rings)].sum() if len(line.parts) else 0)
        + line.cutters[np.unique(cutters[cutters >= 0])].sum()
    )
    return int(total) if line.whole else float(total)
