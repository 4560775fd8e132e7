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
(`lagrangian`), so nothing rests on this.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ringset.arrays import Floats, Ints
from ringset.reduction.table import TableRows
from ringset.search.bounds.lagrangian import Multipliers
from ringset.search.bounds.linear_program import glop_optimum
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program
from ringset.search.model.variables import Columns
from ringset.search.tuning import search_tuning


@dataclass(frozen=True)
class RadiusOptimum:
    """An optimum: rows and ring parts with what is taken of them, and the multipliers that belong to it."""

    rows: TableRows
    shares: Floats
    parts: Columns
    part_shares: Floats
    optimum: float
    multipliers: Multipliers


def has_radius_formulation(program: Program, objective: Objective) -> bool:
    """Say whether all that counts are ring parts, one a row, and no joint has a ring twice.

    Rows of shared parts are in no limit, and cutters cost nothing and are in none that could bind.
    """
    pairs = np.count_nonzero(program.parts.pair >= 0)
    if program.paired or program.patterns.size or pairs != len(program.parts.owner):
        return False
    cutters, limits = program.cutters.distinct, program.limits
    if np.any(objective.weights[cutters]):
        return False
    counting = limits.counting(cutters) if len(cutters) else []
    free = [line for line in counting if limits.right[line] >= len(cutters)]
    others = np.setdiff1d(np.arange(len(limits.names)), free)
    counted = limits.weights[others].tocoo()
    return bool(np.all(np.isin(counted.col[counted.data != 0], program.ring_columns)))


def radius_optimum(
    program: Program, objective: Objective, spare: float, time_limit_s: float
) -> RadiusOptimum | None:  # fmt: skip
    """Return the optimum of a program that `has_stairs`; None if GLOP has none in the time.

    What a joint without rings costs, and a limit that asks for more than there is, is `spare`.
    """
    stairs, columns = _Stairs.of(program, objective), program.ring_columns
    rings, steps, limits = len(columns), len(stairs.before), program.limits
    asking = np.flatnonzero(limits.right < 0)
    rise = np.where(stairs.last, spare, stairs.rise)
    shared = columns >= program.rows
    parts = np.where(shared, objective.weights[columns], 0)
    heights = np.bincount(stairs.step, rise, steps).astype(np.float64)
    weights = np.concatenate([parts, heights, np.full(len(asking), spare)])
    most = np.concatenate([np.ones(rings), np.full(steps + len(asking), np.inf)])
    right = np.concatenate([np.where(stairs.before >= 0, 0.0, -1.0), limits.right])
    size = max(1.0, float(weights.max(initial=0.0)) / search_tuning().lp_size)
    found = glop_optimum(
        weights / size, most, np.full(len(right), -np.inf), right,
        _matrix(stairs, limits.weights[:, columns].astype(np.float64), asking),
        time_limit_s, search_tuning().glop_radius,
    )  # fmt: skip
    if found is None:
        return None
    x, optimum, prices = found
    shares = stairs.shares(x[rings : rings + steps])
    lowest = np.zeros(program.joints)
    first = stairs.order[stairs.first]
    lowest[program.joint[first]] = objective.weights[first]
    worth = lowest + stairs.given(program, -prices[:steps] * size, heights, rise)
    of_limits, nothing = np.maximum(0.0, -prices[steps:] * size), np.zeros(0)
    return RadiusOptimum(
        TableRows(stairs.order[shares > 0.0]),
        shares[shares > 0.0],
        Columns(columns[shared]),
        x[:rings][shared],
        optimum * size + float(lowest.sum()),
        Multipliers(of_limits, -worth, np.zeros(len(program.cutters.owner)), nothing),
    )


def _matrix(stairs: _Stairs, counted: sparse.csr_array, asking: Ints) -> sparse.csr_array:
    """Return the lines of all steps, then those of the limits, over rings, steps and what is asked for."""
    rings, steps, follows = counted.shape[1], len(stairs.before), stairs.before >= 0
    lines = np.arange(steps)
    entries = np.concatenate([np.ones(np.count_nonzero(follows)), np.full(2 * steps, -1.0)])
    line = np.concatenate([lines[follows], lines, lines])
    column = np.concatenate([rings + stairs.before[follows], stairs.ring, rings + lines])
    shape = (steps, rings + steps + len(asking))
    on_steps = sparse.csr_array((entries, (line, column)), shape=shape)
    spare = (np.full(len(asking), -1.0), (asking, steps + np.arange(len(asking))))
    more = sparse.csr_array(spare, shape=(counted.shape[0], steps + len(asking)))
    return sparse.csr_array(sparse.vstack([on_steps, sparse.hstack([counted, more])], format="csr"))


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

    def shares(self, z: Floats) -> Floats:
        """Return what is taken of each row, in `order`, where z of a step is not taken up to it."""
        z = z.copy()
        for start, end in itertools.pairwise(self.floors[1:]):
            z[start:end] = np.minimum(z[start:end], z[self.before[start:end]])
        return np.where(self.before >= 0, z[self.before], 1.0)[self.step] - z[self.step]

    def given(self, program: Program, prices: Floats, heights: Floats, rise: Floats) -> Floats:
        """Return what the steps give to each joint, with the prices of their lines."""
        steps, follows = len(self.before), self.before >= 0
        kept = prices - np.bincount(self.before[follows], prices[follows], steps)
        # by what the step costs each of its joints; where it costs nobody anything, all alike
        weigh = np.where(heights[self.step] > 0.0, rise, 1.0)
        share = kept / np.bincount(self.step, weigh, steps)
        given = np.bincount(program.joint[self.order], weigh * share[self.step], program.joints)
        return given.astype(np.float64)

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
        columns = program.ring_columns
        ring = np.searchsorted(columns, program.parts.columns_or_rows()[order])
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
