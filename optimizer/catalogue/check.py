"""One thing that is checked of every row: its value, its limit, whether it is kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats
from ringset.physics.limit_rule import at_least, at_most


@dataclass(frozen=True)
class Check:
    """One limit on whole columns: `sign` is 1 for an upper, -1 for a lower limit."""

    value: Floats
    allowed: Floats
    unit: str
    sign: int

    @property
    def kept(self) -> NDArray[np.bool_]:
        """Rows that keep the limit."""
        if self.sign > 0:
            return at_most(self.value, self.allowed)
        return at_least(self.value, self.allowed)
