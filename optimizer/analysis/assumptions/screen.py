"""The screen: what an input at another value would come to, estimated by rating alone.

The structure of the answer is held: its modules, and which joints share a ring. Among the rings of its
modules that are not much heavier than the chosen ones, or have fewer heads, the best is looked for
(`structure`). So the estimate sees inputs that open room (lighter rings, fewer heads, groups that could
merge) and inputs that close room: where the groups cannot be served so, all rings are looked at, and joints
grouped anew.
Where there is no answer every joint stands for itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ringset.analysis.assumptions.outcome import Outcome, assumption_margin_of_rows
from ringset.analysis.assumptions.shared_limits import assumption_shared_uses
from ringset.analysis.assumptions.structure import Served, Structure
from ringset.arrays import Floats, Ints
from ringset.catalogue.enumerate import catalogue
from ringset.catalogue.joints import catalogue_joints
from ringset.catalogue.ring_sizes import catalogue_ring_sizes
from ringset.catalogue.rows import ROW_COLUMNS, Catalogue
from ringset.errors import StudyError
from ringset.infeasibility.reasons import infeasible_battery_reasons, infeasible_polling_reasons
from ringset.rating.rate import rate
from ringset.rating.rated import Rated
from ringset.rating.ring_sums import RING_SUMS
from ringset.rating.robot_sums import rated_pieces_money
from ringset.schema.answer import Answer
from ringset.schema.study import TOOL_POINT_TARGETS, Study, Wish
from ringset.solving.chosen_rings import (
    chosen_robot_ring_sums,
    chosen_row_places,
    chosen_rows,
    chosen_rows_counted_as,
)
from ringset.solving.pipeline import solving_possible_rows

#: How much heavier than the chosen ring those that are looked at may be.
HEAVIER = 1.5
#: About how many rows of each joint are rated at one end; of more every second ring, every third and so on.
ROWS_EACH = 300


@dataclass(frozen=True)
class Screened:
    """One study by rating alone.

    `keeps` says whether the chosen rings keep all their limits there, `margin` what they have left of the
    nearest target (None without an answer). `error_arcsec` and `rows` hold per joint the error of its chosen
    ring (without an answer: the least of any ring) and about how many of the rings looked at are inside,
    `uses` what they use of the limits over joints (`shared_limits`).
    """

    estimate: Outcome | None
    keeps: bool
    margin: float | None
    error_arcsec: Floats
    rows: Ints
    uses: Floats


class Screen:
    """An answer, or its absence, whose structure is rated at other inputs."""

    def __init__(self, study: Study, answer: Answer) -> None:
        self.study = study.canonical()
        self.refs = catalogue_joints(self.study)
        self.chosen: Catalogue | None = chosen_rows(self.study, answer) if answer.rings else None
        self.groups = self._groups(answer)
        self.cutters = len(answer.cutters)
        #: Ring parts of second rings, beside those of the groups.
        self.more_parts = max(0, len(answer.ring_parts) - len(self.groups)) if answer.rings else 0
        self._first: Rated | None = None
        self._every = 1
        #: The study as it is, by the same estimate.
        self.base = self.at(self.study)

    def at(self, study: Study, estimated: bool = True) -> Screened:
        """Return what a canonical study with the same joints comes to; StudyError if it has too many rows."""
        rows, every = self._sample(study, catalogue(study))
        rated = rate(study, rows)
        if self._first is None:
            self._first = rated
        elif self._same(study, rated, self._first):
            return self.base
        keeps, margin, error, uses = self._chosen_at(study, rated)
        inside = rated.inside
        count = every * np.bincount(rated.catalogue.joint[inside], minlength=len(self.refs))
        estimate = self._estimate(study, rated.take(inside), margin) if estimated else None
        return Screened(estimate, keeps, margin, error, count, uses)

    def amounts(self, study: Study) -> tuple[float, float]:
        """Return mass (kg) and money of the chosen rings over all that are built; 0 without an answer."""
        if self.chosen is None:
            return 0.0, 0.0
        rated = rate(study, replace(self.chosen, joints=catalogue_joints(study)))
        built = np.array([ref.robot.count for ref in rated.catalogue.joints], dtype=np.int64)
        money, once = float(rated_pieces_money(study, rated, built).sum()), study.shop.prices
        if once is not None:
            money += once.cutter * self.cutters + once.set_up_per_ring_part * (
                len(self.groups) + self.more_parts
            )
        return float(rated.blank_kg @ built), money

    def _same(self, study: Study, rated: Rated, first: Rated) -> bool:
        """Say whether nothing that is rated or asked has changed."""
        one, other = rated.catalogue, first.catalogue
        if len(one) != len(other) or study.target != self.study.target:
            return False
        if not np.array_equal(one.partner_teeth(), other.partner_teeth()):
            return False
        columns = [(getattr(one, name), getattr(other, name)) for name in ROW_COLUMNS]
        columns += [(rated.error_arcsec, first.error_arcsec), (rated.blank_kg, first.blank_kg)]
        columns += [(rated.repeatability_arcsec, first.repeatability_arcsec)]
        columns += [(rated.cutter, first.cutter), (rated.inside, first.inside)]
        asked = [
            (
                ref.target_arcsec,
                ref.scatter_target_arcsec,
                ref.joint.reach_mm,
                ref.robot.count,
                ref.robot.battery,
                *(getattr(ref.robot, field) for field in TOOL_POINT_TARGETS),
                *(getattr(ref.robot, field) for field in RING_SUMS),
                ref.robot.line,
                ref.head.backup_current_ua,
                ref.head.position_bits,
            )
            for refs in (one.joints, other.joints)
            for ref in refs
        ]
        return (
            all(np.array_equal(mine, theirs) for mine, theirs in columns)
            and asked[: len(one.joints)] == asked[len(one.joints) :]
            and study.shop.prices == self.study.shop.prices
        )

    # -- the answer ---------------------------------------------------------------------------------------

    def _groups(self, answer: Answer) -> list[Ints]:
        """Return the joints that share a ring part, group by group; every joint alone without an answer."""
        if not answer.rings:
            return [np.array([index]) for index in range(len(self.refs))]
        part = {(ring.robot, ring.joint): ring.ring_part for ring in answer.rings}
        names = np.array([part[ref.robot.name, ref.joint.name] for ref in self.refs])
        return [np.flatnonzero(names == name) for name in dict.fromkeys(names.tolist())]

    def _chosen_at(self, study: Study, rated: Rated) -> tuple[bool, float | None, Floats, Floats]:
        """Return whether the chosen rings keep all limits, their margin, errors and uses."""
        refs = rated.catalogue.joints
        if self.chosen is None:
            error = np.full(len(refs), np.inf)
            np.minimum.at(error, rated.catalogue.joint, rated.error_arcsec)
            return False, None, error, assumption_shared_uses(study, rated)
        chosen = replace(chosen_rows_counted_as(self.chosen, rated.catalogue), joints=refs)
        places = chosen_row_places(rated.catalogue, chosen)
        fit = bool((places >= 0).all())  # else some limit of size keeps one of them out
        mine = rated.take(places) if fit else rate(study, chosen)
        margin = assumption_margin_of_rows(study, mine)
        keeps = fit and bool(mine.inside.all()) and margin >= -1e-9
        keeps = keeps and all(
            float(one.values[one.mine[mine.catalogue.joint]].sum()) <= one.limit
            for one in chosen_robot_ring_sums(study, mine.catalogue)
        )
        return keeps, margin, mine.error_arcsec, assumption_shared_uses(study, mine)

    # -- rows ---------------------------------------------------------------------------------------------

    def _sample(self, study: Study, rows: Catalogue) -> tuple[Catalogue, int]:
        """Return the rows of the chosen modules that are not much heavier than the chosen ring.

        Those with fewer heads are looked at whatever they weigh: heads may be worth more than steel. Of too
        many, one ring in so many as the number says.
        """
        if self.chosen is not None:
            chosen = chosen_rows_counted_as(self.chosen, rows)
            area = catalogue_ring_sizes(study.shop, rows).tip ** 2 - rows.bore_mm() ** 2
            mine = catalogue_ring_sizes(self.study.shop, chosen).tip ** 2 - chosen.bore_mm() ** 2
            keep = area <= HEAVIER * mine[rows.joint]
            keep |= rows.heads < chosen.heads[rows.joint]
            if self.cutters < 2:
                keep &= np.isin(np.round(rows.module_mm(), 9), np.round(chosen.module_mm(), 9))
            rows = rows.take(keep)
        every = -(-len(rows) // (ROWS_EACH * len(self.refs)))
        if self._first is None:
            self._every = every
        elif every <= 4 * self._every:
            every = self._every  # the same rows as of the study itself, where they are the same
        if every < 2:
            return rows, 1
        some = (rows.teeth * 7 + rows.bore_steps) % every == 0
        if self.chosen is not None:
            places = chosen_row_places(rows, chosen)
            some[places[places >= 0]] = True
        return rows.take(some), every

    def _estimate(self, study: Study, inside: Rated, margin: float | None) -> Outcome:
        """Return the estimate: from the rows of the chosen modules, or where they do not do, from all."""
        if infeasible_polling_reasons(study) or infeasible_battery_reasons(study, inside):
            return Outcome("impossible", {}, None)
        near = Structure(study, inside)
        served = near.served(self.groups)
        if served is not None:
            fewer_parts = near.mergeable(self.groups)
            fewer_cutters = self.cutters > 1 and near.served_by_one_cutter()
            return self._outcome(study, served, margin, int(fewer_cutters), int(fewer_parts))
        try:
            rows, reasons = solving_possible_rows(study)
        except StudyError:
            return Outcome("undecided", {}, None)
        if reasons:
            return Outcome("impossible", {}, None)
        every = Structure(study, rows)
        served = every.served(self.groups) or every.regrouped(self.groups)
        if served is None:
            return Outcome("undecided", {}, None)
        return self._outcome(study, served, margin, 0, 0)

    def _outcome(
        self, study: Study, served: Served, margin: float | None, fewer_cutters: int, fewer_parts: int
    ) -> Outcome:  # fmt: skip
        cutters = max(self.cutters, served.modules) - fewer_cutters if self.cutters else 0
        parts = max(served.parts, len(self.groups)) - fewer_parts + self.more_parts
        wishes: dict[Wish, float] = {
            "cutters": cutters,
            "ring_parts": parts,
            "heads": served.heads,
            "material": served.material_kg,
        }
        once = study.shop.prices
        if once is not None:
            wishes["cost"] = (
                served.money + once.cutter * cutters + once.set_up_per_ring_part * parts
            )
        return Outcome("found", wishes, margin)


def screen_assumption_ends(
    screen: Screen, studies: list[Study | None], _seconds: float
) -> list[Screened | None]:
    """Return studies by rating alone; None for those that are none, or have too many rows."""
    found: list[Screened | None] = []
    for study in studies:
        try:
            found.append(None if study is None else screen.at(study))
        except StudyError:
            found.append(None)
    return found
