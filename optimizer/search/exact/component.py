"""One component of joints that share rings with no others: its least by the number of its ring parts."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from ringset.arrays import Ints
from ringset.reduction.table import FirstRows, Table
from ringset.search.bounds.lagrangian import (
    Bound,
    NamedMultipliers,
    lagrangian_bound,
    multipliers_for_program,
    named_multipliers,
    whole_multipliers,
)
from ringset.search.bounds.subgradient import climbed_bound
from ringset.search.exact.branch_and_bound import Count, program_with_counts, settle_by_branching
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program
from ringset.search.state.incumbent import Incumbent
from ringset.search.tuning import search_tuning

#: The name of a component's own count of ring parts.
COUNT = "count 0"
#: More than any answer comes to; sums over all components stay in 64 bits.
NEVER = 2**50


@dataclass(frozen=True)
class _Near:
    """Rows of answers below `most`, more of them that may be needed later, and multipliers of theirs."""

    table: Table
    wide: Table
    given: NamedMultipliers
    most: int


@dataclass
class Component:
    """Rows of one component, and what it comes to at least with at most k of its ring parts, for all k.

    `given` are multipliers to begin with, and `usual` the parts that they would take. By k, `shown` holds
    the rows of answers that come to little more, by no more than `room` at first and by more after each
    of the `tries`; `solved` holds the rows of the best.
    """

    table: Table
    given: NamedMultipliers
    least: Ints
    room: int
    usual: int = 1
    shown: dict[int, _Near] = field(default_factory=dict)
    tries: Counter[int] = field(default_factory=Counter)
    solved: dict[int, FirstRows] = field(default_factory=dict)

    @classmethod
    def of(
        cls, run: Incumbent, table: Table, given: NamedMultipliers, most: int, room: int
    ) -> Component:
        """Return a component with the bounds that multipliers of all rows give."""
        least = np.zeros(min(most, search_component_joint_count(table)) + 1, dtype=np.int64)
        component = cls(table, given, least, room)
        component.least[0] = NEVER
        program, objective = component.program(run, table, len(component.least) - 1)
        multipliers = whole_multipliers(
            program, objective, multipliers_for_program(program, objective, given)
        )
        if multipliers is not None:
            bound = lagrangian_bound(program, objective, multipliers)
            component.learn(program, objective, bound)
            opened = int(np.count_nonzero(bound.part_prices < 0))
            component.usual = min(max(opened, 1), len(component.least) - 1)
        return component

    def count(self, parts: int) -> Count:
        """Return the count of at most so many of the component's ring parts."""
        return Count(False, np.unique(self.table.ring), parts, at_least=False)

    def program(self, run: Incumbent, table: Table, parts: int) -> tuple[Program, Objective]:
        """Return the program of rows of the component with at most so many ring parts, and its wish."""
        program = program_with_counts(run.build(table), (self.count(parts),))
        return program, program.objectives[run.wish]

    def learn(self, program: Program, objective: Objective, bound: Bound) -> None:
        """Take what a bound with one number of parts says of every number."""
        line = program.limits.names.index(COUNT)
        price, right = int(bound.multipliers.limits[line]), int(program.limits.right[line])
        scaled = [bound.scaled + price * (right - k) for k in range(len(self.least))]
        raw = [-(-one // bound.multipliers.scale) for one in scaled]
        values = [min(objective.offset + objective.scale * one, NEVER) for one in raw]
        self._raise(np.array(values, dtype=np.int64))

    def is_at_least(self, parts: int, value: int) -> None:
        """Take that the component comes to no less than a value with so many parts."""
        least = self.least.copy()
        least[parts] = max(least[parts], value)
        self._raise(least)

    def _raise(self, least: Ints) -> None:
        least = np.maximum(self.least, least)
        # fewer parts never come to less
        self.least = np.maximum.accumulate(least[::-1])[::-1]

    def is_shown(self, parts: int) -> bool:
        """Say whether the next better answers with so many parts would be among the rows shown."""
        return parts in self.shown and self.shown[parts].most > self.least[parts]

    def look(self, run: Incumbent, parts: int, worth: int) -> bool:
        """Bound answers with so many parts by climbing, and leave the rows of those that are near."""
        before = self.shown.get(parts, _Near(self.table, self.table, self.given, 0))
        program, objective = self.program(run, before.wide, parts)
        raw = objective.weight_of(worth)
        given = multipliers_for_program(program, objective, before.given)
        bound = climbed_bound(program, objective, given.joints, raw, run.context.clock.ends)
        if bound is None:
            return False
        wide = program.table.take(bound.usable(raw - 1))
        low = objective.offset + objective.scale * bound.least
        if before.wide is self.table:
            self.learn(program, objective, bound)
        self.is_at_least(
            parts,
            worth
            if search_component_joint_count(wide) < search_component_joint_count(self.table)
            else min(low, worth),
        )
        near = min(
            worth,
            int(self.least[parts])
            + int(self.room * search_tuning().component_near_growth ** self.tries[parts]),
        )
        left = program.table.take(bound.usable(objective.weight_of(near) - 1))
        self.shown[parts] = _Near(
            left, wide, named_multipliers(program, objective, bound.multipliers), near
        )
        return True

    def solve(self, run: Incumbent, parts: int, worth: int) -> bool:
        """Find the best answer with so many parts, if it is near and below `worth`, or that it is not."""
        near = self.shown[parts]
        most = min(near.most, worth)
        piece = run.child(near.table, near.given, int(self.least[parts]), most)
        if search_component_joint_count(piece.left) == search_component_joint_count(self.table):
            if not settle_by_branching(piece, search_tuning().nodes_max, (self.count(parts),)):
                return False
            if piece.value < most:
                self.solved[parts] = piece.best
        self.is_at_least(parts, piece.value)
        self.tries[parts] += 1
        return True


def search_component_joint_count(table: Table) -> int:
    """Return how many joints have rows."""
    return len(np.unique(table.joint))
