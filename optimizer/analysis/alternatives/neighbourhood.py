"""Rings beside those that stand: rated together, held against every limit, and added up again.

A trial puts other rings on one joint, or on all joints that share a ring part, and leaves all others as
they are. All trials are rated at once, on the very rows and by the very limits that the search knows, so
that what is told of them agrees with it to the last digit. Nothing is searched for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from ringset.analysis.alternatives.models import Broken, Outcome, Ring, StandingRing, Trial
from ringset.analysis.alternatives.pieces import PiecesThere
from ringset.analysis.alternatives.ranked import alternative_changes_ranked
from ringset.analysis.alternatives.sizes_beyond import (
    alternatives_beside_lists,
    alternatives_beyond_ring_sum,
)  # fmt: skip
from ringset.analysis.alternatives.totals import (
    Amounts,
    PartKey,
    alternatives_amounts,
)  # fmt: skip
from ringset.arrays import Floats, Ints, Mask
from ringset.catalogue.bore_zones import catalogue_bore_zone
from ringset.catalogue.joints import catalogue_joints, catalogue_modules
from ringset.catalogue.limits import catalogue_bore_steps, catalogue_heads_allowed
from ringset.catalogue.partners import catalogue_both_sizes_kept
from ringset.catalogue.rows import NO_SECOND, Catalogue, catalogue_bore_mm
from ringset.errors import Fault, StudyError
from ringset.physics import geometry
from ringset.physics.battery_backup import battery_life_years
from ringset.physics.limit_rule import number_at_least, number_at_most
from ringset.rating.limits import rated_checks_in_full
from ringset.rating.rate import rate
from ringset.rating.rated import Rated
from ringset.rating.ring_sums import rated_ring_sum_limit
from ringset.rating.robot_sums import (
    rated_battery_limit_ua,
    rated_tool_point_limit,
    rated_tool_point_um,
)  # fmt: skip
from ringset.rating.stated_limits import rated_ceiling_field
from ringset.schema.joint import Joint
from ringset.schema.study import TOOL_POINT_TARGETS, Robot, Study, Wish
from ringset.schema.true_rack import study_rack
from ringset.solving.second_rings import solved_margins_of_both


class Neighbourhood:
    """The rings that stand on all joints of a study, and what becomes of it with others.

    Units are those in which an answer's proof counts material and money. Raises StudyError, with a path
    below `rings`, unless every joint has one ring that keeps every limit.
    """

    def __init__(
        self, study: Study, rings: Sequence[StandingRing], material_unit_kg: float, cost_unit: float
    ) -> None:
        self.study = study.canonical()
        self.refs = catalogue_joints(self.study)
        self.places = {(ref.robot.name, ref.joint.name): i for i, ref in enumerate(self.refs)}
        robots = {robot.name: index for index, robot in enumerate(self.study.robots)}
        self.robot_of = np.array([robots[ref.robot.name] for ref in self.refs], dtype=np.int64)
        self.modules = catalogue_modules(self.study.shop)
        self.units, self.gives = (material_unit_kg, cost_unit), study.gives()
        given = self._places(rings)
        self.rings = [self._ring(index, rings[index]) for index in given]
        self.names = [rings[index].ring_part for index in given]
        self._refuse_sizes(given)
        self.base, _ = self._rated(list(enumerate(self.rings)))
        self.amounts = alternatives_amounts(self.study, self.base, self.units)
        self.users: dict[PartKey, list[int]] = {}
        for place, part in enumerate(self.amounts.part):
            self.users.setdefault(part, []).append(place)
        every, prices = self.study.wishes.count == "all", self.study.shop.prices
        self.there = PiecesThere(self.amounts, every, prices, cost_unit)
        self._refuse_broken(given)

    # -- what stands ------------------------------------------------------------------------------------

    def _places(self, rings: Sequence[StandingRing]) -> list[int]:
        """Return where each joint's ring stands in the list given."""
        found: dict[int, int] = {}
        faults = []
        for index, ring in enumerate(rings):
            place = self.places.get((ring.robot, ring.joint))
            if place is None or place in found:
                name = f"{ring.robot}/{ring.joint}"
                faults.append(Fault(f"rings[{index}].joint", name, "every joint of the study once"))
            else:
                found[place] = index
        left = [ref.label for place, ref in enumerate(self.refs) if place not in found]
        if left and not faults:
            faults.append(Fault("rings", f"no ring for {left[0]}", f"a ring for {left[0]}"))
        if faults:
            raise StudyError(faults)
        return [found[place] for place in range(len(self.refs))]

    def _ring(self, index: int, ring: StandingRing) -> Ring:
        step = self.study.shop.bore_step_mm
        module = int(np.argmin(np.abs(self.modules - ring.module_mm)))
        if abs(float(self.modules[module]) - ring.module_mm) > 1e-9:
            allowed = f"a module of the shop: {', '.join(f'{m:g}' for m in self.modules)}"
            raise StudyError([Fault(f"rings[{index}].module_mm", f"{ring.module_mm:g}", allowed)])
        steps = round(ring.bore_mm / step)
        if abs(ring.bore_mm / step - steps) > 1e-6:
            allowed = f"a multiple of shop.bore_step_mm {step:g}"
            raise StudyError([Fault(f"rings[{index}].bore_mm", f"{ring.bore_mm:g}", allowed)])
        return Ring(module, ring.teeth, steps, ring.heads, ring.second_teeth or 0)

    def _refuse_sizes(self, given: list[int]) -> None:
        """Refuse rings beyond the windows before they are rated: physics knows sound sizes only."""
        fits = catalogue_both_sizes_kept(self.study, self._rows(list(enumerate(self.rings))))
        faults = [
            Fault(
                f"rings[{given[place]}]",
                self.refs[place].label,
                "a ring inside the windows of its joint, its head and the shop",
            )
            for place in np.flatnonzero(~fits)
        ]
        if faults:
            raise StudyError(faults)

    def _refuse_broken(self, given: list[int]) -> None:
        everything = Trial("stands", dict(enumerate(self.rings)))
        faults = [
            Fault(
                "rings" if one.joint is None else f"rings[{given[one.joint]}]",
                f"{one.value:g} {one.unit}",
                f"rings that keep {one.limit} {one.allowed:.6g} {one.unit}".rstrip(),
            )
            for one in self.broken(self.tried([everything])[0])
        ]
        if not np.isfinite(self.base.error_arcsec).all():
            faults.append(Fault("rings", "no number", "inputs at which errors are finite numbers"))
        if faults:
            raise StudyError(faults)

    # -- rows -------------------------------------------------------------------------------------------

    def _rows(self, rings: Sequence[tuple[int, Ring]]) -> Catalogue:
        """Return rows of these rings; their joints know the head counts that are tried."""
        places, row = np.unique(np.array([place for place, _ in rings]), return_inverse=True)
        counts: dict[int, set[int]] = {}
        for place, ring in rings:
            counts.setdefault(place, set(self.refs[place].joint.head_counts)).add(ring.heads)
        refs = tuple(self.refs[place].with_head_counts(counts[place]) for place in places.tolist())
        columns = np.array([ring for _, ring in rings], dtype=np.int64)
        step, second = self.study.shop.bore_step_mm, columns[:, 4]
        sizes = [*columns[:, :4].T, second if second.any() else NO_SECOND]
        return Catalogue(refs, self.modules, step, row.astype(np.int64), *sizes)

    def _rated(self, rings: Sequence[tuple[int, Ring]]) -> tuple[Rated, Mask]:
        """Return the rows rated, and which of them fit their joint by size and number of heads."""
        rows = self._rows(rings)
        fits = catalogue_both_sizes_kept(self.study, rows)
        fits &= [catalogue_heads_allowed(self.refs[at].joint, ring.heads) for at, ring in rings]
        return rate(self.study, rows), fits

    def listed_steps(self, place: int) -> Ints | None:
        """Return the bores, in steps, that all joints which share a ring may have; None for any."""
        found: Ints | None = None
        for one in self.sharing(place):
            steps = catalogue_bore_steps(self.study, self.refs[one])
            if steps is not None:
                found = steps if found is None else np.intersect1d(found, steps)
        return found

    def place_of(self, robot: Robot, joint: Joint) -> int:
        """Return the place of a joint in the canonical study."""
        return self.places[robot.name, joint.name]

    def sharing(self, place: int) -> list[int]:
        """Return the joints whose ring is the same part as that of the joint at `place`."""
        return self.users[self.amounts.part[place]]

    def sound(self, trial: Trial) -> bool:
        """Say whether every ring of a trial has a rim, and a hub below it: others cannot be rated."""
        shop = self.study.shop
        for place, ring in trial.rings.items():
            module = float(self.modules[ring.module])
            dedendum = study_rack(shop, module).dedendum
            teeth = min(ring.teeth, ring.second or ring.teeth)
            root = geometry.root_diameter_mm(module, teeth, dedendum, shop.profile_shift)
            hollow = self.refs[place].joint.hub_bore_mm or 0.0
            if not hollow < ring.bore_steps * shop.bore_step_mm < float(root):
                return False
        return True

    def lightest_alone(self, place: int, rings: Sequence[Ring]) -> Ring | None:
        """Return the lightest ring that no joint has yet and that `place` could take alone; None if none.

        Only cutters that are there are used, and every limit holds with all other rings as they are.
        """
        if not rings:
            return None
        rated, fits = self._rated([(place, ring) for ring in rings])
        new, old = alternatives_amounts(self.study, rated, self.units), self.amounts
        allowed = rated.inside & fits & np.isin(new.cutter, old.cutter)
        allowed &= np.array([part not in self.there.parts for part in new.part])
        others = self.robot_of == self.robot_of[place]
        others[place] = False
        for field in TOOL_POINT_TARGETS:
            limit = rated_tool_point_limit(self.study.target, self.refs[place].robot, field)
            if limit is not None:
                total = new.tool_point[field] + float(old.tool_point[field][others].sum())
                allowed &= total <= limit
        for field, values in new.ring_sums.items():
            most = rated_ring_sum_limit(self.refs[place].robot, field)
            if most is not None:
                allowed &= values + float(old.ring_sums[field][others].sum()) <= most
        if not allowed.any():
            return None
        order = np.lexsort((rated.error_arcsec, np.where(allowed, new.kg_units, np.inf)))
        return rings[int(order[0])]

    # -- trials -----------------------------------------------------------------------------------------

    def tried(self, trials: Sequence[Trial]) -> list[Outcome]:
        """Return what becomes of every trial, in their order."""
        rings = [(place, ring) for trial in trials for place, ring in trial.rings.items()]
        if not rings:
            return []
        self.rated, fits = self._rated(rings)
        kept = sum(mask.astype(np.int64) for mask in self.rated.limits.values()) + fits
        whole = len(self.rated.limits) + 1
        self.keeps = kept == whole
        less = self.study.target.less_reserve
        target = self.rated.catalogue.per_joint(lambda r: less(r.target_arcsec))
        steady = self.rated.catalogue.per_joint(lambda r: less(r.scatter_most_arcsec))
        strain = np.maximum(
            self.rated.error_arcsec / target, self.rated.repeatability_arcsec / steady
        )
        amounts = alternatives_amounts(self.study, self.rated, self.units)
        outcomes, first = [], 0
        for trial in trials:
            rows = np.arange(first, first + len(trial.rings))
            first += len(rows)
            short = int(np.sum(whole - kept[rows])) + len(list(self._another_part(trial)))
            outcomes.append(self._outcome(trial, rows, short, float(strain[rows].max()), amounts))
        self.tried_amounts = amounts
        return outcomes

    def _outcome(
        self, trial: Trial, rows: Ints, short: int, strain: float, new: Amounts
    ) -> Outcome:
        old, places = self.amounts, list(trial.rings)
        pieces = self.there.more(places, new, rows.tolist())

        def more(name: str) -> float:
            before, after = getattr(old, name)[places], getattr(new, name)[rows]
            return (after - before).sum().item()  # type: ignore[no-any-return]

        heads = int(more("heads"))
        by_wish: dict[Wish, int] = {
            "cutters": pieces.cutters, "ring_parts": pieces.ring_parts, "heads": heads,
            "material": int(more("kg_units")), "cost": int(more("money_units")) + pieces.money_units,
        }  # fmt: skip
        outcome = Outcome(
            trial, tuple(rows.tolist()), False, -short, strain,
            tuple(self._ranked(by_wish)),
            pieces.cutters, pieces.ring_parts, heads, more("kg"), more("money") + pieces.money,
        )  # fmt: skip
        shared = list(self._shared(outcome, new))
        finite = bool(np.isfinite(strain))
        allowed = short == 0 and not shared and finite
        return replace(
            outcome,
            allowed=allowed,
            kept=-short - len(shared),
            strain=max([1.0, strain, *(one.strain for one in shared)]) if finite else np.inf,
        )

    def _ranked(self, more: dict[Wish, int]) -> list[tuple[Wish, int]]:
        """Return what is added to the study's wishes, in the order in which they tell answers apart."""
        sizes: dict[Wish, float] = {"material": self.units[0], "cost": self.units[1]}
        return alternative_changes_ranked(self.study.wishes.order, self.gives, more, sizes)

    def _shared(self, outcome: Outcome, new: Amounts) -> Iterable[Broken]:
        """Yield the limits over several joints that a trial breaks: sums of its robots, then ceilings."""
        places = list(outcome.trial.rings)
        old = self.amounts
        drawn = self._sums(old.battery_ua, new.battery_ua, places, outcome.rows)
        points = {
            field: self._sums(values, new.tool_point[field], places, outcome.rows)
            for field, values in old.tool_point.items()
        }
        for index in sorted({int(self.robot_of[place]) for place in places}):
            robot = self.study.robots[index]
            for field, sums in points.items():
                yield from self._tool_point_broken(robot, field, float(sums[index]))
            battery = robot.battery
            most = None if battery is None else rated_battery_limit_ua(battery)
            if battery is None or most is None or battery.life_min_years is None:
                continue
            if drawn[index] > most:
                holds, loss = battery.capacity_ah, battery.self_discharge_per_year
                life = battery_life_years(holds, battery.usable_share, float(drawn[index]), loss)
                least = battery.life_min_years
                yield Broken(
                    None, robot.name, "battery.life_min_years", float(life), least, "years"
                )
        for field, values in old.ring_sums.items():
            sums = self._sums(values, new.ring_sums[field], places, outcome.rows)
            for index in sorted({int(self.robot_of[place]) for place in places}):
                yield from alternatives_beyond_ring_sum(
                    self.study.robots[index], field, float(sums[index])
                )
        yield from self._beyond_ceilings(outcome)

    def _tool_point_broken(self, robot: Robot, field: str, total: float) -> Iterable[Broken]:
        """Yield a target at the tool point that a robot's sum is above."""
        target = self.study.target
        limit = rated_tool_point_limit(target, robot, field)
        if limit is not None and total > limit:
            reached = rated_tool_point_um(total, robot.tool_point_rule)
            kept = float(target.less_reserve(getattr(robot, field)))
            yield Broken(None, robot.name, field, reached, kept, "um")

    def _sums(self, old: Floats, new: Floats, places: list[int], rows: tuple[int, ...]) -> Floats:
        """Return the sum over each robot's joints, with the new values at some places."""
        values = old.copy()
        values[places] = new[list(rows)]
        return np.bincount(self.robot_of, values, len(self.study.robots)).astype(np.float64)

    def _beyond_ceilings(self, outcome: Outcome) -> Iterable[Broken]:
        there = self.there.total
        totals: dict[Wish, tuple[float, str]] = {
            "cutters": (there.cutters + outcome.cutters, ""),
            "ring_parts": (there.ring_parts + outcome.ring_parts, ""),
            "heads": (int(self.amounts.heads.sum()) + outcome.heads, ""),
            "material": (float(self.amounts.kg.sum()) + outcome.material_kg, "kg"),
        }
        if self.study.shop.prices is not None:
            stands = float(self.amounts.money.sum()) + there.money
            totals["cost"] = (stands + outcome.money, "")
        for wish, most in self.study.wishes.ceilings().items():
            value, unit = totals[wish]
            if not number_at_most(value, most):
                yield Broken(None, None, rated_ceiling_field(wish), value, most, unit)

    def _another_part(self, trial: Trial) -> Iterable[Broken]:
        """Yield what makes the ring of a joint that shall take a standing part another one: width, bore."""
        if trial.of is None:
            return
        of = self.refs[trial.of].joint
        for place, ring in trial.rings.items():
            own = self.refs[place].joint
            if of.face_width_mm != own.face_width_mm:
                yield Broken(
                    place, None, "face_width_mm", of.face_width_mm, own.face_width_mm, "mm"
                )
            bore = float(catalogue_bore_mm(np.array(ring.bore_steps), self.study.shop.bore_step_mm))
            theirs, asked = (catalogue_bore_zone(self.study.shop, one, bore) for one in (of, own))
            ends = (theirs.upper_um, asked.upper_um), (theirs.lower_um, asked.lower_um)
            for given, allowed in ends:
                if given != allowed:
                    yield Broken(place, None, "seat_fit", given, allowed, "um")
                    break

    def broken(self, outcome: Outcome) -> list[Broken]:
        """Return every limit that an outcome of the last `tried` breaks: by joint, then those shared."""
        if outcome.allowed:
            return []
        found = list(self._another_part(outcome.trial))
        for place, ring in outcome.trial.rings.items():
            ref = self.refs[place]
            found += alternatives_beside_lists(self.study, ref, place, ring)
        rows = np.array([row for row in outcome.rows if not self.keeps[row]], dtype=np.int64)
        some = self.rated.take(rows)
        checks = rated_checks_in_full(self.study, some)
        owners = dict(zip(outcome.rows, outcome.trial.rings, strict=True))
        both = solved_margins_of_both(self.study, some.catalogue, checks)
        for row, told in zip(rows.tolist(), both, strict=True):
            found += [
                Broken(owners[row], None, margin.limit, margin.value, margin.allowed, margin.unit)
                for margin in told
                if not number_at_least(margin.margin, 0.0)
            ]
        return found + list(self._shared(outcome, self.tried_amounts))
