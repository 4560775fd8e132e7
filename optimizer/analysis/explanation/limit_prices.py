"""Prices of limits: what each limit of a possible study costs, with everything else as it is.

One solve with the limit loosened and one with it tightened by a share of its value, on rows rated once.
What need not be solved is not: tightened, the answer at hand is still best if it keeps the tighter limit;
loosened, it is still best if no row comes in, or none that the multipliers found for the study as it is
leave to a better answer. Quantities count in the order of the study's wishes, followed
by those it does not name, so that each is determined; the tool point is that of the answer found.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ringset.analysis.explanation.feasibility import (
    explained_feasible_rows,
    explained_with_eased_limits,
)
from ringset.analysis.explanation.widened import Universe, explanation_rows_widened
from ringset.arrays import Ints, Mask
from ringset.infeasibility.models import Undecided
from ringset.infeasibility.oracle import oracle_unlimited_table
from ringset.rating.robot_sums import rated_part_keys, rated_tool_point_shares, rated_tool_point_um
from ringset.rating.stated_limits import Limit, rated_limit_keeps, rated_shared_limits
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.reduce import reduce
from ringset.reduction.table import FirstRows, Table, TableRows, table_least_per_joint
from ringset.reduction.units import reduction_units
from ringset.schema.study import TOOL_POINT_TARGETS, WISHES, Study, Wish
from ringset.search.bounds.lagrangian import (
    lagrangian_bound,
    multipliers_for_program,
    whole_multipliers,
)
from ringset.search.lexicographic import Solver
from ringset.search.model.program import build_search_program
from ringset.search.wishes_in_turn import minimise_with

#: Share by which limits are loosened and tightened, unless told otherwise.
STEP = 0.05
#: Quantities in the order in which they count where the study does not say.
QUANTITIES: tuple[Wish, ...] = tuple(wish for wish in WISHES if wish != "cost")


@dataclass(frozen=True)
class Quantities:
    """What an answer comes to: its wishes in the order they count, and its robots' tool points in um.

    `tool_point_scatters_um` are the repeatabilities there, of robots that have a target for it.
    """

    wishes: dict[Wish, float]
    tool_points_um: dict[str, float]
    tool_point_scatters_um: dict[str, float]

    def change_to(self, other: Quantities) -> dict[str, float]:
        """Return how each quantity changes, by name."""
        changes: dict[str, float] = {
            wish: other.wishes[wish] - value for wish, value in self.wishes.items()
        }
        points = {
            f"tool point of {robot}": other.tool_points_um[robot] - value
            for robot, value in self.tool_points_um.items()
        }
        scatters = {
            f"tool-point repeatability of {robot}": other.tool_point_scatters_um[robot] - value
            for robot, value in self.tool_point_scatters_um.items()
        }
        return {**changes, **points, **scatters}


@dataclass(frozen=True)
class LimitPrice:
    """One limit loosened and tightened: the values, and what the answer then comes to (None: none)."""

    limit: Limit
    loosened: float | None
    tightened: float | None
    looser: Quantities | None
    tighter: Quantities | None


def explained_wishes_to_price(study: Study) -> list[Wish]:
    """Return the study's wishes and after them the quantities that it does not name."""
    named = list(study.wishes.order)
    return named + [wish for wish in QUANTITIES if wish not in named]


def explained_limit_to_price(limit: Limit, step: float, looser: bool) -> float:
    """Return a limit's value loosened or tightened by a share of itself; whole numbers by one at least."""
    up = (limit.side == "at most") == looser
    size = abs(limit.given) * step
    if isinstance(limit.json_value(limit.given), int):
        size = float(max(1, int(size)))
    return round(limit.given + (size if up else -size), 9)


class Pricing:
    """A possible study, its best answer, and its rows a step beyond every limit."""

    def __init__(self, study: Study, step: float = STEP) -> None:
        self.study, self.step = study.canonical(), step
        joints = sum(len(robot.joints) for robot in study.robots)
        self.world: Universe = explanation_rows_widened(
            self.study, dict.fromkeys(range(joints), 1), step
        )
        if self.world.margin < step:
            raise Undecided("too many rows for this step")
        self.order, self.gives = explained_wishes_to_price(self.study), self.study.gives()
        self.rated = self.world.rated
        self.inside = np.zeros(len(self.rated.catalogue), dtype=np.bool_)
        for joint in self.world.joints:
            self.inside[joint.rows] = joint.within(frozenset())
        search = self.study.search.model_copy(update={"workers": 1})
        self.search, self.units = search, reduction_units(reduction_table(self.study, self.rated))
        self.best, self.least, self.base = self._first()

    @cached_property
    def limits(self) -> list[Limit]:
        """Every limit that has a number."""
        own = [limit for limit in self.world.limits if limit.side in ("at most", "at least")]
        shared = rated_shared_limits(self.study)
        return own + [limit for limit in shared if not limit.polled]

    def price(self, limit: Limit, loosened: bool = True, tightened: bool = True) -> LimitPrice:
        """Return the price of a limit; either side is left out where the field allows no such value."""
        down, up = (
            explained_limit_to_price(limit, self.step, True),
            explained_limit_to_price(limit, self.step, False),
        )
        return LimitPrice(
            limit,
            down if loosened else None,
            up if tightened else None,
            self._at(limit, down, True) if loosened else None,
            self._at(limit, up, False) if tightened else None,
        )

    def _at(self, limit: Limit, value: float, looser: bool) -> Quantities | None:
        study, rows = self.study, self.inside
        if self.gives:
            return self._anew(limit, value, looser)
        if limit.shared:
            study = explained_with_eased_limits(study, {limit: value})
            if looser:
                return self._loosened(study, self._reduced, np.zeros_like(rows))
            return self.base if self._kept_by_best(study) else self._tightened(study, rows)
        keep = self._rows_at(limit, value, looser)
        extra = keep & ~rows
        if looser:
            return self._loosened(study, self._few(extra), extra) if extra.any() else self.base
        return self.base if keep[self.best].all() else self._tightened(study, keep)

    def _anew(self, limit: Limit, value: float, looser: bool) -> Quantities | None:
        """Return what the best answer comes to with a limit at another value, where wishes may be given up.

        What may be given up follows from the least of a wish, and so from every row: the answer at hand may
        keep a tighter limit and be beaten all the same.
        """
        study, keep = self.study, self.inside
        if limit.shared:
            study = explained_with_eased_limits(study, {limit: value})
        else:
            keep = self._rows_at(limit, value, looser)
            if np.array_equal(keep, self.inside):
                return self.base
        places = np.flatnonzero(keep)
        if len(np.unique(self.rated.catalogue.joint[places])) < len(self.rated.catalogue.joints):
            return None
        found = self._giving(self._solver(study, places))
        if found is None:
            return None
        held, rows = found
        return self._quantities(study, np.sort(places[rows]), held)[2]

    def _giving(self, solver: Solver) -> tuple[dict[Wish, int], FirstRows] | None:
        """Return what every wish comes to, proven, and the rows; None where there is no answer."""
        choice = minimise_with(solver, self.order, self.gives)
        if choice.status == "impossible":
            return None
        if choice.status != "proven":
            raise Undecided("; ".join(choice.reasons))
        return {stage.wish: stage.value for stage in choice.stages}, choice.rows

    def _rows_at(self, limit: Limit, value: float, looser: bool) -> Mask:
        """Return the rows that keep all limits with one of them at another value."""
        number = self.world.limits.index(limit)
        keep = self.inside.copy()
        for joint in self.world.joints:
            if number in joint.limits:
                mine = joint.within(frozenset({number})) if looser else keep[joint.rows]
                need = joint.need[joint.limits.index(number)]
                keep[joint.rows] = mine & rated_limit_keeps(limit, need, value)
        return keep

    def _few(self, extra: Mask) -> Mask:
        """Return the rows that matter when some come in: see `feasibility`."""
        return np.asarray(
            extra | self._reduced | (self.inside & explained_feasible_rows(*self._rings, extra))
        )

    @cached_property
    def _rings(self) -> tuple[Ints, Ints | None]:
        return rated_part_keys(self.rated)

    @cached_property
    def _reduced(self) -> Mask:
        """Rows inside all limits that `reduce` leaves whatever limits over joints come to."""
        places = np.flatnonzero(self.inside)
        table = oracle_unlimited_table(reduction_table(self.study, self.rated.take(places)))
        keep = np.zeros(len(self.inside), dtype=np.bool_)
        keep[places[reduce(table, self._needed).index]] = True
        return keep

    @property
    def _needed(self) -> frozenset[Wish]:
        return frozenset(self.order) | frozenset(self.study.wishes.ceilings())

    # -- solving --------------------------------------------------------------------------------------

    def _first(self) -> tuple[Ints, dict[Wish, int], Quantities]:
        """Return the rows of the best answer, the least of each wish in whole units, and what they are."""
        places = np.flatnonzero(self.inside)
        self.solver = self._solver(self.study, places)
        if self.gives:
            found = self._giving(self.solver)
            if found is None:
                raise Undecided("impossible as stated")
            return self._quantities(self.study, np.sort(places[found[1]]), found[0])
        start = self.solver.start()
        if start.rows is None:
            raise Undecided("; ".join(start.reasons) or "impossible as stated")
        held: dict[Wish, int] = {}
        rows = start.rows
        for wish in self.order:
            held[wish], rows = self._least(self.solver, wish, held, rows)
        rows = self.solver.break_ties(held, rows)
        return self._quantities(self.study, np.sort(places[rows]), held)

    def _loosened(self, study: Study, keep: Mask, extra: Mask) -> Quantities:
        """Return what the best answer comes to among more rows, or under a looser limit over joints."""
        places = np.flatnonzero(keep)
        solver = self._solver(study, places)
        known = self._still_least(solver, extra[places])
        if known == self.order:
            return self.base
        held = {wish: self.least[wish] for wish in known}
        rows = FirstRows(np.searchsorted(places, self.best))
        for wish in self.order[len(known) :]:
            held[wish], rows = self._least(solver, wish, held, rows)
        if held == self.least:
            return self.base
        return self._quantities(study, np.sort(places[rows]), held)[2]

    def _tightened(self, study: Study, keep: Mask) -> Quantities | None:
        """Return what the best answer comes to among fewer rows, or under a tighter limit over joints."""
        places = np.flatnonzero(keep)
        if len(np.unique(self.rated.catalogue.joint[places])) < len(self.rated.catalogue.joints):
            return None
        solver = self._solver(study, places)
        start = solver.start()
        if start.rows is None and start.status == "impossible":
            return None
        if start.rows is None:
            raise Undecided("; ".join(start.reasons))
        solver.share(self.solver)
        rows, held = start.rows, dict[Wish, int]()
        for wish in self.order:
            # fewer rows do no better: as little as before is least
            same = held == {w: self.least[w] for w in held}
            held[wish], rows = self._least(solver, wish, held, rows, same)
        return self._quantities(study, np.sort(places[rows]), held)[2]

    def _still_least(self, solver: Solver, extra: Mask) -> list[Wish]:
        """Return the first wishes of which the known multipliers leave no better answer.

        A better answer takes a row that came in, if any did, and a row of every joint. Rows that no
        answer as good as the known one takes are left out for the wishes that follow.
        """
        needed = frozenset(solver.ceilings)
        left, held = solver.reduced(needed | frozenset(self.order)).index, dict[Wish, int]()
        for place, wish in enumerate(self.order):
            if extra.any() and not extra[left].any():
                return self.order  # none of the rows that came in is part of an answer as good
            needed |= {wish}
            reduced = solver.reduced(needed)
            table = reduced.take(np.isin(reduced.index, left))
            proven = self.least[wish] <= _at_least(table, wish)
            for known in self.solver.multipliers(wish):
                program = build_search_program(table, self.units, wish, solver.ceilings, held)
                objective = program.objectives[wish]
                whole = whole_multipliers(
                    program, objective, multipliers_for_program(program, objective, known)
                )
                if whole is None:
                    continue
                bound = lagrangian_bound(program, objective, whole)
                better = bound.usable(objective.weight_of(self.least[wish]) - 1)
                all_joints = len(np.unique(program.joint[better])) == program.joints
                came = extra[program.table.index[better]].any()
                proven = proven or not all_joints or (bool(extra.any()) and not came)
                useless = ~bound.usable(objective.weight_within(self.least[wish]))
                left = FirstRows(np.setdiff1d(left, program.table.index[useless]))
            if not proven:
                return self.order[:place]
            held[wish] = self.least[wish]
        return self.order

    def _least(
        self,
        solver: Solver,
        wish: Wish,
        held: dict[Wish, int],
        rows: FirstRows,
        known: bool = False,
    ) -> tuple[int, FirstRows]:
        """Return the least of a wish, proven, and rows that reach it; `known` to be no less than before."""
        enough = float(self.least[wish]) if known and wish not in ("material", "cost") else None
        stage, rows = solver.minimise(wish, held, rows, enough)
        if not stage.proven and not (known and stage.value == self.least[wish]):
            raise Undecided(f"{wish}: the least was not proven")
        return stage.value, rows

    def _solver(self, study: Study, places: Ints) -> Solver:
        table = reduction_table(study, self.rated.take(places))
        solver = Solver(table, self.units, study.wishes.ceilings(), self.search)
        solver.reduced(self._needed)  # what fewer wishes need is then found among few rows
        return solver

    def _quantities(
        self, study: Study, rows: Ints, held: dict[Wish, int]
    ) -> tuple[Ints, dict[Wish, int], Quantities]:
        wishes: dict[Wish, float] = {}
        for wish, value in held.items():
            wishes[wish] = float(value)
            if wish == "material":
                wishes[wish] = float(
                    reduction_table(study, self.rated.take(rows)).material_kg.sum()
                )
            elif wish == "cost":
                wishes[wish] = value * self.units.cost
        points, scatters = (self._tool_points(study, rows, field) for field in TOOL_POINT_TARGETS)
        asked = {r.name for r in study.robots if r.tool_point_repeatability_target_um is not None}
        scatters = {robot: value for robot, value in scatters.items() if robot in asked}
        return rows, held, Quantities(wishes, points, scatters)

    def _tool_points(self, study: Study, rows: Ints, field: str) -> dict[str, float]:
        """Return what every robot with a reach comes to in um by a target at the tool point."""
        chosen = self.rated.take(rows)
        refs = chosen.catalogue.joints
        shares = rated_tool_point_shares(chosen, field)
        found = {}
        for robot in study.robots:
            mine = [refs[int(j)].robot.name == robot.name for j in chosen.catalogue.joint]
            total = float(shares[mine].sum())
            if total > 0.0:
                found[robot.name] = rated_tool_point_um(total, robot.tool_point_rule)
        return found

    def _kept_by_best(self, study: Study) -> bool:
        """Say whether the answer at hand keeps a study's limits over joints."""
        table = reduction_table(study, self.rated.take(self.best))
        program = build_search_program(table, self.units, None, study.wishes.ceilings(), {})
        return program.allowed(program.with_needed_columns(TableRows(np.arange(len(table)))))


def _at_least(table: Table, wish: Wish) -> int:
    """Return what a wish comes to at least, whatever is chosen: one cutter, one part, the fewest heads."""
    if wish == "cutters":
        return int(bool(np.all(table.cutter >= 0)))
    if wish == "ring_parts":
        return int(bool(np.all(table.part_weight[table.ring] > 0)))
    if wish == "heads":
        return int(
            table_least_per_joint(
                table.built_heads.astype(np.float64), table.joint, table.joints
            ).sum()
        )
    return 0
