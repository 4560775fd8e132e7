"""The last few answers, listed: every one that could still be better, by arithmetic alone.

Multipliers prove K w.x >= L + the price of every row in x (`lagrangian`), the prices of shared parts and
cutters left out. So an answer with w.x <= t has rows whose prices come to no more than K t - L. Joint by
joint, all beginnings within that room are listed that can still keep every limit with the least that the
other joints could take; where few remain to the end, the best of them is known without any search.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Ints
from ringset.search.bounds.lagrangian import Bound
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program
from ringset.search.model.variables import Owners
from ringset.search.tuning import search_tuning

#: Lists answers below a value: whether all of them could be listed, and the best.
Enumerated = Callable[[Program, Objective, Bound, int], tuple[bool, Ints | None]]


def best_enumerated(
    program: Program, objective: Objective, bound: Bound, best: int, most: int | None = None
) -> tuple[bool, Ints | None]:
    """Return whether all answers with w.x < `best` could be listed, and the best allowed one of them.

    `best` is in units of the weights. (True, None) proves that there is no such answer. At most `most`
    beginnings are kept at once, `tuning().listed_max` by default.
    """
    if not search_tuning().uses("enumeration"):
        return False, None
    listed_max = search_tuning().listed_max if most is None else most
    partial = _partial_answers(program, bound, best - 1, listed_max)
    if partial is None:
        return False, None
    found, least = None, best
    if len(partial) == 0:
        return True, None
    partial = partial[_kept(program, partial)]
    values = objective.weights[: program.rows][partial].sum(axis=1)
    for place in np.argsort(values, kind="stable"):
        if values[place] >= least:
            break
        x = program.with_needed_columns(partial[place])
        value = int(objective.weights @ x)
        if value < least and program.allowed(x):
            found, least = x, value
    return True, found


def nearest_enumerated(
    program: Program, objective: Objective, bound: Bound, best: int
) -> tuple[bool, Ints | None]:
    """Return what `best_enumerated` does, by lists of answers ever further from the bound.

    The best of the first list that is not empty is the best of all, so that an answer at hand far above it
    does no harm. Few beginnings are kept: it ends soon either way.
    """
    tune, prices = search_tuning(), np.sort(bound.costs)
    few = min(tune.listed_first, tune.listed_max)
    rows = float(tune.listed_rows * program.joints)
    while True:
        room = int(prices[min(int(rows), len(prices) - 1)])
        worth = min(best, -(-(bound.scaled + room) // bound.multipliers.scale) + 1)
        listed, x = best_enumerated(program, objective, bound, worth, few)
        if not listed or x is not None or worth == best:
            return listed, x
        if rows >= len(prices):
            return False, None
        rows *= tune.listed_growth


def _partial_answers(
    program: Program, bound: Bound, most: int, listed_max: int
) -> NDArray[np.intp] | None:
    """Return the rows of every answer within the room, one answer to a line; None if too many."""
    room = bound.multipliers.scale * most - bound.scaled
    price = bound.own_costs
    alive = np.flatnonzero(bound.usable(most))
    count = np.bincount(program.joint[alive], minlength=program.joints)[program.present]
    ordered = alive[np.argsort(program.joint[alive], kind="stable")]
    by_joint = sorted(np.split(ordered, np.cumsum(count)[:-1]), key=len)
    if room < 0 or len(by_joint[0]) == 0:
        return np.empty((0, len(by_joint)), dtype=np.intp)
    limits = program.limits
    # a line that a part or a cutter takes back from is not known by its rows alone
    owners = limits.weights[:, program.rows :].toarray()
    known = owners.min(axis=1, initial=0) >= 0
    weights = np.asarray(limits.weights[known, : program.rows].todense()).T  # rows x limits
    least = np.stack([weights[rows].min(axis=0) for rows in by_joint])
    # what the joints still to come need at least; parts and cutters only add to it
    rest = least[::-1].cumsum(axis=0)[::-1] - least
    paid, used = np.zeros(1, dtype=np.int64), np.zeros((1, weights.shape[1]), dtype=np.int64)
    steps: list[tuple[NDArray[np.intp], NDArray[np.intp]]] = []
    for turn, rows in enumerate(by_joint):
        if len(paid) * len(rows) > 4 * listed_max:
            return None
        which, row = np.divmod(np.arange(len(paid) * len(rows)), len(rows))
        row = rows[row]
        cost, sums = paid[which] + price[row], used[which] + weights[row]
        fits = (cost <= room) & np.all(sums + rest[turn] <= limits.right[known], axis=1)
        if np.count_nonzero(fits) > listed_max:
            return None
        steps.append((which[fits], row[fits]))
        paid, used = cost[fits], sums[fits]
    return _traced(steps)


def _traced(steps: list[tuple[NDArray[np.intp], NDArray[np.intp]]]) -> NDArray[np.intp]:
    """Return whole answers, a line each, from (beginning that it goes on from, row added) turn by turn."""
    place = np.arange(len(steps[-1][1]))
    chosen = np.empty((len(place), len(steps)), dtype=np.intp)
    for turn in range(len(steps) - 1, -1, -1):
        which, row = steps[turn]
        chosen[:, turn] = row[place]
        place = which[place]
    return chosen


def _kept(program: Program, answers: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Return which answers keep all limits; of the real ones `allowed` has the last word."""
    whole, real = program.limits, program.real
    kept = np.all(_totals(program, whole.weights.toarray(), answers) <= whole.right, axis=1)
    # far above rounding, far below a unit of the whole-number limits
    most = real.right * (1.0 + 1e-12)
    kept &= np.all(_totals(program, real.values.toarray(), answers) <= most, axis=1)
    return np.asarray(kept)


def _totals(program: Program, lines: NDArray[Any], answers: NDArray[np.intp]) -> NDArray[Any]:
    """Return what every answer comes to in each of some lines over all columns, answers x lines."""
    values = np.append(lines.T, np.zeros((1, len(lines)), lines.dtype), axis=0)
    totals = np.zeros((len(answers), len(lines)), lines.dtype)
    asked = [
        _once(answers, program.parts, program.seconds),
        _once(answers, program.cutters),
    ]
    for columns in (answers, *asked):
        for place in range(columns.shape[1]):
            totals += values[columns[:, place]]  # the last of the values, 0, is that of none
    return totals


def _once(answers: NDArray[np.intp], *kinds: Owners) -> NDArray[Any]:
    """Return the columns that every answer needs of owners of one kind, each once; -1 for none."""
    every = [o.columns()[answers] for o in kinds if o is kinds[0] or len(o.owner)]
    asked = np.sort(np.concatenate(every, axis=1), axis=1)
    asked[:, 1:][asked[:, 1:] == asked[:, :-1]] = -1
    return asked
