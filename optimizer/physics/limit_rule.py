"""The one rule by which a limit counts as met, shared by catalogue, model and judge.

Limits are inclusive, and decimals seldom survive binary arithmetic: 0.8 x 112 is 89.60000000000001,
yet a ring with module 0.8 and 112 teeth does meet a limit of 89.6. So a value meets a limit when it
exceeds it by no more than one part in 10^9, far below anything that can be made or measured.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ringset.physics.quantity import Quantity

#: Relative allowance for binary rounding; for limits below 1 it is absolute.
ALLOWANCE = 1e-9


def rounding_allowance(limit: Quantity) -> Quantity:
    """Return the absolute allowance that rounding gets at `limit` (same unit as the limit)."""
    return ALLOWANCE * np.maximum(1.0, np.abs(limit))


def number_at_most(value: Quantity, limit: Quantity) -> NDArray[np.bool_]:
    """Say where `value` meets an upper limit, the limit itself included (any one unit).

    >>> 0.8 * 112 <= 89.6, bool(number_at_most(0.8 * 112, 89.6))
    (False, True)
    """
    return np.asarray(value <= np.asarray(limit) + rounding_allowance(limit))


def number_at_least(value: Quantity, limit: Quantity) -> NDArray[np.bool_]:
    """Say where `value` meets a lower limit, the limit itself included (any one unit).

    >>> number_at_least(np.array([0.0, 1.0 - 1e-12, 2.0]), 1.0)
    array([False,  True,  True])
    """
    return np.asarray(value >= np.asarray(limit) - rounding_allowance(limit))


def number_in_whole_units(value: Quantity, unit: float) -> NDArray[np.int64]:
    """Return `value` in whole units, rounded up (any one unit, above 0).

    A value a millionth of a unit above a whole number counts as that number: binary rounding of a
    decimal must not cost a unit.

    >>> int(number_in_whole_units(0.1 + 0.2, 0.1))
    3
    """
    return np.asarray(np.ceil(np.asarray(value) / unit - 1e-6), dtype=np.int64)
