"""Blockers of one joint alone, by arithmetic on every ring."""

from __future__ import annotations

import numpy as np

from ringset.analysis.explanation.widened import Universe
from ringset.catalogue.joints import catalogue_joints
from ringset.infeasibility.minimal_sets import impossible_transversals, smallest_impossible_sets
from ringset.infeasibility.models import Blocker, Found
from ringset.physics.limit_rule import number_at_most
from ringset.rating.robot_sums import rated_polling_cycle_us
from ringset.rating.stated_limits import Limit, rated_shared_limits
from ringset.schema.study import Study


def explain_joint_blockers(world: Universe, index: int) -> Found:
    """Return the blockers of one joint; none if a row keeps all its limits."""
    mine = world.joints[index]
    patterns = np.unique(mine.broken, axis=1).T
    sets = smallest_impossible_sets(
        frozenset(np.flatnonzero(pattern).tolist()) for pattern in patterns
    )
    if sets and not sets[0]:
        return Found((), True)
    found, whole = impossible_transversals(sets)
    blockers = [Blocker(index, tuple(mine.limits[m] for m in sorted(t))) for t in found]
    return Found.of(blockers, whole=whole)


def explained_best_values(world: Universe, blocker: Blocker) -> dict[int, float]:
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


def explained_lack_of_pairs(world: Universe, blocker: Blocker) -> bool:
    """Say whether a blocker names the second ring of a joint that has no two rings for it within reach."""
    if blocker.joint is None or "second_ring" not in {
        world.limits[number].field for number in blocker.limits
    }:
        return False
    mine = world.joints[blocker.joint].rows
    return not world.rated.catalogue.partner_teeth()[mine].any()


def explain_line_blockers(study: Study) -> list[Blocker]:
    """Return the polling times that no ring could meet."""
    return [
        Blocker(shared=(limit,))
        for limit in rated_shared_limits(study)
        if limit.polled and not number_at_most(explained_polling_us(study, limit), limit.given)
    ]


def explained_polling_us(study: Study, limit: Limit) -> float:
    """Return how long it takes to poll the joints of a limit's robot, whatever their rings."""
    return rated_polling_cycle_us(
        [ref for ref in catalogue_joints(study) if ref.robot.name == limit.robot]
    )
