"""Stage 4: one wish of a study's table at a time, and every bound is proven by a second route.

`wishes_in_turn` asks for one wish after the other. Each is minimised with others held, among the rows that
`reduce` leaves for just these. The linear relaxation gives multipliers, which in whole numbers prove a bound
and the price of using each row (`lagrangian`). If the best answer known meets the bound, the wish is proven.
If not, rows are dropped that no better answer could use, and the relaxation is solved again on the rest,
whose numbers are then smaller and closer. Where that ends with a gap, CP-SAT proves the rest, and HiGHS must
find the same optimum of the same rows. Last, ties are broken by the canonical ranks of the rows, so that
equal studies give equal answers.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from ringset.arrays import Floats, Ints, Mask
from ringset.physics.limit_rule import rounding_allowance
from ringset.reduction.dominance import reduction_dominating_joints, reduction_followers_rows
from ringset.reduction.reduce import reduce
from ringset.reduction.table import FirstRows, Table, table_least_per_joint
from ringset.reduction.units import Units
from ringset.schema.gives import Aim, study_plain_wishes
from ringset.schema.study import Search, Wish
from ringset.search.bounds.column_generation import (
    relax_program,
    search_relaxation_best_rows,
    search_relaxation_limit_shares,
    search_relaxed_answer,
)
from ringset.search.bounds.lagrangian import (
    NamedMultipliers,
    lagrangian_bound,
    multipliers_for_program,
    refuse_beaten_bound,
    whole_multipliers,
)
from ringset.search.engines.cross_check import highs_infeasible
from ringset.search.exact.by_cutter import settling_parts_of_cutters
from ringset.search.exact.held_parts import CountLimits, search_rows_within_parts
from ringset.search.model.constraints import Ceilings, Held, search_held_by_aim
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program, build_search_program
from ringset.search.model.variables import search_wish_value
from ringset.search.one_wish import minimise_wish
from ringset.search.state.context import (
    Clock,
    Progress,
    SearchContext,
    search_columns_of_answer,
    search_rows_of_answer,
)
from ringset.search.state.incumbent import Incumbent
from ringset.search.state.result import StageResult, Start, search_stage_result
from ringset.search.tuning import search_tuning

#: Most amounts of a joint that are rounded up each: its row, its ring part, its cutter; a second part is one
#: more.
_PIECES = 3


class Solver:
    """One table under one set of ceilings; what one search finds out serves the next."""

    def __init__(
        self, table: Table, units: Units, ceilings: Ceilings, search: Search,
        progress: Progress | None = None,
    ) -> None:  # fmt: skip
        clock = Clock(time.monotonic() + search.time_limit_s)
        self.context = SearchContext(
            table,
            units,
            dict(ceilings),
            search,
            clock,
            progress or (lambda wish, best, bound: None),
        )
        self._reduced: dict[frozenset[Wish], Table] = {}
        self._left: Table | None = None  # rows that an answer as good as the last one could use
        self._known: list[_Known] = []

    @property
    def table(self) -> Table:
        """The first table, to which all places of rows refer."""
        return self.context.table

    @property
    def units(self) -> Units:
        """The units in which material and money are counted."""
        return self.context.units

    @property
    def ceilings(self) -> Ceilings:
        """What the wishes may come to at most."""
        return self.context.ceilings

    @property
    def clock_ended(self) -> bool:
        """Whether the time ended some search."""
        return self.context.clock.ended

    def stop(self) -> None:
        """End the search now, wherever it is."""
        self.context.clock.stop()

    # -- rows and programs -----------------------------------------------------------------------

    def reduced(self, needed: frozenset[Wish]) -> Table:
        """Return the rows that matter when the wishes in `needed` do."""
        if needed not in self._reduced:
            # what fewer wishes need is part of what more of them need
            larger = [key for key in self._reduced if needed < key]
            source = self._reduced[min(larger, key=len)] if larger else self.table
            self._reduced[needed] = self._reduce(source, needed)
        return self._reduced[needed]

    def _reduce(self, table: Table, needed: frozenset[Wish]) -> Table:
        return reduce(table, needed) if search_tuning().uses("reduction") else table

    def _leaders(self, table: Table, needed: frozenset[Wish]) -> Mask:
        """Return, per joint, whether it has rows of its own to choose from."""
        if search_tuning().uses("followers"):
            return reduction_dominating_joints(table, needed)
        return np.bincount(table.joint, minlength=table.joints) > 0

    def rows_with(self, needed: frozenset[Wish], rows: FirstRows) -> Table:
        """Return the reduced rows, with those of an answer at hand among them."""
        table = self.reduced(needed)
        if np.all(np.isin(rows, table.index)):
            return table
        return self.table.take(np.union1d(table.index, rows).astype(np.intp))

    def share(self, other: Solver) -> None:
        """Take over multipliers that a search of other rows found; they are evaluated wherever used."""
        self._known += other._known

    def multipliers(self, wish: Aim) -> list[NamedMultipliers]:
        """Return the multipliers known to bound a wish."""
        return [
            known.multipliers for known in self._known if known.wish == wish and known.multipliers
        ]

    @property
    def rows_searched(self) -> int:
        """Most rows that any of the wishes left to search."""
        return max((len(table) for table in self._reduced.values()), default=0)

    # -- some answer -----------------------------------------------------------------------------

    def start(self) -> Start:
        """Return some answer under all ceilings; each ceiling is reached by minimising its wish."""
        asked, ceilings = self.context, self.ceilings
        self.context = asked.under({})
        first = self._within_sums()
        rows = first.rows
        for wish in sorted(ceilings):
            if rows is None:
                break
            stage, rows = self.minimise(wish, {}, rows, enough=ceilings[wish])
            if not self._keeps(wish, ceilings[wish], rows):
                first = self._beyond(stage, ceilings[wish])
                rows = first.rows
            self.context = asked.under({**self.ceilings, wish: ceilings[wish]})
        self.context = asked
        return first if rows is None else Start(rows)

    def _within_sums(self) -> Start:
        """Return an answer that keeps the sums: the most accurate rows, or else what a search finds."""
        program = self.context.build(self.reduced(frozenset()), None, {})
        x = program.with_needed_columns(
            search_relaxation_best_rows(program, (search_relaxation_limit_shares(program),), 1)
        )
        if program.one_row_each(x) and program.allowed(x):
            return Start(search_rows_of_answer(program, x))
        return self._searched(program)

    def _searched(self, program: Program) -> Start:
        """Return the answer that a search finds; that there is none needs both engines."""
        solved = self.context.answer(program, None)
        if solved.x is not None:
            return Start(search_rows_of_answer(program, solved.x))
        if solved.status == "INFEASIBLE" and highs_infeasible(program, self.context.clock.ends):
            return Start(None, "impossible")
        if solved.status == "INFEASIBLE":
            reason = "the two engines disagree: one finds no answer possible, the other does not"
        else:
            ended = "search.time_limit_s, search.work_limit: ended before any answer was found"
            reason = solved.reason or ended
        return Start(None, "undecided", [reason])

    def _keeps(self, wish: Wish, ceiling: float, rows: FirstRows) -> bool:
        table = self.rows_with(frozenset({wish}), rows)
        program = build_search_program(table, self.units, wish, {wish: ceiling}, {})
        # a row that no head pattern within the ceiling holds is not even there
        there = bool(np.all(np.isin(rows, program.table.index)))
        return there and program.allowed(search_columns_of_answer(program, rows))

    def _beyond(self, stage: StageResult, ceiling: float) -> Start:
        """Say that the least of a wish passes its ceiling, or that this is not known.

        Amounts are counted in whole units, rounded up piece by piece. Where the least passes the
        ceiling by no more than that, another answer could keep it, and is searched for.
        """
        if not stage.proven:
            reason = f"wishes.{stage.wish}_max: no answer within it found before the search ended"
            return Start(None, "undecided", [reason])
        if stage.wish not in ("material", "cost"):
            return Start(None, "impossible")
        unit = self.units.size(stage.wish)
        pieces = _PIECES + (self.table.second is not None)
        if (stage.value - pieces * self.table.joints) * unit > ceiling + rounding_allowance(
            ceiling
        ):
            return Start(None, "impossible")
        within = self.context.under({**self.ceilings, stage.wish: ceiling})
        table = self.reduced(frozenset(within.ceilings))
        return self._searched(within.build(table, None, {}))

    # -- one wish --------------------------------------------------------------------------------

    def minimise(
        self, wish: Aim, held: Held, start: FirstRows, enough: float | None = None
    ) -> tuple[StageResult, FirstRows]:
        """Return the least of a wish, or of a sum of two, under ceilings and held wishes, and its rows.

        `start` are rows that keep them. With `enough` (in the wish's own unit) any answer will do that
        needs no more; the bound is then what is proven so far.
        """
        if self.context.clock.over():  # to prepare a large search takes seconds by itself
            self.context.clock.watch()
            return search_stage_result(wish, self.value(wish, start), 0, "nothing"), start
        kept = search_held_by_aim(held)
        needed = study_plain_wishes({*kept, *self.ceilings, wish})
        table, apart = self._without_useless(self.rows_with(needed, start), kept)
        limits = CountLimits.of(kept, self.ceilings)
        covered = search_rows_within_parts(table, needed, limits, start)
        fewer, table = apart or len(covered) < len(table), covered
        stop = None if enough is None else self._units_of(wish, enough)
        lead = self._leaders(table, needed)
        ours = FirstRows(start[lead[self.table.joint[start]]])
        run = Incumbent(self.context, wish, kept, table.take(lead[table.joint]), ours, stop)
        stage = minimise_wish(run)
        if fewer and stage.confirmed_by in ("multipliers", "listing"):
            stage = replace(stage, confirmed_by="halves")  # of the rows left, cutter by cutter
        followers = reduction_followers_rows(self.table, lead, self.table.places_of(run.best))
        rows = FirstRows(np.union1d(run.best, self.table.index[followers]))
        self._left = run.left
        if run.first is not None or run.of_cutters:
            known = _Known(wish, kept, dict(self.ceilings), run.first, run.of_cutters)
            self._known.append(known)
        self.context.clock.watch()
        return stage, rows

    def value(self, wish: Aim, rows: FirstRows) -> int:
        """Return what an answer comes to, in whole units."""
        return search_wish_value(self.table.take(self.table.places_of(rows)), self.units, wish)

    def most(self, wish: Wish) -> int:
        """Return what a wish comes to at most, in whole units, whatever is chosen."""
        table = self.table
        if wish in ("cutters", "ring_parts"):
            return table.joints * (1 if table.second is None or wish == "cutters" else 2)
        if wish == "heads":
            return _largest_total(table, table.built_heads.astype(np.float64))
        size, pieces = self.units.size(wish), _PIECES + (table.second is not None)
        amounts = table.material_kg if wish == "material" else table.cost
        once = 0.0 if wish == "material" else table.part_cost.sum() + table.cutter_cost.sum()
        return _largest_total(table, amounts / size) + int(once / size) + pieces * table.joints

    def overtaken(self, stages: list[StageResult], rows: FirstRows) -> list[StageResult]:
        """Return the stages with what `rows` reach, which were found later and kept what is held.

        Where the time ended before a wish was proven, a later search may have found less of it.
        """
        now = [replace(stage, value=self.value(stage.aim, rows)) for stage in stages]
        for stage in now:
            refuse_beaten_bound(str(stage.aim), stage.value, stage.bound)
        return now

    def _without_useless(self, table: Table, held: dict[Aim, int]) -> tuple[Table, bool]:
        """Drop the rows that no answer uses which holds what is held, by multipliers found before.

        Returns whether some of them left by multipliers of one cutter each.
        """
        apart = False
        if len(table) <= search_tuning().reuse_rows or not search_tuning().uses(
            "earlier multipliers"
        ):
            return table, apart
        for known in reversed(self._known):  # under most that is held: it drops most
            if known.wish not in held or not known.holds(held, self.ceilings):
                continue
            before = len(table)
            if known.multipliers is not None:
                table = self._usable(table, known, known.multipliers, held[known.wish])
            if known.of_cutters:
                left = np.empty(0, dtype=np.intp)
                for cutter, part in settling_parts_of_cutters(table):
                    given = known.of_cutters.get(cutter)
                    if given is not None:
                        part = self._usable(part, known, given, held[known.wish])
                    left = np.union1d(left, part.index)
                table = table.take(np.isin(table.index, left))
                apart |= len(table) < before
        return table, apart

    def _usable(self, table: Table, known: _Known, given: NamedMultipliers, most: int) -> Table:
        """Return the rows that an answer of a table could use with a wish at `most`, by multipliers."""
        program = build_search_program(table, self.units, known.wish, known.ceilings, known.held)
        objective = program.objectives[known.wish]
        real = multipliers_for_program(program, objective, given)
        multipliers = whole_multipliers(program, objective, real)
        if multipliers is None:
            return table
        bound = lagrangian_bound(program, objective, multipliers)
        return program.table.take(bound.usable(objective.weight_within(most)))

    def _units_of(self, wish: Aim, amount: float) -> int:
        """Return whole units that surely keep an amount."""
        if wish not in ("material", "cost"):
            return int(amount)
        return int(np.floor(amount / self.units.size(wish))) - 1

    def break_ties(self, held: Held, rows: FirstRows) -> FirstRows:
        """Return the answer of least total rank among the best; no claim is made for it."""
        left = self._left
        if left is None or not np.all(np.isin(rows, left.index)):
            left = self.rows_with(study_plain_wishes({*held, *self.ceilings}), rows)
        alone = len(left) == len(rows)
        if (
            alone
            or len(left) >= search_tuning().tie_rows_max
            or not search_tuning().uses("tie break")
        ):
            return rows
        program = self.context.build(left, None, held)
        x = search_columns_of_answer(program, rows)
        objective = Objective(program.ranks)
        first = program.taken(x)
        relaxed = relax_program(program, objective, first, self.context.clock.ends, thorough=False)
        if relaxed is None:
            return rows
        refuse_beaten_bound("ranks", objective.value(x), relaxed.bound.least)
        x = better_incumbent(program, objective, x, search_relaxed_answer(program, relaxed))
        alive = relaxed.bound.usable(objective.value(x))
        if (
            objective.value(x) > relaxed.bound.least
            and alive.sum() <= search_tuning().tie_searched_max
        ):
            part = self.context.build(program.table.take(alive), None, held)
            place = np.searchsorted(program.table.index, part.table.index)
            ranks = Objective(np.pad(program.ranks[place], (0, part.columns - part.rows)))
            solved = self.context.answer(part, ranks)
            if solved.x is not None:
                ours = search_columns_of_answer(program, search_rows_of_answer(part, solved.x))
                x = better_incumbent(program, objective, x, ours)
        return search_rows_of_answer(program, x)


def _largest_total(table: Table, values: Floats) -> int:
    largest = -table_least_per_joint(-values, table.joint, table.joints)
    return int(np.ceil(largest[np.isfinite(largest)].sum()))


@dataclass(frozen=True)
class _Known:
    """Multipliers that bounded a wish under ceilings and held wishes; valid wherever those hold.

    Those of single cutters bound the rows of one cutter; there are some only where an answer has one.
    """

    wish: Aim
    held: dict[Aim, int]
    ceilings: Ceilings
    multipliers: NamedMultipliers | None
    of_cutters: dict[int, NamedMultipliers]

    def holds(self, held: dict[Aim, int], ceilings: Ceilings) -> bool:
        """Say whether all that was held then is held now."""
        kept = all(held.get(wish, value + 1) <= value for wish, value in self.held.items())
        return kept and all(ceilings.get(wish) == most for wish, most in self.ceilings.items())


def better_incumbent(program: Program, objective: Objective, x: Ints, other: Ints | None) -> Ints:
    """Return the better of two answers, the second only if it is there and allowed."""
    if other is None or not program.allowed(other) or objective.value(other) >= objective.value(x):
        return x
    return other
