"""CP-SAT: a program as a constraint model, searched with one setting of everything that matters."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Ints
from ringset.reduction.table import TableRows
from ringset.schema.study import Search
from ringset.search.engines.carries import CarryLine, engine_carry_lines
from ringset.search.engines.result import Solved
from ringset.search.model.constraints import ROW_TOTAL_MAX, guard_search_row
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program

#: Called with (best so far, bound) in whole units whenever one of them improves.
Tell = Callable[[int | None, int | None], None]


def cp_sat(
    program: Program, objective: Objective | None, search: Search, ends: float,
    hint: Ints | None = None, tell: Tell | None = None, band: tuple[int, int] | None = None,
) -> Solved:  # fmt: skip
    """Run CP-SAT on a program; raises RowTooLarge if a limit is beyond what it can be trusted with.

    A limit whose numbers are too large is counted in several lines (`carries`). An objective beyond that is
    counted in coarser units, rounded down: the bound then falls short, and `reason` says so. With a
    `band` no value below its first is possible, and none above its second is asked for; within it a large
    objective may be counted exactly all the same (`_in_two_digits`).
    """
    from ortools.sat.python import cp_model

    model, variables = _model(program)
    goal = None if objective is None else _minimised(model, variables, program, objective, band)
    if hint is not None:
        for column, variable in enumerate(variables):
            model.add_hint(variable, bool(hint[column]))
    solver = cp_model.CpSolver()
    _configure(solver.parameters, search, ends)

    class _Tell(cp_model.CpSolverSolutionCallback):
        def on_solution_callback(self) -> None:
            assert tell is not None
            assert goal is not None
            tell(None if goal.coarse else goal.value(self.objective_value), None)

    callback = None
    if tell is not None and goal is not None:
        callback = _Tell()
        solver.best_bound_callback = lambda bound: tell(None, goal.value(bound))
    status = solver.status_name(solver.solve(model, callback))
    if status == "INFEASIBLE" and goal is not None and goal.banded:
        return Solved("NOTHING WITHIN", None)
    if status not in ("OPTIMAL", "FEASIBLE"):
        return Solved(status, None)
    chosen = np.flatnonzero([solver.boolean_value(v) for v in variables[: program.rows]])
    x = program.with_needed_columns(TableRows(chosen))
    if goal is None or objective is None:
        return Solved(status, x, 0)
    bound = goal.value(np.ceil(solver.best_objective_bound - 1e-6))
    if goal.coarse and status == "OPTIMAL" and objective.value(x) > bound:
        return Solved("FEASIBLE", x, bound, f"counted in steps of {goal.scale} units")
    return Solved(status, x, bound)


@dataclass(frozen=True)
class _Goal:
    """What CP-SAT minimises of an objective: value = offset + scale * it; rounded down where coarse.

    Where `banded` no answer above the band counts as one.
    """

    offset: int
    scale: int
    coarse: bool = False
    banded: bool = False

    def value(self, given: float) -> int:
        """Return the objective's value in whole units."""
        return self.offset + self.scale * round(given)


def _minimised(
    model: Any, variables: list[Any], program: Program, objective: Objective,
    band: tuple[int, int] | None,
) -> _Goal:  # fmt: skip
    """Let a model minimise an objective, exactly if its row or its band is small enough."""
    from ortools.sat.python import cp_model

    weights, digits = objective.weights, 0
    while int((weights >> digits).sum()) >= ROW_TOTAL_MAX:
        digits += 1
    if digits and band is not None:
        goal = _in_two_digits(model, variables, program, objective, band)
        if goal is not None:
            return goal
    weights = weights >> digits
    guard_search_row("objective", weights, 0)
    used = np.flatnonzero(weights)
    model.minimize(_weighted(cp_model, variables, used, weights[used]))
    return _Goal(objective.offset, objective.scale << digits, digits > 0)


def _in_two_digits(
    model: Any, variables: list[Any], program: Program, objective: Objective,
    band: tuple[int, int],
) -> _Goal | None:  # fmt: skip
    """Let a model minimise a large objective within a band; None if the band is too wide.

    With w = B high + low, B a power of two, and level = high.x, w.x = B level + low.x. An answer takes a row,
    a part, a second part and a cutter per joint at most, so low.x < 4 B joints, 3 B without second parts, and
    the level lies in a narrow band too. Then neither the row of the level nor the objective B (level - least
    level) + low.x is large.
    """
    from ortools.sat.python import cp_model

    least, most = (objective.weight_of(value) for value in band)
    digits = 0
    while int((objective.weights >> digits).sum()) + (most >> digits) >= ROW_TOTAL_MAX:
        digits += 1
    base = 1 << digits
    high, low = objective.weights >> digits, objective.weights & (base - 1)
    most_each = 4 if program.paired else 3
    first = max(0, (least - most_each * base * program.joints) >> digits)
    last = most >> digits
    if last < first or int(low.sum()) + base * (last - first) >= ROW_TOTAL_MAX:
        return None
    guard_search_row("level", high, last)
    level = model.new_int_var(first, last, "")
    used = np.flatnonzero(high)
    model.add(_weighted(cp_model, variables, used, high[used]) == level)
    used = np.flatnonzero(low)
    model.minimize(_weighted(cp_model, variables, used, low[used]) + base * (level - first))
    return _Goal(objective.offset + objective.scale * base * first, objective.scale, banded=True)


def _configure(parameters: Any, search: Search, ends: float) -> None:
    parameters.num_workers = search.workers
    parameters.random_seed = search.seed
    parameters.linearization_level = 2
    # a joint's rows and the parts that they ask for belong together: the relaxation gets all lines at once
    parameters.add_lp_constraints_lazily = False
    parameters.max_deterministic_time = search.work_limit
    parameters.max_time_in_seconds = max(0.1, ends - time.monotonic())
    parameters.catch_sigint_signal = False
    # the code path of google/or-tools#5293; rows below 2^30 avoid it as well
    parameters.presolve_inclusion_work_limit = 0


def _model(program: Program) -> tuple[Any, list[Any]]:
    """Return the CP-SAT model of a program and its variables by column."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    variables = [model.new_bool_var("") for _ in range(program.columns)]
    for rows in _split(program.joint, program.joints):
        if len(rows):
            model.add_exactly_one([variables[row] for row in rows])
    for owners in (program.parts, program.seconds, program.cutters):
        asked = np.flatnonzero(owners.pair >= 0)
        for pair, places in enumerate(_split(owners.pair[asked], len(owners.owner))):
            owner = variables[owners.owner[pair]]
            group = [variables[row] for row in asked[places]]
            if len(group) == 1:
                model.add_implication(group[0], owner)
            else:
                model.add(sum(group) <= owner)
    limits = program.limits
    # what an answer has of columns: a row, a part and a cutter for each joint, and a second part
    most = (4 if program.paired else 3) * program.joints
    for line, name in enumerate(limits.names):
        entries = slice(limits.weights.indptr[line], limits.weights.indptr[line + 1])
        where, weights = limits.weights.indices[entries], limits.weights.data[entries]
        _add_line(
            model,
            variables,
            where,
            engine_carry_lines(name, weights, int(limits.right[line]), most),
            most,
        )
    return model, variables


def _add_line(
    model: Any, variables: list[Any], where: NDArray[Any], lines: Iterable[CarryLine], most: int
) -> None:  # fmt: skip
    """Add a line over some columns, as the lines of smaller numbers that it is split into (`carries`)."""
    from ortools.sat.python import cp_model

    before: Any = 0
    for line in lines:
        carry = model.new_int_var(0, most, "") if line.base else 0
        counted = _weighted(cp_model, variables, where, line.weights)
        model.add(counted + line.carried * before - line.base * carry <= line.right)
        before = carry


def _split(group: Ints, groups: int) -> list[NDArray[np.intp]]:
    """Return the places of every group's members."""
    if groups == 0:
        return []
    order = np.argsort(group, kind="stable")
    return np.split(order, np.searchsorted(group[order], np.arange(1, groups)))


def _weighted(cp_model: Any, variables: list[Any], where: NDArray[Any], weights: Ints) -> Any:
    used = [(variables[c], w) for c, w in zip(where.tolist(), weights.tolist(), strict=True) if w]
    return cp_model.LinearExpr.weighted_sum([v for v, _ in used], [w for _, w in used])
