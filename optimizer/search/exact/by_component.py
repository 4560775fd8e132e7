"""Joints whose sizes are far apart share no ring: each component of joints is settled for itself.

What ties components is how many ring parts and which cutters all may have together. So all that the others
need to know of a component is what it comes to at least with at most k ring parts, for every k.

Theorem. Let no ring and no limit be of two components but one limit that counts ring parts, at most m, and
one that counts cutters, at most c, and let cutters cost nothing. For a set of c cutters let l_i(k) be no
more than component i comes to with rows of these cutters and at most k ring parts. Then every answer with
these cutters comes to at least

    least sum of l_i(k_i) over all k_i with a sum of at most m,

and where each l_i(k_i) of that least is reached by an answer of its component, these together are the best
answer with these cutters. Proof: an answer takes some k_i parts on each component, m at most in all, and is
an answer of every component; answers of all components together keep all limits. If only answers below some
value are looked for, rows that none of them takes may be left out of all this.

One bound gives l_i for all k: with a multiplier u of the limit of k parts, K w.x >= L - u k, where nothing
else depends on k (`lagrangian`). Sums that are not below what is looked for settle a set; others are
raised where they are least, by climbing first (`subgradient`), then node by node (`branch_and_bound`).
"""

from __future__ import annotations

import itertools
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from ringset.arrays import Ints
from ringset.reduction.table import FirstRows, Table
from ringset.search.bounds.lagrangian import (
    NamedMultipliers,
    multipliers_for_program,
    named_multipliers,
)
from ringset.search.bounds.subgradient import climb, climb_start_prices, climbed_bound
from ringset.search.exact.component import COUNT, NEVER, Component, search_component_joint_count
from ringset.search.exact.neighbourhoods import improve_incumbent_nearby
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program
from ringset.search.state.context import search_columns_of_answer
from ringset.search.state.incumbent import Incumbent
from ringset.search.tuning import search_tuning


@dataclass(frozen=True)
class _Ties:
    """The component of every joint, -1 for those without rows, and how many ring parts all may have."""

    component: Ints
    parts_most: int
    parts_line: str

    @property
    def components(self) -> int:
        """How many components there are."""
        return int(self.component.max()) + 1


def _ties(program: Program, objective: Objective) -> _Ties | None:
    """Return what ties a program's components; None if that is more than counts, or if it has but one."""
    n, limits = program.rows, program.limits
    part_lines = limits.counting(program.ring_columns)
    cutters = program.cutters.distinct
    cutter_lines = limits.counting(cutters) if len(cutters) else []
    if (
        program.paired
        or not part_lines
        or program.patterns.size
        or np.any(objective.weights[cutters])
    ):
        return None
    others = np.setdiff1d(np.arange(len(limits.names)), [*part_lines, *cutter_lines])
    tied = limits.weights[others].tocoo()
    if np.any(tied.col >= n):
        return None
    rings, ring = np.unique(program.table.ring, return_inverse=True)
    first = program.joints + len(rings)
    joint = np.concatenate([program.joint, program.joint[tied.col]])
    other = np.concatenate([program.joints + ring, first + tied.row])
    nodes = first + len(others)
    graph = sparse.coo_array((np.ones(len(joint)), (joint, other)), shape=(nodes, nodes))
    _, label = connected_components(graph, directed=False)
    mine = label[: program.joints][program.present]
    numbers, component = np.unique(mine, return_inverse=True)
    if len(numbers) < 2:
        return None
    of_joint = np.full(program.joints, -1, dtype=np.int64)
    of_joint[program.present] = component
    line = min(part_lines, key=lambda line: int(limits.right[line]))
    return _Ties(of_joint, int(limits.right[line]), limits.names[line])


@dataclass(frozen=True)
class _Rows:
    """Rows of one set of cutters, multipliers of theirs, and what no answer of theirs is below."""

    table: Table
    given: NamedMultipliers
    low: int

    @classmethod
    def of(cls, run: Incumbent, table: Table, given: NamedMultipliers, worth: int) -> _Rows | None:
        """Return what is left of rows below `worth`, or None if there surely is no answer."""
        if not _every_joint(run, table):
            return None
        program = run.build(table)
        objective = program.objectives[run.wish]
        raw = objective.weight_of(worth)
        bound = climbed_bound(
            program, objective, multipliers_for_program(program, objective, given).joints, raw,
            run.context.clock.ends,
        )  # fmt: skip
        if bound is None:
            return cls(table, given, run.low)
        table = program.table.take(bound.usable(raw - 1))
        if bound.least >= raw or not _every_joint(run, table):
            return None
        low = objective.offset + objective.scale * bound.least
        given = named_multipliers(program, objective, bound.multipliers)
        return cls(table, given, low)


class _Components:
    """All components with the rows of one set of cutters, and what they come to at least together."""

    def __init__(self, run: Incumbent, ties: _Ties, rows: _Rows, room: int) -> None:
        self.table, self.most = rows.table, ties.parts_most
        given, number = rows.given.renamed(ties.parts_line, COUNT), ties.component[rows.table.joint]
        mine = [rows.table.take(number == component) for component in range(ties.components)]
        self.components = [Component.of(run, table, given, self.most, room) for table in mine]
        self.total, _ = self.least()
        self.parts = [component.usual for component in self.components]

    def least(self) -> tuple[int, list[int]]:
        """Return the least sum of what the components come to, and the number of parts of each."""
        sums, steps = np.zeros(1, dtype=np.int64), []
        for component in self.components:
            size = min(self.most, len(sums) + len(component.least) - 2)
            before = np.arange(size + 1)[:, None] - np.arange(len(component.least))
            inside = (before >= 0) & (before < len(sums))
            both = np.where(inside, sums[np.where(inside, before, 0)], NEVER) + component.least
            steps.append(np.argmin(both, axis=1))
            sums = np.minimum(both.min(axis=1), NEVER)
        left, parts = int(np.argmin(sums)), []
        total = int(sums[left])
        for step in reversed(steps):
            parts.append(int(step[left]))
            left -= parts[-1]
        return total, parts[::-1]

    def step(self, run: Incumbent, worth: int, threads: ThreadPoolExecutor) -> bool:
        """Raise the least sum, or take the answer that reaches it; False if neither can be done."""
        at = [
            (component, k, worth - self.total + int(component.least[k]))
            for component, k in zip(self.components, self.parts, strict=True)
        ]
        open_ones = [one for one in at if one[1] not in one[0].solved]
        new = [one for one in open_ones if not one[0].is_shown(one[1])]
        if new:
            done = all(list(threads.map(lambda one: one[0].look(run, *one[1:]), new)))
        elif open_ones:
            component, k, most = min(open_ones, key=lambda one: len(one[0].shown[one[1]].table))
            done = component.solve(run, k, most)
        else:
            each = zip(self.components, self.parts, strict=True)
            rows = np.concatenate([component.solved[k] for component, k in each])
            program = run.build(self.table)
            run.take(program, search_columns_of_answer(program, FirstRows(rows)))
            done = run.value == self.total
        self.total, self.parts = self.least()
        return done


def _every_joint(run: Incumbent, table: Table) -> bool:
    """Say whether every joint has a row."""
    return search_component_joint_count(table) == int(np.count_nonzero(run.program.present))


def settle_by_component(run: Incumbent) -> bool:
    """Settle all that a wish has left by its components; its value is then the least. False if it is not."""
    program, objective, tune = run.program, run.objective, search_tuning()
    ties = _ties(program, objective) if tune.uses("components") else None
    sets = None if ties is None else _sets(program)
    if ties is None or sets is None:
        return False
    start = program.table.places_of(run.best)
    raw = objective.weight_of(run.value)
    prices, target = climb_start_prices(program, objective, start), tune.climb_target * raw
    ends = run.context.clock.ends
    far = climb(program, objective, prices, target, tune.component_turns, ends)
    bound = climbed_bound(program, objective, far.multipliers.joints, raw, ends)
    if bound is None:
        return False
    given = named_multipliers(program, objective, bound.multipliers)
    run.learn(given, of_all=True)
    run.tell(objective.offset + objective.scale * bound.least)
    if run.value - run.low > tune.component_far * run.value:  # better answers first, of near ones
        with run.context.clock.leaving(0.5):
            improve_incumbent_nearby(run, program.table.take(bound.usable(raw)), given)
    excess = max(objective.scale * bound.value, 0.1 * (run.value - run.low))
    gap, room = 1 + int(tune.component_gap * excess), 1 + int(tune.component_near * excess)
    while run.value > run.low:
        worth = min(run.value, run.low + gap)
        left = program.table.take(bound.usable(objective.weight_of(worth) - 1))
        tables = [left.take(np.isin(left.cutter, cutters) | (left.cutter < 0)) for cutters in sets]
        made = [_Rows.of(run, table, given, worth) for table in tables]
        for rows in sorted((one for one in made if one is not None), key=lambda one: one.low):
            better = run.value < worth  # a set before this one has shown an answer
            fewer = _Rows.of(run, rows.table, rows.given, run.value) if better else rows
            if fewer is not None and not _settled(run, ties, fewer, worth, room):
                return False
        run.tell(min(worth, run.value))
        gap *= tune.component_gap_growth
    return True


def _settled(run: Incumbent, ties: _Ties, rows: _Rows, worth: int, room: int) -> bool:
    """Find the best answer of a set, if it is below `worth` and better than that at hand, or say False."""
    together = _Components(run, ties, rows, room)
    with ThreadPoolExecutor(search_tuning().nodes_at_once) as threads:
        while together.total < min(worth, run.value):
            if run.context.clock.over():
                return False
            if not together.step(run, min(worth, run.value), threads):
                return False
    return True


def _sets(program: Program) -> list[Ints] | None:
    """Return the sets of cutters that answers may have, None if there are too many."""
    cutters = np.unique(program.table.cutter[program.table.cutter >= 0])
    owners = program.cutters.distinct
    most = program.limits.most_of(owners, len(cutters)) if len(owners) else len(cutters)
    sets = itertools.combinations(cutters.tolist(), min(most, len(cutters)))
    sets_max = search_tuning().sets_max
    listed = [np.array(one, dtype=np.int64) for one in itertools.islice(sets, sets_max + 1)]
    return None if len(listed) > sets_max else listed
