"""The linear program of some rows, solved by GLOP, with its multipliers.

Nothing rests on the solver: multipliers are rounded and their bound is counted anew in whole numbers
(`lagrangian`). GLOP, which comes with OR-Tools, is handed one matrix as it is; for the few hundred columns
of most linear programs here, the way to HiGHS by `scipy.optimize.linprog` takes longer than solving.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ringset.arrays import Floats, Ints
from ringset.search.bounds.lagrangian import Multipliers
from ringset.search.model.matrix import ConstraintMatrix
from ringset.search.model.objective import Objective
from ringset.search.tuning import search_tuning


@dataclass(frozen=True)
class Box:
    """Good multipliers, and how far a linear program may freely go from their joint prices.

    A linear program's own multipliers are a corner of all that are optimal for its rows, and worth little
    for the other rows. Beyond `width` every unit costs `most` (du Merle, Villeneuve, Desrosiers and Hansen,
    1999): two more columns per joint, which an optimum with good multipliers does not use. A third at
    `worth`, which no good answer pays for one joint, serves joints whose rows at hand do not go together,
    and so does one for each of the lines after those of all joints (of head counts shown), and one for each
    limit that nothing at all would break, such as a count of at least so many. None costs less than the good
    multipliers pay: they stay allowed, so that no optimum is below their bound.
    """

    joints: NDArray[np.intp]
    good: Multipliers
    width: float
    most: float
    worth: float

    def columns(self, lines: ConstraintMatrix) -> _More:
        """Return all these columns for the lines of a program."""
        good, count, choices = self.good, len(self.joints), len(self.good.heads)
        pays = -good.joints[self.joints]
        joint = lines.most + self.joints
        shown = lines.most + len(good.joints) + np.arange(choices)
        asking = np.flatnonzero(lines.right[: lines.most] < 0)
        of_limits = np.zeros(lines.most)
        of_limits[lines.most - len(good.limits) :] = good.limits
        paid = np.concatenate([pays + self.width, -good.heads, of_limits[asking]])
        spare = np.maximum(self.worth, paid)
        kinds = [count, count, count + choices, len(asking)]
        return _More(
            np.concatenate([pays + self.width, self.width - pays, spare]),
            np.repeat([self.most, np.inf], [2 * count, len(spare)]),
            np.concatenate([joint, joint, joint, shown, asking]),
            np.repeat([1.0, -1.0, 1.0, -1.0], kinds),
        )


@dataclass(frozen=True)
class _More:
    """More columns of one entry each: weight, largest value, and the entry's line and value."""

    weights: Floats
    most: Floats
    line: Ints
    value: Floats

    def beside(self, matrix: sparse.csr_array) -> sparse.csr_array:
        """Return the matrix with these columns after its own."""
        count = len(self.line)
        entries = (self.value, (self.line, np.arange(count)))
        more = sparse.csr_array(entries, shape=(matrix.shape[0], count))
        return sparse.csr_array(sparse.hstack([matrix, more], format="csr"))


@dataclass(frozen=True)
class Optimum:
    """An optimum, its multipliers by line (those of the `most` first lines >= 0), and the box's share."""

    x: Floats
    optimum: float
    upper: Floats
    equal: Floats
    boxed: float


def linear_program(
    objective: Objective, lines: ConstraintMatrix, time_limit_s: float, box: Box | None = None
) -> Optimum | None:  # fmt: skip
    """Return the optimum of some rows, in units of the weights; None if GLOP has none in the time."""
    own = len(lines.columns) + lines.patterns
    weights = np.zeros(own)
    weights[: len(lines.columns)] = objective.weights[lines.columns]
    size = max(1.0, float(weights.max(initial=0.0)) / search_tuning().lp_size)
    # E x = 1 keeps x below 1; without that bound prices come out at their largest
    most = np.full(own, np.inf)
    most[len(lines.columns) - lines.owners : len(lines.columns)] = 1.0
    matrix = lines.matrix.astype(np.float64)
    if box is not None:
        more = box.columns(lines)
        weights, most = np.append(weights, more.weights), np.append(most, more.most)
        matrix = more.beside(matrix)
    right = lines.right.astype(np.float64)
    left = right.copy()
    left[: lines.most] = -np.inf
    solved = glop_optimum(
        weights / size, most, left, right, matrix, time_limit_s, search_tuning().glop
    )
    if solved is None:
        return None
    x, optimum, prices = solved
    boxed = float(x[own:].sum())
    return Optimum(
        x[:own], optimum * size, -prices[: lines.most] * size, -prices[lines.most :] * size,
        boxed if boxed > 1e-9 else 0.0,
    )  # fmt: skip


def glop_optimum(
    weights: Floats, most: Floats, left: Floats, right: Floats, matrix: sparse.csr_array,
    time_limit_s: float, settings_in_turn: tuple[str, ...],
) -> tuple[Floats, float, Floats] | None:  # fmt: skip
    """Return x, the optimum and the price of every line of: least weights x, left <= matrix x <= right."""
    from ortools.linear_solver.python import model_builder_helper as glop

    model: Any = glop.ModelBuilderHelper()  # its stubs know vectors of one exact kind only
    model.fill_model_from_sparse_data(
        np.zeros(len(weights)), most, weights, left, right, sparse.csr_matrix(matrix)
    )
    ends = time.monotonic() + time_limit_s
    for settings in settings_in_turn:
        solver = glop.ModelSolverHelper("glop")
        solver.set_time_limit_in_seconds(max(0.01, ends - time.monotonic()))
        solver.set_solver_specific_parameters(settings)
        solver.solve(model)
        if solver.status() == glop.SolveStatus.OPTIMAL:
            x, prices = solver.variable_values(), solver.dual_values()
            return np.array(x), float(solver.objective_value()), np.array(prices)
    return None
