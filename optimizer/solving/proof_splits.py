"""Where a proof tree may split: at what a node's relaxation takes in fractions, those first that settle most.

Which split is taken decides how large a tree becomes, never whether it is true: `certificate_tree_children`
makes both children of whatever is asked. No kind is best everywhere: to ask for a single ring first made 155
nodes of one scenario where amounts of a joint made 11, and 253 nodes of 30 joints where those made more than
1,000.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints
from ringset.search.bounds.column_generation import Relaxed
from ringset.search.exact.branch_and_bound import Count
from ringset.search.exact.fractions import (
    branching_heads,
    branching_order,
    branching_rows,
    relaxed_cutter_shares,
    relaxed_ring_shares,
    search_connected_rings,
)
from ringset.search.model.program import Program
from ringset.verification.certificate.constraints import Line, RowsInQuestion
from ringset.verification.certificate.document import (
    AmountSplit,
    CountSplit,
    HeadsSplit,
    Split,
)
from ringset.verification.certificate.duality import Step
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.tree import certificate_count_lines

#: Splits of every kind that are looked at.
OF_A_KIND = 2


def solving_split_counts(lines: list[Line]) -> tuple[Count, ...]:
    """Return the lines of counts, in order, as counts of the search."""
    counts = []
    for line in lines:
        cutters = bool(np.any(line.cutters))
        members = np.flatnonzero(line.cutters if cutters else line.parts)
        counts.append(Count(cutters, members, int(abs(line.right)), line.right < 0))
    return tuple(counts)


def solving_cutter_split(rest: RowsInQuestion, names: Names) -> Split | None:
    """Return whether a cutter is used, as a split, where only one may be and several could: None elsewhere.

    A relaxation mixes cutters, and its bound is then far below any answer (`search/exact/by_cutter.py`).
    """
    cutters = np.unique(rest.table.cutter[rest.table.cutter >= 0])
    if _line_of_one_cutter(rest) is None or len(cutters) < 2 or _must_use(rest) is not None:
        return None
    return CountSplit(by="cutters", members=[names.cutters[int(cutters[0])]], most=0)


def solving_one_cutter_step(rest: RowsInQuestion, value: int) -> Step | None:
    """Return multipliers that drop the rows of all other cutters where one must be used and only one may.

    The line of that count and the line of one cutter, weighed alike, cost nothing with its rows, and more
    than any answer below `value` with those of any other.
    """
    one, must = _line_of_one_cutter(rest), _must_use(rest)
    several = len(np.unique(rest.table.cutter[rest.table.cutter >= 0])) > 1
    if one is None or must is None or not several:
        return None
    joints = np.zeros(rest.table.joints, dtype=np.int64)
    return Step(1, {one.name: value + 1, must.name: value + 1}, joints)


def _line_of_one_cutter(rest: RowsInQuestion) -> Line | None:
    """Return the line that allows one cutter only, if there is one."""
    for line in rest.lines:
        alone = line.whole and not np.any(line.rows) and not np.any(line.parts)
        if alone and line.right < 2.0 and len(line.cutters) and np.all(line.cutters == 1):
            return line
    return None


def _must_use(rest: RowsInQuestion) -> Line | None:
    """Return the count that asks for a single cutter, if there is one."""
    for line in certificate_count_lines(rest):
        if line.right == -1.0 and np.count_nonzero(line.cutters) == 1:
            return line
    return None


def solving_fractional_splits(
    program: Program, relaxed: Relaxed, rest: RowsInQuestion, names: Names
) -> Iterator[Split]:
    """Yield the first splits of every kind of the rows left by what a relaxation takes in fractions."""
    if not len(relaxed.rows):
        return
    kinds = (
        _by_heads(program, relaxed, rest, names) if program.patterns.size else iter(()),
        _by_counts(program, relaxed, rest, names),
        _by_amounts(program, relaxed, rest, names),
        _by_single_rings(program, relaxed, names),
    )
    for kind in kinds:
        yield from itertools.islice(kind, OF_A_KIND)


def _by_heads(
    program: Program, relaxed: Relaxed, rest: RowsInQuestion, names: Names
) -> Iterator[Split]:
    """Yield splits by whether a joint has so many heads."""
    for joint, heads in branching_heads(program, relaxed):
        counts = rest.table.heads[rest.table.joint == joint]
        if np.any(counts == heads) and np.any(counts != heads):
            yield HeadsSplit(by="heads", joint=names.joints[joint], heads=[heads])


def _by_counts(
    program: Program, relaxed: Relaxed, rest: RowsInQuestion, names: Names
) -> Iterator[Split]:
    """Yield splits by how many of some cutters or ring parts are used."""
    if len(program.cutters.owner):
        cutters, shares = relaxed_cutter_shares(program, relaxed)
        for place in branching_order(shares):
            name = names.cutters[int(cutters[place])]
            yield CountSplit(by="cutters", members=[name], most=int(np.floor(shares[place])))
    if not len(program.parts.owner) or program.paired:
        return  # a count of the search knows the ring of a row, not its second one
    rings, shares = relaxed_ring_shares(program, relaxed)
    there = np.isin(rings, rest.table.every_ring)
    rings, shares = rings[there], shares[there]
    yield from _by_joints(rings, shares, rest, names)


def _by_single_rings(program: Program, relaxed: Relaxed, names: Names) -> Iterator[Split]:
    """Yield splits by whether one ring part is used at all."""
    if len(program.parts.owner) and not program.paired:
        rings, shares = relaxed_ring_shares(program, relaxed)
        for place in branching_order(shares):
            name = names.parts[int(rings[place])]
            yield CountSplit(by="ring_parts", members=[name], most=int(np.floor(shares[place])))


def _by_joints(rings: Ints, shares: Floats, rest: RowsInQuestion, names: Names) -> Iterator[Split]:
    """Yield splits by how many ring parts joints have that share none with others."""
    every = rest.table.every_ring
    group, groups = search_connected_rings(rest.table, every)
    mine = group[np.searchsorted(every, rings)]
    totals = np.bincount(mine, shares, groups)
    for place in branching_order(totals):
        of_group = np.isin(rest.table.ring, every[group == place])
        joints = [names.joints[joint] for joint in np.unique(rest.table.joint[of_group])]
        yield CountSplit(by="joints", members=joints, most=int(np.floor(totals[place])))


def _by_amounts(
    program: Program, relaxed: Relaxed, rest: RowsInQuestion, names: Names
) -> Iterator[Split]:
    """Yield splits of a joint's rows, of which the relaxation takes several, by what they take of a line."""
    table = program.table
    place = np.searchsorted(rest.table.index, table.index[relaxed.rows])
    place = np.minimum(place, len(rest.table) - 1)
    there = rest.table.index[place] == table.index[relaxed.rows]
    taken = there & (relaxed.shares > 0)
    rows, shares = place[taken], relaxed.shares[taken]
    for line in _lines_by_spread(rest, rows, shares):
        amounts = rest.row_numbers(line).astype(np.float64)
        for best in branching_rows(rest.table, rows, shares, amounts[rows], rest.table.index[rows]):
            row = rows[best]
            yield AmountSplit(
                by="amount",
                joint=names.joints[rest.table.joint[row]],
                line=line.name,
                amount=float(amounts[row]),
                row=int(rest.table.index[row]),
            )


def _lines_by_spread(rest: RowsInQuestion, rows: NDArray[np.intp], shares: Floats) -> list[Line]:
    """Return limits and the wish, those first in which the rows taken differ most, as shares of the whole."""
    joint, joints = rest.table.joint[rows], rest.table.joints
    spread = []
    for line in (*rest.lines, rest.wish):
        amounts = rest.row_numbers(line)[rows].astype(np.float64)
        mean = np.bincount(joint, shares * amounts, joints)
        away = float(np.sum(shares * np.abs(amounts - mean[joint])))
        size = abs(line.right) if np.isfinite(line.right) else float(np.sum(mean))
        # where the wish decides, a limit does too: it is why lighter rows are not taken
        spread.append((away / max(size, 1e-300)) * (0.1 if line is rest.wish else 1.0))
    lines = (*rest.lines, rest.wish)
    return [
        lines[place] for place in np.argsort(-np.array(spread), kind="stable") if spread[place] > 0
    ]


def solving_halving_split(rest: RowsInQuestion, names: Names) -> Split | None:
    """Return a split of the joint with most rows in two by the wish; None where every joint has one row."""
    count = np.bincount(rest.table.joint, minlength=rest.table.joints)
    joint = int(np.argmax(count))
    if count[joint] < 2:
        return None
    mine = np.flatnonzero(rest.table.joint == joint)
    amounts = rest.row_numbers(rest.wish)[mine].astype(np.float64)
    order = np.lexsort((rest.table.index[mine], amounts))
    middle = order[(len(order) - 1) // 2]
    return AmountSplit(
        by="amount",
        joint=names.joints[joint],
        line=rest.wish.name,
        amount=float(amounts[middle]),
        row=int(rest.table.index[mine[middle]]),
    )
