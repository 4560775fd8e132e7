"""What a relaxation takes in fractions: where a search node, or a node of a proof tree, is split.

In an answer a joint has some number of heads or another, takes one row, and a count of cutters or ring parts
is a whole number. Where the relaxation takes both in part, neither of two nodes can hold what it took.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from ringset.arrays import Floats, Ints
from ringset.reduction.table import Table, table_joint_heads, table_joint_heads_key
from ringset.search.bounds.column_generation import Relaxed
from ringset.search.model.program import Program

#: How far from a whole number a count is taken for one that is none.
WHOLE = 1e-6


def branching_order(totals: NDArray[Any], weight: Ints | int = 1) -> Iterator[int]:
    """Yield the places of broken numbers, those first that are furthest from whole ones, by weight."""
    distance = np.abs(totals - np.rint(totals))
    for place in np.argsort(-distance * weight, kind="stable"):
        if distance[place] > WHOLE:
            yield int(place)


def branching_heads(program: Program, relaxed: Relaxed) -> Iterator[tuple[int, int]]:
    """Yield joints and head counts that the relaxation takes in part, those first that settle most."""
    table, rows = program.table, relaxed.rows
    kinds, place = np.unique(
        table_joint_heads_key(table.joint[rows], table.heads[rows]), return_inverse=True
    )
    joint, heads = table_joint_heads(kinds)
    for best in branching_order(np.bincount(place, relaxed.shares), table.weight[joint]):
        yield int(joint[best]), int(heads[best])


def branching_rows(
    table: Table, rows: NDArray[np.intp], shares: Floats, amounts: Any, ranks: Ints
) -> Iterator[int]:
    """Yield places in `rows`, of a table, up to which a joint's rows are taken in part.

    Those come first that settle most. The rows of a joint are in order of `amounts`, then of `ranks`; both
    have a value for each of `rows`.
    """
    order = np.lexsort((ranks, amounts, table.joint[rows]))
    joint, share = table.joint[rows][order], shares[order]
    before = np.cumsum(share) - share
    upto = np.cumsum(share) - before[np.searchsorted(joint, joint)]
    for best in branching_order(upto, table.weight[joint]):
        yield int(order[best])


def branching_parts(table: Table, rings: Ints, shares: Floats) -> Iterator[tuple[Ints, int]]:
    """Yield ring parts of which a broken number is taken, with the whole number below it.

    Those of joints that share no ring with others come first, then single ones.
    """
    group, groups = search_connected_rings(table, rings)
    totals = np.bincount(group, shares, groups)
    for place in branching_order(totals):
        yield rings[group == place], int(np.floor(totals[place]))
    for place in branching_order(shares):
        yield rings[[place]], int(np.floor(shares[place]))


def relaxed_cutter_shares(program: Program, relaxed: Relaxed) -> tuple[Ints, Floats]:
    """Return the cutters that a relaxation looked at, by number, and how much it takes of each."""
    mine = relaxed.owners >= program.columns - len(program.cutters.distinct)
    columns = program.cutters.columns()
    return _numbers(relaxed.owners[mine], columns, program.table.cutter), relaxed.owner_shares[mine]


def relaxed_ring_shares(program: Program, relaxed: Relaxed) -> tuple[Ints, Floats]:
    """Return the ring parts that a relaxation looked at, in order, and how much it takes of each."""
    mine = relaxed.owners < program.columns - len(program.cutters.distinct)
    rings = _numbers(relaxed.owners[mine], program.parts.columns(), program.table.ring)
    single = program.parts.pair[relaxed.rows] < 0
    rings = np.concatenate([rings, program.table.ring[relaxed.rows[single]]])
    shares = np.concatenate([relaxed.owner_shares[mine], relaxed.shares[single]])
    rings, place = np.unique(rings, return_inverse=True)
    return rings, np.bincount(place, shares, len(rings)).astype(np.float64)


def _numbers(columns: NDArray[np.intp], column_of_row: Ints, number_of_row: Ints) -> Ints:
    """Return the number (of a cutter or a ring) that each owner column stands for."""
    asked, row = np.unique(column_of_row, return_index=True)
    return number_of_row[row[np.searchsorted(asked, columns)]]


def search_connected_rings(table: Table, rings: Ints) -> tuple[Ints, int]:
    """Return the group of every ring, and how many there are; joints of two groups share no ring."""
    numbers, place = np.unique(table.ring, return_inverse=True)
    size = table.joints + len(numbers)
    joined = (np.ones(len(table)), (table.joint, table.joints + place))
    _, group = connected_components(sparse.coo_array(joined, shape=(size, size)), directed=False)
    mine = group[table.joints + np.searchsorted(numbers, rings)]
    groups, group = np.unique(mine, return_inverse=True)
    return group.astype(np.int64), len(groups)
