"""Bounds that anyone can check: multipliers of the limits, in whole numbers.

Theorem (weak duality). Let x be 0/1 with A x <= b and E x = 1. For any u >= 0 and any v, with
r = K w + A'u + E'v,

    K w.x  >=  L + sum of max(0, r_k) over the ones of x,   L = -u.b - sum(v) + sum(min(0, r_k)).

Proof: add u.(A x - b) <= 0 and v.(E x - 1) = 0 to K w.x. So w.x >= L / K, and a column with
L + max(0, r_k) > K t is 0 in every x with w.x <= t. Nothing is asked of u and v but u >= 0: the LP
relaxation supplies good ones, they are rounded to whole numbers over K, and the rest is integers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

from optimizer.catalogue import Ints

#: Multipliers are counted in 1/SCALE.
SCALE = 2**20
#: Every intermediate sum must stay below this, well inside 64 bits.
LARGEST = 2.0**61


@dataclass(frozen=True)
class Lines:
    """Limits on the living columns: upper x <= right, equal x = 1; all whole numbers."""

    columns: NDArray[np.intp]
    upper: Any
    right: Ints
    equal: Any


@dataclass(frozen=True)
class Bound:
    """An exact bound: w.x >= least, with the scaled L and reduced costs behind it."""

    scaled: int
    costs: Ints

    @property
    def least(self) -> int:
        """Smallest whole number that w.x could be."""
        return -(-self.scaled // SCALE)

    @property
    def reduced_costs(self) -> NDArray[np.float64]:
        """Reduced costs in units of w."""
        return self.costs / SCALE

    def usable(self, best: int) -> NDArray[np.bool_]:
        """Return which columns could be 1 in an answer with w.x <= best."""
        return np.asarray(self.scaled + np.maximum(self.costs, 0) <= SCALE * best)


def bound(weights: Ints, lines: Lines, time_limit_s: float) -> Bound | None:
    """Return the bound from the LP relaxation's multipliers; None if HiGHS gives none."""
    result = optimize.linprog(
        weights.astype(np.float64),
        A_ub=lines.upper.astype(np.float64),
        b_ub=lines.right.astype(np.float64),
        A_eq=lines.equal.astype(np.float64),
        b_eq=np.ones(lines.equal.shape[0]),
        bounds=(
            0.0,
            None,
        ),  # E x = 1 keeps x below 1; without that bound r comes out at its largest
        method="highs",
        options={"time_limit": time_limit_s},
    )
    if result.status != 0:
        return None
    return exact(weights, lines, -result.ineqlin.marginals, -result.eqlin.marginals)


def exact(
    weights: Ints, lines: Lines, upper: NDArray[np.float64], equal: NDArray[np.float64]
) -> Bound | None:
    """Return the exact bound of real multipliers; None if whole numbers would grow too large."""
    u_real = np.maximum(0.0, np.rint(_tame(upper) * SCALE))
    v_real = np.rint(_tame(equal) * SCALE)
    size = float(np.abs(weights).sum()) * SCALE
    size += float(abs(lines.upper).astype(np.float64).sum(axis=1) @ u_real)
    size += float(np.abs(lines.right).astype(np.float64) @ u_real)
    size += float(lines.equal.astype(np.float64).sum(axis=1) @ np.abs(v_real))
    size += float(np.abs(v_real).sum())
    if not size < LARGEST:
        return None
    u, v = u_real.astype(np.int64), v_real.astype(np.int64)
    costs = SCALE * weights + lines.upper.T @ u + lines.equal.T @ v
    scaled = -int(u @ lines.right) - int(v.sum()) + int(np.minimum(costs, 0).sum())
    return Bound(scaled, np.asarray(costs, dtype=np.int64))


def _tame(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the values with NaN as 0 and infinities as numbers too large to be used."""
    return np.nan_to_num(values, nan=0.0, posinf=LARGEST, neginf=-LARGEST)
