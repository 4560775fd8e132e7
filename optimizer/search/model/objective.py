"""A wish as whole numbers."""

from __future__ import annotations

from dataclasses import dataclass

from ringset.arrays import Ints


@dataclass(frozen=True)
class Objective:
    """A wish as whole numbers: value = offset + scale * (weights . x).

    `least` is what each joint's rows are counted from, in whole units; None if nothing is taken off.
    """

    weights: Ints
    offset: int = 0
    scale: int = 1
    least: Ints | None = None

    def value(self, x: Ints) -> int:
        """Return the value of the columns `x` in whole units."""
        return self.offset + self.scale * int(self.weights @ x)

    def weight_of(self, value: int) -> int:
        """Return the least weights . x that is no better than `value`.

        Rounded up: an answer of other rows may lie between two values of this program, and the lower of
        them is better.
        """
        return -((self.offset - value) // self.scale)

    def weight_within(self, value: int) -> int:
        """Return the most weights . x that is no worse than `value`."""
        return (value - self.offset) // self.scale
