"""One wish on its way down: the best answer known, what is proven, and the rows that could still do better.

Strategies read it and tell it what they found; nothing of it is assigned from outside. An answer is taken
if it keeps every limit and is better, a bound if it is higher, and either refuses what contradicts the other.
"""

from __future__ import annotations

from copy import copy
from dataclasses import replace

import numpy as np

from ringset.arrays import Ints
from ringset.reduction.table import FirstRows, Table
from ringset.schema.gives import Aim
from ringset.search.bounds.lagrangian import NamedMultipliers, refuse_beaten_bound, refuse_dropped
from ringset.search.model.constraints import Held, search_held_by_aim
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program
from ringset.search.state.context import (
    SearchContext,
    search_columns_of_answer,
    search_rows_of_answer,
)
from ringset.search.state.result import Confirmation, StageResult, search_stage_result


class Incumbent:
    """A wish being minimised.

    `best` are the rows of the best answer, `value` what it comes to and `low` what is proven of all that is
    left, both in whole units of the wish. `left` are the rows that a better answer could use, `program` is
    that of these rows or of more. `first` and `last` are multipliers: of all rows, of the rows left. So are
    `of_cutters`, of all rows of one cutter each, where every answer has one cutter.
    With `stop`, any answer will do that comes to no more. `in_part` says that only a part of the rows is
    looked at, so that what is proven is not proven for all. `reason` tells why a search of the rows left
    ended without a proof, if that was not the time.
    """

    reason: str = ""

    def __init__(
        self, context: SearchContext, wish: Aim, held: Held, table: Table, start: FirstRows,
        stop: int | None = None,
    ) -> None:  # fmt: skip
        self.context, self.wish, self.stop = context, wish, stop
        self.held = search_held_by_aim(held)
        self.left, self.low, self.in_part = table, 0, False
        self.first: NamedMultipliers | None = None
        self.last: NamedMultipliers | None = None
        self.of_cutters: dict[int, NamedMultipliers] = {}
        self.program = self.build(table)
        self.best = start
        self.value = self.objective.value(self.columns(self.program))

    # -- reading ---------------------------------------------------------------------------------

    @property
    def objective(self) -> Objective:
        """The wish over the columns of the program."""
        return self.program.objectives[self.wish]

    @property
    def worth(self) -> int:
        """What the best answer is worth in weights of the program."""
        return self.objective.weight_of(self.value)

    @property
    def settled(self) -> bool:
        """Nothing better than the best answer is possible."""
        return self.value <= self.low

    def enough(self) -> bool:
        """Say whether the answer at hand is as good as was asked for."""
        return self.stop is not None and self.value <= self.stop

    def build(self, table: Table) -> Program:
        """Return the wish's program of some rows."""
        return self.context.build(table, self.wish, self.held)

    def columns(self, program: Program) -> Ints:
        """Return the best answer as columns of a program; raises BoundBroken if it lacks a row of it."""
        return search_columns_of_answer(program, self.best)

    def within(self, program: Program) -> bool:
        """Say whether a program holds the best answer."""
        return bool(np.all(np.isin(self.best, program.table.index)))

    def result(self, confirmed_by: Confirmation) -> StageResult:
        """Return the outcome as it stands."""
        found = search_stage_result(self.wish, self.value, self.low, confirmed_by)
        return replace(found, reason=self.reason)

    # -- telling ---------------------------------------------------------------------------------

    def take(self, program: Program, x: Ints | None, least: int = 0) -> None:
        """Make an answer the best if it is allowed and better.

        `least` is proven for all answers of the program. Raises BoundBroken if the answer is below what
        is proven.
        """
        if x is not None and program.allowed(x):
            value = program.objectives[self.wish].value(x)
            refuse_beaten_bound(str(self.wish), value, max(self.low, least))
            if value < self.value:
                self.value, self.best = value, search_rows_of_answer(program, x)

    def prove(self, low: int) -> None:
        """Keep a bound of all that is left; raises BoundBroken if the answer at hand is below it."""
        refuse_beaten_bound(str(self.wish), self.value, low)
        self.low = max(self.low, low)

    def tell(self, low: int) -> None:
        """Keep a bound and report the progress."""
        self.prove(low)
        if not self.in_part:
            self.context.progress(str(self.wish), self.value, self.low)

    def stopped_by(self, reason: str) -> None:
        """Keep why a search ended without a proof, "" where it was the time."""
        self.reason = self.reason or reason

    def close(self) -> None:
        """Keep that nothing better than the best answer is left."""
        self.low = self.value

    def learn(self, multipliers: NamedMultipliers, of_all: bool = False) -> None:
        """Keep multipliers: of the rows left, or only of all rows; the first are those of all rows."""
        if self.first is None:
            self.first = multipliers
        if not of_all:
            self.last = multipliers

    def keep(self, table: Table) -> None:
        """Leave only some rows; raises BoundBroken if a row of the best answer is not among them."""
        refuse_dropped(self.best, table.index)
        self.left = table

    def narrow(self) -> None:
        """Make the program that of the rows left."""
        self.program = self.build(self.left)

    # -- parts -----------------------------------------------------------------------------------

    def child(
        self, table: Table, multipliers: NamedMultipliers | None, low: int, value: int | None = None
    ) -> Incumbent:
        """Return the incumbent of a part of the rows, with what bounds it and what is proven of it.

        It begins with the same best answer, or with `value`, which an answer of the part is to beat.
        """
        part = copy(self)
        part.left, part.last, part.low, part.in_part = table, multipliers, low, True
        part.value = self.value if value is None else value
        return part

    def adopt(self, part: Incumbent) -> None:
        """Take the best answer of a part if it is better."""
        if part.value < self.value:
            self.value, self.best = part.value, part.best
