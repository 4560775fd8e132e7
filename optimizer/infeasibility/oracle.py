"""Asks the search whether some limits over joints and some joints are possible together.

Below it are the tables that such a question is asked of: some joints, some limits, or no limits at all.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ringset.arrays import Ints
from ringset.infeasibility.minimal_sets import Members, smallest_impossible_sets
from ringset.infeasibility.models import Blocker, Undecided
from ringset.rating.rated import Weighed
from ringset.rating.stated_limits import Limit, rated_shared_limits
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.reduce import reduce
from ringset.reduction.table import FirstRows, Sums, Table, TableRows
from ringset.reduction.units import reduction_units
from ringset.schema.study import Study, Wish
from ringset.search.lexicographic import Solver

#: Longest single question to the search, in seconds.
QUESTION_S = 5.0


class Oracle:
    """Says, asking the search, whether some limits over joints and some joints are possible together.

    Members are numbers: first those of `limits`, then those of `joints` (places in the canonical study).
    What follows from an earlier answer is not asked again.
    """

    def __init__(self, study: Study, table: Table, limits: list[Limit], joints: list[int]) -> None:
        self.study, self.table, self.limits, self.joints = study, table, limits, joints
        self.known: dict[Members, bool] = {}

    @classmethod
    def of(cls, study: Study, inside: Weighed) -> Oracle:
        """Return the oracle of the joints that have rows inside, and of all limits that rings can keep."""
        table = oracle_reduced_table(study, reduction_table(study, inside))
        limits = [limit for limit in rated_shared_limits(study) if not limit.polled]
        return cls(study, table, limits, np.unique(table.joint).tolist())

    @property
    def members(self) -> int:
        """How many limits and joints there are."""
        return len(self.limits) + len(self.joints)

    @property
    def all_joints(self) -> Members:
        """The members that are joints."""
        return frozenset(range(len(self.limits), self.members))

    @property
    def blocking(self) -> list[Members]:
        """Sets found impossible of which every smaller one asked for was possible."""
        wrong = smallest_impossible_sets(m for m, good in self.known.items() if not good)
        return [m for m in wrong if all(self.known.get(m - {one}, False) for one in m)]

    def blocker(self, members: Members) -> Blocker:
        """Return members as a blocker."""
        limits, joints = self._split(members)
        return Blocker(shared=tuple(limits), joints=tuple(joints))

    def possible(self, members: Members) -> bool:
        """Say whether there is an answer for the joints among the members that keeps their limits.

        Raises Undecided where the search ended before it knew.
        """
        if members not in self.known:
            self.known[members] = self._asked(members)
        return self.known[members]

    def _asked(self, members: Members) -> bool:
        for other, good in self.known.items():
            if good and members <= other:
                return True
            if not good and other <= members:
                return False
        limits, joints = self._split(members)
        if not joints or not limits:
            return True
        table = oracle_restricted_table(self.study, self.table, joints, limits)
        return ask_if_possible(self.study, table, limits)

    def _split(self, members: Members) -> tuple[list[Limit], list[int]]:
        """Return the limits and the joints among the members, each in order."""
        number = len(self.limits)
        return (
            [self.limits[m] for m in sorted(members) if m < number],
            [self.joints[m - number] for m in sorted(members) if m >= number],
        )


def ask_if_possible(study: Study, table: Table, limits: list[Limit]) -> bool:
    """Say whether some choice of rows, one a joint, keeps the ceilings among `limits` and the table's sums.

    Raises Undecided where the search does not know within `QUESTION_S`.
    """
    if len(np.unique(table.joint)) < table.joints:
        return False
    ceilings: dict[Wish, float] = {
        limit.wish: limit.given for limit in limits if limit.wish is not None
    }
    search = study.search.model_copy(
        update={"time_limit_s": min(QUESTION_S, study.search.time_limit_s), "workers": 1}
    )
    solver = Solver(table, reduction_units(table), ceilings, search)
    solver.reduced(frozenset(ceilings))  # what fewer ceilings need is then found among few rows
    start = solver.start()
    if start.rows is None and start.status != "impossible":
        raise Undecided("; ".join(start.reasons))
    return start.rows is not None


def oracle_restricted_table(
    study: Study, table: Table, joints: list[int], limits: list[Limit]
) -> Table:
    """Return the table with some of its joints and some of its limits over joints only."""
    place = np.full(table.joints, -1, dtype=np.int64)
    place[joints] = np.arange(len(joints))
    part = table.take(place[table.joint] >= 0)
    robots = {robot.name: index for index, robot in enumerate(study.robots)}
    held = {
        f"robots[{robots[limit.robot]}].{limit.field}"
        for limit in limits
        if limit.robot is not None
    }
    return replace(
        part,
        joints=len(joints),
        weight=table.weight[joints],
        joint=place[part.joint],
        index=FirstRows(np.arange(len(part))),
        sums=tuple(_held(sums, joints, held) for sums in part.sums),
    )


def oracle_reduced_table(study: Study, table: Table) -> Table:
    """Return the rows that the exact reduction leaves whichever of the limits over joints hold.

    Dominance asks for no more of any sum or wish on any joint, so it also holds for some of the joints.
    """
    have = np.unique(table.joint).tolist()  # a sum is of joints that have rows
    free = oracle_unlimited_table(
        oracle_restricted_table(study, table, have, rated_shared_limits(study))
    )
    left = reduce(free, frozenset(study.wishes.ceilings()))
    return table.take(TableRows(left.index))


def oracle_unlimited_table(table: Table) -> Table:
    """Return the table with its sums counted but not limited to anything they could come to."""
    sums = tuple(replace(s, limits=np.full(len(s.names), 1e300)) for s in table.sums)
    return replace(table, sums=sums)


def _held(sums: Sums, joints: list[int], held: set[str]) -> Sums:
    """Return sums over some joints, with the named limits only."""
    numbers = [number for number, name in enumerate(sums.names) if name in held]
    place: Ints = np.full(len(sums.names) + 1, -1, dtype=np.int64)
    place[numbers] = np.arange(len(numbers))
    names = tuple(sums.names[number] for number in numbers)
    group = place[sums.group[joints]]  # group -1 finds the last place, which stays -1
    return replace(sums, names=names, limits=sums.limits[numbers], group=group)
