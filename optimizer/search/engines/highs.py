"""The two engines that search whole programs: CP-SAT, and HiGHS for the second opinion."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from scipy import optimize

from ringset.reduction.table import TableRows
from ringset.search.engines.quiet_stdout import quiet_stdout
from ringset.search.engines.result import Solved
from ringset.search.model.matrix import search_constraint_matrix
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program


def highs(
    program: Program, objective: Objective | None, ends: float,
    rows: TableRows | None = None, presolve: bool = True, node_limit: int | None = None,
) -> Solved:  # fmt: skip
    """Run HiGHS on a program, or on some of its rows only."""
    lines = search_constraint_matrix(program, program.every_row if rows is None else rows)
    size = len(lines.columns) + lines.patterns
    weights = np.zeros(size)
    if objective is not None:
        weights[: len(lines.columns)] = objective.weights[lines.columns]
    least = lines.right.astype(np.float64)
    least[: lines.most] = -np.inf
    matrix = lines.matrix.astype(np.float64)
    constraints = [optimize.LinearConstraint(matrix, least, lines.right)]
    left = max(0.1, ends - time.monotonic())
    options: dict[str, Any] = {"mip_rel_gap": 0.0, "presolve": presolve, "time_limit": left}
    if node_limit is not None:
        options["node_limit"] = node_limit
    with quiet_stdout():
        result = optimize.milp(
            weights,
            integrality=np.ones(size, dtype=np.int64),
            bounds=optimize.Bounds(0.0, 1.0),
            constraints=constraints,
            options=options,
        )
    if result.x is None:
        return Solved("INFEASIBLE" if result.status == 2 else "UNKNOWN", None)
    chosen = lines.columns[: int(np.sum(lines.columns < program.rows))]
    x = program.with_needed_columns(chosen[result.x[: len(chosen)] > 0.5])
    if not program.one_row_each(x):
        return Solved("UNKNOWN", None)
    return Solved("OPTIMAL" if result.status == 0 else "FEASIBLE", x)
