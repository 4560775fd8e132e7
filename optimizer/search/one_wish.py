"""One wish minimised: a bound by multipliers, rows dropped round by round, the rest listed or searched."""

from __future__ import annotations

import time
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from copy import copy
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Ints
from ringset.reduction.table import Table
from ringset.schema.study import Wish
from ringset.search.bounds.column_generation import (
    CLIMB_ROWS,
    HUGE_ROWS,
    WHOLE_ROWS,
    Relaxed,
    from_relaxation,
    relax,
)
from ringset.search.bounds.lagrangian import Portable, portable, refuse_beaten, refuse_dropped
from ringset.search.engines.cross_check import infeasible, second_optimum
from ringset.search.engines.highs import highs
from ringset.search.exact.branch_and_bound import halves_for, settle
from ringset.search.exact.by_component import settle_islands
from ringset.search.exact.by_cutter import Part, apart, as_good, one_of_several_cutters
from ringset.search.exact.enumeration import best_listed
from ringset.search.exact.greedy import greedy
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program, build

if TYPE_CHECKING:
    from ringset.search.lexicographic import Solver

Rows = NDArray[np.intp]

#: Rows per joint in the small program that looks for a good answer.
KERNEL_ROWS = 12
#: How much larger it becomes where it does not help to drop rows.
KERNEL_GROWTH = 4
#: Rows beyond which it grows no more.
KERNEL_MOST = 2500
#: Rows up to which looking for a good answer costs next to nothing.
SMALL_ROWS = 3000
#: Rows from which it would take minutes.
KERNEL_LARGEST = 30_000
#: Nodes that HiGHS may spend on it.
KERNEL_NODES = 200
#: Rows from which a relaxation of all cutters takes longer than one of each, where one only is allowed.
MIXED_ROWS = 4000
#: Rounds of dropping rows and solving the relaxation of the rest; each must drop this share.
ROUNDS, WORTH_A_ROUND = 10, 0.1
#: What confirms a bound: exact multipliers, a list of all that is left, multipliers of each cutter's rows
#: (`apart`) or of halves of what is left (`branch`), the second engine, or nothing.
Confirmation = Literal["multipliers", "listing", "halves", "second engine", "nothing"]


@dataclass(frozen=True)
class StageResult:
    """One wish: value reached, bound, and the second route that confirms it."""

    wish: Wish
    value: int
    bound: int
    confirmed_by: Confirmation

    @property
    def proven(self) -> bool:
        """Nothing below the value is possible, by two routes."""
        return self.value == self.bound and self.confirmed_by != "nothing"


class Stage:
    """One wish being minimised: the rows still alive, the best answer, the bound, and how it came."""

    def __init__(
        self, solver: Solver, wish: Wish, held: Mapping[Wish, int], table: Table, start: Rows,
        stop: int | None,
    ) -> None:  # fmt: skip
        self.solver, self.wish, self.held, self.best, self.stop = solver, wish, held, start, stop
        self.low = 0
        self.kernel = KERNEL_ROWS * table.joints
        self.left = table
        self.first: Portable | None = None
        self.last: Portable | None = None
        self.improving, self.in_part = True, False
        self.program = self.build(table)
        self.value = self._objective.value(solver.columns(self.program, start))

    @property
    def _objective(self) -> Objective:
        return self.program.objectives[self.wish]

    def build(self, table: Table) -> Program:
        """Return the stage's program of some rows."""
        return build(table, self.solver.units, self.wish, self.solver.ceilings, self.held)

    def solve(self) -> StageResult:
        """Return the stage's result; `best` then holds its rows."""
        thorough = False
        if self._wants_greedy():
            self.take(self.program, greedy(self.program, self._objective))
        if (
            CLIMB_ROWS <= self.program.rows < HUGE_ROWS
            and self.stop is None
            and settle_islands(self)
        ):
            return self._result("halves")
        if self.program.rows >= MIXED_ROWS and self.stop is None and one_of_several_cutters(self):
            return self._apart()
        for _ in range(ROUNDS):
            if self.enough():
                return self._result("nothing")
            relaxed = self._relax(thorough)
            if relaxed is None:
                break
            self.left = self.program.table.take(relaxed.bound.usable(self._raw(self.value)))
            refuse_dropped(self.best, self.left.index)
            if self.value <= self.low or self.enough():
                return self._result("multipliers")
            if len(self.left) >= HUGE_ROWS:
                return self._result("nothing")
            if self._listed(relaxed):
                return self._result("listing")
            if one_of_several_cutters(self):
                return self._apart()
            if self.program.rows >= CLIMB_ROWS and len(self.left) <= WHOLE_ROWS:
                self.program = self.build(self.left)
                break  # halves settle what is left sooner than more rounds
            if len(self.left) > (1.0 - WORTH_A_ROUND) * self.program.rows:
                if thorough and self.kernel >= min(self.program.rows, KERNEL_MOST):
                    break
                self.kernel *= KERNEL_GROWTH if thorough else 1
                thorough = True
            self.program = self.build(self.left)
        return (
            self._result("halves")
            if settle(self, halves_for(self))
            else self._search([(self.program, self.low, None)])
        )

    def _wants_greedy(self) -> bool:
        """Say whether an answer soon is worth more than what it costs to look for one."""
        program = self.program
        owned = len(program.parts.owner) > 0 or (
            self.wish == "cutters" and len(program.cutters.owner) > 0
        )
        return owned and not self.enough() and (self.stop is not None or program.rows >= CLIMB_ROWS)

    def enough(self) -> bool:
        """Say whether the answer at hand is as good as was asked for."""
        return self.stop is not None and self.value <= self.stop

    def _result(self, confirmed_by: Confirmation) -> StageResult:
        return StageResult(self.wish, self.value, self.low, confirmed_by)

    def _raw(self, value: int) -> int:
        """Return a value in the objective's own weights."""
        return self._objective.weight_of(value)

    def _relax(self, thorough: bool) -> Relaxed | None:
        """Solve the relaxation, take its bound, and look for a better answer near it."""
        program, objective, solver = self.program, self._objective, self.solver
        x = solver.columns(program, self.best)
        relaxed = relax(
            program, objective, np.flatnonzero(x[: program.rows]), solver.ends, thorough
        )
        if relaxed is None:
            return None
        if self.first is None:
            self.first = portable(program, objective, relaxed.bound.whole)
        self.prove(objective.offset + objective.scale * relaxed.bound.least)
        self.take(program, from_relaxation(program, relaxed))
        if self.value > self.low and not self.enough() and self.improving:
            before = self.value
            ended = self._improve(relaxed)
            # what found nothing better will not soon: the rows hardly change, least those of a large program
            more = self.value < before and not (ended and program.rows >= CLIMB_ROWS)
            self.improving = more or program.rows <= SMALL_ROWS
        self.last = portable(program, objective, relaxed.bound.whole)
        self.tell(self.low)
        return relaxed

    def _improve(self, relaxed: Relaxed) -> bool:
        """Look for a better answer among the rows that cost the bound least; True if theirs is known best."""
        program, solver = self.program, self.solver
        if self.kernel > KERNEL_LARGEST:
            whole = relaxed.bound.whole
            self.take(program, greedy(program, self._objective, whole.joints / whole.scale))
            return False
        order = np.lexsort((program.ranks[: program.rows], relaxed.bound.costs))
        mine = np.searchsorted(program.table.index, np.sort(self.best))
        kernel = np.union1d(order[: self.kernel], mine)
        found = highs(
            program, self._objective, solver.ends, kernel, node_limit=KERNEL_NODES
        )  # fmt: skip
        solver.watch()
        self.take(program, found.x)
        return found.status == "OPTIMAL"

    def _listed(self, relaxed: Relaxed) -> bool:
        """List all better answers, if they are few, and take the best."""
        raw = self._raw(self.value)
        listed, x = best_listed(self.program, self._objective, relaxed.bound, raw)
        if listed:
            self.take(self.program, x)
            self.low = self.value
        return listed

    def take(self, program: Program, x: Ints | None, least: int = 0) -> None:
        """Make an answer the best if it is allowed and better.

        `least` is proven for all answers of the program. Raises BoundBroken if the answer is below what
        is proven.
        """
        if x is not None and program.allowed(x):
            value = program.objectives[self.wish].value(x)
            refuse_beaten(self.wish, value, max(self.low, least))
            if value < self.value:
                self.value, self.best = value, self.solver.rows(program, x)

    def prove(self, low: int) -> None:
        """Keep a bound of all that is left; raises BoundBroken if the answer at hand is below it."""
        refuse_beaten(self.wish, self.value, low)
        self.low = max(self.low, low)

    def tell(self, low: int) -> None:
        """Keep a bound and report the progress."""
        self.prove(low)
        if not self.in_part:  # what is proven for a part is not for all
            self.solver.progress(self.wish, self.value, self.low)

    def _apart(self) -> StageResult:
        """Settle what is left cutter by cutter."""
        parts = apart(self)
        if not self.enough():  # else parts may be left half done
            parts = [part for part in parts if not self._halved(part)]
        if self.enough():
            result = self._result("nothing")
        elif not parts:
            self.low = self.value
            result = self._result("halves")
        else:
            self.tell(min(self.value, *(part.low for part in parts)))
            result = self._search([(self.build(p.table), p.low, p.second) for p in parts])
        self.left = as_good(self)
        return result

    def _halved(self, part: Part) -> bool:
        """Settle a part by its halves, and take what is better there; False if some of it is left."""
        run = copy(self)
        run.left, run.last, run.low, run.in_part = part.table, part.multipliers, part.low, True
        settled = part.low >= self.value or settle(run, halves_for(run))
        if run.value < self.value:
            self.value, self.best = run.value, run.best
        return settled

    def _search(self, programs: list[tuple[Program, int, int | None]]) -> StageResult:
        """Let CP-SAT prove that programs hold nothing better, and HiGHS confirm it.

        Beside each stands what is known to be least in it, and the least that HiGHS found in it, if it has
        been asked. No answer is better but theirs.
        """
        said = [self._searched(*one) for one in programs]
        self.low = max(self.low, min(self.value, *(low for low, _ in said)))
        whole = all(confirmed for _, confirmed in said) and self.low == self.value
        return self._result("second engine" if whole else "nothing")

    def _searched(self, program: Program, low: int, second: int | None) -> tuple[int, bool]:
        """Return the least that a program may hold, capped at the value, and whether HiGHS says so too.

        A bound of CP-SAT is one engine's word: where an answer beats it, it is withdrawn.
        """
        if low >= self.value:
            return self.value, True
        objective, solver = program.objectives[self.wish], self.solver
        if time.monotonic() >= solver.ends:
            return low, False  # to hand a large program to the engines takes seconds by itself
        hint = solver.columns(program, self.best) if self._within(program) else None
        with ThreadPoolExecutor(1) as beside:
            # both are needed, and each runs outside Python
            asked = None
            if second is None:
                asked = beside.submit(second_optimum, program, objective, solver.ends)
            solved = solver.answer(
                program, objective, self.wish, hint, self.value, self.low, least=low
            )  # fmt: skip
            other = None if asked is None else asked.result()
        solver.watch()
        self.take(program, solved.x, low)
        within = self._within(program)
        nothing = solved.status in ("INFEASIBLE", "NOTHING WITHIN") and not within
        bound = self.value if solved.bound is None else solved.bound
        if within and bound > self.value:
            return low, False  # an answer at hand beats it
        bound = min(bound, self.value)
        if not nothing and (solved.status != "OPTIMAL" or bound < self.value):
            return low if solved.bound is None else max(low, bound), False
        if second is None:
            if other is None:
                return self.value, not within and infeasible(program, solver.ends)
            second = objective.value(other)
            self.take(program, other, low)
            # CP-SAT found none at all, or none as good as the answer at hand
            if solved.status == "INFEASIBLE" or (nothing and second <= self.value):
                return low, False
        if second < bound:
            return low, False
        return self.value, not within or second == self.value

    def _within(self, program: Program) -> bool:
        """Say whether a program holds the best answer."""
        return bool(np.all(np.isin(self.best, program.table.index)))


def better(program: Program, objective: Objective, x: Ints, other: Ints | None) -> Ints:
    """Return the better of two answers, the second only if it is there and allowed."""
    if other is None or not program.allowed(other) or objective.value(other) >= objective.value(x):
        return x
    return other
