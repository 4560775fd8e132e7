"""Array types and small numeric helpers shared by the modules of this package."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Floats = float | FloatArray
"""One number or an array of numbers."""
Ints = int | IntArray
"""One integer or an array of integers."""


def on_standard_grid(values: ArrayLike) -> FloatArray:
    """Return `values` rounded to a decimal grid, so that 50.00000000000001 compares as 50.

    Six decimals of a millimetre are 1 nm, far below anything a standard distinguishes.

    >>> print(on_standard_grid(50.00000000000001))
    50.0
    """
    return np.asarray(values, dtype=np.float64).round(6)


def require_positive_table_input(quantity: str, values: FloatArray) -> None:
    """Raise ValueError unless every value is finite and above zero (NaN fails)."""
    good = np.isfinite(values) & (values > 0.0)
    if not np.all(good):
        raise ValueError(
            f"{quantity} must be a finite number above zero, given {first_outside_table(values, ~good)}"
        )


def first_outside_table(values: FloatArray, mask: BoolArray) -> str:
    """Return the first value where `mask` holds, and how many more there are, for a message."""
    chosen = np.atleast_1d(values)[np.atleast_1d(mask)]
    more = f" (and {chosen.size - 1} more)" if chosen.size > 1 else ""
    return f"{chosen[0]:.12g}{more}"


def standard_value_as_given(result: FloatArray) -> Floats:
    """Return a plain float where the broadcast inputs were scalars, else the array."""
    return float(result) if result.ndim == 0 else result


def unknown_standard_name(quantity: str, given: object, allowed: Iterable[object]) -> str:
    """Return the message for a name that is not among the allowed ones."""
    return f"{quantity} {given!r} is not known; allowed: {', '.join(map(str, allowed))}"
