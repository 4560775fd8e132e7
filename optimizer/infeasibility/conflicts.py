"""Blockers: the smallest sets of the user's own limits that cannot hold together.

A set of limits is a blocker if nothing keeps all its members and leaving out any one of them makes it
possible. Blockers and what must be given up are dual: an answer that does without the limits V needs one of V
eased, so the blockers are exactly the smallest sets that meet every V (minimal transversals).

Here are the blockers across joints: a ceiling or a sum with some joints. Which of them are possible together
the search says (`oracle`), and `minimal_sets.impossible_sets` decides what to ask. Blockers of one joint
alone need no search (`analysis.explanation.joint_conflicts`).
"""

from __future__ import annotations

import time

import numpy as np

from ringset.infeasibility.minimal_sets import (
    Members,
    minimal_impossible_sets,
    shrink_impossible_set,
)
from ringset.infeasibility.models import BLOCKERS_MAX, SEARCH_S, Found, Undecided
from ringset.infeasibility.oracle import Oracle, oracle_reduced_table, oracle_restricted_table
from ringset.rating.rated import Weighed
from ringset.rating.stated_limits import Limit
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.units import reduction_units
from ringset.schema.study import Study
from ringset.search.lexicographic import Solver


def infeasible_shared_blockers(
    study: Study, inside: Weighed, deadline_s: float = SEARCH_S
) -> Found:
    """Return the blockers among limits over joints and whole joints, as far as `deadline_s` seconds allow.

    `inside` are the rows that keep every limit of their joint; each joint has some. A joint counts as left
    out with everything it adds to a ceiling or a sum.
    """
    oracle = Oracle.of(study, inside)
    ends = time.monotonic() + deadline_s
    try:
        found, whole = minimal_impossible_sets(oracle.possible, oracle.members, BLOCKERS_MAX, ends)
    except Undecided:
        found, whole = oracle.blocking, False
    blockers = [oracle.blocker(members) for members in found]
    blockers.sort(key=lambda b: (b.size, [limit.path for limit in b.shared], b.joints))
    return Found.of(blockers, whole=whole)


def infeasible_colliding_limits(study: Study, inside: Weighed) -> tuple[list[Limit], list[Limit]]:
    """Return the limits over joints that all joints cannot keep even alone; if none, some that collide.

    The latter are minimal by deletion, where the search knows. Cheaper than all blockers.
    """
    oracle = Oracle.of(study, inside)
    limits, joints = oracle.limits, oracle.all_joints

    def possible(members: Members) -> bool:
        try:
            return oracle.possible(members | joints)
        except Undecided:
            return True

    alone = [limit for number, limit in enumerate(limits) if not possible(frozenset({number}))]
    conflict = (
        [] if alone else sorted(shrink_impossible_set(possible, frozenset(range(len(limits)))))
    )
    return alone, [limits[number] for number in conflict]


def infeasible_least_alone(study: Study, inside: Weighed, limit: Limit) -> float | None:
    """Return the least that a wish comes to without any limit over joints, in the unit of its ceiling.

    None where the limit is no ceiling of a wish, or the least is not proven.
    """
    if limit.wish is None:
        return None
    table = oracle_reduced_table(study, reduction_table(study, inside))
    table = oracle_restricted_table(study, table, np.unique(table.joint).tolist(), [])
    solver = Solver(table, reduction_units(table), {}, study.search)
    start = solver.start()
    if start.rows is None:
        return None
    stage, _ = solver.minimise(limit.wish, {}, start.rows)
    return float(stage.value * solver.units.size(limit.wish)) if stage.proven else None
