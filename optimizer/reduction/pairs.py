"""Exact reduction of rows that ask for two ring parts: a ring, and a second one on the same joint.

Theorem 5 (pairs). Let a ring be a joint's own if it is in rows of that joint only. Let rows A and B of a
joint need the same cutter (or let cutters not count), let B have no more heads, material, money and values
where these count, and let B hold every ring of A that is not the joint's own. Then some best answer does
without A: with B in its place the other joints keep theirs, and of the parts that only this joint needs at
most as many are left. For A's own rings leave, and B brings at most as many others, because both rows have
two rings; where parts cost money, B's others cost no more. Of equal rows the first in one order of all stays.
What holds the rings of a row that left holds those that the row itself would have driven out, so nothing is
lost by turns.

Theorem 6 (rings in no pair). Theorem 1 holds for rings that are in no pair and have no second beside them:
beside other such rows, R leaves wherever it stood and its part with it, and the part of S, once there, serves
others as before. So it is applied to the rows with one ring, and rings that are in a pair stay.

Where ring parts do not count, a pair is like one ring, and theorem 1 holds as it is.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints, Mask
from ringset.reduction.needs import Needs, reduction_counted_values
from ringset.reduction.table import Table, TableRows

#: Rows compared at once; bounds the memory.
_BLOCK = 512
#: Rounds; in each, rows that left may make more rings a joint's own.
_ROUNDS = 3


def reduced_to_one_ring(table: Table) -> Table:
    """Return the table with one number for each pair of rings, for where ring parts do not count."""
    if table.second is None:
        return table
    key = table.ring * (int(table.second.max()) + 2) + table.second + 1
    _, ring = np.unique(key, return_inverse=True)
    none = np.zeros(int(ring.max(initial=-1)) + 1)
    made = replace(table, ring=np.asarray(ring, dtype=np.int64), second=None, part_cost=none)
    return replace(made, counted_part=None)


def reduced_pairs(table: Table, needs: Needs) -> Mask:
    """Apply theorem 5 to the rows with two rings until nothing leaves; all other rows stay."""
    keep = np.ones(len(table), dtype=np.bool_)
    for _ in range(_ROUNDS):
        left = np.flatnonzero(keep)
        stays = _once(table.take(TableRows(left)), needs)
        if stays.all():
            break
        keep[left] = stays
    return keep


def reducible_pairs(table: Table) -> Mask:
    """Return which rows have two rings, or a ring that is in a pair."""
    if table.second is None:
        return np.zeros(len(table), dtype=np.bool_)
    paired = table.second >= 0
    rings = np.concatenate([table.ring[paired], table.second[paired]])
    return np.asarray(paired | np.isin(table.ring, rings))


def _once(table: Table, needs: Needs) -> Mask:
    """Apply theorem 5 once."""
    keep = np.ones(len(table), dtype=np.bool_)
    if table.second is None:
        return keep
    rows = np.flatnonzero(table.second >= 0)
    own = _own(table)
    shared = np.stack([table.ring[rows], table.second[rows]], axis=1)
    shared = np.where(own[shared], -1, shared)
    low, high = np.sort(shared, axis=1).T
    amounts = _amounts(table, rows, needs)
    # one order of all rows, in which whatever has no more of anything comes first
    whole = amounts.sum(axis=1)
    order = np.lexsort((table.index[rows], table.error[rows], whole))
    spot = table.joint[rows]
    if needs.cutters:
        spot = spot * (int(table.cutter.max()) + 2) + table.cutter[rows] + 1
    both = low >= 0
    one = ~both & (high >= 0)
    none = high < 0
    size = len(table.part_cost)
    out = np.zeros(len(rows), dtype=np.bool_)
    every = np.arange(len(rows))
    # rows that hold none, one, or both of their rings in common with other joints
    out |= none & _beaten(spot, every, amounts, order, len(rows))
    holds = np.concatenate([every[high >= 0], every[both]])
    ring = np.concatenate([high[high >= 0], low[both]])
    beaten = _beaten(spot[holds] * size + ring, holds, amounts, order, len(rows))
    out |= one & beaten
    pair = (spot * size + low) * size + high
    out |= both & _beaten(pair[both], every[both], amounts, order, len(rows))
    keep[rows[out]] = False
    return keep


def _own(table: Table) -> Mask:
    """Return which rings are in rows of one joint only, as first or as second rings."""
    assert table.second is not None
    paired = table.second >= 0
    ring = np.concatenate([table.ring, table.second[paired]])
    joint = np.concatenate([table.joint, table.joint[paired]])
    pairs = np.unique(ring * table.joints + joint)
    joints = np.bincount(pairs // table.joints, minlength=len(table.part_cost))
    return np.asarray(joints == 1)


def _amounts(table: Table, rows: NDArray[np.intp], needs: Needs) -> Floats:
    """Return what counts of rows, a column each: the money of parts too, where it is not the same for all."""
    columns = [*reduction_counted_values(table)[rows].T]
    if needs.ring_parts and table.counted_part is not None and table.second is not None:
        weight = table.part_weight
        columns.append((weight[table.ring[rows]] + weight[table.second[rows]]).astype(np.float64))
    if needs.heads:
        columns.append(table.heads[rows].astype(np.float64))
    if needs.material:
        columns.append(table.material_kg[rows])
    if needs.cost:
        columns.append(table.cost[rows])
        if len(np.unique(table.part_cost[table.every_ring])) > 1 and table.second is not None:
            columns.append(table.part_cost[table.ring[rows]] + table.part_cost[table.second[rows]])
    return np.stack(columns, axis=1) if columns else np.zeros((len(rows), 1))


def _beaten(
    group: Ints, members: NDArray[np.intp], amounts: Floats, order: NDArray[np.intp], rows: int
) -> Mask:
    """Return which rows some earlier row of one of their groups matches or undercuts in every amount.

    `members` are places in `amounts`, with the group of each; a row may be in several.
    """
    place = np.empty(rows, dtype=np.int64)
    place[order] = np.arange(rows)
    sort = np.lexsort((place[members], group))
    members, group = members[sort], group[sort]
    out = np.zeros(rows, dtype=np.bool_)
    if len(group) == 0:
        return out
    starts = np.flatnonzero(np.diff(group, prepend=group[:1] - 1))
    for mine in np.split(members, starts[1:]):
        out[mine[~_front(amounts[mine])]] = True
    return out


def _front(amounts: Floats) -> Mask:
    """Return which rows no earlier row matches or undercuts in every column."""
    kept = np.empty(0, dtype=np.intp)
    for start in range(0, len(amounts), _BLOCK):
        block = np.arange(start, min(start + _BLOCK, len(amounts)))
        block = block[~_below(amounts, block, kept)]
        kept = np.concatenate([kept, block[~_below(amounts, block, block)]])
    mask = np.zeros(len(amounts), dtype=np.bool_)
    mask[kept] = True
    return mask


def _below(amounts: Floats, block: NDArray[np.intp], pool: NDArray[np.intp]) -> Mask:
    """Return which rows of `block` some earlier row of `pool` matches or undercuts."""
    out = np.zeros(len(block), dtype=np.bool_)
    for start in range(0, len(pool), 4 * _BLOCK):
        some = pool[start : start + 4 * _BLOCK]
        under = some[np.newaxis, :] < block[:, np.newaxis]
        for column in amounts.T:
            under &= column[some][np.newaxis, :] <= column[block][:, np.newaxis]
        out |= under.any(axis=1)
    return out
