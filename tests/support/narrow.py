"""Of a value that may be of two kinds, the kind that a test knows it is; another kind fails the test."""

from __future__ import annotations

from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

T = TypeVar("T")


def present(value: T | None) -> T:
    """Return a value that must be there."""
    assert value is not None
    return value


def array(values: float | NDArray[Any]) -> NDArray[Any]:
    """Return what must be an array, as a function of numbers or arrays gives it for arrays."""
    assert isinstance(values, np.ndarray)
    return values


def number(value: float | NDArray[Any]) -> float:
    """Return what must be one number, as a function of numbers or arrays gives it for numbers."""
    assert isinstance(value, float)
    return value
