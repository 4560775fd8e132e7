"""The reduction of a table, theorem after theorem (`dominance` and `pairs` state and prove them)."""

from __future__ import annotations

import numpy as np

from ringset.arrays import Mask
from ringset.reduction.dominance import reduced_by_dominance
from ringset.reduction.needs import reduction_counted_values, reduction_needs
from ringset.reduction.table import Table, table_joint_heads_key, table_least_per_joint
from ringset.schema.study import Wish


def reduce(table: Table, needed: frozenset[Wish]) -> Table:
    """Return the rows that theorems 1 to 3 leave; the best answers of the rest are best of all."""
    table = table.take(_within_sums(table))
    table = table.take(_fewer_heads(table))
    return table.take(reduced_by_dominance(table, reduction_needs(table, needed)))


def _within_sums(table: Table) -> Mask:
    """Apply theorem 3."""
    keep = np.ones(len(table), dtype=np.bool_)
    for sums in table.sums:
        if len(sums.names) == 0:
            continue
        group = sums.group[table.joint]
        least = table_least_per_joint(sums.values, table.joint, table.joints)
        counted = np.flatnonzero(sums.group >= 0)
        base = np.bincount(sums.group[counted], least[counted], len(sums.names))
        spare = sums.limits - base
        # a relative room far below one counting unit keeps rows that meet the limit exactly;
        # what is lost in the subtraction is of the size of the limit itself
        room_left = np.maximum(1e-9 * np.abs(spare), 1e-14 * sums.limits)
        fits = sums.values - least[table.joint] <= (spare + room_left)[group]
        left = keep & ((group < 0) | fits)
        # where two sums together empty a joint, the program is to find that, and to say why
        if len(np.unique(table.joint[left])) == len(np.unique(table.joint[keep])):
            keep = left
    return keep


def _fewer_heads(table: Table) -> Mask:
    """Apply theorem 2; rows of a ring (or of a pair of rings) on a joint stand together, ordered by heads."""
    amounts = [*reduction_counted_values(table).T, table.material_kg, table.cost]
    keep = np.ones(len(table), dtype=np.bool_)
    ring = table.joint * (int(table.ring.max(initial=0)) + 1) + table.ring
    if table.second is not None:
        ring = ring * (int(table.second.max(initial=0)) + 2) + table.second + 1
    order = np.argsort(table_joint_heads_key(ring, table.heads), kind="stable")
    ring = ring[order]
    for back in range(1, len(table)):
        more = np.flatnonzero(ring[back:] == ring[:-back])
        if len(more) == 0:
            break
        more, fewer = order[back + more], order[more]
        useless = np.ones(len(more), dtype=np.bool_)
        for amount in amounts:
            useless &= amount[fewer] <= amount[more]
        keep[more[useless]] = False
    return keep
