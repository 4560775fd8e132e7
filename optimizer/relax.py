"""The linear relaxation of a program, solved on few rows at a time.

Of tens of thousands of rows an optimal answer of the relaxation uses a handful per joint. So HiGHS gets
a few rows, its multipliers price all others exactly (`multipliers`), and those that would gain join in,
until none would. Every round gives a valid bound; the best is kept.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, sparse

from optimizer.ascent import climb, prices_of
from optimizer.catalogue import Floats, Ints
from optimizer.multipliers import Bound, Multipliers, evaluate, rounded
from optimizer.program import Objective, Owners, Program

#: Rows per joint to start with, by either order.
FIRST_ROWS = 4
#: Rows per joint that may join in one round.
JOINING_ROWS = 6
#: Ring parts that may join whole in one round.
JOINING_PARTS = 60
#: Most rounds, and those for a large program that may still lose rows before it is worth more.
ROUNDS, LARGE_ROUNDS = 80, 3
#: Rows from which good multipliers are first climbed to, turns of that, and rows per joint to go on with.
CLIMB_ROWS, CLIMB_TURNS, CLIMBED_ROWS = 30_000, 300, 12
#: Share of the best multipliers so far in those that price the rows of a large program: a linear
#: program's own jump about.
STEADY = 0.5
#: HiGHS works to 1e-7 absolutely; weights are brought to about this size for it.
LP_SIZE = 1e4


@dataclass(frozen=True)
class Relaxed:
    """What the relaxation gave: its best bound, and its rows with their shares in the last optimum."""

    bound: Bound
    rows: NDArray[np.intp]
    shares: Floats
    optimum: float

    def whole_rows(self) -> NDArray[np.intp] | None:
        """Return the rows taken, if the optimum took every one of them whole."""
        taken = self.shares > 0.5
        whole = np.all(np.minimum(self.shares, 1.0 - self.shares) < 1e-6)
        return self.rows[taken] if whole else None


@dataclass(frozen=True)
class Lines:
    """A program on some rows as matrices: upper x <= right, equal x = equal_right.

    x holds `columns` of the program and then the head patterns, which weigh nothing.
    """

    columns: NDArray[np.intp]
    upper: sparse.csr_array
    right: Ints
    equal: sparse.csr_array
    equal_right: Floats
    patterns: int
    part_pairs: NDArray[np.intp]
    cutter_pairs: NDArray[np.intp]


def lines_of(program: Program, rows: NDArray[np.intp]) -> Lines:
    """Return the program on the given rows, with the parts and cutters that they need."""
    part = _asked(program.parts, rows)
    cutter = _asked(program.cutters, rows)
    columns = np.concatenate([rows, np.unique(part.owner), np.unique(cutter.owner)])
    place = np.full(program.columns, -1, dtype=np.int64)
    place[columns] = np.arange(len(columns))
    upper = [
        _pair_lines(asked, place, len(columns)) for asked in (part, cutter) if len(asked.pairs)
    ]
    upper.append(program.limits.weights[:, columns])
    right = np.concatenate(
        [np.zeros(len(part.pairs) + len(cutter.pairs), dtype=np.int64), program.limits.right]
    )
    one_each = _ones(program.joint[rows], np.arange(len(rows)), program.joints, len(columns))
    stacked = sparse.csr_array(sparse.vstack(upper))
    equal = [one_each, *_pattern_lines(program, rows, len(columns))]
    extra = program.patterns.size
    if extra:
        stacked.resize((stacked.shape[0], len(columns) + extra))
        equal[0].resize((program.joints, len(columns) + extra))
    equal_right = np.zeros(sum(block.shape[0] for block in equal))
    equal_right[: program.joints] = program.present
    equal_right[len(equal_right) - len(program.patterns.groups) :] = 1.0
    return Lines(
        columns, stacked, right, sparse.csr_array(sparse.vstack(equal)), equal_right, extra,
        part.pairs, cutter.pairs,
    )  # fmt: skip


def _ones(line: Ints, column: Ints, lines: int, columns: int) -> sparse.csr_array:
    return sparse.csr_array((np.ones(len(line), np.int64), (line, column)), shape=(lines, columns))


def _pattern_lines(
    program: Program, rows: NDArray[np.intp], columns: int
) -> list[sparse.csr_array]:  # fmt: skip
    """Return lines by which rows show the head pattern taken, and by which one pattern is taken."""
    patterns = program.patterns
    if not patterns.size:
        return []
    choice = patterns.choice[rows]
    row = np.flatnonzero(choice >= 0)
    first = np.cumsum([0, *(len(group) for group in patterns.groups)])
    number = [
        np.repeat(np.arange(len(g)) + f, g.shape[1])
        for g, f in zip(patterns.groups, first[:-1], strict=True)
    ]
    shown = np.concatenate([group.ravel() for group in patterns.groups])
    width = columns + patterns.size
    show = _ones(choice[row], row, patterns.choices, width) - _ones(
        shown, columns + np.concatenate(number), patterns.choices, width
    )
    robot = np.repeat(np.arange(len(patterns.groups)), np.diff(first))
    take = _ones(robot, columns + np.arange(patterns.size), len(patterns.groups), width)
    return [show, take]


@dataclass(frozen=True)
class _Asked:
    """Pairs that some rows belong to: which, whose, and for every such row its place and line."""

    pairs: NDArray[np.intp]
    owner: Ints
    row: NDArray[np.intp]
    line: NDArray[np.intp]


def _asked(owners: Owners, rows: NDArray[np.intp]) -> _Asked:
    pair = owners.pair[rows]
    row = np.flatnonzero(pair >= 0)
    pairs, line = np.unique(pair[row], return_inverse=True)
    return _Asked(pairs, owners.owner[pairs] if len(pairs) else owners.owner[:0], row, line)


def _pair_lines(asked: _Asked, place: Ints, columns: int) -> sparse.csr_array:
    """Return one line per pair: 1 for each of its rows, -1 for the column it needs."""
    count = len(asked.pairs)
    value = np.concatenate([np.ones(len(asked.row), np.int64), np.full(count, -1)])
    line = np.concatenate([asked.line, np.arange(count)])
    column = np.concatenate([asked.row, place[asked.owner]])
    return sparse.csr_array((value, (line, column)), shape=(count, columns))


def relax(
    program: Program, objective: Objective, start: NDArray[np.intp], ends: float,
    thorough: bool = True,
) -> Relaxed | None:  # fmt: skip
    """Return the relaxation's best bound and last optimum; None if HiGHS gave none.

    `start` are rows of some answer, so that every round has an optimum. `ends` is a time of
    `time.monotonic`. If not `thorough`, a large program gets a few rounds only.
    """
    run = _Rounds(program, objective, start)
    for _ in range(LARGE_ROUNDS if run.large and not thorough else ROUNDS):
        left = ends - time.monotonic()
        if left <= 0.0 or not run.round(left):
            break
    return run.best


class _Rounds:
    """The rows that take part so far, the best bound, and the multipliers that gave it."""

    def __init__(self, program: Program, objective: Objective, start: NDArray[np.intp]) -> None:
        self.program, self.objective = program, objective
        self.active = np.zeros(program.rows, dtype=np.bool_)
        self.active[start] = True
        self.best: Relaxed | None = None
        self.center: Multipliers | None = None
        self.center_bound: Bound | None = None
        self.large = program.rows >= CLIMB_ROWS and len(program.parts.owner) > 0
        if self.large:
            worth = float(
                objective.weights[start].sum() + objective.weights[program.rows :].max(initial=0)
            )
            self._climb(prices_of(program, objective, start), 1.02 * worth)
        else:
            self.active |= first_rows(program, objective)

    def _climb(self, prices: Floats, target: float) -> None:
        """Climb from joint prices, and let the rows that then cost least take part."""
        climbed = climb(self.program, self.objective, prices, target, CLIMB_TURNS)
        bound = self._price(climbed.multipliers)
        if bound is not None:
            order = np.argsort(bound.costs, kind="stable")
            self.active[order[: CLIMBED_ROWS * self.program.joints]] = True

    def _price(self, real: Multipliers) -> Bound | None:
        """Return the bound of multipliers, and keep them if it is the best so far."""
        whole = rounded(self.program, self.objective, real)
        if whole is None:
            return None
        bound = evaluate(self.program, self.objective, whole)
        if self.center_bound is None or bound.value > self.center_bound.value:
            self.center, self.center_bound = real, bound
        return bound

    def round(self, left: float) -> bool:
        """Solve on the rows that take part, price the rest; returns whether more should follow."""
        rows = np.flatnonzero(self.active)
        lines = lines_of(self.program, rows)
        result = _linear_program(self.objective, lines, left)
        if result is None:
            return False
        real = _multipliers(self.program, lines, result)
        if self.large and self.best is None:
            # a smaller linear program's optimum is the best target to climb to
            center = self.center
            self._climb(real.joints if center is None else center.joints, result.optimum)
        joining: NDArray[np.intp] = np.empty(0, dtype=np.intp)
        for tried in self._tried(real):
            bound = self._price(tried)
            if bound is not None:
                joining = _gaining(self.program, bound, self.active)
            if len(joining):
                break
        if self.center_bound is None:
            return False
        self.best = Relaxed(self.center_bound, rows, result.x[: len(rows)], result.optimum)
        self.active[joining] = True
        reached = result.optimum - 1e-9 * max(1.0, abs(result.optimum))
        return len(joining) > 0 and self.center_bound.value < reached

    def _tried(self, real: Multipliers) -> list[Multipliers]:
        """Return the multipliers to price with: steadied ones first in a large program."""
        if not self.large or self.center is None:
            return [real]
        mixed = [
            STEADY * one + (1.0 - STEADY) * other
            for one, other in zip(self.center.parts(), real.parts(), strict=True)
        ]
        return [Multipliers(*mixed), real]


@dataclass(frozen=True)
class _Optimum:
    x: Floats
    optimum: float
    upper: Floats
    equal: Floats


def _linear_program(objective: Objective, lines: Lines, time_limit_s: float) -> _Optimum | None:
    weights = np.pad(objective.weights[lines.columns].astype(np.float64), (0, lines.patterns))
    size = max(1.0, float(weights.max(initial=0.0)) / LP_SIZE)
    result: Any = optimize.linprog(
        weights / size,
        A_ub=lines.upper.astype(np.float64),
        b_ub=lines.right.astype(np.float64),
        A_eq=lines.equal.astype(np.float64),
        b_eq=lines.equal_right,
        # E x = 1 keeps x below 1; without that bound prices come out at their largest
        bounds=(0.0, None),
        method="highs",
        options={"time_limit": time_limit_s},
    )
    if result.status != 0:
        return None
    upper, equal = result.ineqlin.marginals, result.eqlin.marginals
    return _Optimum(result.x, result.fun * size, -upper * size, -equal * size)


def _multipliers(program: Program, lines: Lines, result: _Optimum) -> Multipliers:
    """Return the program's multipliers from those of its lines; those of ring parts follow from them."""
    parts, cutters = len(lines.part_pairs), len(lines.cutter_pairs)
    of_cutters = np.zeros(len(program.cutters.owner))
    of_cutters[lines.cutter_pairs] = result.upper[parts : parts + cutters]
    joints, choices = program.joints, program.patterns.choices
    return Multipliers(
        limits=result.upper[parts + cutters :],
        joints=result.equal[:joints],
        cutters=of_cutters,
        heads=result.equal[joints : joints + choices],
    )


def first_rows(program: Program, objective: Objective) -> NDArray[np.bool_]:
    """Return, per joint, a few rows of least weight and a few that take least of the limits."""
    mask = np.zeros(program.rows, dtype=np.bool_)
    weight = objective.weights[: program.rows]
    for order in (weight, limit_shares(program)):
        mask[best_of_joint(program, (program.ranks[: program.rows], order), FIRST_ROWS)] = True
    return with_partners(program, mask)


def limit_shares(program: Program) -> Floats:
    """Return how much of the real limits each row takes; the least is the most accurate ring."""
    per_limit = 1.0 / np.maximum(program.real.right, 1e-300)
    return np.asarray(program.real.values[:, : program.rows].T @ per_limit)


def best_of_joint(
    program: Program, keys: tuple[NDArray[Any], ...], most: int
) -> NDArray[np.intp]:  # fmt: skip
    """Return the first rows of every joint by the last of `keys`, then the one before it."""
    order = np.lexsort((*keys, program.joint))
    joint = program.joint[order]
    place = np.arange(len(order)) - np.searchsorted(joint, joint)
    return order[place < most]


def with_partners(program: Program, mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Add, per joint, the lightest rows of every ring part of the rows, so that it can be shared."""
    part = program.parts.columns()
    wanted = np.zeros(program.columns + 1, dtype=np.bool_)
    wanted[part[mask]] = True
    wanted[-1] = False  # rows without a shared part
    return mask | wanted[part]


def _gaining(program: Program, bound: Bound, active: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Return rows that the multipliers of the active rows show to be worth having.

    Those of the ring parts that gain most, whole, and a few of every joint that are their own part.
    """
    prices, part = bound.row_prices, program.parts.columns()
    gaining = (prices < 0) & ~active
    shared = np.flatnonzero(gaining & (part >= 0))
    gain = bound.part_prices[part[shared] - program.rows]
    shared, gain = shared[gain < 0], gain[gain < 0]
    worst = np.unique(gain)[: max(JOINING_PARTS, program.joints // 10)]
    own = np.flatnonzero(gaining & (part < 0))
    own = own[np.lexsort((prices[own], program.joint[own]))]
    place = np.arange(len(own)) - np.searchsorted(program.joint[own], program.joint[own])
    few = shared[np.isin(gain, worst)]
    return np.concatenate([few, own[place < JOINING_ROWS]])
