"""What stays as it is while wishes are minimised: table, ceilings, clock, and who hears of progress."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace

from ringset.arrays import Ints
from ringset.reduction.table import FirstRows, Table
from ringset.reduction.units import Units
from ringset.schema.gives import Aim
from ringset.schema.study import Search
from ringset.search.bounds.lagrangian import refuse_dropped
from ringset.search.engines.cp_sat import cp_sat
from ringset.search.engines.result import Solved
from ringset.search.model.constraints import Ceilings, Held, RowTooLarge
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program, build_search_program

#: Called with (wish, best so far, bound) in whole units whenever one of them improves.
Progress = Callable[[str, int | None, int | None], None]


@dataclass
class Clock:
    """When a search ends, as a time of `time.monotonic` in seconds, and whether it has ended one.

    A part of it may end sooner, see `until`.
    """

    last: float
    ended: bool = False
    _part: float = math.inf

    @property
    def ends(self) -> float:
        """When what is searched now ends."""
        return min(self.last, self._part)

    def over(self) -> bool:
        """Say whether the time is over."""
        return time.monotonic() >= self.ends

    def watch(self) -> None:
        """Note when the clock ends the search."""
        if self.over():
            self.ended = True

    def stop(self) -> None:
        """End the search now."""
        self.last = time.monotonic()

    @contextmanager
    def until(self, ends: float) -> Iterator[None]:
        """End what is searched in the block at a time of `time.monotonic`, if not sooner."""
        before = self._part
        self._part = min(before, ends)
        try:
            yield
        finally:
            self._part = before

    def leaving(self, share: float) -> AbstractContextManager[None]:
        """Leave a share of the time left to what follows the block."""
        now = time.monotonic()
        return self.until(now + (1.0 - share) * max(0.0, self.ends - now))


@dataclass(frozen=True)
class SearchContext:
    """One table under one set of ceilings, and how it is searched."""

    table: Table
    units: Units
    ceilings: Ceilings
    search: Search
    clock: Clock
    progress: Progress

    def under(self, ceilings: Ceilings) -> SearchContext:
        """Return the same search under other ceilings."""
        return replace(self, ceilings=dict(ceilings))

    def build(self, table: Table, wish: Aim | None, held: Held) -> Program:
        """Return the program of some rows under the ceilings."""
        return build_search_program(table, self.units, wish, self.ceilings, held)

    def answer(
        self, program: Program, objective: Objective | None, wish: str = "feasible",
        hint: Ints | None = None, told: int | None = None, proven: int | None = None,
        least: int | None = None,
    ) -> Solved:  # fmt: skip
        """Run CP-SAT until its answer keeps the real limits, cutting off those that do not.

        `told` and `proven` are value and bound told before; no worse ones are told. With `least` the value
        of no answer is below it, and none above `told` is asked for.
        """
        band = None if least is None or told is None else (least, told)

        def tell(best: int | None, bound: int | None) -> None:
            nonlocal told
            if best is not None:
                told = best if told is None else min(told, best)
            known = [value for value in (bound, proven) if value is not None]
            self.progress(wish, told, max(known, default=None))

        while True:
            try:
                solved = cp_sat(program, objective, self.search, self.clock.ends, hint, tell, band)
            except RowTooLarge as too_large:
                return Solved("UNKNOWN", None, reason=f"no engine counts this exactly: {too_large}")
            self.clock.watch()
            if solved.x is None or program.allowed(solved.x):
                narrower = _narrower(objective, solved, band)
                if narrower is None or self.clock.over():
                    return solved
                hint, band = solved.x, narrower  # within which it may be counted exactly
                continue
            if self.clock.over():
                return Solved("UNKNOWN", None, solved.bound)
            program = program.without(solved.x)


def _narrower(
    objective: Objective | None, solved: Solved, band: tuple[int, int] | None
) -> tuple[int, int] | None:
    """Return what a coarse count leaves between bound and answer, if that is less than the band was."""
    if objective is None or solved.x is None or solved.bound is None or not solved.reason:
        return None
    left = (solved.bound, objective.value(solved.x))
    return left if band is None or left[1] - left[0] < band[1] - band[0] else None


def search_rows_of_answer(program: Program, x: Ints) -> FirstRows:
    """Return the rows of the first table that an answer of a program (a value per column) takes."""
    return FirstRows(program.table.index[program.taken(x)])


def search_columns_of_answer(program: Program, rows: FirstRows) -> Ints:
    """Return an answer as a program's columns: 1 for its rows and what they need, 0 for all others.

    Raises BoundBroken if the program lacks a row of it: no bound may drop rows of an answer at hand.
    """
    refuse_dropped(rows, program.table.index)
    return program.with_needed_columns(program.table.places_of(rows))
