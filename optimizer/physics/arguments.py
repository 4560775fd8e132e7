"""Checks of what a function is given: each names the argument, what was given, what is allowed."""

from __future__ import annotations

import numpy as np

from ringset.physics.quantity import Quantity


def physics_above_zero(**given: Quantity) -> None:
    """Raise ValueError naming the first argument that is not above zero everywhere (NaN is not).

    >>> physics_above_zero(teeth=96, module_mm=0.0)
    Traceback (most recent call last):
    ValueError: module_mm: given 0.0, allowed above 0
    """
    for name, value in given.items():
        if not np.all(np.asarray(value) > 0.0):
            raise ValueError(f"{name}: given {np.min(value)}, allowed above 0")


def physics_zero_or_more(**given: Quantity) -> None:
    """Raise ValueError naming the first argument that is negative, or NaN, anywhere."""
    for name, value in given.items():
        if not np.all(np.asarray(value) >= 0.0):
            raise ValueError(f"{name}: given {np.min(value)}, allowed 0 or more")
