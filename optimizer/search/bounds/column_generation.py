"""The linear relaxation of a program, solved on few rows at a time.

Of tens of thousands of rows an optimal answer of the relaxation uses a handful per joint. So HiGHS gets
a few rows, its multipliers price all others exactly (`lagrangian`), and those that would gain join in,
until none would. Every round gives a valid bound; the best is kept.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints
from ringset.reduction.table import TableRows
from ringset.search.bounds.lagrangian import (
    Bound,
    Multipliers,
    NamedMultipliers,
    lagrangian_bound,
    multipliers_for_program,
    no_multipliers,
    whole_multipliers,
)
from ringset.search.bounds.linear_program import Box, Optimum, linear_program
from ringset.search.bounds.radius_formulation import has_radius_formulation, radius_optimum
from ringset.search.bounds.subgradient import climb, climb_start_prices
from ringset.search.model.matrix import ConstraintMatrix, search_constraint_matrix
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program
from ringset.search.model.variables import Columns
from ringset.search.tuning import search_tuning


@dataclass(frozen=True)
class Relaxed:
    """What the relaxation gave: its best bound, and rows and owners with their shares in the last optimum."""

    bound: Bound
    rows: TableRows
    shares: Floats
    optimum: float
    owners: Columns
    owner_shares: Floats

    def whole_rows(self) -> TableRows | None:
        """Return the rows taken, if the optimum took every one of them whole."""
        taken = self.shares > 0.5
        whole = np.all(np.minimum(self.shares, 1.0 - self.shares) < 1e-6)
        return TableRows(self.rows[taken]) if whole else None


def relax_program(
    program: Program, objective: Objective, start: TableRows, ends: float,
    thorough: bool = True, guide: Guide | None = None,
) -> Relaxed | None:  # fmt: skip
    """Return the relaxation's best bound and last optimum; None if HiGHS gave none.

    `start` are rows of some answer, or else there is a `guide`, so that every round has an optimum. `ends`
    is a time of `time.monotonic`. If not `thorough`, a large program gets a few rounds only. No round
    follows once the bound reaches what the answer at hand is worth.
    """
    tune = search_tuning()
    if not tune.uses("relaxation"):
        return None
    master = _RestrictedMaster(program, objective, start, guide, ends)
    if program.rows >= tune.huge_rows or master.reached():
        return master.priced()
    if (
        master.all_rows
        and tune.uses("radius formulation")
        and has_radius_formulation(program, objective)
    ):
        master.solve_radius_formulation(ends - time.monotonic())
        return master.best
    for _ in range(tune.lp_rounds_large if master.large and not thorough else tune.lp_rounds):
        left = ends - time.monotonic()
        if left <= 0.0 or not master.round(left):
            break
    return master.best or master.priced()


def search_relaxed_answer(program: Program, relaxed: Relaxed) -> Ints | None:
    """Return the answer of a relaxation that took every row whole."""
    rows = relaxed.whole_rows()
    if rows is None or not search_tuning().uses("relaxed answers"):
        return None
    x = program.with_needed_columns(rows)
    return x if program.one_row_each(x) else None


def search_relaxed_most_shares(program: Program, relaxed: Relaxed) -> Ints | None:
    """Return the answer of which the relaxation takes most, joint by joint, if every joint has a row."""
    if not search_tuning().uses("relaxed answers"):
        return None
    rows = relaxed.rows[np.argsort(-relaxed.shares, kind="stable")]
    _, first = np.unique(program.joint[rows], return_index=True)
    x = program.with_needed_columns(TableRows(rows[first]))
    return x if program.one_row_each(x) else None


@dataclass(frozen=True)
class Guide:
    """Multipliers to begin with, and what an answer at hand is worth in units of the weights."""

    multipliers: Multipliers
    worth: int


def guided_relaxation(
    program: Program, objective: Objective, known: NamedMultipliers | None, worth: int, ends: float
) -> Relaxed | None:  # fmt: skip
    """Return the relaxation begun with multipliers of other rows, or with 0; else as `relax_program`.

    `worth` is what an answer at hand comes to, in units of the weights.
    """
    given = (
        no_multipliers(program)
        if known is None
        else multipliers_for_program(program, objective, known)
    )
    return relax_program(
        program, objective, TableRows(np.empty(0, np.intp)), ends, guide=Guide(given, worth)
    )


class _RestrictedMaster:
    """The rows that take part so far, the best bound, and the multipliers that gave it."""

    def __init__(
        self, program: Program, objective: Objective, start: TableRows, guide: Guide | None,
        ends: float,
    ) -> None:  # fmt: skip
        self.program, self.objective, self.tune = program, objective, search_tuning()
        tune = self.tune
        self.active = np.zeros(program.rows, dtype=np.bool_)
        self.active[start] = True
        self.best: Relaxed | None = None
        self.center: Multipliers | None = None
        self.center_bound: Bound | None = None
        self.done = 0
        self.most = tune.box_price if guide is None else tune.box_price_guided
        # a climb knows rows of one part each
        climbs = len(program.parts.owner) > 0 and not program.paired
        self.large = program.rows >= tune.climb_rows and climbs
        self.guided = guide is not None
        self.all_rows = self.guided and program.rows <= tune.whole_rows
        if guide is not None:
            self.worth = guide.worth
            self._begin(guide.multipliers)
        else:
            self.worth = objective.value(program.with_needed_columns(start)) - objective.offset
            self.worth //= objective.scale
            if self.large and tune.uses("subgradient"):
                self._climb(climb_start_prices(program, objective, start), ends)
        if self.center is None:
            self.all_rows = False
            self.active |= search_relaxation_first_rows(program, objective)

    def _climb(self, prices: Floats, ends: float) -> None:
        """Begin with multipliers climbed to from joint prices."""
        target = self.tune.climb_target * float(self.worth)
        turns = self.tune.climb_turns
        self._begin(climb(self.program, self.objective, prices, target, turns, ends).multipliers)

    def _begin(self, multipliers: Multipliers) -> None:
        """Begin with multipliers, and the rows that they let cost least."""
        bound = self._price(multipliers)
        if bound is not None:
            most = (
                self.program.rows if self.all_rows else self.tune.climbed_rows * self.program.joints
            )
            self.active[np.argsort(bound.costs, kind="stable")[:most]] = True

    def _price(self, real: Multipliers) -> Bound | None:
        """Return the bound of multipliers, and keep them if it is the best so far."""
        multipliers = whole_multipliers(self.program, self.objective, real)
        if multipliers is None:
            return None
        bound = lagrangian_bound(self.program, self.objective, multipliers)
        if self.center_bound is None or bound.value > self.center_bound.value:
            self.center, self.center_bound = real, bound
        return bound

    def reached(self) -> bool:
        """Say whether the multipliers begun with show that nothing better is left."""
        return self.center_bound is not None and self.center_bound.least >= self.worth

    def priced(self) -> Relaxed | None:
        """Return the bound of the multipliers begun with, without any optimum."""
        none = np.empty(0, dtype=np.intp)
        bound = self.center_bound
        return (
            None
            if bound is None
            else Relaxed(
                bound, TableRows(none), np.empty(0), bound.value, Columns(none), np.empty(0)
            )
        )

    def round(self, left: float) -> bool:
        """Solve on the rows that take part, price the rest; returns whether more should follow."""
        rows = np.flatnonzero(self.active)
        lines = search_constraint_matrix(self.program, TableRows(rows))
        result = linear_program(self.objective, lines, left, self._box())
        if result is None:
            return False
        bound = self._price(_multipliers(self.program, lines, result))
        if bound is None or self.center_bound is None:
            return False
        joining = _gaining(self.program, bound, self.active)
        self.active[joining] = True
        own, few = lines.columns[len(rows) :], len(rows)
        self.best = Relaxed(
            self.center_bound,
            TableRows(rows),
            result.x[:few],
            result.optimum,
            Columns(own),
            result.x[few : few + len(own)],
        )
        self.done += 1
        if self.all_rows or self.center_bound.least >= self.worth:
            return False
        # more than the least whole number is of no use, and prices may be too coarse for it
        reached = self.center_bound.least >= result.optimum - 1e-9 * max(1.0, abs(result.optimum))
        if result.boxed > 0.0 and (reached or not len(joining)):
            self.most *= self.tune.box_price_less  # only the box holds the multipliers back
            return True
        return len(joining) > 0 and not reached

    def solve_radius_formulation(self, left: float) -> None:
        """Solve all rows in one linear program with few entries."""
        flat = radius_optimum(self.program, self.objective, float(max(self.worth, 0) + 1), left)
        bound = None if flat is None else self._price(flat.multipliers)
        if flat is not None and bound is not None and self.center_bound is not None:
            self.best = Relaxed(
                self.center_bound,
                flat.rows,
                flat.shares,
                flat.optimum,
                flat.parts,
                flat.part_shares,
            )

    def _box(self) -> Box | None:
        """Return the box for the next linear program, none while the first few may do without."""
        if self.center is None or self.center_bound is None:
            return None
        if not (self.large or self.guided) and self.done < self.tune.free_rounds:
            return None
        program = self.program
        width = self.tune.box_width * max(1.0, abs(self.center_bound.value)) / program.joints
        free = self.all_rows or not self.tune.uses(
            "boxstep"
        )  # only what serves joints without rows
        joints, most = np.flatnonzero(program.present), 0.0 if free else self.most
        # below 0 nothing is worth anything, and columns that pay would be taken without end
        worth = float(max(self.worth, 0) + 1)
        return Box(joints, self.center, width, most, worth)


def _multipliers(program: Program, lines: ConstraintMatrix, result: Optimum) -> Multipliers:
    """Return the program's multipliers from those of its lines; those of ring parts follow from them."""
    parts, cutters = len(lines.part_pairs), len(lines.cutter_pairs)
    of_cutters = np.zeros(len(program.cutters.owner))
    of_cutters[lines.cutter_pairs] = result.upper[parts : parts + cutters]
    of_seconds = np.zeros(len(program.seconds.owner))
    seconds, before = len(lines.second_pairs), parts + cutters
    of_seconds[lines.second_pairs] = result.upper[before : before + seconds]
    joints, choices = program.joints, program.patterns.choices
    return Multipliers(
        limits=result.upper[before + seconds :],
        joints=result.equal[:joints],
        cutters=of_cutters,
        heads=result.equal[joints : joints + choices],
        seconds=of_seconds,
    )


def search_relaxation_first_rows(program: Program, objective: Objective) -> NDArray[np.bool_]:
    """Return, per joint, a few rows of least weight and a few that take least of the limits."""
    mask = np.zeros(program.rows, dtype=np.bool_)
    weight = objective.weights[: program.rows]
    for order in (weight, search_relaxation_limit_shares(program)):
        mask[
            search_relaxation_best_rows(
                program, (program.ranks[: program.rows], order), search_tuning().first_rows
            )
        ] = True
    return search_relaxation_with_partners(program, mask)


def search_relaxation_limit_shares(program: Program) -> Floats:
    """Return how much of the real limits each row takes; the least is the most accurate ring."""
    per_limit = 1.0 / np.maximum(program.real.right, 1e-300)
    return np.asarray(program.real.values[:, : program.rows].T @ per_limit)


def search_relaxation_best_rows(
    program: Program, keys: tuple[NDArray[Any], ...], most: int
) -> TableRows:  # fmt: skip
    """Return the first rows of every joint by the last of `keys`, then the one before it."""
    return _first_of_joint(program, np.lexsort((*keys, program.joint)), most)


def _first_of_joint(program: Program, order: NDArray[np.intp], most: int) -> TableRows:
    """Return the first `most` rows of every joint in an order that has each joint's rows together."""
    joint = program.joint[order]
    place = np.arange(len(order)) - np.searchsorted(joint, joint)
    return TableRows(order[place < most])


def search_relaxation_with_partners(program: Program, mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Add, per joint, the lightest rows of every ring part of the rows, so that it can be shared."""
    part = program.parts.columns()
    wanted = np.zeros(program.columns + 1, dtype=np.bool_)
    wanted[part[mask]] = True
    wanted[-1] = False  # rows without a shared part
    return mask | wanted[part]


def _gaining(program: Program, bound: Bound, active: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Return rows that the multipliers of the active rows show to be worth having.

    Those of the ring parts that gain most, whole, and a few of every joint that are their own part.
    """
    prices, part = bound.row_prices, program.parts.columns()
    gaining = (prices < 0) & ~active
    shared = np.flatnonzero(gaining & (part >= 0))
    gain = bound.part_prices[part[shared] - program.rows]
    shared, gain = shared[gain < 0], gain[gain < 0]
    worst = np.unique(gain)[: max(search_tuning().joining_parts, program.joints // 10)]
    own = np.flatnonzero(gaining & (part < 0))
    own = own[np.lexsort((prices[own], program.joint[own]))]
    few = shared[np.isin(gain, worst)]
    return np.concatenate([few, _first_of_joint(program, own, search_tuning().joining_rows)])
