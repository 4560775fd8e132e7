"""Stage 4: the search picks the rings, wish after wish, and every bound is proven by a second route.

Each wish is minimised with the earlier ones held, among the rows that `sift` leaves for just these. The
linear relaxation gives multipliers, which in whole numbers prove a bound and the price of using each row
(`multipliers`). If the best answer known meets the bound, the wish is proven. If not, rows are dropped
that no better answer could use, and the relaxation is solved again on the rest, whose numbers are then
smaller and closer. Where that ends with a gap, CP-SAT proves the rest, and HiGHS must find the same
optimum of the same rows. Last, ties are broken by the canonical ranks of the rows, so that equal studies
give equal answers.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from optimizer.catalogue import Ints
from optimizer.engines import Solved, cp_sat, highs, one_row_each
from optimizer.listing import best_listed
from optimizer.multipliers import Portable, Whole, evaluate, portable, ported, rounded
from optimizer.program import Ceilings, Held, Objective, Program, RowTooLarge, Units, build
from optimizer.relax import Relaxed, best_of_joint, limit_shares, relax
from optimizer.sift import followers_rows, leaders, sift
from optimizer.study import Search, Wish
from optimizer.table import Table

#: Called with (stage, best so far, bound) in whole units whenever one of them improves.
Progress = Callable[[str, int | None, int | None], None]
Rows = NDArray[np.intp]

#: Rows per joint in the small program that looks for a good answer.
KERNEL_ROWS = 12
#: How much larger it becomes where it does not help to drop rows.
KERNEL_GROWTH = 4
#: Rows beyond which it grows no more.
KERNEL_MOST = 2500
#: Nodes that HiGHS may spend on it.
KERNEL_NODES = 200
#: Rounds of dropping rows and solving the relaxation of the rest; each must drop this share.
ROUNDS, WORTH_A_ROUND = 10, 0.1
#: Most rows among which ties are broken by a whole search.
TIE_ROWS = 1000

#: What confirms a bound: exact multipliers, a list of all that is left, the second engine, or nothing.
Confirmation = Literal["multipliers", "listing", "second engine", "nothing"]


@dataclass(frozen=True)
class StageResult:
    """One wish: value reached, bound, the second route that confirms it, and the multipliers used.

    `steps` are the multipliers round by round; each drops rows before the next is taken. They prove the
    bound by themselves where `confirmed_by` says multipliers.
    """

    wish: Wish
    value: int
    bound: int
    confirmed_by: Confirmation
    steps: tuple[Whole, ...] = ()

    @property
    def proven(self) -> bool:
        """Nothing below the value is possible, by two routes."""
        return self.value == self.bound and self.confirmed_by != "nothing"


@dataclass
class Choice:
    """Outcome of the search: chosen rows (indices), stages, and why it stopped short, if it did."""

    status: str
    rows: Rows = field(default_factory=lambda: np.empty(0, dtype=np.intp))
    stages: list[StageResult] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    clock_ended: bool = False
    rows_searched: int = 0


def choose(
    table: Table, units: Units, order: list[Wish], ceilings: Ceilings, search: Search,
    progress: Progress | None = None,
) -> Choice:  # fmt: skip
    """Return the best rows of a table for the wishes in `order`, with what is proven."""
    solver = Solver(table, units, ceilings, search, progress)
    start = solver.start()
    if start.rows is None:
        return Choice(start.status, reasons=start.reasons, clock_ended=solver.clock_ended)
    held: dict[Wish, int] = {}
    stages: list[StageResult] = []
    rows = start.rows
    for wish in order:
        stage, rows = solver.minimise(wish, held, rows)
        stages.append(stage)
        held[wish] = stage.value
    rows = solver.break_ties(held, rows)
    reasons = [_shortfall(stage) for stage in stages if not stage.proven]
    status = "found" if reasons else "proven"
    return Choice(status, rows, stages, reasons, solver.clock_ended, solver.rows_searched)


@dataclass
class Start:
    """Some answer to begin with, or why there is none (impossible, or undecided)."""

    rows: Rows | None
    status: str = "found"
    reasons: list[str] = field(default_factory=list)


class Solver:
    """One table under one set of ceilings; what one search finds out serves the next."""

    def __init__(
        self, table: Table, units: Units, ceilings: Ceilings, search: Search,
        progress: Progress | None = None,
    ) -> None:  # fmt: skip
        self.table, self.units, self.search = table, units, search
        self.ceilings = dict(ceilings)
        self.progress = progress or (lambda stage, best, bound: None)
        self.ends = time.monotonic() + search.time_limit_s
        self.clock_ended = False
        self._sifted: dict[frozenset[Wish], Table] = {}
        self._left: Table | None = None  # rows that an answer as good as the last one could use
        self._known: list[_Known] = []

    # -- rows and programs -----------------------------------------------------------------------

    def sifted(self, needed: frozenset[Wish]) -> Table:
        """Return the rows that matter when the wishes in `needed` do."""
        if needed not in self._sifted:
            # what fewer wishes need is part of what more of them need
            larger = [key for key in self._sifted if needed < key]
            source = self._sifted[min(larger, key=len)] if larger else self.table
            self._sifted[needed] = sift(source, needed)
        return self._sifted[needed]

    def rows_with(self, needed: frozenset[Wish], rows: Rows) -> Table:
        """Return the sifted rows, with those of an answer at hand among them."""
        table = self.sifted(needed)
        if np.all(np.isin(rows, table.index)):
            return table
        return self.table.take(np.union1d(table.index, rows).astype(np.intp))

    def _tighten(self) -> None:
        if time.monotonic() >= self.ends:
            self.clock_ended = True

    @property
    def rows_searched(self) -> int:
        """Most rows that any of the wishes left to search."""
        return max((len(table) for table in self._sifted.values()), default=0)

    # -- some answer -----------------------------------------------------------------------------

    def start(self) -> Start:
        """Return some answer under all ceilings; each ceiling is reached by minimising its wish."""
        ceilings, self.ceilings = self.ceilings, {}
        first = self._within_sums()
        rows = first.rows
        for wish in sorted(ceilings):
            if rows is None:
                break
            stage, rows = self.minimise(wish, {}, rows, enough=ceilings[wish])
            if not self._keeps(wish, ceilings[wish], rows):
                self.ceilings = ceilings
                return self._beyond(stage)
            self.ceilings[wish] = ceilings[wish]
        self.ceilings = ceilings
        return first if rows is None else Start(rows)

    def _within_sums(self) -> Start:
        """Return an answer that keeps the sums: the most accurate rows, or else what a search finds."""
        program = build(self.sifted(frozenset()), self.units, None, {}, {})
        x = program.with_needed_columns(best_of_joint(program, (limit_shares(program),), 1))
        if one_row_each(program, x) and program.allowed(x):
            return Start(self._rows(program, x))
        solved = self._answer(program, None)
        if solved.x is not None:
            return Start(self._rows(program, solved.x))
        if solved.status == "INFEASIBLE" and _infeasible(program, self.ends):
            return Start(None, "impossible")
        if solved.status == "INFEASIBLE":
            reason = "the two engines disagree: one finds no answer possible, the other does not"
        else:
            reason = "search.time_limit_s, search.work_limit: ended before any answer was found"
        return Start(None, "undecided", [reason])

    def _keeps(self, wish: Wish, ceiling: float, rows: Rows) -> bool:
        table = self.rows_with(frozenset({wish}), rows)
        program = build(table, self.units, wish, {wish: ceiling}, {})
        return program.allowed(self._columns(program, rows))

    def _beyond(self, stage: StageResult) -> Start:
        """Say that the least of a wish passes its ceiling, or that this is not known."""
        if stage.proven:
            return Start(None, "impossible")
        reason = f"wishes.{stage.wish}_max: no answer within it found before the search ended"
        return Start(None, "undecided", [reason])

    # -- one wish --------------------------------------------------------------------------------

    def minimise(
        self, wish: Wish, held: Held, start: Rows, enough: float | None = None
    ) -> tuple[StageResult, Rows]:
        """Return the least value of a wish under ceilings and held wishes, and rows that reach it.

        `start` are rows that keep them. With `enough` (in the wish's own unit) any answer will do that
        needs no more; the bound is then what is proven so far.
        """
        needed = frozenset(held) | frozenset(self.ceilings) | {wish}
        table = self._without_useless(self.rows_with(needed, start), held)
        stop = None if enough is None else self._units_of(wish, enough)
        lead = leaders(table, needed)
        ours = start[lead[self.table.joint[start]]]
        run = _Stage(self, wish, held, table.take(lead[table.joint]), ours, stop)
        stage = run.solve()
        rows = np.union1d(run.best, followers_rows(self.table, lead, run.best)).astype(np.intp)
        self._left = run.left
        if run.first is not None:
            self._known.append(_Known(wish, dict(held), dict(self.ceilings), run.first))
        self._tighten()
        return stage, rows

    def _without_useless(self, table: Table, held: Held) -> Table:
        """Drop the rows that no answer uses which holds what is held, by multipliers found before."""
        for known in self._known:
            if known.wish not in held or not known.holds(held, self.ceilings):
                continue
            program = build(table, self.units, known.wish, known.ceilings, known.held)
            objective = program.objectives[known.wish]
            whole = rounded(program, objective, ported(program, known.multipliers))
            if whole is not None:
                most = (held[known.wish] - objective.offset) // objective.scale
                table = program.table.take(evaluate(program, objective, whole).usable(most))
        return table

    def _units_of(self, wish: Wish, amount: float) -> int:
        if wish == "material":
            return int(np.floor(amount / self.units.material_kg - len(self.table.weight)))
        if wish == "cost":
            return int(np.floor(amount / self.units.cost - 2 * len(self.table.weight)))
        return int(amount)

    def break_ties(self, held: Held, rows: Rows) -> Rows:
        """Return the answer of least total rank among the best; no claim is made for it."""
        left = self._left
        if left is None or not np.all(np.isin(rows, left.index)):
            left = self.rows_with(frozenset(held) | frozenset(self.ceilings), rows)
        program = build(left, self.units, None, self.ceilings, held)
        x = self._columns(program, rows)
        objective = Objective(program.ranks)
        relaxed = relax(program, objective, np.flatnonzero(x[: program.rows]), self.ends)
        if relaxed is None:
            return rows
        x = _better(program, objective, x, _from_relaxation(program, relaxed))
        alive = relaxed.bound.usable(objective.value(x))
        if objective.value(x) > relaxed.bound.least and alive.sum() <= TIE_ROWS:
            part = build(program.table.take(alive), self.units, None, self.ceilings, held)
            place = np.searchsorted(program.table.index, part.table.index)
            ranks = Objective(np.pad(program.ranks[place], (0, part.columns - part.rows)))
            solved = self._answer(part, ranks)
            if solved.x is not None:
                ours = self._columns(program, self._rows(part, solved.x))
                x = _better(program, objective, x, ours)
        return self._rows(program, x)

    # -- engines ---------------------------------------------------------------------------------

    def _answer(
        self, program: Program, objective: Objective | None, stage: str = "feasible",
        hint: Ints | None = None, told: int | None = None,
    ) -> Solved:  # fmt: skip
        """Run CP-SAT until its answer keeps the real limits, cutting off those that do not."""

        def tell(best: int | None, bound: int | None) -> None:
            nonlocal told
            if best is not None:
                told = best if told is None else min(told, best)
            self.progress(stage, told, bound)

        while True:
            try:
                solved = cp_sat(program, objective, self.search, self.ends, hint, tell)
            except RowTooLarge:
                return Solved("UNKNOWN", None)
            self._tighten()
            if solved.x is None or program.allowed(solved.x):
                return solved
            if time.monotonic() >= self.ends:
                return Solved("UNKNOWN", None, solved.bound)
            program = program.without(solved.x)

    def _rows(self, program: Program, x: Ints) -> Rows:
        return program.table.index[np.flatnonzero(x[: program.rows])].astype(np.intp)

    def _columns(self, program: Program, rows: Rows) -> Ints:
        return program.with_needed_columns(np.searchsorted(program.table.index, np.sort(rows)))


@dataclass(frozen=True)
class _Known:
    """Multipliers that bounded a wish under ceilings and held wishes; valid wherever those hold."""

    wish: Wish
    held: Held
    ceilings: Ceilings
    multipliers: Portable

    def holds(self, held: Held, ceilings: Ceilings) -> bool:
        """Say whether all that was held then is held now."""
        kept = all(held.get(wish, value + 1) <= value for wish, value in self.held.items())
        return kept and all(ceilings.get(wish) == most for wish, most in self.ceilings.items())


class _Stage:
    """One wish being minimised: the rows still alive, the best answer, the bound, and how it came."""

    def __init__(
        self, solver: Solver, wish: Wish, held: Mapping[Wish, int], table: Table, start: Rows,
        stop: int | None,
    ) -> None:  # fmt: skip
        self.solver, self.wish, self.held, self.best, self.stop = solver, wish, held, start, stop
        self.steps: list[Whole] = []
        self.low = 0
        self.kernel = KERNEL_ROWS * table.joints
        self.left = table
        self.first: Portable | None = None
        self.program = self._build(table)
        self.value = self._objective.value(solver._columns(self.program, start))

    @property
    def _objective(self) -> Objective:
        return self.program.objectives[self.wish]

    def _build(self, table: Table) -> Program:
        return build(table, self.solver.units, self.wish, self.solver.ceilings, self.held)

    def solve(self) -> StageResult:
        """Return the stage's result; `best` then holds its rows."""
        for _ in range(ROUNDS):
            if self._enough():
                return self._result("nothing")
            relaxed = self._relax()
            if relaxed is None:
                break
            self.left = self.program.table.take(relaxed.bound.usable(self._raw(self.value)))
            if self.value <= self.low or self._enough():
                return self._result("multipliers")
            if self._listed(relaxed):
                return self._result("listing")
            alive = relaxed.bound.usable(self._raw(self.value))
            if alive.sum() > (1.0 - WORTH_A_ROUND) * self.program.rows:
                if self.kernel >= min(self.program.rows, KERNEL_MOST):
                    break
                self.kernel *= KERNEL_GROWTH
            self.program = self._build(self.program.table.take(alive))
        return self._search()

    def _enough(self) -> bool:
        return self.stop is not None and self.value <= self.stop

    def _result(self, confirmed_by: Confirmation) -> StageResult:
        bound = min(self.low, self.value)
        return StageResult(self.wish, self.value, bound, confirmed_by, tuple(self.steps))

    def _raw(self, value: int) -> int:
        """Return a value in the objective's own weights."""
        return (value - self._objective.offset) // self._objective.scale

    def _relax(self) -> Relaxed | None:
        """Solve the relaxation, take its bound, and look for a better answer near it."""
        program, objective, solver = self.program, self._objective, self.solver
        x = solver._columns(program, self.best)
        relaxed = relax(program, objective, np.flatnonzero(x[: program.rows]), solver.ends)
        if relaxed is None:
            return None
        self.steps.append(relaxed.bound.whole)
        if self.first is None:
            self.first = portable(program, relaxed.bound.whole)
        self.low = max(self.low, objective.offset + objective.scale * relaxed.bound.least)
        self._take(_from_relaxation(program, relaxed))
        if self.value > self.low and not self._enough():
            self._improve(relaxed)
        solver.progress(self.wish, self.value, self.low)
        return relaxed

    def _improve(self, relaxed: Relaxed) -> None:
        """Look for a better answer among the rows that cost the bound least."""
        program, solver = self.program, self.solver
        order = np.lexsort((program.ranks[: program.rows], relaxed.bound.costs))
        mine = np.searchsorted(program.table.index, np.sort(self.best))
        kernel = np.union1d(order[: self.kernel], mine)
        found = highs(
            program, self._objective, solver.ends, kernel, node_limit=KERNEL_NODES
        )  # fmt: skip
        solver._tighten()
        self._take(found.x)

    def _listed(self, relaxed: Relaxed) -> bool:
        """List all better answers, if they are few, and take the best."""
        raw = self._raw(self.value)
        listed, x = best_listed(self.program, self._objective, relaxed.bound, raw)
        if listed:
            self._take(x)
            self.low = self.value
        return listed

    def _take(self, x: Ints | None) -> None:
        """Make an answer the best if it is allowed and better."""
        if x is not None and self.program.allowed(x):
            value = self._objective.value(x)
            if value < self.value:
                self.value, self.best = value, self.solver._rows(self.program, x)

    def _search(self) -> StageResult:
        """Let CP-SAT prove what is left, and HiGHS confirm it."""
        program, objective, solver = self.program, self._objective, self.solver
        hint = solver._columns(program, self.best)
        solved = solver._answer(program, objective, self.wish, hint, self.value)
        self._take(solved.x)
        if solved.bound is not None:
            self.low = max(self.low, min(solved.bound, self.value))
        if solved.status != "OPTIMAL" or self.low != self.value:
            return self._result("nothing")
        second = _second_optimum(program, objective, solver.ends)
        solver._tighten()
        return self._result("second engine" if second == self.value else "nothing")


def _from_relaxation(program: Program, relaxed: Relaxed) -> Ints | None:
    """Return the answer of a relaxation that took every row whole."""
    rows = relaxed.whole_rows()
    if rows is None:
        return None
    x = program.with_needed_columns(rows)
    return x if one_row_each(program, x) else None


def _better(program: Program, objective: Objective, x: Ints, other: Ints | None) -> Ints:
    if other is None or not program.allowed(other) or objective.value(other) >= objective.value(x):
        return x
    return other


def _second_optimum(program: Program, objective: Objective, ends: float) -> int | None:
    """Return the optimum that HiGHS finds on the same rows, or None if it does not finish.

    Like CP-SAT it may find an answer that the rounded limits let pass and the real ones do not.
    """
    while time.monotonic() < ends:
        # half of what is left: the wishes that follow need time as well
        until = time.monotonic() + max(5.0, 0.5 * (ends - time.monotonic()))
        found = highs(program, objective, until)
        if found.status == "INFEASIBLE":
            # a false "infeasible" of the presolve (ERGO-Code/HiGHS#2585): an answer is at hand
            found = highs(program, objective, until, presolve=False)
        if found.status != "OPTIMAL" or found.x is None:
            return None
        if program.allowed(found.x):
            return objective.value(found.x)
        program = program.without(found.x)
    return None


def _infeasible(program: Program, ends: float) -> bool:
    """Say whether HiGHS too, with and without its presolve, finds no answer possible."""
    return all(
        highs(program, None, ends, presolve=presolve).status == "INFEASIBLE"
        for presolve in (True, False)
    )


def _shortfall(stage: StageResult) -> str:
    if stage.value != stage.bound:
        return f"{stage.wish}: {stage.value} found, at least {stage.bound} proven; search ended"
    return f"{stage.wish}: {stage.value} proven by one engine, not confirmed by the second"
