"""Prime factors of tooth counts: what a dividing head must be able to index."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


def largest_prime_factor_of_teeth(teeth: Ints) -> Ints:
    """Return the largest prime factor of every tooth count (int64, at least 1), 1 of a count of 1.

    >>> largest_prime_factor_of_teeth(np.array([96, 97, 98])).tolist()
    [3, 97, 7]
    """
    counts = np.asarray(teeth, dtype=np.int64)
    # lists of a power of two, so that few are made
    return _up_to(1 << int(counts.max(initial=1)).bit_length())[counts]


@cache
def _up_to(most: int) -> Ints:
    """Return the largest prime factor of 0 to `most`: each prime overwrites what smaller ones left."""
    found = np.ones(most + 1, dtype=np.int64)
    for number in range(2, most + 1):
        if found[number] == 1:  # no smaller prime divides it
            found[number::number] = number
    return found
