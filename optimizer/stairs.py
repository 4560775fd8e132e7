"""The linear program of a program in which ring parts are all that counts, a stair of steps per joint.

With one row per joint and ring, a joint that may not have its lightest rings pays step by step for heavier
ones. Let its rows weigh w_1 <= w_2 <= ... and let z_k say that none of the first k is taken: then it pays
w_1 + sum of (w_k+1 - w_k) z_k, and z_(k-1) - z_k <= y of the ring of row k, with z_0 = 1. Stairs that begin
alike share their steps: what a step says depends on the rings before it alone, so the weights of all
joints on it are added. This is the radius formulation of location problems (Cornuejols, Nemhauser and
Wolsey, 1980), with three entries to a line, and has the optimum of the program with a column per row.

Multipliers of the joints follow. With the prices p of the lines, a step keeps p less those of the steps that
follow it, which is no more than its weight, and gives it to its joints by what each of them weighs there. A
joint is worth v = w_1 + all that its steps give to it: then v - w_k is no more than what the steps from k on
give to it, and all joints pay row k's ring no more than the price of the line. Any v gives a bound
(`multipliers`), so nothing rests on this.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from optimizer.catalogue import Floats, Ints
from optimizer.linear import LP_SIZE, glop_optimum
from optimizer.multipliers import Multipliers
from optimizer.program import Objective, Program

#: Nothing has been taken of any ring to begin with, which suits the dual simplex.
SETTINGS = ("use_preprocessing: false use_dual_simplex: true", "use_preprocessing: false")


@dataclass(frozen=True)
class Flat:
    """An optimum: rows and ring parts with what is taken of them, and the multipliers that belong to it."""

    rows: NDArray[np.intp]
    shares: Floats
    parts: NDArray[np.intp]
    part_shares: Floats
    optimum: float
    multipliers: Multipliers


def has_stairs(program: Program, objective: Objective) -> bool:
    """Say whether rows count in no limit, cutters in none that could bind, and no joint has a ring twice."""
    pairs = np.count_nonzero(program.parts.pair >= 0)
    if program.patterns.size or pairs != len(program.parts.owner):
        return False
    cutters, limits = np.unique(program.cutters.owner), program.limits
    if np.any(objective.weights[cutters]):
        return False
    counting = limits.counting(cutters) if len(cutters) else []
    free = [line for line in counting if limits.right[line] >= len(cutters)]
    others = np.setdiff1d(np.arange(len(limits.names)), free)
    counted = limits.weights[others].tocoo()
    return bool(np.all(np.isin(counted.col[counted.data != 0], _ring_columns(program))))


def flat_stairs(
    program: Program, objective: Objective, spare: float, time_limit_s: float
) -> Flat | None:  # fmt: skip
    """Return the optimum of a program that `has_stairs`; None if GLOP has none in the time.

    What a joint without rings costs, and a limit that asks for more than there is, is `spare`.
    """
    stairs = _Stairs.of(program, objective)
    columns = _ring_columns(program)
    rings, steps, limits = len(columns), len(stairs.before), program.limits
    follows = stairs.before >= 0
    lines = np.arange(steps)
    entries = np.concatenate([np.ones(np.count_nonzero(follows)), np.full(2 * steps, -1.0)])
    line = np.concatenate([lines[follows], lines, lines])
    column = np.concatenate([rings + stairs.before[follows], stairs.ring, rings + lines])
    asking = np.flatnonzero(limits.right < 0)
    on_steps = sparse.csr_array(
        (entries, (line, column)), shape=(steps, rings + steps + len(asking))
    )
    more = sparse.csr_array(
        (np.full(len(asking), -1.0), (asking, steps + np.arange(len(asking)))),
        shape=(len(limits.names), steps + len(asking)),
    )
    counted = sparse.hstack([limits.weights[:, columns].astype(np.float64), more])
    matrix = sparse.csr_array(sparse.vstack([on_steps, counted], format="csr"))
    right = np.concatenate([np.where(follows, 0.0, -1.0), limits.right])
    rise = np.where(stairs.last, spare, stairs.rise)
    heights = np.bincount(stairs.step, rise, steps)
    shared = columns >= program.rows
    weights = np.concatenate(
        [np.where(shared, objective.weights[columns], 0), heights, np.full(len(asking), spare)]
    )
    most = np.concatenate([np.ones(rings), np.full(steps + len(asking), np.inf)])
    size = max(1.0, float(weights.max(initial=0.0)) / LP_SIZE)
    found = glop_optimum(
        weights / size, most, np.full(len(right), -np.inf), right, matrix, time_limit_s, SETTINGS
    )
    if found is None:
        return None
    x, optimum, prices = found
    y, z, prices = x[:rings], stairs.falling(x[rings : rings + steps]), -prices * size
    shares = np.where(follows, z[stairs.before], 1.0)[stairs.step] - z[stairs.step]
    taken = shares > 0.0
    passed = prices[:steps] - np.bincount(stairs.before[follows], prices[:steps][follows], steps)
    # by what the step costs each of its joints; where it costs nobody anything, all alike
    weigh = np.where(heights[stairs.step] > 0.0, rise, 1.0)
    share = passed / np.bincount(stairs.step, weigh, steps)
    first = np.flatnonzero(stairs.first)
    joint = program.joint[stairs.order]
    worth = np.bincount(joint, weigh * share[stairs.step], program.joints)
    lowest = np.zeros(program.joints)
    lowest[joint[first]] = objective.weights[stairs.order[first]]
    return Flat(
        stairs.order[taken],
        shares[taken],
        columns[shared],
        y[shared],
        optimum * size + float(lowest.sum()),
        Multipliers(
            np.maximum(0.0, prices[steps:]),
            -(lowest + worth),
            np.zeros(len(program.cutters.owner)),
            np.zeros(0),
        ),
    )


def _ring_columns(program: Program) -> NDArray[np.intp]:
    """Return the columns that stand for ring parts: rows of a ring of one joint only, and shared parts."""
    return np.union1d(np.flatnonzero(program.parts.pair < 0), program.parts.owner)


@dataclass(frozen=True)
class _Stairs:
    """Steps of all joints: each one's step before (-1 for none) and the place of its ring's column.

    `order` has the rows by joint and weight. In that order, `step` is each row's step, `rise` what the
    joint's next row weighs more, and `first` and `last` say where stairs begin and end. Steps that are
    equally far up follow each other; `floors` tells where each lot starts.
    """

    before: Ints
    ring: Ints
    order: NDArray[np.intp]
    step: Ints
    rise: Floats
    first: NDArray[np.bool_]
    last: NDArray[np.bool_]
    floors: list[int]

    def falling(self, z: Floats) -> Floats:
        """Return what is not taken up to each step, no more than up to the step before."""
        z = z.copy()
        for start, end in itertools.pairwise(self.floors[1:]):
            z[start:end] = np.minimum(z[start:end], z[self.before[start:end]])
        return z

    @classmethod
    def of(cls, program: Program, objective: Objective) -> _Stairs:
        """Return the stairs of a program's joints."""
        weight = objective.weights[: program.rows]
        order = np.lexsort((program.table.ring, weight, program.joint))
        joint = program.joint[order]
        first = np.diff(joint, prepend=-1) != 0
        last = np.append(first[1:], True)
        starts = np.flatnonzero(first)
        length = np.diff(np.append(starts, len(order)))
        column = program.parts.columns()
        column = np.where(column >= 0, column, np.arange(program.rows))[order]
        columns = _ring_columns(program)
        ring = np.searchsorted(columns, column)
        step = np.full(len(order), -1, dtype=np.int64)
        before, rings, floors = [], [], [0]
        for depth in range(int(length.max(initial=0))):
            at = starts[length > depth] + depth
            behind = step[at - 1] if depth else np.full(len(at), -1, dtype=np.int64)
            key, place = np.unique(behind * len(columns) + ring[at], return_inverse=True)
            step[at] = floors[-1] + place
            behind_of, ring_of = np.divmod(key, len(columns))
            before.append(behind_of)
            rings.append(ring_of)
            floors.append(floors[-1] + len(key))
        rise = np.append(np.diff(weight[order]), 0).astype(np.float64)
        return cls(
            np.concatenate(before), np.concatenate(rings), order, step, rise, first, last, floors
        )  # fmt: skip
