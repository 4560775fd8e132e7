"""A limit whose numbers are too large for CP-SAT, as several lines of smaller ones, with nothing lost.

Theorem (carries). Let w.x <= r be a line in whole numbers with w >= 0 and x >= 0, B a power of two,
w = B high + low and r = B top + rest with 0 <= low < B and 0 <= rest < B. Then x keeps the line exactly if
there is a whole number c >= 0, the carry, with

    low.x <= B c + rest    and    high.x + c <= top.

Proof. With such a c, w.x = B high.x + low.x <= B (top - c) + B c + rest = r. With w.x <= r take the least
c >= 0 with low.x - rest <= B c. If c = 0, B high.x <= r - low.x < B (top + 1), so high.x <= top. If c > 0,
then B (c - 1) < low.x - rest <= B (top - high.x), so c - 1 < top - high.x and, in whole
numbers, high.x + c <= top.

The least such c is at most low.x / B rounded up, and so at most the number of columns that are 1. The line
of high and carry is split again where it is still too large: low.x + c is then at most B times that number,
so the next carry is no larger.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ringset.arrays import Ints
from ringset.search.model.constraints import ROW_TOTAL_MAX, guard_search_row


@dataclass(frozen=True)
class CarryLine:
    """A line weights.x + carried * (carry before) - base * (carry of this line) <= right.

    The first line has no carry before it (`carried` 0), the last none of its own (`base` 0).
    """

    weights: Ints
    carried: int
    base: int
    right: int


def engine_carry_lines(name: str, weights: Ints, right: int, most: int) -> Iterator[CarryLine]:
    """Yield lines that hold together, with some carries from 0 to `most` each, exactly if weights.x <= right.

    `most` is at least the number of columns that are 1 in any answer. Raises RowTooLarge if a line is too
    large and cannot be split: it takes something back, or has too many columns.
    """
    carried = 0
    while True:
        base = _base(weights, carried * most, most, right)
        if not base:
            guard_search_row(name, np.append(weights, carried * most), right)
            yield CarryLine(weights, carried, 0, right)
            return
        yield CarryLine(weights & (base - 1), carried, base, right & (base - 1))
        weights, right, carried = weights // base, right // base, 1


def _base(weights: Ints, before: int, most: int, right: int) -> int:
    """Return the largest base that makes the first line of a split small enough; 0 if it is or none does."""
    total = int(np.sum(np.abs(weights), dtype=object)) + before
    if total + abs(right) < ROW_TOTAL_MAX or np.any(weights < 0):
        return 0
    for digits in range(ROW_TOTAL_MAX.bit_length() - 1, 0, -1):
        low = int(np.sum(weights & ((1 << digits) - 1), dtype=object))
        if low + before + ((most + 1) << digits) < ROW_TOTAL_MAX:
            return 1 << digits
    return 0
