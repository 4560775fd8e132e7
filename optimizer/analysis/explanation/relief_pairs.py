"""Reliefs of two limits that share the burden, and of several where two do not do.

Two limits: the pairs of values of which neither can be nearer to the one given without the other going
further (their front). Where no two limits are enough: one change after another, each the cheapest that
helps. They are verified like those of one limit (`reliefs`).
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from ringset.analysis.explanation.feasibility import Feasibility, Values
from ringset.analysis.explanation.reliefs import (
    Relief,
    explained_least_known_relief,
    explained_least_relief,
    explained_nearer_relief,
    explained_relief_touches_blocker,
)
from ringset.infeasibility.models import Blocker, Undecided
from ringset.rating.stated_limits import Limit, rated_limit_keeps

#: Most fronts that are shown, most points of one, and of one over joints, which takes searches.
FRONTS_MAX, POINTS_MAX, SEARCHED_MAX = 2, 4, 3
#: Most pairs of values that are verified and shown.
PAIRS_MAX = 4
#: Most pairs of limits tried where no two limits each help alone.
PAIRS_TRIED = 10


def explained_relief_fronts(
    feasibility: Feasibility, blockers: list[Blocker], limits: list[Limit], alone: list[Relief]
) -> list[list[Relief]]:
    """Return the fronts of pairs of limits, each its points, the pair that asks least first.

    With several reliefs of one limit at hand, of the best of these. Else of the one at hand with a limit
    that spares it some of its way, and of two others that meet all blockers; PAIRS_TRIED of either.
    """
    known = {relief.values[0][0]: relief.values[0][1] for relief in alone}
    best = [limit for limit in known if limit in limits][:3]
    pairs = list(combinations(best, 2))
    if not pairs:
        others = [limit for limit in limits if limit not in known]
        pairs = [
            *_with_the_only(feasibility, others, best, known),
            *_of_others(feasibility, blockers, others),
        ]
    found = [_front(feasibility, one, other, known) for one, other in pairs]
    return sorted(filter(None, found), key=lambda points: points[0].order)[:FRONTS_MAX]


def _with_the_only(
    feasibility: Feasibility, others: list[Limit], best: list[Limit], known: Values
) -> list[tuple[Limit, Limit]]:
    """Return pairs of the one limit that helps alone and another that lets it go less far.

    Limits over joints are tried first, then those that let most rings in.
    """
    if not best:
        return []
    (only,) = best
    end = explained_nearer_relief(only, known[only])
    if end == only.given:
        return []  # a step is all it takes

    def rows(other: Limit) -> int:
        furthest = None if other.shared else feasibility.furthest(other, {})
        return 0 if furthest is None else int(feasibility.allowed({other: furthest}).sum())

    tried = sorted(others, key=lambda other: (not other.shared, -rows(other)))[:PAIRS_TRIED]
    return [(only, other) for other in tried if _hopeful(feasibility, only, other, end)]


def _of_others(
    feasibility: Feasibility, blockers: list[Blocker], others: list[Limit]
) -> list[tuple[Limit, Limit]]:
    """Return pairs of limits that do not help alone, but meet all blockers together."""
    meeting = [
        (one, other)
        for one, other in combinations(others, 2)
        if all(
            explained_relief_touches_blocker(feasibility, one, b)
            or explained_relief_touches_blocker(feasibility, other, b)
            for b in blockers
        )
    ]
    # the same field on two joints first: what neither joint alone can give, both may
    meeting.sort(key=lambda pair: pair[0].field != pair[1].field)
    return [pair for pair in meeting[:PAIRS_TRIED] if _hopeful(feasibility, *pair)]


def _hopeful(feasibility: Feasibility, one: Limit, other: Limit, end: float | None = None) -> bool:
    """Say whether two limits make the study possible if both give way as far as is looked at.

    With an `end` the first goes no further than that.
    """
    furthest = {
        one: feasibility.furthest(one, {} if other.shared else {other: other.given}),
        other: feasibility.furthest(other, {} if one.shared else {one: one.given}),
    }
    values = {limit: value for limit, value in furthest.items() if value is not None}
    if end is not None:
        values[one] = end
    try:
        return len(values) == 2 and feasibility.possible(values)
    except Undecided:
        return False


def _front(
    feasibility: Feasibility, one: Limit, other: Limit, known: dict[Limit, float]
) -> list[Relief]:
    """Return the front of two limits, points with both changed, the one that asks least first."""
    points: list[tuple[float, float]] = []
    for value in _steps_before(feasibility, one, other, known.get(one)):
        second = explained_least_known_relief(feasibility, other, {one: value})
        if second is None or second == other.given:
            continue
        if points and abs(second - other.given) >= abs(points[-1][1] - other.given):
            continue  # as much of the second for more of the first
        first = explained_least_known_relief(
            feasibility, one, {other: second}
        )  # the least of the first that goes with it
        if first is not None and first != one.given:
            points.append((first, second))
    reliefs = [Relief(((one, a), (other, b))) for a, b in points]
    return sorted(dict.fromkeys(reliefs), key=lambda relief: relief.order)


def _steps_before(
    feasibility: Feasibility, one: Limit, other: Limit, end: float | None
) -> list[float]:
    """Return values of `one` between the given one and its relief, the nearest first, a few at most."""
    if one.shared:
        return _searched_steps(feasibility, one, other, end)
    also = {} if other.shared else {other: other.given}
    steps = feasibility.values_of(one, also)
    away = np.abs(steps - one.given)
    keep = away > 1e-9
    if end is not None:
        keep &= away < abs(end - one.given) - 1e-9
    steps = steps[keep]
    if len(steps) > POINTS_MAX:
        steps = steps[np.unique(np.linspace(0, len(steps) - 1, POINTS_MAX).astype(int))]
    return [float(step) for step in steps]


def _searched_steps(
    feasibility: Feasibility, one: Limit, other: Limit, end: float | None
) -> list[float]:
    """Return a few values of a limit over joints, over the whole reach of its front."""
    # from the least that will do if the other gives way, to where the other need give no more
    first, last = _alone(feasibility, one, other), end
    if end is None:
        least = _alone(feasibility, other, one)
        last = (
            None
            if least is None
            else explained_least_known_relief(feasibility, one, {other: least})
        )
    if first is None or last is None:
        return []
    sign = 1 if one.side == "at most" else -1
    start, stop = (sign * np.floor(sign * value / one.step + 1e-6) for value in (first, last))
    counts = np.unique(
        np.linspace(0, abs(stop - start), SEARCHED_MAX + (end is not None)).astype(int)
    )
    steps = [round(float(start + sign * int(count)) * one.step, 9) for count in counts]
    # the given value may be off the step, and the relief alone is no pair
    return [
        step
        for step in steps
        if sign * (step - one.given) > 1e-9 and (end is None or sign * (end - step) > 1e-9)
    ]


def _alone(feasibility: Feasibility, one: Limit, other: Limit) -> float | None:
    """Return the least value of a limit if another gives way as far as is looked at."""
    furthest = feasibility.furthest(other, {} if one.shared else {one: one.given})
    return (
        None
        if furthest is None
        else explained_least_known_relief(feasibility, one, {other: furthest})
    )


def explained_combined_relief(
    feasibility: Feasibility, blockers: list[Blocker], limits: list[Limit]
) -> Relief | None:
    """Return changes that make the study possible together, none of which could be a step less.

    Every joint without a ring is given one by the limit (or two) that asks least, then limits over
    joints follow. None if that does not lead to a possible study.
    """
    values: dict[Limit, float] = {}
    for blocked in sorted({b.joint for b in blockers if b.joint is not None}):
        step = _for_joint(feasibility, blocked, limits, values)
        if step is None:
            return None
        values.update(step)
    try:
        if not feasibility.possible(values):
            shared = _shared_together(feasibility, limits, values)
            if not shared:
                return None
            values.update(shared)
    except Undecided:
        return None
    return Relief(tuple(sorted(values.items(), key=lambda item: item[0].path)))


def _shared_together(
    feasibility: Feasibility, limits: list[Limit], values: Values
) -> dict[Limit, float]:
    """Return values of limits over joints that are possible with `values`; none if no values are.

    The one that asks least if one will do. Else all give way, and one after another is drawn in as far
    as the others let it.
    """
    shared = [limit for limit in limits if limit.shared]
    options = [
        (limit, value)
        for limit in shared
        if (value := explained_least_known_relief(feasibility, limit, values)) is not None
    ]
    if options:
        return dict([min(options, key=lambda option: option[0].change(option[1]))])
    given_way = {limit: float(feasibility.furthest(limit, {}) or 0.0) for limit in shared}
    if not feasibility.possible({**values, **given_way}):
        return {}
    for limit in shared:
        others = {other: value for other, value in given_way.items() if other != limit}
        if feasibility.possible({**values, **others}):
            given_way = others
            continue
        least = explained_least_relief(feasibility, limit, {**values, **others})
        if least is None:
            return {}
        given_way[limit] = least
    return given_way


def _for_joint(
    feasibility: Feasibility, index: int, limits: list[Limit], values: Values
) -> dict[Limit, float] | None:
    """Return the cheapest change of one limit or two that gives a joint a row, none if it has one."""
    joint = feasibility.world.joints[index]
    if feasibility.allowed(values)[joint.rows].any():
        return {}
    mine = [
        limit for limit in limits if not limit.shared and feasibility.numbers[limit] in joint.limits
    ]
    options: list[dict[Limit, float]] = []
    for count in (1, 2):
        for chosen in combinations(mine, count):
            options += _row_values(feasibility, index, chosen, values)
        if options:
            return min(options, key=lambda o: sum(limit.change(v) for limit, v in o.items()))
    return None


def _row_values(
    feasibility: Feasibility, index: int, chosen: tuple[Limit, ...], values: Values
) -> list[dict[Limit, float]]:
    """Return the values of the chosen limits that let the cheapest row of a joint in, if one can."""
    joint = feasibility.world.joints[index]
    held = {limit: value for limit, value in values.items() if not limit.shared}
    rows = joint.within(frozenset(feasibility.numbers[limit] for limit in (*held, *chosen)))
    asks, needs = np.zeros(len(rows)), {}
    for limit in dict.fromkeys((*held, *chosen)):
        if feasibility.numbers[limit] not in joint.limits:
            continue
        place = joint.limits.index(feasibility.numbers[limit])
        need = joint.need[place]
        beyond = joint.broken[place] & ~rated_limit_keeps(limit, need, held.get(limit, limit.given))
        if limit in chosen:
            needs[limit] = (need, beyond)
            share = limit.away(need) / max(abs(limit.given), limit.step)
            asks += np.where(beyond, share, 0.0)
            rows &= ~(beyond & np.isnan(need))  # what no value grants
        else:
            rows &= ~beyond
    places = np.flatnonzero(rows)
    if len(places) == 0:
        return []
    row = places[int(np.argmin(asks[places]))]
    return [
        {limit: limit.rounded(float(n[row])) for limit, (n, beyond) in needs.items() if beyond[row]}
    ]
