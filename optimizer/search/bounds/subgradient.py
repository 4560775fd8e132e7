"""Good multipliers for very large programs, climbed to step by step instead of solved for.

With prices v for the joints, every ring part shows what it would gain (`lagrangian`), and of the parts
the best that a ceiling allows are opened. That is a bound for any v, and how often each joint is then
served tells in which direction v must change (a subgradient; steps after Polyak, 1969, towards a value
that an answer or a smaller linear program is known to reach). It costs milliseconds where the linear
program costs seconds, and comes to within a percent or so of it.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from ringset.arrays import Floats
from ringset.reduction.table import TableRows
from ringset.search.bounds.lagrangian import Bound, Multipliers, lagrangian_bound, whole_multipliers
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program
from ringset.search.tuning import search_tuning


@dataclass(frozen=True)
class Climbed:
    """The best bound on the way, in units of the weights, and the multipliers that give it."""

    bound: float
    multipliers: Multipliers


def climb(
    program: Program, objective: Objective, start: Floats, target: float, turns: int, ends: float
) -> Climbed:  # fmt: skip
    """Return the best of `turns` steps from the joint prices `start` towards a bound of `target`.

    `ends`, a time of `time.monotonic`, ends the climb sooner.
    """
    return _Climb(program, objective, ends).run(start, target, turns)


def climbed_bound(
    program: Program, objective: Objective, prices: Floats, most: int, ends: float
) -> Bound | None:  # fmt: skip
    """Return a good exact bound, climbed to in short steps from joint prices; `most` is more than enough.

    Steps are good where what they are to reach is near, and a long climb is many short ones.
    """
    way, tune = _Climb(program, objective, ends), search_tuning()
    best, step = way.run(prices, float(most), 1), tune.step
    for _ in range(tune.steps_max):
        if step < tune.step_min or best.bound >= most:
            break
        target = min(best.bound + step * max(abs(best.bound), 1.0), float(most))
        tried = way.run(best.multipliers.joints, target, tune.step_turns)
        step = step if tried.bound >= target else step / 2.0
        best = max(best, tried, key=lambda climbed: climbed.bound)
    multipliers = whole_multipliers(program, objective, best.multipliers)
    return None if multipliers is None else lagrangian_bound(program, objective, multipliers)


def climb_start_prices(program: Program, objective: Objective, rows: TableRows) -> Floats:
    """Return joint prices to start from: a part of what each joint costs in an answer at hand."""
    prices = np.zeros(program.joints)
    prices[program.joint[rows]] = -0.1 * objective.weights[rows]
    return prices


class _Climb:
    """A program laid out for many turns: rows in order of their pairs of part and joint."""

    def __init__(self, program: Program, objective: Objective, ends: float) -> None:
        self.ends = ends
        self.program, self.present = program, program.present
        weights = objective.weights.astype(np.float64)
        rows = np.arange(program.rows)
        # a row of its own part is a part that only one joint can open
        single = program.parts.pair < 0
        owner = np.where(single, program.columns + rows, program.parts.columns())
        self.order = np.lexsort((program.joint, owner))
        key = owner[self.order] * program.joints + program.joint[self.order]
        self.starts = np.flatnonzero(np.diff(key, prepend=np.int64(-1)))
        self.joint_of_row = program.joint[self.order]
        self.joint = self.joint_of_row[self.starts]
        parts, self.owner = np.unique(owner[self.order][self.starts], return_inverse=True)
        shared = parts < program.columns
        self.weights = weights[: program.rows][self.order]
        self.part_weights = np.where(shared, weights[np.minimum(parts, program.columns - 1)], 0.0)
        self.line, self.most = self._ceiling()

    def _ceiling(self) -> tuple[int, int | None]:
        """Return the limit that counts every ring part once, and what it allows."""
        program, limits = self.program, self.program.limits
        lines = limits.counting(program.ring_columns)
        if not lines:
            return -1, None
        line = min(lines, key=lambda line: int(limits.right[line]))
        return line, int(limits.right[line])

    def bound(self, prices: Floats) -> tuple[float, Floats, float]:
        """Return the bound of joint prices, its direction, and the price of opening one more part."""
        gain_of_pair = self.weights + prices[self.joint_of_row]
        if len(self.starts) < len(gain_of_pair):
            gain_of_pair = np.minimum.reduceat(gain_of_pair, self.starts)
        gain_of_pair = np.minimum(gain_of_pair, 0.0)
        gain = -np.bincount(self.owner, gain_of_pair, len(self.part_weights)) - self.part_weights
        opened, price = gain > 0.0, 0.0
        if self.most is not None and opened.sum() > self.most:
            best = np.argpartition(-gain, self.most)
            price = max(0.0, float(gain[best[self.most]]))
            opened[best[self.most :]] = False
        bound = -float(prices[self.present].sum()) - float(gain[opened].sum())
        served = self.joint[(gain_of_pair < 0.0) & opened[self.owner]]
        times = np.bincount(served, minlength=self.program.joints).astype(np.float64)
        return bound, times - self.present, price

    def run(self, start: Floats, target: float, turns: int) -> Climbed:
        """Climb; see `climb`."""
        tune = search_tuning()
        best, best_prices, best_price = -np.inf, start, 0.0
        prices, step, stalled = start, 1.0, 0
        direction: Floats | None = None
        for _ in range(turns):
            bound, fresh, price = self.bound(prices)
            if bound > best:
                stalled = 0 if bound > best + 1e-4 * (target - best) else stalled + 1
                best, best_prices, best_price = bound, prices, price
            else:
                stalled += 1
            if best >= target or time.monotonic() >= self.ends:
                break
            if stalled >= tune.climb_patience:
                step, stalled, prices, direction = step * tune.climb_shorter, 0, best_prices, None
                continue
            if direction is None:
                direction = fresh
            else:
                direction = tune.climb_fresh * fresh + (1.0 - tune.climb_fresh) * direction
            size = max(float(direction @ direction), 1e-9)
            prices = prices + step * max(target - bound, 0.0) / size * direction
        return Climbed(best, self._multipliers(best_prices, best_price))

    def _multipliers(self, prices: Floats, price: float) -> Multipliers:
        program = self.program
        limits = np.zeros(len(program.limits.names))
        if self.line >= 0:
            limits[self.line] = price
        cutters = np.zeros(len(program.cutters.owner))
        return Multipliers(limits, prices, cutters, np.zeros(program.patterns.choices))
