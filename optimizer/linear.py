"""The linear program of some rows, solved by HiGHS, with its multipliers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, sparse

from optimizer.catalogue import Floats
from optimizer.lines import Lines
from optimizer.program import Objective

#: HiGHS works to 1e-7 absolutely; weights are brought to about this size for it.
LP_SIZE = 1e4


@dataclass(frozen=True)
class Box:
    """Joint prices of good multipliers, and how far a linear program may freely go from them.

    A linear program's own multipliers are a corner of all that are optimal for its rows, and worth little
    for the other rows. Beyond `width` every unit costs `most` (du Merle, Villeneuve, Desrosiers and Hansen,
    1999): two more columns per joint, which an optimum with good multipliers does not use. A third at
    `worth`, which no good answer pays for one joint, serves joints whose rows at hand do not go together.
    """

    joints: NDArray[np.intp]
    prices: Floats
    width: float
    most: float
    worth: float

    def columns(self, lines: int) -> tuple[Floats, Floats, sparse.csr_array]:
        """Return weights, largest values and entries of the three columns of every joint."""
        pays, count = -self.prices[self.joints], len(self.joints)
        entries = (np.ones(count), (self.joints, np.arange(count)))
        more = sparse.csr_array(entries, shape=(lines, count))
        weights = np.concatenate([pays + self.width, self.width - pays, np.full(count, self.worth)])
        most = np.repeat([self.most, self.most, np.inf], count)
        return weights, most, sparse.csr_array(sparse.hstack([more, -more, more]))


@dataclass(frozen=True)
class Optimum:
    """An optimum, its multipliers, and how much of the box's columns it took."""

    x: Floats
    optimum: float
    upper: Floats
    equal: Floats
    boxed: float


def linear_program(
    objective: Objective, lines: Lines, time_limit_s: float, box: Box | None = None
) -> Optimum | None:  # fmt: skip
    """Return the optimum of some rows, in units of the weights; None if HiGHS has none in the time."""
    weights = np.pad(objective.weights[lines.columns].astype(np.float64), (0, lines.patterns))
    own, size = len(weights), max(1.0, float(weights.max(initial=0.0)) / LP_SIZE)
    upper, equal = lines.upper.astype(np.float64), lines.equal.astype(np.float64)
    # E x = 1 keeps x below 1; without that bound prices come out at their largest
    most = np.full(own, np.inf)
    most[len(lines.columns) - lines.owners : len(lines.columns)] = 1.0
    if box is not None:
        more, most_of_more, entries = box.columns(equal.shape[0])
        weights = np.concatenate([weights, more])
        most = np.concatenate([most, most_of_more])
        equal = sparse.csr_array(sparse.hstack([equal, entries]))
        upper.resize((upper.shape[0], len(weights)))
    result: Any = optimize.linprog(
        weights / size,
        A_ub=upper,
        b_ub=lines.right.astype(np.float64),
        A_eq=equal,
        b_eq=lines.equal_right,
        bounds=np.column_stack([np.zeros(len(weights)), most]),
        method="highs",
        options={"time_limit": time_limit_s},
    )
    if result.status != 0:
        return None
    boxed = float(result.x[own:].sum())
    return Optimum(
        result.x[:own], result.fun * size, -result.ineqlin.marginals * size,
        -result.eqlin.marginals * size, boxed if boxed > 1e-9 else 0.0,
    )  # fmt: skip
