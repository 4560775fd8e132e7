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
    `worth`, which no good answer pays for one joint, serves joints whose rows at hand do not go together,
    and so does one for each of the `choices` lines after those of all joints (of head counts shown).
    """

    joints: NDArray[np.intp]
    prices: Floats
    width: float
    most: float
    worth: float
    choices: int

    def columns(self, lines: int) -> tuple[Floats, Floats, sparse.csr_array]:
        """Return weights, largest values and entries of all these columns."""
        pays, count = -self.prices[self.joints], len(self.joints)
        more = _units(lines, self.joints)
        shown = _units(lines, len(self.prices) + np.arange(self.choices))
        spare = np.full(count + self.choices, self.worth)
        weights = np.concatenate([pays + self.width, self.width - pays, spare])
        most = np.repeat([self.most, np.inf], [2 * count, len(spare)])
        return weights, most, sparse.csr_array(sparse.hstack([more, -more, more, shown]))


def _units(lines: int, where: NDArray[np.intp]) -> sparse.csr_array:
    """Return one column per line of `where`, with a 1 there."""
    entries = (np.ones(len(where)), (where, np.arange(len(where))))
    return sparse.csr_array(entries, shape=(lines, len(where)))


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
        # a limit that nothing at all would break, such as a count of at least so many, has a spare too
        asking = np.flatnonzero(lines.right < 0)
        upper = sparse.csr_array(sparse.hstack([upper, -_units(len(lines.right), asking)]))
        equal.resize((equal.shape[0], upper.shape[1]))
        weights = np.append(weights, np.full(len(asking), box.worth))
        most = np.append(most, np.full(len(asking), np.inf))
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
