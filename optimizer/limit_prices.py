"""Prices of limits: what each limit of a possible study costs, with everything else as it is.

One solve with the limit loosened and one with it tightened by a share of its value, on rows rated once.
What need not be solved is not: tightened, the answer at hand is still best if it keeps the tighter limit;
loosened, it is still best if no row comes in. Quantities count in the order of the study's wishes, followed
by those it does not name, so that each is determined; the tool point is that of the answer found.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimizer.blockers import Undecided
from optimizer.catalogue import Ints
from optimizer.choose import Choice, choose
from optimizer.easing import eased, unbounded
from optimizer.own_limits import Limit, shared_limits_of
from optimizer.program import Units, build, units_of
from optimizer.sift import sift
from optimizer.study import WISHES, Study, Wish
from optimizer.table import Table, ring_keys, table_of, tool_point_shares
from optimizer.universe import Mask, Universe, keeps, universe

#: Share by which limits are loosened and tightened, unless told otherwise.
STEP = 0.05
#: Quantities in the order in which they count where the study does not say.
QUANTITIES: tuple[Wish, ...] = tuple(wish for wish in WISHES if wish != "cost")


@dataclass(frozen=True)
class Quantities:
    """What an answer comes to: its wishes in the order they count, and its robots' tool points in um."""

    wishes: dict[Wish, float]
    tool_points_um: dict[str, float]

    def change_to(self, other: Quantities) -> dict[str, float]:
        """Return how each quantity changes, by name."""
        changes: dict[str, float] = {
            wish: other.wishes[wish] - value for wish, value in self.wishes.items()
        }
        points = {
            f"tool point of {robot}": other.tool_points_um[robot] - value
            for robot, value in self.tool_points_um.items()
        }
        return {**changes, **points}


@dataclass(frozen=True)
class LimitPrice:
    """One limit loosened and tightened: the values, and what the answer then comes to (None: none)."""

    limit: Limit
    loosened: float | None
    tightened: float | None
    looser: Quantities | None
    tighter: Quantities | None


def wish_order(study: Study) -> list[Wish]:
    """Return the study's wishes and after them the quantities that it does not name."""
    named = list(study.wishes.order)
    return named + [wish for wish in QUANTITIES if wish not in named]


def moved(limit: Limit, step: float, looser: bool) -> float:
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
        self.world: Universe = universe(self.study, dict.fromkeys(range(joints), 1), step)
        if self.world.margin < step:
            raise Undecided("too many rows for this step")
        self.order = wish_order(self.study)
        self.rated = self.world.rated
        self.inside = np.zeros(len(self.rated.catalogue), dtype=np.bool_)
        for joint in self.world.joints:
            self.inside[joint.rows] = joint.within(frozenset())
        self.best, self.base = self._solved(self.study, self.inside)

    @cached_property
    def limits(self) -> list[Limit]:
        """Every limit that has a number."""
        own = [limit for limit in self.world.limits if limit.side in ("at most", "at least")]
        shared = shared_limits_of(self.study)
        return own + [limit for limit in shared if not limit.field.endswith("cycle_max_us")]

    def price(self, limit: Limit, loosened: bool = True, tightened: bool = True) -> LimitPrice:
        """Return the price of a limit; either side is left out where the field allows no such value."""
        down, up = moved(limit, self.step, True), moved(limit, self.step, False)
        return LimitPrice(
            limit,
            down if loosened else None,
            up if tightened else None,
            self._at(limit, down, True) if loosened else None,
            self._at(limit, up, False) if tightened else None,
        )

    def _at(self, limit: Limit, value: float, looser: bool) -> Quantities | None:
        study, rows = self.study, self.inside
        if limit.shared:
            study = eased(study, {limit: value})
            if not looser and self._kept_by_best(study):
                return self.base
            return self._solved(study, self._sifted if looser else rows)[1]
        keep = self._rows_at(limit, value, looser)
        extra = keep & ~rows
        if looser and not extra.any():
            return self.base
        if not looser and keep[self.best].all():
            return self.base
        return self._solved(study, self._few(extra) if looser else keep)[1]

    def _rows_at(self, limit: Limit, value: float, looser: bool) -> Mask:
        """Return the rows that keep all limits with one of them at another value."""
        number = self.world.limits.index(limit)
        keep = self.inside.copy()
        for joint in self.world.joints:
            if number in joint.limits:
                mine = joint.within(frozenset({number})) if looser else keep[joint.rows]
                need = joint.need[joint.limits.index(number)]
                keep[joint.rows] = mine & keeps(limit, need, value)
        return keep

    def _few(self, extra: Mask) -> Mask:
        """Return the rows that matter when some come in: see `easing`."""
        rings = np.zeros(int(self._rings.max()) + 1, dtype=np.bool_)
        rings[self._rings[extra]] = True
        return np.asarray(extra | self._sifted | (self.inside & rings[self._rings]))

    @cached_property
    def _rings(self) -> Ints:
        return ring_keys(self.rated)

    @cached_property
    def _sifted(self) -> Mask:
        """Rows inside all limits that `sift` leaves whatever limits over joints come to."""
        places = np.flatnonzero(self.inside)
        table = unbounded(table_of(self.study, self.rated.take(places)))
        keep = np.zeros(len(self.inside), dtype=np.bool_)
        keep[places[sift(table, self._needed).index]] = True
        return keep

    @property
    def _needed(self) -> frozenset[Wish]:
        return frozenset(self.order) | frozenset(self.study.wishes.ceilings())

    # -- solving --------------------------------------------------------------------------------------

    def _solved(self, study: Study, keep: Mask) -> tuple[Ints, Quantities | None]:
        """Return the best rows among those that keep the limits, and what they come to."""
        places = np.flatnonzero(keep)
        table = table_of(study, self.rated.take(places))
        if len(np.unique(table.joint)) < table.joints:
            return np.empty(0, dtype=np.int64), None
        units = units_of(table)
        search = study.search.model_copy(update={"workers": 1})
        choice = choose(table, units, self.order, study.wishes.ceilings(), search)
        if choice.status == "impossible":
            return np.empty(0, dtype=np.int64), None
        if choice.status != "proven":
            raise Undecided("; ".join(choice.reasons))
        rows = np.sort(places[choice.rows])
        return rows, self._quantities(study, rows, table, units, choice)

    def _quantities(
        self, study: Study, rows: Ints, table: Table, units: Units, choice: Choice
    ) -> Quantities:
        wishes: dict[Wish, float] = {}
        for stage in choice.stages:
            value = float(stage.value)
            if stage.wish == "material":
                value = float(table.material_kg[choice.rows].sum())
            elif stage.wish == "cost":
                value *= units.cost
            wishes[stage.wish] = value
        return Quantities(wishes, self._tool_points(study, rows))

    def _tool_points(self, study: Study, rows: Ints) -> dict[str, float]:
        """Return the error at the tool point of every robot with a reach, in um."""
        chosen = self.rated.take(rows)
        refs = chosen.catalogue.joints
        shares = tool_point_shares(chosen)
        found = {}
        for robot in study.robots:
            mine = [refs[int(j)].robot.name == robot.name for j in chosen.catalogue.joint]
            total = float(shares[mine].sum())
            if total > 0.0:
                found[robot.name] = total**0.5 if robot.tool_point_rule == "rss" else total
        return found

    def _kept_by_best(self, study: Study) -> bool:
        """Say whether the answer at hand keeps a study's limits over joints."""
        table = table_of(study, self.rated.take(self.best))
        program = build(table, units_of(table), None, study.wishes.ceilings(), {})
        return program.allowed(program.with_needed_columns(np.arange(len(table))))
