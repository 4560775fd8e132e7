"""Branch and bound on counts: what multipliers cannot settle at once is split in two, again and again.

A relaxation may take half a cutter, or ten and a half ring parts for joints that share rings with no
others. In an answer every such count is a whole number, so an answer has at most k of it, or at least
k + 1. Each of these two nodes is the program with one more line, which multipliers of its own bound
(`lagrangian`). A joint's heads and rows are split too: one node holds some of the rows, the other the rest.
When no node is left whose bound is below the value of an answer at hand, nothing better is possible.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from ringset.arrays import Floats, Ints
from ringset.reduction.head_patterns import rows_within_patterns
from ringset.reduction.table import Table, TableRows
from ringset.search.bounds.column_generation import (
    Relaxed,
    guided_relaxation,
    limit_shares,
    most_shares,
)
from ringset.search.bounds.lagrangian import NamedMultipliers, named_multipliers
from ringset.search.exact.enumeration import best_enumerated
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program
from ringset.search.state.incumbent import Incumbent
from ringset.search.tuning import tuning

#: How far from a whole number a count is taken for one that is none.
WHOLE = 1e-6


@dataclass(frozen=True)
class Count:
    """At most `many` of some cutters or ring parts, or at least so many; `members` are their numbers."""

    cutters: bool
    members: Ints
    many: int
    at_least: bool

    def line(self, program: Program) -> tuple[sparse.csr_array, int]:
        """Return the count as a line weights x <= right of a program."""
        table, owners = program.table, program.cutters if self.cutters else program.parts
        mine = np.isin(table.cutter if self.cutters else table.ring, self.members)
        used, sign = np.unique(owners.columns_or_rows()[mine]), -1 if self.at_least else 1
        entries = (np.full(len(used), sign), (np.zeros(len(used), np.int64), used))
        return sparse.csr_array(entries, shape=(1, program.columns)), sign * self.many

    def rows_left(self, table: Table) -> Table:
        """Return the rows that the count does not rule out by itself."""
        if self.at_least or self.many > 0:
            return table
        return table.take(~np.isin(table.cutter if self.cutters else table.ring, self.members))


@dataclass(frozen=True)
class _Node:
    """Rows under counts, and multipliers that bounded the node that it was split off."""

    table: Table
    counts: tuple[Count, ...]
    multipliers: NamedMultipliers


@dataclass
class _Looked:
    """What a look at a node gave: its bound, answers, and the nodes it was split into; None without a split.

    `program` is without the node's counts: an answer with fewer parts than they ask for is one as well.
    Beside each answer stands what is proven of it.
    """

    low: int
    program: Program
    answers: list[tuple[Ints, int]]
    nodes: list[_Node] | None


def nodes_for(run: Incumbent) -> int:
    """Return how many nodes are worth a look, before an engine searches what is left."""
    tune = tuning()
    few = tune.nodes_of_few if len(run.left) <= tune.nodes_few_rows else tune.nodes_max
    return tune.nodes_of_part if run.in_part else few


def settle(run: Incumbent, most: int, counts: tuple[Count, ...] = ()) -> bool:
    """Split what a wish has left until all is settled; its value is then the least. False if it is not.

    All answers keep `counts`. At most so many nodes are looked at, some at a time, whichever ends first:
    the linear programs run outside Python.
    """
    if run.last is None or not tuning().uses("branch and bound"):
        return False
    if run.program.paired:
        return False  # a count knows the ring of a row, not its second one
    at_once = tuning().nodes_at_once
    joints = np.unique(run.left.joint)
    waiting = [(run.low, 0, _Node(run.left, (), run.last))]
    number = 0
    with ThreadPoolExecutor(at_once) as threads:
        for _ in range(most // at_once):
            if not waiting or waiting[0][0] >= run.value:
                run.close()
                return True
            if run.context.clock.over():
                return False
            run.tell(max(run.low, waiting[0][0]))
            next_ones = [heapq.heappop(waiting) for _ in range(min(at_once, len(waiting)))]
            worth = run.value
            looks = [
                threads.submit(_look, run, node, joints, worth, counts) for _, _, node in next_ones
            ]
            for looked in [look.result() for look in looks]:
                if looked is None:
                    continue
                for x, least in looked.answers:
                    run.take(looked.program, x, least)
                if looked.nodes is None:
                    return False
                for node in looked.nodes:
                    number += 1
                    heapq.heappush(waiting, (looked.low, number, node))
    return False


def _look(
    run: Incumbent, node: _Node, joints: Ints, worth: int, counts: tuple[Count, ...]
) -> _Looked | None:  # fmt: skip
    """Bound a node and split it if it may hold more than `worth` shows; None if it holds no answer."""
    uncounted = program_with_counts(_built_within_room(run, node.table), counts)
    program = program_with_counts(uncounted, node.counts, len(counts))
    if not np.array_equal(np.unique(program.joint), joints):
        return None  # some joint has no ring left
    objective = program.objectives[run.wish]
    raw = objective.weight_of(worth)
    relaxed = guided_relaxation(program, objective, node.multipliers, raw, run.context.clock.ends)
    if relaxed is None:
        return _Looked(run.low, uncounted, [], None)
    looked = _Looked(objective.offset + objective.scale * relaxed.bound.least, uncounted, [], [])
    x = most_shares(program, relaxed)
    if x is not None and uncounted.allowed(x):
        looked.answers.append((x, looked.low if program.allowed(x) else run.low))
        raw = min(raw, objective.weight_of(objective.value(x)))
    if relaxed.bound.least >= raw:
        return looked
    left = program.table.take(relaxed.bound.usable(raw - 1))
    if not counts or len(left) <= len(joints) + tuning().listed_more:
        listed, x = best_enumerated(program, objective, relaxed.bound, raw)
        if listed:
            looked.answers += [] if x is None else [(x, looked.low)]
            return looked
    known = named_multipliers(program, objective, relaxed.bound.multipliers)
    split = next(_splits(program, objective, relaxed, left), None)
    if split is None:
        looked.nodes = None
    else:
        looked.nodes = [_Node(rows, (*node.counts, *more), known) for rows, more in split]
    return looked


def _built_within_room(run: Incumbent, table: Table) -> Program:
    """Return the program of rows, less those that the head patterns left leave no room for."""
    program = run.build(table)
    for _ in range(tuning().room_turns):
        keep = rows_within_patterns(program.table, program.patterns)
        if keep.all():
            break
        program = run.build(program.table.take(keep))
    return program


#: The rows of either node, and the count that it brings, if any.
_Split = list[tuple[Table, list[Count]]]


def _splits(
    program: Program, objective: Objective, relaxed: Relaxed, left: Table
) -> Iterator[_Split]:  # fmt: skip
    """Yield ways to split the rows left in two, those first that settle most."""
    if program.patterns.size:
        yield from _by_heads(program, relaxed, left)
        yield from _by_weight(program, objective, relaxed, left)
    for count in _counts(program, relaxed):
        both = (count, replace(count, many=count.many + 1, at_least=True))
        yield [(one.rows_left(left), [one]) for one in both]
    yield from _by_rows(program, relaxed, left)


def _by_heads(program: Program, relaxed: Relaxed, left: Table) -> Iterator[_Split]:
    """Yield splits by whether a joint has so many heads, where the relaxation takes both in part."""
    table, kinds_each = program.table, int(program.table.heads.max()) + 1
    kind = table.joint[relaxed.rows] * kinds_each + table.heads[relaxed.rows]
    kinds, place = np.unique(kind, return_inverse=True)
    joint = kinds // kinds_each
    for best in furthest_from_whole(np.bincount(place, relaxed.shares), table.weight[joint]):
        mine = left.joint == joint[best]
        shown = mine & (left.heads == kinds[best] % kinds_each)
        yield [(left.take(shown | ~mine), []), (left.take(~shown), [])]


def _by_weight(
    program: Program, objective: Objective, relaxed: Relaxed, left: Table
) -> Iterator[_Split]:  # fmt: skip
    """Yield splits of a joint's rows into light and heavy ones, of the joints first whose rows differ most.

    What the relaxation takes of a joint on the mean lies between those of both nodes, so neither can take it.
    """
    rows, share = relaxed.rows, relaxed.shares
    joint, weight = program.joint[rows], objective.weights[rows].astype(np.float64)
    taken = np.maximum(np.bincount(joint, share, program.joints), WHOLE)
    mean = np.bincount(joint, share * weight, program.joints) / taken
    spread = np.bincount(joint, share * np.abs(weight - mean[joint]), program.joints)
    mine = objective.weights[np.searchsorted(program.table.index, left.index)]
    for best in np.argsort(-spread, kind="stable"):
        if spread[best] <= WHOLE * max(1.0, mean[best]):
            return
        light = (left.joint != best) | (mine <= mean[best])
        heavy = (left.joint != best) | (mine > mean[best])
        yield [(left.take(light), []), (left.take(heavy), [])]


def _by_rows(program: Program, relaxed: Relaxed, left: Table) -> Iterator[_Split]:
    """Yield splits of a joint's rows where the relaxation takes several, by what they take of the limits."""
    takes = limit_shares(program)
    joint, rows = program.joint[relaxed.rows], relaxed.rows
    order = np.lexsort((rows, takes[rows], joint))
    rows, joint, share = TableRows(rows[order]), joint[order], relaxed.shares[order]
    before = np.cumsum(share) - share
    upto = np.cumsum(share) - before[np.searchsorted(joint, joint)]
    mine = np.searchsorted(program.table.index, left.index)
    for best in furthest_from_whole(upto, program.table.weight[joint]):
        place = rows[best]
        first = (takes[mine] < takes[place]) | ((takes[mine] == takes[place]) & (mine <= place))
        other = left.joint != joint[best]
        yield [(left.take(first | other), []), (left.take(~first | other), [])]


def furthest_from_whole(totals: NDArray[Any], weight: Ints | int = 1) -> Iterator[int]:
    """Yield the places of broken numbers, those first that are furthest from whole ones, by weight."""
    distance = np.abs(totals - np.rint(totals))
    for place in np.argsort(-distance * weight, kind="stable"):
        if distance[place] > WHOLE:
            yield int(place)


def program_with_counts(program: Program, counts: tuple[Count, ...], first: int = 0) -> Program:
    """Return the program with counts, which are numbered from `first`."""
    limits = program.limits
    for number, count in enumerate(counts, first):
        limits = limits.with_line(f"count {number}", *count.line(program))
    return replace(program, limits=limits)


def _counts(program: Program, relaxed: Relaxed) -> Iterator[Count]:
    """Yield counts that the relaxation has as broken numbers, those first that settle most."""
    if len(program.cutters.owner):
        numbers, shares = shares_of_cutters(program, relaxed)
        yield from _broken(True, [np.array([n]) for n in numbers], shares)
    if len(program.parts.owner):
        rings, shares = shares_of_rings(program, relaxed)
        group, groups = connected_rings(program.table, rings)
        members = [rings[group == g] for g in range(groups)]
        yield from _broken(False, members, np.bincount(group, shares, groups))
        yield from _broken(False, [np.array([r]) for r in rings], shares)


def shares_of_cutters(program: Program, relaxed: Relaxed) -> tuple[Ints, Floats]:
    """Return the cutters that a relaxation looked at, by number, and how much it takes of each."""
    mine = relaxed.owners >= program.columns - len(program.cutters.distinct)
    columns = program.cutters.columns()
    return _numbers(relaxed.owners[mine], columns, program.table.cutter), relaxed.owner_shares[mine]


def shares_of_rings(program: Program, relaxed: Relaxed) -> tuple[Ints, Floats]:
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


def _broken(cutters: bool, members: list[Ints], totals: NDArray[Any]) -> Iterator[Count]:
    """Yield the counts whose totals are broken numbers, those first that are furthest from whole ones."""
    for place in furthest_from_whole(totals):
        yield Count(cutters, members[place], int(np.floor(totals[place])), at_least=False)


def connected_rings(table: Table, rings: Ints) -> tuple[Ints, int]:
    """Return the group of every ring, and how many there are; joints of two groups share no ring."""
    numbers, place = np.unique(table.ring, return_inverse=True)
    size = table.joints + len(numbers)
    joined = (np.ones(len(table)), (table.joint, table.joints + place))
    _, group = connected_components(sparse.coo_array(joined, shape=(size, size)), directed=False)
    mine = group[table.joints + np.searchsorted(numbers, rings)]
    groups, group = np.unique(mine, return_inverse=True)
    return group.astype(np.int64), len(groups)
