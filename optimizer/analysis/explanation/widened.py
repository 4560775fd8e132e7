"""Rings beyond the study's limits: what each row of a widened catalogue asks of every limit.

Every window is widened by a stated margin, the rows are rated once, and each row then tells which of the
user's limits it breaks and what value of each it needs. Wherever this package says that a limit is
dropped, it means widened so: rings further out are not looked at (`MARGIN`, `RIM_MARGINS`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ringset.arrays import Floats, Ints, Mask, RowIndices
from ringset.catalogue.enumerate import catalogue
from ringset.catalogue.joints import JointRef, catalogue_joints
from ringset.catalogue.limits import catalogue_size_needs
from ringset.catalogue.rows import NO_SECOND, ROW_COLUMNS, Catalogue
from ringset.errors import StudyError
from ringset.rating.pair_needs import rated_needs_in_full
from ringset.rating.rate import rate, rated_gaps_on_offer_mm
from ringset.rating.rated import Rated
from ringset.rating.stated_limits import (
    Limit,
    rated_limit_applies,
    rated_limit_keeps,
    rated_ring_limits,
)
from ringset.schema.equipment import HEADS_MOST, Head
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.schema.true_rack import study_least_teeth
from ringset.standards.iso286 import iso286_fit_clearance_um

#: How far windows are widened, as a share of the value given, and how many margins rims may be thinner.
MARGIN, RIM_MARGINS = 0.25, 2.0
#: Margin that is never halved again.
MARGIN_LEAST = 1e-3
#: How small the margin of joints that have rings becomes beside that of joints without any.
NEAR_LEAST = 1.0 / 16.0
#: Limits of size that a row of a joint without any ring may break: all of them.
ALL_BROKEN = 99
#: Most rows of the widened catalogue; beyond it margins are halved until it fits.
ROWS_MOST = 400_000


@dataclass(frozen=True)
class JointRows:
    """The rows of one joint: limits that apply (by number), and per limit and row the value needed."""

    limits: tuple[int, ...]
    rows: RowIndices
    need: Floats
    broken: Mask

    @property
    def breaks(self) -> Ints:
        """How many limits each row breaks."""
        return np.asarray(self.broken.sum(axis=0), dtype=np.int64)

    def within(self, freed: frozenset[int]) -> Mask:
        """Return which rows break none but the freed limits."""
        held = [i for i, number in enumerate(self.limits) if number not in freed]
        return np.asarray(~self.broken[held].any(axis=0))


@dataclass(frozen=True)
class Universe:
    """A widened catalogue, rated once: all limits of the study and, per joint, what its rows ask of them."""

    study: Study
    limits: tuple[Limit, ...]
    rated: Rated
    joints: tuple[JointRows, ...]
    margin: float


def explanation_rows_widened(
    study: Study, most_broken: dict[int, int], margin: float = MARGIN, near: float = MARGIN
) -> Universe:
    """Return the rows of a canonical study's joints that break at most so many limits of size.

    `most_broken` gives per joint how many of the limits on size alone a row may break (those on
    physics come in addition). Where the rows would be too many, rows that break two leave first, then
    the margin of joints that may break a few only shrinks (`near`): a joint without any ring is looked at
    as far out as possible. Then every margin shrinks. The smallest is told; see `margin`.
    """
    limits = tuple(rated_ring_limits(study))
    near = min(near, margin)
    rows = _within_reach(study, limits, most_broken, margin, near)
    if rows is None and 2 in most_broken.values():
        fewer = {index: 1 if most == 2 else most for index, most in most_broken.items()}
        return explanation_rows_widened(study, fewer, margin, near)
    if rows is None:
        several = {most < ALL_BROKEN for most in most_broken.values()}
        if len(several) > 1 and near > NEAR_LEAST * margin:
            return explanation_rows_widened(study, most_broken, margin, near / 2.0)
        return explanation_rows_widened(study, most_broken, margin / 2.0, near / 2.0)
    rated = _rated_at_every_gap(study, rows)
    joints = _joint_rows(study, limits, rated)
    return Universe(study, limits, rated, joints, near)


def _within_reach(
    study: Study, limits: tuple[Limit, ...], most_broken: dict[int, int], margin: float, near: float
) -> Catalogue | None:
    """Return the rows of the study widened by its margins; None if they are too many."""
    margins = [
        near if most_broken.get(index, 0) < ALL_BROKEN else margin
        for index in range(len(catalogue_joints(study)))
    ]
    stuck = [index for index, most in most_broken.items() if most >= ALL_BROKEN]
    try:
        rows = _counted(study, _with_lone_rings(_widened(study, margin, margins), stuck))
    except StudyError:
        return None  # even the catalogue refuses so many
    rows = rows.take(_few_broken(study, limits, rows, most_broken))
    return rows if len(rows) <= ROWS_MOST or margin < MARGIN_LEAST else None


# -- widening -----------------------------------------------------------------------------------------


def _widened(study: Study, margin: float, of_joints: list[float]) -> Study:
    """Return the study with every window of size wider; used for the catalogue only.

    Joints have margins of their own, in the order of the canonical study.
    """
    of_joint = iter(of_joints)
    shop = study.shop.model_copy(
        update={
            "rim_min_mm": study.shop.rim_min_mm * (1.0 - RIM_MARGINS * margin),
            "rim_min_depths": study.shop.rim_min_depths * (1.0 - RIM_MARGINS * margin),
            "rim_max_mm": None,
            "bores_mm": None,
            "teeth_allowed": None,
            "teeth_multiple_of": None,
            "teeth_largest_prime": None,
            "wire_diameter_mm": None,
        }
    )
    robots = [
        robot.model_copy(update={"joints": [_wide_joint(j, next(of_joint)) for j in robot.joints]})
        for robot in study.robots
    ]
    heads = {name: _wide_head(head, study.shop, margin) for name, head in study.heads.items()}
    return study.model_copy(
        update={
            "shop": shop,
            "robots": robots,
            "heads": heads,
            "head": _wide_head(study.head, study.shop, margin),
        }
    )


def _with_lone_rings(wide: Study, stuck: list[int]) -> Catalogue:
    """Return the catalogue of a widened study, with rings that stand alone for joints that ask a second one.

    Such a ring breaks the limit `second_ring` and no other that it keeps by itself. Without it, dropping that
    limit would still ask a pair, and limits that only keep pairs out would seem to block the joint alone.
    Only joints without any ring (`stuck`) have the limit dropped.
    """
    rows = catalogue(wide)
    lone = [index for index in stuck if rows.joints[index].joint.second_ring]
    if not lone:
        return rows
    robots = [
        robot.model_copy(
            update={"joints": [j.model_copy(update={"second_ring": False}) for j in robot.joints]}
        )
        for robot in wide.robots
    ]
    alone = catalogue(wide.model_copy(update={"robots": robots}))
    alone = alone.take(np.isin(alone.joint, lone))
    columns = [
        np.concatenate([getattr(part, name) for part in (rows, alone)]) for name in ROW_COLUMNS
    ]
    second = np.concatenate([rows.partner_teeth(), alone.partner_teeth()])
    columns.append(second if second.any() else NO_SECOND)
    joined = Catalogue(rows.joints, rows.modules_mm, rows.bore_step_mm, *columns)
    return joined.take(np.argsort(joined.joint, kind="stable"))


def explained_wider_head_counts(joint: Joint) -> list[int]:
    """Return the head counts that count as near: from one to one more than the most given."""
    return sorted({*joint.head_counts, *range(1, min(HEADS_MOST, max(joint.head_counts) + 1) + 1)})


def _wide_joint(joint: Joint, margin: float) -> Joint:
    low, high = joint.bore_min_mm * (1.0 - margin), joint.bore_max_mm * (1.0 + margin)
    if joint.hub_bore_mm is not None and low <= joint.hub_bore_mm:
        low = joint.bore_min_mm
    if joint.seat_fit is not None:
        low, high = (
            wide if _has_fit(wide, joint.seat_fit) else given
            for wide, given in ((low, joint.bore_min_mm), (high, joint.bore_max_mm))
        )
    return joint.model_copy(
        update={
            "bore_min_mm": low,
            "bore_max_mm": high,
            "bores_mm": None,
            "tip_max_mm": _wide_or_none(joint.tip_max_mm, margin),
            "housing_max_mm": _wide_or_none(joint.housing_max_mm, margin),
            "tip_min_mm": None,
            "head_counts": explained_wider_head_counts(joint),
        }
    )


def _wide_or_none(most: float | None, margin: float) -> float | None:
    return None if most is None else most * (1.0 + margin)


def _has_fit(bore_mm: float, fit: str) -> bool:
    try:
        iso286_fit_clearance_um(bore_mm, fit)
    except ValueError:
        return False
    return True


def _wide_head(head: Head, shop: Shop, margin: float) -> Head:
    undercut = study_least_teeth(shop)
    sound = max(int(np.ceil(undercut)), 2 * shop.clamp_jaws, 8 * head.teeth_sensed, 18)
    fewest = max(sound, int(head.teeth_min * (1.0 - margin)))
    return head.model_copy(
        update={
            "module_min_mm": head.module_min_mm * (1.0 - margin),
            "module_max_mm": head.module_max_mm * (1.0 + margin),
            "teeth_min": min(head.teeth_min, fewest),
            "teeth_max": int(np.ceil(head.teeth_max * (1.0 + margin))),
        }
    )


def _counted(study: Study, rows: Catalogue) -> Catalogue:
    """Bind widened rows to the study's own joints, but for the head counts that they hold."""
    robots = [
        robot.model_copy(
            update={
                "joints": [
                    j.model_copy(update={"head_counts": explained_wider_head_counts(j)})
                    for j in robot.joints
                ]
            }
        )
        for robot in study.robots
    ]
    bound = study.model_copy(update={"robots": robots})
    return replace(rows, joints=catalogue_joints(bound))


# -- what rows ask ------------------------------------------------------------------------------------


def _few_broken(
    study: Study, limits: tuple[Limit, ...], rows: Catalogue, most: dict[int, int]
) -> Mask:
    """Return which rows break no more limits of size than their joint may."""
    needs = catalogue_size_needs(study, rows)
    broken = np.zeros(len(rows), dtype=np.int64)
    for index, mine in enumerate(_by_joint(study, limits, rows.joints)):
        start, end = np.searchsorted(rows.joint, (index, index + 1))
        for limit in (limits[number] for number in mine):
            if limit.field in needs:
                need = needs[limit.field][start:end]
                broken[start:end] += ~rated_limit_keeps(limit, need, limit.given)
    allowed = np.array([most.get(index, 0) for index in range(len(rows.joints))])
    return np.asarray(broken <= allowed[rows.joint])


def _by_joint(
    study: Study, limits: tuple[Limit, ...], refs: tuple[JointRef, ...]
) -> list[list[int]]:
    """Return the numbers of the limits that bear on each joint, its own first."""
    mine: list[list[int]] = [[] for _ in refs]
    common = []
    for number, limit in enumerate(limits):
        if limit.joint is not None:
            mine[limit.joint].append(number)
        else:
            common.append(number)
    for index, ref in enumerate(refs):
        mine[index] += [
            number for number in common if rated_limit_applies(study, limits[number], ref)
        ]
    return mine


def _rated_at_every_gap(study: Study, rows: Catalogue) -> Rated:
    """Rate every row at every gap its head allows: with other limits another gap may be the one."""
    choices = [rated_gaps_on_offer_mm(ref.head) for ref in rows.joints]
    longest = max(len(choice) for choice in choices)
    gaps = np.array([np.resize(choice, longest) for choice in choices])
    times = np.array([len(choice) for choice in choices])[rows.joint]
    place = np.repeat(np.arange(len(rows)), times)
    turn = np.arange(len(place)) - np.repeat(np.cumsum(times) - times, times)
    wide = rows.take(place)
    return rate(study, wide, np.asarray(gaps[wide.joint, turn], dtype=np.float64))


def _joint_rows(study: Study, limits: tuple[Limit, ...], rated: Rated) -> tuple[JointRows, ...]:
    """Return, per joint, what its rows ask of every limit that applies."""
    rows = rated.catalogue
    needs = rated_needs_in_full(study, rated)
    found = []
    for index, numbers in enumerate(_by_joint(study, limits, rows.joints)):
        start, end = np.searchsorted(rows.joint, (index, index + 1))
        mine = [number for number in numbers if limits[number].field in needs]
        need = np.zeros((len(mine), end - start))
        broken = np.zeros((len(mine), end - start), dtype=np.bool_)
        for i, number in enumerate(mine):
            limit = limits[number]
            need[i] = needs[limit.field][start:end]
            if limit.side == "kept":
                broken[i] = ~rated.limits[limit.field][start:end]
            else:
                broken[i] = ~rated_limit_keeps(limit, need[i], limit.given)
        found.append(JointRows(tuple(mine), np.arange(start, end), need, broken))
    return tuple(found)
