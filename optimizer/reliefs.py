"""Reliefs: the least changes of limits that make an impossible study possible, each verified.

One limit alone, where one will do: the least value, on the step that matters, at which the study is
possible. Two limits: the pairs of values of which neither can be nearer to the one given without the
other going further (their front). Where neither is enough: one change after another, each the cheapest
that helps. Least values come from rows rated once (`easing`); then every relief is solved as a study of
its own, and must be impossible again with any one of its values a step nearer to the one given.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from optimizer.blockers import Blocker, Undecided, polling_us
from optimizer.catalogue import Floats
from optimizer.easing import Easing, Values
from optimizer.own_limits import Limit
from optimizer.universe import keeps

#: Most single reliefs, fronts and points of a front that are worked out and verified.
SINGLES_MAX, FRONTS_MAX, POINTS_MAX = 6, 2, 4
#: Most pairs of limits tried where no single limit helps.
PAIRS_TRIED = 10


@dataclass(frozen=True)
class Relief:
    """Limits at new values; `asks` sums the changes, each relative to the value given."""

    values: tuple[tuple[Limit, float], ...]

    @property
    def asks(self) -> float:
        """How much it asks."""
        return sum(limit.change(value) for limit, value in self.values)

    @property
    def order(self) -> tuple[int, float, tuple[str, ...]]:
        """Where it stands among others: fewer changes, then smaller ones, then by path."""
        return len(self.values), self.asks, tuple(limit.path for limit, _ in self.values)

    def one_step_less(self) -> Iterator[Values]:
        """Yield its values with one of them a step nearer to the one given."""
        for limit, value in self.values:
            yield {**dict(self.values), limit: nearer(limit, value)}


def nearer(limit: Limit, value: float) -> float:
    """Return the value one step nearer to the given one; of head counts, none added."""
    return limit.given if limit.side == "counts" else limit.one_less(value)


def candidates(easing: Easing, blockers: Iterable[Blocker], fixed: frozenset[str]) -> list[Limit]:
    """Return the numeric limits in any of the blockers that the user has not fixed."""
    limits = easing.world.limits
    found: dict[Limit, None] = {}
    for blocker in blockers:
        found.update(dict.fromkeys(blocker.shared))
        mine = set(blocker.limits)
        for joint in blocker.joints:
            mine |= set(easing.world.joints[joint].limits)
        found.update(dict.fromkeys(limits[number] for number in sorted(mine)))
    return [limit for limit in found if limit.side != "kept" and limit.path not in fixed]


def touches(easing: Easing, limit: Limit, blocker: Blocker) -> bool:
    """Say whether a limit is in a blocker, or in one of its joints."""
    if limit.shared:
        return limit in blocker.shared
    number = easing.numbers[limit]
    joints = [easing.world.joints[joint] for joint in blocker.joints]
    return number in blocker.limits or any(number in joint.limits for joint in joints)


# -- one limit --------------------------------------------------------------------------------------------


def least_value(easing: Easing, limit: Limit, values: Values | None = None) -> float | None:
    """Return the value nearest to the given one at which the study is possible; None if there is none.

    `values` are other limits already eased. Raises Undecided where the search does not know.
    """
    values = values or {}
    if limit.shared:
        return _least_shared(easing, limit, values)
    asked, helps = easing.needs(limit, values)
    if not helps:
        return None
    steps = easing.values_of(limit, values)
    steps = steps[np.abs(steps - limit.given) > 0.5 * limit.step * (limit.side != "counts")]
    if limit.side == "counts":
        return next((s for s in steps.tolist() if easing.possible({**values, limit: s})), None)
    least = _arithmetic(limit, asked)
    start = int(np.searchsorted(np.abs(steps - limit.given), abs(least - limit.given) - 1e-9))
    return _first_possible(easing, limit, values, steps[start:])


def _arithmetic(limit: Limit, asked: list[Floats]) -> float:
    """Return the value that lets every joint without a row have one."""
    if not asked:
        return limit.given
    if limit.side == "at most":
        return limit.rounded(max(float(need.min()) for need in asked))
    return limit.rounded(min(float(need.max()) for need in asked))


def _first_possible(easing: Easing, limit: Limit, values: Values, steps: Floats) -> float | None:
    """Return the first of `steps` (each easier than the one before) that is possible, by bisection."""
    if len(steps) == 0:
        return None
    if easing.possible({**values, limit: float(steps[0])}):
        return float(steps[0])
    if not easing.possible({**values, limit: float(steps[-1])}):
        return None
    low, high = 0, len(steps) - 1
    while high - low > 1:
        middle = (low + high) // 2
        if easing.possible({**values, limit: float(steps[middle])}):
            high = middle
        else:
            low = middle
    return float(steps[high])


def _least_shared(easing: Easing, limit: Limit, values: Values) -> float | None:
    """Return the least ceiling or target, by the search."""
    keep = easing.allowed(values)
    if any(not keep[joint.rows].any() for joint in easing.world.joints):
        return None
    if limit.wish is not None:
        least = easing.least(limit.wish, limit, values)
        if least is None:
            return None
        # material is counted in whole units, rounded up: the true least may be a step below
        value = limit.rounded(least)
        below = limit.one_less(value)
        ok = limit.wish in ("material", "cost") and easing.possible({**values, limit: below})
        return below if ok else value
    if limit.field.endswith("cycle_max_us"):
        value = limit.rounded(polling_us(easing.study, limit))
        return value if easing.possible({**values, limit: value}) else None
    return _by_doubling(easing, limit, values)


def _by_doubling(easing: Easing, limit: Limit, values: Values) -> float | None:
    """Return the least value of a sum's limit: further and further away, then by bisection."""

    def at(steps: int) -> float:
        away = limit.given + (1 if limit.side == "at most" else -1) * steps * limit.step
        return limit.rounded(away)

    def good(steps: int) -> bool:
        return at(steps) > 0.0 and easing.possible({**values, limit: at(steps)})

    high = 1
    if limit.field == "tool_point_target_um":
        least = easing.least_tool_point(limit, values)
        if not np.isfinite(least):
            return None
        high = max(1, round(abs(limit.rounded(least) - limit.given) / limit.step))
        if good(high):
            return at(high)  # no ring could do with less
    while not good(high):
        high *= 2
        if at(high) <= 0.0 or at(high) > 100.0 * limit.given:
            return None
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if good(middle) else (middle, high)
    return at(high)


def singles(easing: Easing, blockers: list[Blocker], limits: list[Limit]) -> list[Relief]:
    """Return every relief of one limit, the one that asks least first."""
    found = []
    for limit in limits:
        if all(touches(easing, limit, blocker) for blocker in blockers):
            value = _known(easing, limit, {})
            if value is not None and value != limit.given:
                found.append(Relief(((limit, value),)))
    return sorted(found, key=lambda relief: relief.order)


def _known(easing: Easing, limit: Limit, values: Values) -> float | None:
    """Return the least value, or None also where the search does not know."""
    try:
        return least_value(easing, limit, values)
    except Undecided:
        return None


# -- two limits, and more -----------------------------------------------------------------------------------


def fronts(
    easing: Easing, blockers: list[Blocker], limits: list[Limit], alone: list[Relief]
) -> list[list[Relief]]:
    """Return the fronts of pairs of limits, each its points, the pair that asks least first.

    With several reliefs of one limit at hand, of the best of these; else of two other limits that meet
    all blockers, PAIRS_TRIED of them.
    """
    known = {relief.values[0][0]: relief.values[0][1] for relief in alone}
    best = [limit for limit in known if limit in limits][:3]
    pairs = list(combinations(best, 2))
    if not pairs:
        others = [limit for limit in limits if limit not in known]
        meeting = [
            (one, other)
            for one, other in combinations(others, 2)
            if all(touches(easing, one, b) or touches(easing, other, b) for b in blockers)
        ]
        # the same field on two joints first: what neither joint alone can give, both may
        meeting.sort(key=lambda pair: pair[0].field != pair[1].field)
        pairs = [pair for pair in meeting[:PAIRS_TRIED] if _hopeful(easing, *pair)]
    found = [_front(easing, one, other, known) for one, other in pairs]
    return sorted(filter(None, found), key=lambda points: points[0].order)[:FRONTS_MAX]


def _hopeful(easing: Easing, one: Limit, other: Limit) -> bool:
    """Say whether two limits make the study possible if both give way as far as is looked at."""
    furthest = {
        one: easing.furthest(one, {} if other.shared else {other: other.given}),
        other: easing.furthest(other, {} if one.shared else {one: one.given}),
    }
    values = {limit: value for limit, value in furthest.items() if value is not None}
    try:
        return len(values) == 2 and easing.possible(values)
    except Undecided:
        return False


def _front(easing: Easing, one: Limit, other: Limit, known: dict[Limit, float]) -> list[Relief]:
    """Return the front of two limits, points with both changed, the one that asks least first."""
    points: list[tuple[float, float]] = []
    for value in _steps_before(easing, one, other, known.get(one)):
        second = _known(easing, other, {one: value})
        if second is None or second == other.given:
            continue
        if points and abs(second - other.given) >= abs(points[-1][1] - other.given):
            continue  # as much of the second for more of the first
        first = _known(easing, one, {other: second})  # the least of the first that goes with it
        if first is not None and first != one.given:
            points.append((first, second))
    reliefs = [Relief(((one, a), (other, b))) for a, b in points]
    return sorted(dict.fromkeys(reliefs), key=lambda relief: relief.order)


def _steps_before(easing: Easing, one: Limit, other: Limit, end: float | None) -> list[float]:
    """Return values of `one` between the given one and its relief, the nearest first, POINTS_MAX at most."""
    if one.shared:
        last = one.given + 4 * one.step if end is None and one.step >= 1.0 else end
        if last is None:
            last = 1.5 * one.given if one.side == "at most" else 0.5 * one.given
        between = round(abs(last - one.given) / one.step)
        sign = 1.0 if one.side == "at most" else -1.0
        count = np.unique(np.linspace(1, between, POINTS_MAX + 2).astype(int))
        steps = np.array([round(one.given + sign * int(c) * one.step, 9) for c in count])
    else:
        also = {} if other.shared else {other: other.given}
        steps = easing.values_of(one, also)
    away = np.abs(steps - one.given)
    keep = away > 0.5 * one.step
    if end is not None:
        keep &= away < abs(end - one.given) - 1e-9
    steps = steps[keep]
    if len(steps) > POINTS_MAX:
        steps = steps[np.unique(np.linspace(0, len(steps) - 1, POINTS_MAX).astype(int))]
    return [float(step) for step in steps]


def together(easing: Easing, blockers: list[Blocker], limits: list[Limit]) -> Relief | None:
    """Return one change after another, each the cheapest that clears more blockers, until it is possible.

    Every joint without a ring is given one by the limit (or two) that asks least; last, limits over
    joints. None if that does not lead to a possible study.
    """
    values: dict[Limit, float] = {}
    for blocked in sorted({b.joint for b in blockers if b.joint is not None}):
        step = _for_joint(easing, blocked, limits, values)
        if step is None:
            return None
        values.update(step)
    try:
        if not easing.possible(values):
            shared = [limit for limit in easing.shared if limit in limits]
            options = [
                (limit, value)
                for limit in shared
                if (value := _known(easing, limit, values)) is not None
            ]
            if not options:
                return None
            limit, value = min(options, key=lambda option: option[0].change(option[1]))
            values[limit] = value
    except Undecided:
        return None
    return Relief(tuple(sorted(values.items(), key=lambda item: item[0].path)))


def _for_joint(
    easing: Easing, index: int, limits: list[Limit], values: Values
) -> dict[Limit, float] | None:
    """Return the cheapest change of one limit or two that gives a joint a row, none if it has one."""
    joint = easing.world.joints[index]
    if easing.allowed(values)[joint.rows].any():
        return {}
    mine = [limit for limit in limits if not limit.shared and easing.numbers[limit] in joint.limits]
    options: list[dict[Limit, float]] = []
    for count in (1, 2):
        for chosen in combinations(mine, count):
            options += _row_values(easing, index, chosen, values)
        if options:
            return min(options, key=lambda o: sum(limit.change(v) for limit, v in o.items()))
    return None


def _row_values(
    easing: Easing, index: int, chosen: tuple[Limit, ...], values: Values
) -> list[dict[Limit, float]]:
    """Return the values of the chosen limits that let the cheapest row of a joint in, if one can."""
    joint = easing.world.joints[index]
    held = {limit: value for limit, value in values.items() if not limit.shared}
    rows = joint.within(frozenset(easing.numbers[limit] for limit in (*held, *chosen)))
    asks, needs = np.zeros(len(rows)), {}
    for limit in dict.fromkeys((*held, *chosen)):
        if easing.numbers[limit] not in joint.limits:
            continue
        place = joint.limits.index(easing.numbers[limit])
        need = joint.need[place]
        beyond = joint.broken[place] & ~keeps(limit, need, held.get(limit, limit.given))
        if limit in chosen:
            needs[limit] = (need, beyond)
            share = np.abs(need - limit.given) / max(abs(limit.given), limit.step)
            asks += np.where(beyond, share, 0.0)
        else:
            rows &= ~beyond
    places = np.flatnonzero(rows)
    if len(places) == 0:
        return []
    row = places[int(np.argmin(asks[places]))]
    return [
        {limit: limit.rounded(float(n[row])) for limit, (n, beyond) in needs.items() if beyond[row]}
    ]
