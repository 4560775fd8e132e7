"""Stage 3: exact reduction. A row leaves only if a theorem says some best answer does without it.

Terms: a row is (joint, ring, head count); two rows of one ring are the same part. An answer takes one
row per joint and is judged by what is *needed*: those of cutters, ring parts, heads, material and cost
that it is minimised for or that have a ceiling, and the sums over the joints of each robot, which only
grow with the value of each row. What is not needed does not count.

Theorem 1 (dominance). Let ring S need the same cutter as ring R, and no more material and money a
piece, and let every row (joint, h heads, value e) of R have a row of S on the same joint with at most
h heads and, where the joint counts in a sum, at most value e. Then some best answer uses no row of R:
replacing R by S wherever it occurs adds no cutter (same one), no ring part (all R become S), no head,
no material, no money and no value; every ceiling and limit still holds. Rings that dominate each other
are ordered by all that could be needed, then by error, module, teeth and bore, and the first stays. If
ring parts are not needed, each joint may replace its row alone, and R and S need only share that joint.
If cutters are not needed, S may need another cutter; if heads, material or cost are not, S may have
more of them. Where ring parts stand already and do not count, one that counts is no S for one that does
not. A ring part's own money is counted with its pieces, a cutter's needs cutters.

Corollary (stages). Wishes are minimised one after another, the earlier ones held as ceilings. So each
stage needs only its own wish and those before it, and sees fewer rows than the whole study would.

Theorem 2 (fewer heads). Of two rows of one ring on one joint, the one with more heads leaves unless its
value is smaller and counts there, or its material or money is less.

Theorem 3 (sums). If a row's share of a sum, with the least possible share of every other joint of its
group, already exceeds the limit, no allowed answer uses it.

Theorem 4 (followers). Let only cutters and ring parts be needed. If every ring that joint i can take can
be taken by joint j too, and j counts in no sum, then j takes the ring of i at no cost: j is left out, and
what is best without it is best with it.

Where the rows of a ring on a joint differ by more than their heads and one value (mass or money that go by
heads, two sums), theorem 1 compares each with a row of as many heads, so that no two rows are taken for one
that has the best of both.

A sum that follows the heads (a battery) needs no condition on values in theorems 1 and 2, but needs
heads: both replace a row by one on the same joint, so with the same kind of head, and at most as many.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints, Mask
from ringset.reduction.needs import Needs, reduction_counted_values
from ringset.reduction.pairs import reduced_pairs, reduced_to_one_ring, reducible_pairs
from ringset.reduction.table import Table, TableRows, table_joint_heads, table_joint_heads_key
from ringset.schema.study import Wish

#: Rings compared at once in the dominance test; bounds its memory.
_BLOCK = 256
#: Rings looked at in turn where those of one place are compared: what leaves is not compared again.
_ROWS_AT_ONCE = 1024
#: Rows up to which all groups are compared at once.
_FEW = 512


def reduction_dominating_joints(table: Table, needed: frozenset[Wish]) -> Mask:
    """Return, per joint, False where it follows another by theorem 4."""
    if not needed <= {"cutters", "ring_parts"} or table.second is not None:
        return np.ones(table.joints, dtype=np.bool_)
    free = np.ones(table.joints, dtype=np.bool_)
    for sums in table.sums:
        free &= sums.group < 0
    rings, ring = np.unique(table.ring, return_inverse=True)
    alone = np.zeros(max(len(rings) - 1, 0), dtype=np.bool_)
    takes = _cover(table.joint, ring, table.joints, alone)
    count = np.bitwise_count(takes).sum(axis=1, dtype=np.int64)
    # what covers most of the complement comes first: the joints with the fewest rings
    order = np.lexsort((np.arange(table.joints), free, count))
    first = _first_undominated(np.zeros((table.joints, 0)), ~takes[order])
    lead = ~free
    lead[order[first]] = True
    return np.asarray(lead & (count > 0))


def reduction_followers_rows(table: Table, lead: Mask, rows: TableRows) -> TableRows:
    """Return, for every joint left out, its lightest row on a ring that is taken by `rows`."""
    taken = np.isin(table.ring, table.ring[rows]) & ~lead[table.joint]
    which = np.flatnonzero(taken)
    order = which[
        np.lexsort((which, table.heads[which], table.material_kg[which], table.joint[which]))
    ]
    _, first = np.unique(table.joint[order], return_index=True)
    return TableRows(order[first])


def reduced_by_dominance(table: Table, needs: Needs) -> Mask:
    """Apply theorem 1 group by group: rings of one cutter, or of one cutter and joint.

    Rows with a second ring follow the theorems of `pairs`.
    """
    if table.second is not None and needs.ring_parts:
        return _undominated_beside_pairs(table, needs)
    table = reduced_to_one_ring(table)
    group = table.cutter + 1 if needs.cutters else np.zeros(len(table), dtype=np.int64)
    if not needs.ring_parts:
        group = group * table.joints + table.joint
    values = reduction_counted_values(table)
    if not (needs.ring_parts or values.shape[1] or (needs.material and needs.cost)):
        return _best_alone(table, group, needs)
    keep = np.zeros(len(table), dtype=np.bool_)
    # rings of two groups never serve in the same place: (group, joint)
    spot = group * table.joints + table.joint
    order, starts = np.arange(len(table)), np.zeros(min(1, len(table)), dtype=np.intp)
    if len(table) > _FEW:
        order = np.argsort(group, kind="stable")
        starts = np.flatnonzero(np.diff(group[order], prepend=np.int64(-1)))
    for members in np.split(order, starts[1:]) if len(order) else []:
        some = (members, spot[members], values[members])
        keep[members] = _undominated_rings(table, *some, needs)
    return keep


def _undominated_beside_pairs(table: Table, needs: Needs) -> Mask:
    """Apply theorems 5 and 6 of `pairs` in turn until nothing leaves."""
    keep, before = np.ones(len(table), dtype=np.bool_), -1
    while before != (before := int(keep.sum())):
        keep[keep] = reduced_pairs(table.take(keep), needs)
        left = table.take(keep)
        stays, single = reducible_pairs(left), np.ones(len(left), dtype=np.bool_)
        if left.second is not None:
            single = left.second < 0
        stays[single] |= reduced_by_dominance(left.take(single), needs)
        keep[keep] = stays
    return keep


def _per_piece(table: Table, rows: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Return material and money of one piece of some rows, without the money of the heads."""
    built = table.weight[table.joint[rows]]
    piece = table.cost[rows] / built - table.head_cost * table.heads[rows]
    return table.material_kg[rows] / built, piece


def _best_alone(table: Table, group: Ints, needs: Needs) -> Mask:
    """Apply theorem 1 where each joint chooses alone, by heads and one more quantity at most."""
    heads = table.heads if needs.heads else np.zeros(len(table), dtype=np.int64)
    amount = table.material_kg if needs.material else table.cost * float(needs.cost)
    rank = (table.ring, table.error, table.cost, table.material_kg, amount, heads, group)
    order = np.lexsort(rank)
    group, heads, amount = group[order], heads[order], amount[order]
    # the first of every (group, heads) is its lightest; then fewer heads may be lighter still
    first = np.append(True, (np.diff(group) != 0) | (np.diff(heads) != 0))[: len(order)]
    order, group, amount = order[first], group[first], amount[first]
    keep = np.ones(len(order), dtype=np.bool_)
    for back in range(1, len(order)):
        same = group[back:] == group[:-back]
        if not same.any():
            break
        keep[back:] &= ~(same & (amount[:-back] <= amount[back:]))
    kept = np.zeros(len(table), dtype=np.bool_)
    kept[order[keep]] = True
    return kept


def _undominated_rings(
    table: Table, members: NDArray[np.intp], joint: Ints, values: Floats, needs: Needs
) -> Mask:
    """Return which of the rows `members` belong to a ring nobody dominates.

    `joint` tells joints, and groups if they are several, apart.
    """
    rings, ring = np.unique(table.ring[members], return_inverse=True)
    if len(rings) == 1:
        return np.ones(len(members), dtype=np.bool_)
    material, piece = _per_piece(table, members)
    amounts = [material] * needs.material + [piece] * needs.cost
    pair = np.unique(ring * (int(joint.max()) + 1) + joint, return_inverse=True)[1]
    # rows of one ring on one joint differ by one value only; else none may stand in for another
    one_value = values.shape[1] <= 1 and all(_least(a, pair)[1] for a in amounts)
    by_heads = needs.heads or not one_value
    heads = table.heads[members] if by_heads else np.zeros(len(members), dtype=np.int64)
    places, place = np.unique(table_joint_heads_key(joint, heads), return_inverse=True)
    columns: list[Floats] = []
    tie_material = _spread(material, ring, len(rings), place, len(places))
    tie_cost = _spread(piece, ring, len(rings), place, len(places))
    part = table.part_cost[rings][:, np.newaxis]
    if needs.ring_parts and table.counted_part is not None:
        columns.append(table.part_weight[rings][:, np.newaxis].astype(np.float64))
    if needs.material:
        columns.append(tie_material)
    if needs.cost:
        columns += [tie_cost, part]
    same_joint = (np.diff(table_joint_heads(places)[0]) == 0) & one_value
    for column in range(values.shape[1]):
        matrix = np.full((len(rings), len(places)), np.inf)
        np.minimum.at(matrix, (ring, place), values[:, column])
        columns.append(_with_fewer_heads(matrix, same_joint))
    least_error = np.full(len(rings), np.inf)
    np.minimum.at(least_error, ring, table.error[members])
    bits = _cover(ring, place, len(rings), same_joint)
    cost = np.concatenate([np.zeros((len(rings), 0)), *columns], axis=1)
    pieces = [_total(tie_material), _total(tie_cost), part[:, 0], least_error]
    covered = -np.bitwise_count(bits).sum(axis=1, dtype=np.int64)
    # a ring comes after all that could dominate it: those that cover more, or as much for less
    order = np.lexsort((rings, *pieces[::-1], _total(cost), covered))
    kept = np.zeros(len(rings), dtype=np.bool_)
    kept[order[_undominated_where_served(cost[order], bits[order])]] = True
    return kept[ring]


def _spread(values: Floats, ring: Ints, rings: int, place: Ints, places: int) -> Floats:
    """Return values by ring: one column if a ring has one value wherever it is used, else by place."""
    least, same = _least(values, ring)
    if same:
        return least[:, np.newaxis]
    matrix = np.full((rings, places), np.inf)
    np.minimum.at(matrix, (ring, place), values)
    return matrix


def _least(values: Floats, group: Ints) -> tuple[Floats, bool]:
    """Return the least value of every group, and whether all values of each are the same."""
    groups = int(group.max()) + 1
    least, most = np.full(groups, np.inf), np.full(groups, -np.inf)
    np.minimum.at(least, group, values)
    np.maximum.at(most, group, values)
    return least, bool(np.all(most - least <= 1e-12 * np.abs(most)))


def _with_fewer_heads(matrix: Floats, same_joint: Mask) -> Floats:
    """Let a row with fewer heads on the same joint serve as well."""
    for column in np.flatnonzero(same_joint):
        matrix[:, column + 1] = np.minimum(matrix[:, column + 1], matrix[:, column])
    return matrix


def _total(cost: Floats) -> Floats:
    """Return row sums, nothing for infinity: of two rows with the same places, the smaller has no more."""
    return np.asarray(np.where(np.isfinite(cost), cost, 0.0).sum(axis=1))


def _cover(ring: Ints, place: Ints, rings: int, same_joint: Mask) -> NDArray[np.uint64]:
    """Return, per ring, the set of places where it serves, 64 to a word."""
    ring, place = ring.astype(np.int64), place.astype(np.int64)
    more = np.append(same_joint, False)
    step_ring, step_place = ring, place
    while np.any(more[step_place]):  # fewer heads serve where more are allowed
        onward = more[step_place]
        step_ring, step_place = step_ring[onward], step_place[onward] + 1
        ring, place = np.append(ring, step_ring), np.append(place, step_place)
    words = len(more) // 64 + 1
    key = ring * words + place // 64
    order = np.argsort(key, kind="stable")
    bit = np.left_shift(np.uint64(1), (place[order] % 64).astype(np.uint64))
    starts = np.flatnonzero(np.diff(key[order], prepend=np.int64(-1)))
    bits = np.zeros(rings * words, dtype=np.uint64)
    bits[key[order][starts]] = np.bitwise_or.reduceat(bit, starts)
    return bits.reshape(rings, words)


def _undominated_where_served(cost: Floats, bits: NDArray[np.uint64]) -> NDArray[np.intp]:
    """Return what `_first_undominated` does, where every row covers few places.

    What covers all that a row does covers its rarest place, too: only rows of that place are compared. Of
    60 joints with every wish that took 0.14 s in place of 2.3 s, of 100 joints 0.30 s in place of 7.6 s.
    """
    if len(bits) <= _FEW:
        return _first_undominated(cost, bits)
    row, place = _places_covered(bits)
    count = np.bincount(place)
    if 2 * len(row) >= len(bits) * len(count):  # most cover most: no place is rare
        return _first_undominated(cost, bits)
    order = np.argsort(place, kind="stable")
    starts, at = np.cumsum(count) - count, row[order]
    rarest_first = np.lexsort((count[place], row))
    rarest = place[rarest_first[np.unique(row[rarest_first], return_index=True)[1]]]
    alive = np.ones(len(bits), dtype=np.bool_)
    for start in range(0, len(bits), _ROWS_AT_ONCE):
        block = np.arange(start, min(start + _ROWS_AT_ONCE, len(bits)))
        for here in np.unique(rarest[block]):
            asked = block[rarest[block] == here]
            pool = at[starts[here] : starts[here] + count[here]]
            pool = pool[alive[pool] & (pool <= asked[-1])]
            columns = np.flatnonzero(np.isfinite(cost[asked]).any(axis=0))
            both = np.union1d(pool, asked)
            few, words = np.ix_(both, columns), np.flatnonzero(bits[asked].any(axis=0))
            places = np.searchsorted(both, asked), np.searchsorted(both, pool)
            alive[asked] = ~_dominated(cost[few], bits[np.ix_(both, words)], *places)
    return np.flatnonzero(alive)


def _places_covered(bits: NDArray[np.uint64]) -> tuple[Ints, Ints]:
    """Return every pair of a row and a place that it covers."""
    row, word = np.nonzero(bits)
    mine = bits[row, word]
    has = [np.flatnonzero((mine >> np.uint64(bit)) & np.uint64(1)) for bit in range(64)]
    which = np.concatenate(has)
    bit = np.repeat(np.arange(64), [len(one) for one in has])
    return row[which], word[which] * 64 + bit


def _first_undominated(cost: Floats, bits: NDArray[np.uint64]) -> NDArray[np.intp]:
    """Return the rows that no earlier row matches or undercuts in every column while covering as much."""
    kept = np.empty(0, dtype=np.intp)
    for start in range(0, len(bits), _BLOCK):
        block = np.arange(start, min(start + _BLOCK, len(bits)))
        block = block[~_dominated(cost, bits, block, kept)]
        kept = np.concatenate([kept, block[~_dominated(cost, bits, block, block)]])
    return kept


def _dominated(
    cost: Floats, bits: NDArray[np.uint64], block: NDArray[np.intp], pool: NDArray[np.intp]
) -> Mask:
    """Return which rows of `block` some earlier row of `pool` dominates."""
    out = np.zeros(len(block), dtype=np.bool_)
    for start in range(0, len(pool), 4 * _BLOCK):
        todo = np.flatnonzero(~out)
        if len(todo) == 0:
            break
        some, rows = pool[start : start + 4 * _BLOCK], block[todo]
        below = some[np.newaxis, :] < rows[:, np.newaxis]
        for column in range(cost.shape[1]):
            below &= cost[some, column][np.newaxis, :] <= cost[rows, column][:, np.newaxis]
        one, other = np.nonzero(below)
        for word in range(bits.shape[1]):
            if len(one) == 0:
                break
            asked = bits[rows[one], word]
            has = (bits[some[other], word] & asked) == asked
            if not has.all():
                one, other = one[has], other[has]
        out[todo[one]] = True
    return out
