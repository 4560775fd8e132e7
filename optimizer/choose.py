"""Stage 4: CP-SAT picks the rings, wish after wish, and every bound is proven by a second route.

Each wish is minimised with the earlier ones held. HiGHS solves the LP relaxation, whose multipliers
are turned into whole numbers and give a bound and reduced costs that are checked in exact arithmetic
(`multipliers`). If a good answer by CP-SAT meets that bound, the wish is proven. If not, rows that no
better answer could use are fixed, CP-SAT proves the rest, and HiGHS must find the same optimum of the
same rows. A last stage breaks ties by the canonical ranks of the rows, so that equal studies give
equal answers.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, sparse

from optimizer import multipliers
from optimizer.catalogue import Ints
from optimizer.program import Objective, Program, Row, RowTooLarge, guard, hold
from optimizer.quiet import quiet_stdout
from optimizer.study import Search, Wish

#: Called with (stage, best so far, bound) in whole units whenever one of them improves.
Progress = Callable[[str, int | None, int | None], None]

#: Rows per joint in the small program that looks for a good answer first.
KERNEL_ROWS = 20
#: Most rows among which ties are broken by a whole search.
TIE_ROWS = 1000


#: What confirms a bound: exact multipliers, the second engine, or nothing.
Confirmation = Literal["multipliers", "second engine", "nothing"]


@dataclass(frozen=True)
class StageResult:
    """One wish: value reached, bound, and the second route that confirms the bound."""

    wish: Wish
    value: int
    bound: int
    confirmed_by: Confirmation

    @property
    def proven(self) -> bool:
        """Nothing below the value is possible, by two routes."""
        return self.value == self.bound and self.confirmed_by != "nothing"


@dataclass
class Choice:
    """Outcome of the search: chosen rows (indices), stages, and why it stopped short, if it did."""

    status: str
    rows: NDArray[np.intp] = field(default_factory=lambda: np.empty(0, dtype=np.intp))
    stages: list[StageResult] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    clock_ended: bool = False


def choose(
    program: Program, order: list[Wish], search: Search, progress: Progress | None = None
) -> Choice:
    """Return the best rows of `program` for the wishes in `order`, with what is proven."""
    return _Run(program, search, progress or (lambda stage, best, bound: None)).choose(order)


@dataclass(frozen=True)
class _Solved:
    """What one CP-SAT call gave: status name, columns (None without a solution), bound."""

    status: str
    x: Ints | None
    bound: int | None


class _Run:
    """One search: the program, the rows held so far, the columns still alive, the best answer."""

    def __init__(self, program: Program, search: Search, progress: Progress) -> None:
        self.program, self.search, self.progress = program, search, progress
        self.held: list[Row] = []
        self.alive = np.ones(program.rows, dtype=np.bool_)
        self.best: Ints | None = None
        self.bound: multipliers.Bound | None = None
        self.bounded = np.empty(0, dtype=np.intp)
        self.ends = time.monotonic() + search.time_limit_s
        self.clock_ended = False

    def choose(self, order: list[Wish]) -> Choice:
        first = self._solve("feasible", None, self.alive)
        if first.x is None:
            return self._without_answer(first.status)
        self.best = first.x
        stages: list[StageResult] = []
        too_large: list[str] = []
        for wish in order:
            try:
                stages.append(self._stage(wish, self.program.objectives[wish]))
            except RowTooLarge as error:
                value = self.program.objectives[wish].value(self.best)
                stages.append(StageResult(wish, value, 0, "nothing"))
                too_large.append(f"{wish}: numbers too far apart for an exact search ({error})")
            self._hold(f"held {wish}", self.program.objectives[wish], stages[-1].value)
        with suppress(RowTooLarge):  # ties are then left as they fell, still the same every time
            self._break_ties()
        reasons = too_large + [_shortfall(stage) for stage in stages if not stage.proven]
        rows = np.flatnonzero(self.best[: self.program.rows])
        self.clock_ended |= time.monotonic() >= self.ends
        return Choice("found" if reasons else "proven", rows, stages, reasons, self.clock_ended)

    def _without_answer(self, status: str) -> Choice:
        """Tell impossible from undecided: an impossible needs both engines."""
        if status != "INFEASIBLE":
            reason = "search.time_limit_s, search.work_limit: ended before any answer was found"
            return Choice("undecided", reasons=[reason], clock_ended=self.clock_ended)
        nothing = Objective(np.zeros(self.program.columns, dtype=np.int64))
        if all(self._milp(nothing, presolve).status == 2 for presolve in (True, False)):
            return Choice("impossible")
        reason = "the two engines disagree: one finds no answer possible, the other does not"
        return Choice("undecided", reasons=[reason], clock_ended=self.clock_ended)

    def _stage(self, wish: Wish, objective: Objective) -> StageResult:
        """Minimise one wish; afterwards only rows that an optimal answer could use are alive."""
        assert self.best is not None
        low = self._fix_rows(wish, objective)
        if low is not None and objective.value(self.best) <= low:
            return StageResult(wish, low, low, "multipliers")
        solved = self._solve(wish, objective, self.alive)
        if solved.x is not None and objective.value(solved.x) <= objective.value(self.best):
            self.best = solved.x
            self._drop_useless(objective)
        value = objective.value(self.best)
        if solved.status != "OPTIMAL" or solved.bound != value:
            bounds = [bound for bound in (low, solved.bound) if bound is not None]
            return StageResult(wish, value, min(value, max(bounds, default=0)), "nothing")
        second = self._second_optimum(objective)
        return StageResult(wish, value, value, "second engine" if second == value else "nothing")

    def _second_optimum(self, objective: Objective) -> int | None:
        """Return the optimum that HiGHS finds on the same rows, or None if it does not finish."""
        result = self._milp(objective)
        if result.status == 2:
            # a false "infeasible" of the presolve (ERGO-Code/HiGHS#2585): an answer is at hand
            result = self._milp(objective, presolve=False)
        if result.status != 0 or result.x is None:
            return None
        return objective.offset + objective.scale * round(float(result.fun))

    def _hold(self, name: str, objective: Objective, value: int) -> None:
        """Hold an objective; a row that alone would exceed it is no longer alive."""
        row = hold(name, objective, value)
        self.held.append(row)
        if np.all(row.weights >= 0):
            self.alive &= row.weights[: self.program.rows] <= row.limit

    def _break_ties(self) -> None:
        """Take the answer of least total rank among the best; no claim is made for it."""
        assert self.best is not None
        objective = Objective(self.program.ranks)
        self._fix_rows("ties", objective)
        # beyond that the good answer just looked for must do: it too is the same every time
        if self.program.joints < np.count_nonzero(self.alive) <= TIE_ROWS:
            solved = self._solve("ties", objective, self.alive)
            if solved.x is not None and objective.value(solved.x) < objective.value(self.best):
                self.best = solved.x

    # -- bounds and reduction by multipliers -----------------------------------------------------

    def _fix_rows(self, stage: str, objective: Objective) -> int | None:
        """Bound an objective by `multipliers`, look for a good answer, and drop useless rows.

        Returns the exact bound in units of the objective, or None if there is none.
        """
        assert self.best is not None
        left = max(0.1, self.ends - time.monotonic())
        lines = self._matrices()
        self.bound = multipliers.bound(objective.weights[lines.columns], lines, left)
        self.bounded = lines.columns
        if self.bound is None:
            return None
        costs = np.full(self.program.columns, np.inf)
        costs[lines.columns] = self.bound.reduced_costs
        if int(objective.weights @ self.best) > self.bound.least:
            self._improve(stage, objective, costs[: self.program.rows])
        self._drop_useless(objective)
        return objective.offset + objective.scale * self.bound.least

    def _drop_useless(self, objective: Objective) -> None:
        """Drop rows whose reduced cost lifts the bound above the best answer: no better one has them."""
        assert self.best is not None
        if self.bound is None:
            return
        useful = np.zeros(self.program.columns, dtype=np.bool_)
        useful[self.bounded] = self.bound.usable(int(objective.weights @ self.best))
        self.alive &= useful[: self.program.rows]

    def _improve(self, stage: str, objective: Objective, costs: NDArray[np.float64]) -> None:
        """Look for a better answer among the rows of least reduced cost of every joint.

        Reduced costs tie often; among equals the lightest and the most accurate rows come first.
        """
        assert self.best is not None
        kernel = self.best[: self.program.rows] > 0
        for tie_break in (self.program.ranks[: self.program.rows], self._shares()):
            order = np.lexsort((tie_break, np.round(costs, 6), self.program.joint))
            order = order[self.alive[order]]
            joint = self.program.joint[order]
            place = np.arange(len(order)) - np.searchsorted(joint, joint)
            kernel[order[place < KERNEL_ROWS]] = True
        kernel |= self._partners(kernel) & self.alive
        solved = self._solve(stage, objective, kernel, whole=False)
        if solved.x is not None and objective.value(solved.x) < objective.value(self.best):
            self.best = solved.x

    def _shares(self) -> NDArray[np.float64]:
        """Return how much of the real limits each row takes; the least is the most accurate ring."""
        shares = np.zeros(self.program.rows)
        for real in self.program.real:
            shares += real.values / real.limit
        return shares

    def _partners(self, kernel: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return the rows of every ring part in the kernel, so that it can be shared there."""
        part = self.program.part
        return np.isin(part, part[kernel & (part >= 0)])

    # -- the two engines -------------------------------------------------------------------------

    def _matrices(self) -> multipliers.Lines:
        """Return the living columns, A x <= b and E x = 1 in whole numbers."""
        program = self.program
        columns = self._living_columns(self.alive)
        rows = program.limits + self.held
        upper = program.links[:, columns]
        if rows:
            limits = sparse.csr_array(np.array([row.weights[columns] for row in rows]))
            upper = sparse.csr_array(sparse.vstack([upper, limits]))
        is_row = np.flatnonzero(columns < program.rows)
        equal = sparse.csr_array(
            (np.ones(len(is_row), np.int64), (program.joint[columns[is_row]], is_row)),
            shape=(program.joints, len(columns)),
        )
        right = [*([0] * program.links.shape[0]), *(row.limit for row in rows)]
        return multipliers.Lines(columns, upper, np.array(right, dtype=np.int64), equal)

    def _living_columns(self, alive: NDArray[np.bool_]) -> NDArray[np.intp]:
        """Return living rows and the part and cutter columns that some living row needs."""
        program = self.program
        links = program.links
        mask = np.pad(alive, (0, program.columns - program.rows))
        used = np.asarray((links[:, : program.rows] @ alive.astype(np.int64)) > 0)
        mask[links.indices[(links.data < 0) & np.repeat(used, np.diff(links.indptr))]] = True
        return np.flatnonzero(mask)

    def _milp(self, objective: Objective, presolve: bool = True) -> Any:
        """Solve the living program with HiGHS; returns scipy's result (fun in weights' units)."""
        lines = self._matrices()
        constraints = [optimize.LinearConstraint(lines.equal.astype(np.float64), 1.0, 1.0)]
        if lines.upper.shape[0]:
            upper = lines.upper.astype(np.float64)
            constraints.append(optimize.LinearConstraint(upper, -np.inf, lines.right))
        left = max(0.1, self.ends - time.monotonic())
        # half of what is left: the wishes that follow need time as well
        limit = max(min(left, 5.0), 0.5 * left)
        options = {"mip_rel_gap": 0.0, "presolve": presolve, "time_limit": limit}
        with quiet_stdout():
            return optimize.milp(
                objective.weights[lines.columns].astype(np.float64),
                integrality=np.ones(len(lines.columns), dtype=np.int64),
                bounds=optimize.Bounds(0.0, 1.0),
                constraints=constraints,
                options=options,
            )

    def _solve(
        self, stage: str, objective: Objective | None, alive: NDArray[np.bool_], whole: bool = True
    ) -> _Solved:  # fmt: skip
        """Run CP-SAT until its answer keeps the real limits, cutting off those that do not.

        The bound of a part of the program (`whole` false) is none of the whole and is not told.
        """
        while True:
            solved = self._search(stage, objective, alive, whole)
            if solved.x is None or self.program.allowed(solved.x):
                return solved
            if time.monotonic() >= self.ends:
                self.clock_ended = True
                return _Solved("UNKNOWN", None, solved.bound)
            chosen = solved.x.copy()
            chosen[self.program.rows :] = 0
            self.held.append(Row("beyond a real limit", chosen, self.program.joints - 1))

    def _search(
        self, stage: str, objective: Objective | None, alive: NDArray[np.bool_], whole: bool
    ) -> _Solved:
        """Run CP-SAT on the living program."""
        from ortools.sat.python import cp_model

        model, variables = self._model(objective, alive)
        solver = cp_model.CpSolver()
        self._configure(solver.parameters)
        offset, scale = (objective.offset, objective.scale) if objective else (0, 1)
        best: list[int | None] = [None, None]
        if objective is not None and self.best is not None:
            best[0] = objective.value(self.best)

        def tell(slot: int, raw: float) -> None:
            told = offset + scale * round(raw)
            best[slot] = min(told, best[0]) if slot == 0 and best[0] is not None else told
            self.progress(stage, best[0], best[1])

        class _Tell(cp_model.CpSolverSolutionCallback):
            def on_solution_callback(self) -> None:
                tell(0, self.objective_value)

        callback = None
        if objective is not None:
            callback = _Tell()
            if whole:
                solver.best_bound_callback = lambda bound: tell(1, bound)
        status = solver.status_name(solver.solve(model, callback))
        self.clock_ended |= status in ("FEASIBLE", "UNKNOWN") and time.monotonic() >= self.ends
        if status not in ("OPTIMAL", "FEASIBLE"):
            return _Solved(status, None, None)
        chosen = [
            c for c, v in variables.items() if c < self.program.rows and solver.boolean_value(v)
        ]
        x = self.program.with_needed_columns(chosen)
        bound = (
            offset + scale * int(np.ceil(solver.best_objective_bound - 1e-6)) if objective else 0
        )
        return _Solved(status, x, bound)

    def _configure(self, parameters: Any) -> None:
        parameters.num_workers = self.search.workers
        parameters.random_seed = self.search.seed
        parameters.linearization_level = 2
        parameters.max_deterministic_time = self.search.work_limit
        parameters.max_time_in_seconds = max(0.1, self.ends - time.monotonic())
        parameters.catch_sigint_signal = False
        # the code path of google/or-tools#5293; rows below 2^30 avoid it as well
        parameters.presolve_inclusion_work_limit = 0

    def _model(
        self, objective: Objective | None, alive: NDArray[np.bool_]
    ) -> tuple[Any, dict[int, Any]]:
        """Return the CP-SAT model of the living columns and its variables by column."""
        from ortools.sat.python import cp_model

        program = self.program
        model = cp_model.CpModel()
        columns = self._living_columns(alive)
        variables = {int(c): model.new_bool_var("") for c in columns}
        by_joint: list[list[Any]] = [[] for _ in range(program.joints)]
        for column in np.flatnonzero(alive):
            by_joint[program.joint[column]].append(variables[int(column)])
        for literals in by_joint:
            model.add_exactly_one(literals)
        links = program.links
        for line in range(links.shape[0]):
            entries = slice(links.indptr[line], links.indptr[line + 1])
            group = [variables[c] for c in links.indices[entries].tolist() if c in variables]
            owner = int(links.indices[entries][links.data[entries] < 0][0])
            if owner in variables and len(group) > 1:
                literals = [v for v in group if v is not variables[owner]]
                model.add(sum(literals) <= variables[owner])
        for row in program.limits + self.held:
            guard(row.name, row.weights[columns], row.limit)
            model.add(_weighted(cp_model, variables, columns, row.weights) <= row.limit)
        if objective is not None:
            model.minimize(_weighted(cp_model, variables, columns, objective.weights))
        return model, variables


def _shortfall(stage: StageResult) -> str:
    if stage.value != stage.bound:
        return f"{stage.wish}: {stage.value} found, at least {stage.bound} proven; search ended"
    return f"{stage.wish}: {stage.value} proven by one engine, not confirmed by the second"


def _weighted(
    cp_model: Any, variables: dict[int, Any], columns: NDArray[np.intp], weights: Ints
) -> Any:
    """Return the weighted sum of the living columns with a weight other than zero."""
    used = [int(c) for c in columns if weights[c] != 0]
    return cp_model.LinearExpr.weighted_sum(
        [variables[c] for c in used], [int(weights[c]) for c in used]
    )
