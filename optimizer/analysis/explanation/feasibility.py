"""What is possible with some limits eased: asked of rows rated once, whatever the values.

Where no limit is over joints, a joint's rows answer by arithmetic. Else the rows go to the search, but few
of them: of the rows inside all limits only those that `reduce` leaves, and those that the eased limits let
in with all rows of their rings (a ring that gained no row is still dominated as before).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ringset.analysis.explanation.joint_conflicts import explained_polling_us
from ringset.analysis.explanation.widened import Universe
from ringset.arrays import Floats, Ints, Mask
from ringset.infeasibility.models import Undecided
from ringset.infeasibility.oracle import QUESTION_S, oracle_reduced_table
from ringset.physics.limit_rule import number_at_most
from ringset.rating.ring_sums import RING_SUMS
from ringset.rating.robot_sums import rated_part_keys, rated_tool_point_shares, rated_tool_point_um
from ringset.rating.stated_limits import Limit, rated_limit_keeps, rated_shared_limits
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.table import table_least_per_joint
from ringset.reduction.units import reduction_units
from ringset.schema.study import Study, Wish
from ringset.search.lexicographic import Solver

#: A ceiling or target that grants anything.
SPARE = 1e6
#: Values of limits that are eased, by limit.
Values = Mapping[Limit, float]


@dataclass(frozen=True)
class Feasibility:
    """One impossible (or possible) study with its widened rows, and the limits over its joints."""

    world: Universe

    @property
    def study(self) -> Study:
        """The study as given, canonical."""
        return self.world.study

    @cached_property
    def shared(self) -> tuple[Limit, ...]:
        """Limits over joints."""
        return tuple(rated_shared_limits(self.study))

    @cached_property
    def _searched(self) -> bool:
        return any(not limit.polled for limit in self.shared)

    @cached_property
    def numbers(self) -> dict[Limit, int]:
        """The number of every limit on single rings."""
        return {limit: number for number, limit in enumerate(self.world.limits)}

    # -- rows -----------------------------------------------------------------------------------------

    def allowed(self, values: Values) -> Mask:
        """Return which rows keep every limit, eased ones at their new values."""
        freed = frozenset(self.numbers[limit] for limit in values if not limit.shared)
        keep = np.zeros(len(self.world.rated.catalogue), dtype=np.bool_)
        for joint in self.world.joints:
            mine = joint.within(freed)
            for place, number in enumerate(joint.limits):
                if number in freed:
                    limit = self.world.limits[number]
                    granted = rated_limit_keeps(limit, joint.need[place], values[limit])
                    mine &= granted | ~joint.broken[place]
            keep[joint.rows] = mine
        return keep

    def needs(self, limit: Limit, values: Values) -> tuple[list[Floats], bool]:
        """Return, per joint without an allowed row, what rows need of `limit` beyond the other values.

        The flag tells whether every such joint has a row that the limit alone still keeps out.
        """
        number = self.numbers[limit]
        wide = self.allowed({**values, limit: limit.given})
        freed = frozenset({number, *(self.numbers[other] for other in values if not other.shared)})
        asked, whole = [], True
        for joint in self.world.joints:
            if wide[joint.rows].any():
                continue
            if number not in joint.limits:
                return [], False
            mine = joint.within(freed)
            for place, other in enumerate(joint.limits):
                known = self.world.limits[other]
                if other in freed and other != number:
                    mine &= (
                        rated_limit_keeps(known, joint.need[place], values[known])
                        | ~joint.broken[place]
                    )
            asked.append(joint.need[joint.limits.index(number), mine])
            whole = whole and bool(mine.any())
        return asked, whole

    def values_of(self, limit: Limit, values: Values) -> Floats:
        """Return the values of a limit at which rows are let in, the nearest to the given one first."""
        number = self.numbers[limit]
        freed = frozenset({number, *(self.numbers[other] for other in values if not other.shared)})
        found = [
            joint.need[place, joint.within(freed) & joint.broken[place]]
            for joint in self.world.joints
            for place in [joint.limits.index(number) if number in joint.limits else -1]
            if place >= 0
        ]
        needs = np.unique(np.concatenate([np.empty(0), *found]))
        needs = needs[~np.isnan(needs)]  # what no value grants
        rounded = np.unique([limit.rounded(float(need)) for need in _thinned(needs, limit)])
        return rounded[np.argsort(limit.away(rounded), kind="stable")]

    # -- the question --------------------------------------------------------------------------------

    def possible(self, values: Values) -> bool:
        """Say whether the study is possible with limits at new values; raises Undecided."""
        keep = self.allowed(values)
        if any(not keep[joint.rows].any() for joint in self.world.joints):
            return False
        study = explained_with_eased_limits(
            self.study, {other: v for other, v in values.items() if other.shared}
        )
        for limit in self.shared:
            if limit.polled and not number_at_most(
                explained_polling_us(study, limit), values.get(limit, limit.given)
            ):
                return False
        if not self._searched:
            return True
        start = self._solver(study, keep).start()
        if start.rows is None and start.status != "impossible":
            raise Undecided("; ".join(start.reasons))
        return start.rows is not None

    def furthest(self, limit: Limit, values: Values) -> float | None:
        """Return the value of a limit that grants all that is within reach; None if nothing more is."""
        if limit.shared:
            return SPARE if limit.side == "at most" else 1.0 / SPARE
        steps = self.values_of(limit, values)
        return float(steps[-1]) if len(steps) else None

    def least_tool_point(self, limit: Limit, values: Values) -> float:
        """Return the least target in um, reserve included, that the best allowed rows of a robot keep."""
        rows = np.flatnonzero(self.allowed(values))
        rated = self.world.rated.take(rows)
        refs = rated.catalogue.joints
        least = table_least_per_joint(
            rated_tool_point_shares(rated, limit.field), rated.catalogue.joint, len(refs)
        )
        mine = [index for index, ref in enumerate(refs) if ref.robot.name == limit.robot]
        total = float(least[mine].sum())
        reached = rated_tool_point_um(total, refs[mine[0]].robot.tool_point_rule)
        return self.study.target.least_target(reached)

    def least_ring_sum(self, limit: Limit, values: Values) -> float:
        """Return the least that a robot's rings come to in the sum that a limit bounds, in its unit."""
        rows = self.world.rated.catalogue.take(np.flatnonzero(self.allowed(values)))
        least = table_least_per_joint(
            RING_SUMS[limit.field](self.study, rows), rows.joint, len(rows.joints)
        )
        return float(least[[ref.robot.name == limit.robot for ref in rows.joints]].sum())

    def least(self, wish: Wish, limit: Limit, values: Values) -> float | None:
        """Return the least that a wish comes to without its ceiling; None if nothing is possible."""
        keep = self.allowed(values)
        others = {other: v for other, v in values.items() if other.shared}
        study = explained_with_eased_limits(self.study, others)
        ceilings = {w: c for w, c in study.wishes.ceilings().items() if w != wish}
        solver = self._solver(study, keep, ceilings)
        start = solver.start()
        if start.rows is None:
            return None
        stage, _ = solver.minimise(wish, {}, start.rows)
        if not stage.proven:
            raise Undecided(f"{limit.path}: the least was not proven")
        return float(stage.value * solver.units.size(wish))

    def _solver(
        self, study: Study, keep: Mask, ceilings: dict[Wish, float] | None = None
    ) -> Solver:
        table = reduction_table(study, self.world.rated.take(self._few(keep)))
        search = study.search.model_copy(
            update={"time_limit_s": min(QUESTION_S, study.search.time_limit_s), "workers": 1}
        )
        most = study.wishes.ceilings() if ceilings is None else ceilings
        solver = Solver(table, reduction_units(table), most, search)
        solver.reduced(frozenset(most))  # what fewer ceilings need is then found among few rows
        return solver

    def _few(self, keep: Mask) -> Mask:
        """Return the rows that matter among those that keep the limits."""
        extra = keep & ~self._inside
        if not extra.any():
            return self._reduced
        return np.asarray(keep & (self._reduced | explained_feasible_rows(*self._rings, extra)))

    @cached_property
    def _inside(self) -> Mask:
        return self.allowed({})

    @cached_property
    def _rings(self) -> tuple[Ints, Ints | None]:
        return rated_part_keys(self.world.rated)

    @cached_property
    def _reduced(self) -> Mask:
        """Rows inside all limits that `reduce` leaves whatever the limits over joints come to."""
        places = np.flatnonzero(self._inside)
        table = reduction_table(self.study, self.world.rated.take(places))
        keep = np.zeros(len(self._inside), dtype=np.bool_)
        keep[places[oracle_reduced_table(self.study, table).index]] = True
        return keep


def explained_feasible_rows(rings: Ints, seconds: Ints | None, rows: Mask) -> Mask:
    """Return all rows of the ring parts that some rows have.

    `rings` is the ring of every row, `seconds` the second one (-1: none), None where no row has one.
    """
    if seconds is None:
        found = np.zeros(int(rings.max()) + 1, dtype=np.bool_)
        found[rings[rows]] = True
        return np.asarray(found[rings])
    found = np.zeros(max(int(rings.max()), int(seconds.max())) + 2, dtype=np.bool_)
    found[rings[rows]] = found[seconds[rows]] = True
    found[-1] = False  # what stands for no second ring
    return np.asarray(found[rings] | found[seconds])


def _thinned(needs: Floats, limit: Limit) -> Floats:
    """Return one need for each step of the limit, the one that asks least."""
    if limit.side in ("counts", "multiples") or len(needs) == 0:
        return needs
    _, first = np.unique(np.floor(needs / limit.step), return_index=True)
    last = np.append(first[1:] - 1, len(needs) - 1)
    return np.unique(np.concatenate([needs[first], needs[last]]))


def explained_with_eased_limits(study: Study, values: Values) -> Study:
    """Return the study with limits over joints at new values; nothing is checked."""
    for limit, value in values.items():
        if limit.wish is not None:
            field = limit.path.partition(".")[2]
            wishes = study.wishes.model_copy(update={field: limit.json_value(value)})
            study = study.model_copy(update={"wishes": wishes})
            continue
        robots = []
        for robot in study.robots:
            part, _, field = limit.field.rpartition(".")
            if robot.name == limit.robot and part:
                changed = getattr(robot, part).model_copy(update={field: value})
                robot = robot.model_copy(update={part: changed})
            elif robot.name == limit.robot:
                robot = robot.model_copy(update={field: value})
            robots.append(robot)
        study = study.model_copy(update={"robots": robots})
    return study
