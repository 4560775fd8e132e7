"""One thing that is checked of every row: its value, its limit, whether it is kept."""

from __future__ import annotations

from dataclasses import dataclass

from ringset.arrays import Floats, Mask
from ringset.physics.limit_rule import number_at_least, number_at_most


@dataclass(frozen=True)
class Check:
    """One limit on whole columns: what every row has, and what it may have.

    `value` and `allowed` are float64 with one entry per row, both in `unit`; `sign` is 1 for an upper limit
    and -1 for a lower one. `allowed` is infinite on the side of the limit where a joint states none.
    """

    value: Floats
    allowed: Floats
    unit: str
    sign: int

    @property
    def kept(self) -> Mask:
        """Which rows keep the limit, by the one rule of `physics.limit_rule`; a value of NaN does not."""
        if self.sign > 0:
            return number_at_most(self.value, self.allowed)
        return number_at_least(self.value, self.allowed)
