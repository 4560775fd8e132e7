"""Reliefs: the least changes of limits that make an impossible study possible, each verified.

One limit alone, where one will do: the least value, on the step that matters, at which the study is
possible; two and more are for `relief_pairs`. Least values come from rows rated once (`feasibility`); then
every relief is solved as a study of its own, and must be impossible again with any one of its values a
step nearer to the one given.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from ringset.analysis.explanation.feasibility import Feasibility, Values
from ringset.analysis.explanation.joint_conflicts import explained_polling_us
from ringset.arrays import Floats
from ringset.infeasibility.models import Blocker, Undecided
from ringset.rating.ring_sums import RING_SUMS
from ringset.rating.stated_limits import Limit, rated_limit_supply
from ringset.schema.study import TOOL_POINT_TARGETS

#: Most single reliefs that are verified and shown.
SINGLES_MAX = 6
#: Most values that may be added to a list (of head counts, of bores) that are tried, the nearest first.
COUNTS_TRIED = 40
#: How many times the value given a limit of a sum may become.
FURTHEST = 100.0


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
            yield {**dict(self.values), limit: explained_nearer_relief(limit, value)}


def explained_nearer_relief(limit: Limit, value: float) -> float:
    """Return the value one step nearer to the given one; of head counts, none added."""
    return limit.given if limit.side == "counts" else limit.one_less(value)


def explained_relief_candidates(
    feasibility: Feasibility, blockers: Iterable[Blocker]
) -> list[Limit]:
    """Return the numeric limits in any of the blockers.

    With a battery's life its capacity, with a line's cycle its bit rate: they are limits from the other end.
    """
    limits = feasibility.world.limits
    found: dict[Limit, None] = {}
    for blocker in blockers:
        for limit in blocker.shared:
            supply = rated_limit_supply(feasibility.study, limit)
            found.update(dict.fromkeys([limit] if supply is None else [limit, supply]))
        mine = set(blocker.limits)
        for joint in blocker.joints:
            mine |= set(feasibility.world.joints[joint].limits)
        found.update(dict.fromkeys(limits[number] for number in sorted(mine)))
    return [limit for limit in found if limit.side != "kept"]


def explained_relief_touches_blocker(
    feasibility: Feasibility, limit: Limit, blocker: Blocker
) -> bool:
    """Say whether a limit is in a blocker, or in one of its joints."""
    if limit.shared:
        return any(limit.bounds == other.bounds for other in blocker.shared)
    number = feasibility.numbers[limit]
    joints = [feasibility.world.joints[joint] for joint in blocker.joints]
    return number in blocker.limits or any(number in joint.limits for joint in joints)


# -- one limit --------------------------------------------------------------------------------------------


def explained_least_relief(
    feasibility: Feasibility, limit: Limit, values: Values | None = None
) -> float | None:
    """Return the value nearest to the given one at which the study is possible; None if there is none.

    `values` are other limits already eased. Raises Undecided where the search does not know.
    """
    values = values or {}
    if limit.shared:
        return _least_shared(feasibility, limit, values)
    asked, helps = feasibility.needs(limit, values)
    if not helps:
        return None
    steps = feasibility.values_of(limit, values)
    steps = steps[limit.away(steps) > 1e-9]  # the given one need not be on the step
    if limit.side in ("counts", "multiples"):
        near = steps[:COUNTS_TRIED].tolist()
        return next((s for s in near if feasibility.possible({**values, limit: s})), None)
    least = _arithmetic(limit, asked)
    start = int(np.searchsorted(np.abs(steps - limit.given), abs(least - limit.given) - 1e-9))
    return _first_possible(feasibility, limit, values, steps[start:])


def _arithmetic(limit: Limit, asked: list[Floats]) -> float:
    """Return the value that lets every joint without a row have one."""
    if not asked:
        return limit.given
    if limit.side == "at most":
        return limit.rounded(max(float(need.min()) for need in asked))
    return limit.rounded(min(float(need.max()) for need in asked))


def _first_possible(
    feasibility: Feasibility, limit: Limit, values: Values, steps: Floats
) -> float | None:
    """Return the first of `steps` (each easier than the one before) that is possible, by bisection."""
    if len(steps) == 0:
        return None
    if feasibility.possible({**values, limit: float(steps[0])}):
        return float(steps[0])
    if not feasibility.possible({**values, limit: float(steps[-1])}):
        return None
    low, high = 0, len(steps) - 1
    while high - low > 1:
        middle = (low + high) // 2
        if feasibility.possible({**values, limit: float(steps[middle])}):
            high = middle
        else:
            low = middle
    return float(steps[high])


def _least_shared(feasibility: Feasibility, limit: Limit, values: Values) -> float | None:
    """Return the least ceiling or target, by the search."""
    keep = feasibility.allowed(values)
    if any(not keep[joint.rows].any() for joint in feasibility.world.joints):
        return None
    if limit.wish is not None:
        least = feasibility.least(limit.wish, limit, values)
        if least is None:
            return None
        if limit.wish not in ("material", "cost"):
            return limit.rounded(least)
        return _lowered(feasibility, limit, values, limit.rounded(least))
    if limit.polled:
        value = limit.rounded(explained_polling_us(feasibility.study, limit))
        return value if feasibility.possible({**values, limit: value}) else None
    return _by_doubling(feasibility, limit, values)


def _lowered(feasibility: Feasibility, limit: Limit, values: Values, value: float) -> float:
    """Return the least ceiling of an amount, from one that is possible and near it.

    Amounts are counted in whole units, rounded up piece by piece, so the least may be some steps below.
    """

    def good(steps: int) -> bool:
        at = limit.rounded(value - steps * limit.step)
        return at > limit.given and feasibility.possible({**values, limit: at})

    beyond = 1
    while good(beyond):
        beyond *= 2
    low = beyond // 2
    while beyond - low > 1:
        middle = (low + beyond) // 2
        low, beyond = (middle, beyond) if good(middle) else (low, middle)
    return limit.rounded(value - low * limit.step)


def _by_doubling(feasibility: Feasibility, limit: Limit, values: Values) -> float | None:
    """Return the least value of a sum's limit: further and further away, then by bisection."""
    sign = 1 if limit.side == "at most" else -1
    # steps are counted from the last one before the given value, which need not be on one
    start = sign * int(np.floor(sign * limit.given / limit.step + 1e-6))
    most = int(FURTHEST * limit.given / limit.step) - start if sign > 0 else start - 1

    def at(steps: int) -> float:
        return round((start + sign * steps) * limit.step, 9)

    def good(steps: int) -> bool:
        return feasibility.possible({**values, limit: at(steps)})

    low, high = 0, min(1, most)
    if limit.field in TOOL_POINT_TARGETS or limit.field in RING_SUMS:
        summed = limit.field in RING_SUMS
        least = (feasibility.least_ring_sum if summed else feasibility.least_tool_point)(
            limit, values
        )
        if not np.isfinite(least):
            return None
        high = max(1, round(limit.rounded(least) / limit.step) - start)
        if good(high):
            return at(high)  # no ring could do with less
    while high < 1 or not good(high):
        if high >= most:
            return None
        low, high = high, min(2 * high, most)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if good(middle) else (middle, high)
    return at(high)


def explained_single_reliefs(
    feasibility: Feasibility, blockers: list[Blocker], limits: list[Limit]
) -> list[Relief]:
    """Return every relief of one limit, the one that asks least first."""
    found = []
    for limit in limits:
        if all(
            explained_relief_touches_blocker(feasibility, limit, blocker) for blocker in blockers
        ):
            value = explained_least_known_relief(feasibility, limit, {})
            if value is not None and value != limit.given:
                found.append(Relief(((limit, value),)))
    return sorted(found, key=lambda relief: relief.order)


def explained_least_known_relief(
    feasibility: Feasibility, limit: Limit, values: Values
) -> float | None:
    """Return the least value, or None also where the search does not know."""
    try:
        return explained_least_relief(feasibility, limit, values)
    except Undecided:
        return None
