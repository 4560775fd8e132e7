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

import numpy as np
from scipy import sparse

from ringset.arrays import Ints
from ringset.reduction.head_patterns import reduced_to_patterns
from ringset.reduction.table import Table
from ringset.search.bounds.column_generation import (
    Relaxed,
    guided_relaxation,
    search_relaxation_limit_shares,
    search_relaxed_most_shares,
)
from ringset.search.bounds.lagrangian import NamedMultipliers, named_multipliers
from ringset.search.exact.enumeration import best_enumerated
from ringset.search.exact.fractions import (
    WHOLE,
    branching_heads,
    branching_order,
    branching_parts,
    branching_rows,
    relaxed_cutter_shares,
    relaxed_ring_shares,
)
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program
from ringset.search.state.incumbent import Incumbent
from ringset.search.tuning import search_tuning


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


def branching_nodes(run: Incumbent) -> int:
    """Return how many nodes are worth a look, before an engine searches what is left."""
    tune = search_tuning()
    few = tune.nodes_of_few if len(run.left) <= tune.nodes_few_rows else tune.nodes_max
    return tune.nodes_of_part if run.in_part else few


def settle_by_branching(run: Incumbent, most: int, counts: tuple[Count, ...] = ()) -> bool:
    """Split what a wish has left until all is settled; its value is then the least. False if it is not.

    All answers keep `counts`. At most so many nodes are looked at, some at a time, whichever ends first:
    the linear programs run outside Python.
    """
    if run.last is None or not search_tuning().uses("branch and bound"):
        return False
    if run.program.paired:
        return False  # a count knows the ring of a row, not its second one
    at_once = search_tuning().nodes_at_once
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
    x = search_relaxed_most_shares(program, relaxed)
    if x is not None and uncounted.allowed(x):
        looked.answers.append((x, looked.low if program.allowed(x) else run.low))
        raw = min(raw, objective.weight_of(objective.value(x)))
    if relaxed.bound.least >= raw:
        return looked
    left = program.table.take(relaxed.bound.usable(raw - 1))
    if not counts or len(left) <= len(joints) + search_tuning().listed_more:
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
    for _ in range(search_tuning().room_turns):
        keep = reduced_to_patterns(program.table, program.patterns)
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
    for joint, heads in branching_heads(program, relaxed):
        mine = left.joint == joint
        shown = mine & (left.heads == heads)
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
    takes, rows = search_relaxation_limit_shares(program), relaxed.rows
    mine = np.searchsorted(program.table.index, left.index)
    for broken in branching_rows(program.table, rows, relaxed.shares, takes[rows], rows):
        place = rows[broken]
        first = (takes[mine] < takes[place]) | ((takes[mine] == takes[place]) & (mine <= place))
        other = left.joint != program.joint[place]
        yield [(left.take(first | other), []), (left.take(~first | other), [])]


def program_with_counts(program: Program, counts: tuple[Count, ...], first: int = 0) -> Program:
    """Return the program with counts, which are numbered from `first`."""
    limits = program.limits
    for number, count in enumerate(counts, first):
        limits = limits.with_line(f"count {number}", *count.line(program))
    return replace(program, limits=limits)


def _counts(program: Program, relaxed: Relaxed) -> Iterator[Count]:
    """Yield counts that the relaxation has as broken numbers, those first that settle most."""
    if len(program.cutters.owner):
        numbers, shares = relaxed_cutter_shares(program, relaxed)
        for place in branching_order(shares):
            yield Count(True, numbers[[place]], int(np.floor(shares[place])), at_least=False)
    if len(program.parts.owner):
        for members, many in branching_parts(program.table, *relaxed_ring_shares(program, relaxed)):
            yield Count(False, members, many, at_least=False)
