"""Blockers: the smallest sets of the user's own limits that cannot hold together, all of them.

A set of limits is a blocker if nothing keeps all its members and leaving out any one of them makes it
possible. Blockers and what must be given up are dual: a row that breaks the limits V needs one of V eased,
so the blockers of a joint are exactly the smallest sets that meet every V (minimal transversals).

1. A joint alone: V is known of every row of the widened catalogue (`universe`), so this is arithmetic.
2. Across joints: a ceiling or sum with some joints. Here possible answers come from the search: each gives
   a V (the members it does without), every smallest set that meets all V found so far is asked of the
   search, and either is a blocker or gives one more V. It ends when all are blockers.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from optimizer.catalogue import Ints, joint_refs
from optimizer.choose import Solver
from optimizer.electronics import cycle_us
from optimizer.own_limits import Limit, shared_limits_of
from optimizer.physics.limits import at_most
from optimizer.program import units_of
from optimizer.rate import Weighed
from optimizer.sift import sift
from optimizer.study import Study, Wish
from optimizer.table import Sums, Table, table_of
from optimizer.universe import Universe

#: Most blockers that are listed, most sets held while they are worked out, longest search for them.
BLOCKERS_MAX, SETS_MAX, SEARCH_S = 12, 20_000, 20.0
#: Longest single question to the search, in seconds.
QUESTION_S = 5.0

Members = frozenset[int]


@dataclass(frozen=True)
class Blocker:
    """Limits that cannot hold together: of joints by number in the universe, and those over joints.

    `joint` is the joint they leave without a ring, if it is one; else `joints` are whole joints, with
    every limit of theirs, that cannot keep the `shared` limits together.
    """

    joint: int | None = None
    limits: tuple[int, ...] = ()
    shared: tuple[Limit, ...] = ()
    joints: tuple[int, ...] = ()

    @property
    def size(self) -> int:
        """How many members it has."""
        return len(self.limits) + len(self.shared) + len(self.joints)


@dataclass(frozen=True)
class Found:
    """Blockers, the fewest members first; `complete` if there are no others."""

    blockers: tuple[Blocker, ...]
    complete: bool


class Undecided(RuntimeError):
    """The search ended before it knew."""


# -- smallest sets that meet all ------------------------------------------------------------------------


def smallest(sets: Iterable[Members]) -> list[Members]:
    """Return the sets that contain no other of them."""
    kept: list[Members] = []
    for one in sorted(set(sets), key=lambda s: (len(s), sorted(s))):
        if not any(other <= one for other in kept):
            kept.append(one)
    return kept


def transversals(sets: list[Members]) -> tuple[list[Members], bool]:
    """Return the smallest sets that meet every one of `sets`, and whether these are all (SETS_MAX).

    Set by set: what meets it already stays, the rest takes one of its members, and is kept where every
    member is the only one that meets some set (Berge's way). No set at all is met by the empty one.
    """
    found: list[Members] = [frozenset()]
    whole = True
    for place, one in enumerate(sets):
        meeting = [t for t in found if t & one]
        grown = {t | {m} for t in found if not t & one for m in one}
        done = sets[: place + 1]
        meeting += [t for t in sorted(grown, key=sorted) if _all_needed(t, done)]
        whole = whole and len(meeting) <= SETS_MAX
        found = meeting[:SETS_MAX]
    return sorted(found, key=lambda t: (len(t), sorted(t))), whole


def _all_needed(members: Members, sets: list[Members]) -> bool:
    """Say whether each member is the only one that meets some set."""
    alone = {next(iter(met)) for one in sets if len(met := members & one) == 1}
    return alone == members


# -- one joint alone -------------------------------------------------------------------------------------


def joint_blockers(world: Universe, index: int) -> Found:
    """Return the blockers of one joint; none if a row keeps all its limits."""
    mine = world.joints[index]
    patterns = np.unique(mine.broken, axis=1).T
    sets = smallest(frozenset(np.flatnonzero(pattern).tolist()) for pattern in patterns)
    if sets and not sets[0]:
        return Found((), True)
    found, whole = transversals(sets)
    blockers = [Blocker(index, tuple(mine.limits[m] for m in sorted(t))) for t in found]
    return Found(tuple(blockers[:BLOCKERS_MAX]), whole and len(blockers) <= BLOCKERS_MAX)


def best_values(world: Universe, blocker: Blocker) -> dict[int, float]:
    """Return, by number, the value at which each limit of a joint's blocker alone would let a ring in."""
    if blocker.joint is None:
        return {}
    mine, best = world.joints[blocker.joint], {}
    for number in blocker.limits:
        limit = world.limits[number]
        need = mine.need[mine.limits.index(number), mine.within(frozenset({number}))]
        if limit.side in ("at most", "at least") and len(need):
            value = limit.rounded(float(need.min() if limit.side == "at most" else need.max()))
            if value > 0.0:  # no field takes less
                best[number] = value
    return best


# -- across joints ---------------------------------------------------------------------------------------


def line_blockers(study: Study) -> list[Blocker]:
    """Return the polling times that no ring could meet."""
    return [
        Blocker(shared=(limit,))
        for limit in shared_limits_of(study)
        if limit.polled and not at_most(polling_us(study, limit), limit.given)
    ]


def polling_us(study: Study, limit: Limit) -> float:
    """Return how long it takes to poll the joints of a limit's robot, whatever their rings."""
    return cycle_us([ref for ref in joint_refs(study) if ref.robot.name == limit.robot])


def shared_blockers(study: Study, inside: Weighed, deadline_s: float = SEARCH_S) -> Found:
    """Return the blockers among limits over joints and whole joints, all joints having rings inside.

    A joint counts as left out with everything it adds to a ceiling or a sum.
    """
    table = sifted_whatever(study, table_of(study, inside))
    have = np.unique(table.joint).tolist()
    limits = [limit for limit in shared_limits_of(study) if not limit.polled]
    oracle = _Oracle(study, table, limits, have)
    ends = time.monotonic() + deadline_s
    try:
        found, whole = _dual(oracle.possible, len(limits) + len(have), ends)
    except Undecided:
        found, whole = oracle.blocking, False
    blockers = [oracle.blocker(members) for members in found]
    blockers.sort(key=lambda b: (b.size, [limit.path for limit in b.shared], b.joints))
    return Found(tuple(blockers[:BLOCKERS_MAX]), whole and len(blockers) <= BLOCKERS_MAX)


def colliding(study: Study, inside: Weighed) -> tuple[list[Limit], list[Limit]]:
    """Return the limits over joints that all joints cannot keep even alone; if none, some that collide.

    The latter are minimal by deletion, where the search knows. Cheaper than all blockers.
    """
    table = sifted_whatever(study, table_of(study, inside))
    have = np.unique(table.joint).tolist()
    limits = [limit for limit in shared_limits_of(study) if not limit.polled]
    oracle = _Oracle(study, table, limits, have)
    joints = frozenset(range(len(limits), len(limits) + len(have)))

    def possible(members: Members) -> bool:
        try:
            return oracle.possible(members | joints)
        except Undecided:
            return True

    alone = [limit for number, limit in enumerate(limits) if not possible(frozenset({number}))]
    conflict = [] if alone else sorted(_shrunk(possible, frozenset(range(len(limits)))))
    return alone, [limits[number] for number in conflict]


def least_alone(study: Study, inside: Weighed, limit: Limit) -> float | None:
    """Return the least that a wish comes to without any limit over joints; None where not proven."""
    if limit.wish is None:
        return None
    table = sifted_whatever(study, table_of(study, inside))
    table = restricted(study, table, np.unique(table.joint).tolist(), [])
    solver = Solver(table, units_of(table), {}, study.search)
    start = solver.start()
    if start.rows is None:
        return None
    stage, _ = solver.minimise(limit.wish, {}, start.rows)
    return float(stage.value * solver.units.size(limit.wish)) if stage.proven else None


def _dual(
    possible: Callable[[Members], bool], members: int, ends: float
) -> tuple[list[Members], bool]:
    """Return all smallest sets of members that are not possible together, as far as time allows."""
    everything = frozenset(range(members))
    without: list[Members] = []
    if possible(everything):
        return [], True
    blocking = {_shrunk(possible, everything)}
    while time.monotonic() < ends:
        candidates, whole = transversals(without)
        open_ones = [one for one in candidates if one not in blocking]
        if not open_ones:
            return list(blocking), whole
        if len(blocking) > BLOCKERS_MAX:
            break
        one = open_ones[0]
        if possible(one):
            without = smallest([*without, everything - _grown(possible, one, everything)])
        else:
            blocking.add(_shrunk(possible, one))
    return list(blocking), False


def _shrunk(possible: Callable[[Members], bool], members: Members) -> Members:
    """Drop members one by one as long as the rest is not possible."""
    for one in sorted(members, reverse=True):
        if not possible(members - {one}):
            members = members - {one}
    return members


def _grown(possible: Callable[[Members], bool], members: Members, everything: Members) -> Members:
    """Add members one by one as long as all are possible together."""
    for one in sorted(everything - members):
        if possible(members | {one}):
            members = members | {one}
    return members


class _Oracle:
    """Asks the search whether some limits over joints and some joints are possible together."""

    def __init__(self, study: Study, table: Table, limits: list[Limit], have: list[int]) -> None:
        self.study, self.table, self.limits, self.have = study, table, limits, have
        self.known: dict[Members, bool] = {}

    @property
    def blocking(self) -> list[Members]:
        """Sets found impossible of which every smaller one asked for was possible."""
        wrong = smallest(m for m, good in self.known.items() if not good)
        return [m for m in wrong if all(self.known.get(m - {one}, False) for one in m)]

    def blocker(self, members: Members) -> Blocker:
        """Return members as a blocker."""
        number = len(self.limits)
        return Blocker(
            shared=tuple(self.limits[m] for m in sorted(members) if m < number),
            joints=tuple(self.have[m - number] for m in sorted(members) if m >= number),
        )

    def possible(self, members: Members) -> bool:
        """Say whether there is an answer for the joints among the members that keeps their limits."""
        if members not in self.known:
            self.known[members] = self._asked(members)
        return self.known[members]

    def _asked(self, members: Members) -> bool:
        for other, good in self.known.items():
            if good and members <= other:
                return True
            if not good and other <= members:
                return False
        number = len(self.limits)
        limits = [self.limits[m] for m in sorted(members) if m < number]
        joints = [self.have[m - number] for m in sorted(members) if m >= number]
        if not joints or not limits:
            return True
        return table_possible(
            self.study, restricted(self.study, self.table, joints, limits), limits
        )


def restricted(study: Study, table: Table, joints: list[int], limits: list[Limit]) -> Table:
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
        index=np.arange(len(part)),
        sums=tuple(_held(sums, joints, held) for sums in part.sums),
    )


def sifted_whatever(study: Study, table: Table) -> Table:
    """Return the rows that `sift` leaves whatever the limits over joints, and whichever of them hold.

    Dominance asks for no more of any sum or wish on any joint, so it also holds for some of the joints.
    """
    have = np.unique(table.joint).tolist()  # a sum is of joints that have rows
    free = unbounded(restricted(study, table, have, shared_limits_of(study)))
    left = sift(free, frozenset(study.wishes.ceilings()))
    return table.take(left.index)


def unbounded(table: Table) -> Table:
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


def table_possible(study: Study, table: Table, limits: list[Limit]) -> bool:
    """Say whether some choice of rows keeps ceilings and sums; raises Undecided where nobody knows."""
    if len(np.unique(table.joint)) < table.joints:
        return False
    ceilings: dict[Wish, float] = {
        limit.wish: limit.given for limit in limits if limit.wish is not None
    }
    search = study.search.model_copy(
        update={"time_limit_s": min(QUESTION_S, study.search.time_limit_s), "workers": 1}
    )
    solver = Solver(table, units_of(table), ceilings, search)
    solver.sifted(frozenset(ceilings))  # what fewer ceilings need is then found among few rows
    start = solver.start()
    if start.rows is None and start.status != "impossible":
        raise Undecided("; ".join(start.reasons))
    return start.rows is not None
