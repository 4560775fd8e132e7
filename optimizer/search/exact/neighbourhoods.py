"""Better answers early: some joints of the best answer are freed, the rest stays, and HiGHS solves that.

A neighbourhood is a program of few rows: of joints that are freed those rows that cost the bound least, of
joints beside them (of the same robots and parts first) the rows of ring parts already in use, of all others
the row that they have. So every robot is solved over parts fixed, a part is swapped for others like it, and
a robot or a cluster of joints that share parts is freed, as the draw falls. Joints whose rows the
multipliers call dear are freed most often: there the answer lies furthest above the bound. How many rows a
neighbourhood has follows from how it went: more after one that was searched to its end and held nothing
better, fewer after one that was not.

Nothing is claimed: an answer is taken only if it keeps every limit and is better. The draw follows the
study's seed and every search is limited by nodes; the clock only ends it.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ringset.arrays import Ints
from ringset.reduction.table import Table, TableRows
from ringset.search.bounds.lagrangian import (
    Bound,
    NamedMultipliers,
    lagrangian_bound,
    multipliers_for_program,
    whole_multipliers,
)
from ringset.search.engines.highs import highs
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program
from ringset.search.state.incumbent import Incumbent
from ringset.search.tuning import search_tuning


def improve_incumbent_nearby(run: Incumbent, left: Table, known: NamedMultipliers | None) -> None:
    """Look for better answers near the best one where many rows are left.

    `left` are rows that a better answer could use, and `known` multipliers that bound these.
    """
    tune = search_tuning()
    if known is not None:
        patience = max(tune.near_patience, left.joints // tune.near_patience_joints)
        Neighbourhoods(run, left, known).look(tune.near_steps, patience)


class Neighbourhoods:
    """Neighbourhoods of the best answer of a wish, one after another; what went well is remembered.

    They are of rows that a better answer could use, priced by multipliers that bound these.
    """

    def __init__(self, run: Incumbent, left: Table, known: NamedMultipliers) -> None:
        self.run, self.left, self.known, self.tune = run, left, known, search_tuning()
        self.draw = np.random.default_rng((run.context.search.seed, len(left)))
        self.rows: float = self.tune.near_rows

    def look(self, most: int, patience: int) -> None:
        """Look at so many neighbourhoods, or until that many in a row hold nothing better."""
        run, at_once = self.run, self.tune.near_at_once
        if not self.tune.uses("neighbourhoods"):
            return
        ground, failed = _ground(run, self.left, self.known), 0
        if ground is None:
            return
        with ThreadPoolExecutor(at_once) as threads:
            for _ in range(most // at_once):
                few = ground.rows_left(run.value) < self.tune.near_rows_left
                if few or run.enough() or run.context.clock.over() or failed >= patience:
                    break  # few rows are soon settled without
                failed = 0 if self._look_at_some(ground, threads) else failed + at_once
        run.context.clock.watch()

    def _look_at_some(self, ground: _Ground, threads: ThreadPoolExecutor) -> bool:
        """Look at some neighbourhoods of one answer at once; True if one of them holds a better one."""
        run, tune = self.run, self.tune
        before, chosen = run.value, ground.program.table.places_of(run.best)
        looks = []
        for _ in range(tune.near_at_once):
            rows = ground.neighbourhood(chosen, int(self.rows), self.draw)
            looks.append(
                threads.submit(_searched, run, ground.program.table.take(rows), before - 1)
            )
        for look in looks:
            looked = look.result()
            run.take(looked.program, looked.x)
            if looked.x is None and looked.ended:
                self.rows = min(tune.near_rows_max, self.rows * tune.near_growth)
            elif not looked.ended:
                self.rows = max(tune.near_rows_min, self.rows / tune.near_growth)
        if run.value < before:
            run.tell(run.low)
        return run.value < before


@dataclass(frozen=True)
class _Looked:
    """A program of few rows, an allowed answer of it if one was found, and whether all were seen."""

    program: Program
    x: Ints | None
    ended: bool


def _searched(run: Incumbent, table: Table, most: int) -> _Looked:
    """Let HiGHS look for the best answer of few rows that comes to no more than `most`."""
    program = run.context.build(table, run.wish, {**run.held, run.wish: most})
    ends = run.context.clock.ends
    if not np.array_equal(np.unique(program.joint), np.unique(table.joint)):
        return _Looked(program, None, True)  # so few heads leave some joint without rows
    left = program
    for _ in range(search_tuning().near_tries):
        found = highs(left, left.objectives[run.wish], ends, node_limit=search_tuning().near_nodes)
        if found.x is None or program.allowed(found.x):
            return _Looked(program, found.x, found.status in ("OPTIMAL", "INFEASIBLE"))
        left = left.without(found.x)  # the rounded limits let it pass, the real ones do not
    return _Looked(program, None, False)


@dataclass(frozen=True)
class _Links:
    """What joints have in common: joints by owners (ring parts, or sums) and the same turned."""

    asks: sparse.csr_array
    asked: sparse.csr_array

    def beside(self, joints: Ints) -> NDArray[np.intp]:
        """Return the joints that have an owner in common with one of some joints."""
        return np.unique(self.asked[np.unique(self.asks[joints].indices)].indices)


@dataclass(frozen=True)
class _Ground:
    """Rows left with their prices, and what links the joints.

    Each of `orders` has every joint's rows by price, from `first`: with what their ring part costs, and
    without, as if another joint had paid for it. `links` are ring parts and sums.
    """

    program: Program
    objective: Objective
    bound: Bound
    orders: tuple[NDArray[np.intp], ...]
    first: NDArray[np.intp]
    links: tuple[_Links, ...]

    def rows_left(self, value: int) -> int:
        """Return how many rows an answer below a value could use."""
        return int(self.bound.usable(self.objective.weight_of(value) - 1).sum())

    def neighbourhood(
        self, chosen: TableRows, rows: int, draw: np.random.Generator
    ) -> TableRows:  # fmt: skip
        """Return the rows of a neighbourhood of an answer, about so many of them for the joints freed."""
        each = int(draw.choice(search_tuning().near_rows_each))
        order = self.orders[draw.integers(len(self.orders))]
        freed = self._freed(chosen, max(2, rows // each), draw)
        taken = [chosen, self._of_parts_in_use(chosen, freed, draw)]
        for joint in freed:
            taken.append(order[self.first[joint] : self.first[joint + 1]][:each])
        return TableRows(np.unique(np.concatenate(taken)))

    def _freed(self, chosen: TableRows, many: int, draw: np.random.Generator) -> Ints:
        """Return the joints that are freed: a dear one, one linked with it, and so on.

        Sometimes whole parts are freed, with all joints that have them.
        """
        table, links, whole = self.program.table, self._drawn_links(draw), draw.random() < 0.5
        joint, ring = table.joint[chosen], table.ring[chosen]
        dear = np.zeros(table.joints)
        dear[joint] = np.maximum(self.bound.costs[chosen], 0).astype(np.float64)
        dear[joint] += dear.mean() + 1.0
        linked, freed = np.zeros(table.joints), np.empty(0, dtype=np.int64)
        many = min(many, len(joint))
        while len(freed) < many:
            score = dear * linked
            if not score.any():
                score = dear
            next_ones = draw.choice(table.joints, size=1, p=score / score.sum())
            if whole:
                next_ones = joint[ring == ring[np.searchsorted(joint, next_ones)]]
            freed = np.union1d(freed, next_ones)
            dear[next_ones] = 0.0
            for link in links:
                linked[link.beside(next_ones)] += 1.0
        return freed

    def _drawn_links(self, draw: np.random.Generator) -> tuple[_Links, ...]:
        """Return what links the joints that are freed one after another: ring parts, sums, or both."""
        kind = int(draw.integers(len(self.links) + 1))
        return self.links if kind == len(self.links) else (self.links[kind],)

    def _of_parts_in_use(
        self, chosen: TableRows, freed: Ints, draw: np.random.Generator
    ) -> NDArray[np.intp]:
        """Return rows of ring parts in use: of joints beside those freed first, then of others."""
        table = self.program.table
        used = table.take(chosen).every_ring
        mine = np.isin(table.ring, used)
        if table.second is not None:
            mine &= (table.second < 0) | np.isin(table.second, used)
        many = np.bincount(table.joint[mine], minlength=table.joints)
        turn = draw.random(table.joints)
        for link in self.links:
            turn[link.beside(freed)] -= 1.0
        order = np.argsort(turn)
        loose = np.zeros(table.joints, dtype=np.bool_)
        loose[order[np.cumsum(many[order]) <= search_tuning().near_rows_in_use]] = True
        return np.flatnonzero(mine & loose[table.joint])


def _ground(run: Incumbent, left: Table, known: NamedMultipliers) -> _Ground | None:
    """Return what neighbourhoods are drawn from; None if the multipliers at hand price nothing."""
    program = run.build(left)
    if not run.within(program):
        return None
    objective = program.objectives[run.wish]
    whole = whole_multipliers(
        program, objective, multipliers_for_program(program, objective, known)
    )
    if whole is None:
        return None
    bound = lagrangian_bound(program, objective, whole)
    orders = tuple(
        np.lexsort((program.ranks[: program.rows], price, program.joint))
        for price in (bound.costs, bound.own_costs)
    )
    first = np.searchsorted(program.joint, np.arange(program.joints + 1))
    links = _by_rings(program.table), _by_sums(program.table)
    return _Ground(program, objective, bound, orders, first, links)


def _by_rings(table: Table) -> _Links:
    """Return which joints have ring parts in common."""
    joint, ring = table.joint, table.ring
    if table.second is not None:
        more = table.second >= 0
        joint, ring = np.append(joint, joint[more]), np.append(ring, table.second[more])
    return _links(joint, np.unique(ring, return_inverse=True)[1], table.joints)


def _by_sums(table: Table) -> _Links:
    """Return which joints stand in a sum together."""
    joints, groups, many = [np.empty(0, np.int64)], [np.empty(0, np.int64)], 0
    for sums in table.sums:
        counted = np.flatnonzero(sums.group >= 0)
        joints.append(counted)
        groups.append(sums.group[counted] + many)
        many += len(sums.names)
    return _links(np.concatenate(joints), np.concatenate(groups), table.joints)


def _links(joint: Ints, owner: Ints, joints: int) -> _Links:
    shape = (joints, int(owner.max(initial=-1)) + 1)
    asks = sparse.csr_array((np.ones(len(joint), np.int64), (joint, owner)), shape=shape)
    asks.sum_duplicates()
    return _Links(asks, sparse.csr_array(asks.T))
