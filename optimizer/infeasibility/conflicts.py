"""Blockers: the smallest sets of the user's own limits that cannot hold together, all of them.

A set of limits is a blocker if nothing keeps all its members and leaving out any one of them makes it
possible. Blockers and what must be given up are dual: a row that breaks the limits V needs one of V eased,
so the blockers of a joint are exactly the smallest sets that meet every V (minimal transversals).

1. A joint alone: V is known of every row of the widened catalogue (`analysis.explanation.widened`), so
   this is arithmetic.
2. Across joints: a ceiling or sum with some joints. Here possible answers come from the search: each gives
   a V (the members it does without), every smallest set that meets all V found so far is asked of the
   search, and either is a blocker or gives one more V. It ends when all are blockers.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from ringset.infeasibility.minimal_sets import smallest, transversals
from ringset.infeasibility.models import BLOCKERS_MAX, SEARCH_S, Found, Members, Undecided
from ringset.infeasibility.oracle import _Oracle, restricted, sifted_whatever
from ringset.rating.limits import Limit, shared_limits_of
from ringset.rating.rated import Weighed
from ringset.reduction.from_ratings import table_of
from ringset.schema.study import Study
from ringset.search.lexicographic import Solver
from ringset.search.model.program import units_of

# -- smallest sets that meet all ------------------------------------------------------------------------


# -- one joint alone -------------------------------------------------------------------------------------


# -- across joints ---------------------------------------------------------------------------------------


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
