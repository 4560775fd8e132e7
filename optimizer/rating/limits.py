"""The table of limits: every limit on single rings is one entry, and all that know limits read it here.

The catalogue's windows, the masks of `rate`, the margins of an answer, the reasons of an impossible study,
its blockers and reliefs, the rings beside a chosen one and the prices of limits all go through this table
and the one rule of `physics.limit_rule`. The judge alone keeps its own copy, so that it can disagree.

How to add a limit:

1. The field, in `schema`, with its unit in its name and None as the default where it need not be stated.
2. An entry here, in `RATED_LIMITS`, with a function that returns the value of every row; an entry of
   `catalogue/limits.py` instead where sizes alone decide it (`analysis/explanation/widened.py` then says
   how far that window is widened). New entries stand at the end.
3. Its own check in `verification/judge`, with formulas written anew.
4. Its tests: rows against the plain formula, and an answer that the judge refuses.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from ringset.arrays import Floats
from ringset.catalogue.check import Check
from ringset.catalogue.joints import JointRef
from ringset.catalogue.limits import (
    BORE_LISTS,
    COUNT_RULES,
    TOLD_SIZE_RULES,
    LimitRule,
    catalogue_housing_limit,
    catalogue_size_checks,
    catalogue_size_limits,
)
from ringset.catalogue.ring_sizes import RingSizes
from ringset.rating import finished_rings, head_checks, mounting_checks
from ringset.rating.rated import Rated
from ringset.rating.standing import rated_kept_parts
from ringset.schema.study import TOOL_POINT_TARGETS, Study

_Rule = LimitRule[Rated]
_joint, _head = partial(_Rule, "joint"), partial(_Rule, "head")
_shop, _target = partial(_Rule, "shop"), partial(_Rule, "target")


def _speed_rpm(rated: Rated) -> Floats:
    return rated.catalogue.per_joint(lambda ref: ref.joint.speed_max_rpm)


def _less_reserve(study: Study, _: Rated, stated: Floats) -> Floats:
    return study.target.less_reserve(stated)


def _least_target(study: Study, _: Rated, error: Floats) -> Floats:
    return study.target.least_target(error)


def _targets(
    field: str, words: str, value: Callable[[Study, Rated], Floats],
    of_joint: Callable[[Study, JointRef], float | None],
) -> tuple[LimitRule[Rated], LimitRule[Rated]]:  # fmt: skip
    """Return an accuracy target as a limit: of every joint, and as what joints without their own share."""

    def shared(study: Study, ref: JointRef) -> float | None:
        own = getattr(ref.joint, field)
        stated: float | None = getattr(study.target, field)
        return stated if own is None else None

    entry = partial(
        _Rule, name=field, words=words, side="at most", step=0.1, unit="arcsec", value=value,
        allowed=_less_reserve, need=_least_target,
    )  # fmt: skip
    return entry(owner="joint", bound=of_joint), entry(owner="target", bound=shared, told_as=field)


def _per_speed(study: Study, rated: Rated, value: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        return np.asarray(value / _speed_rpm(rated))


def _housing_mm(study: Study, rated: Rated) -> Floats:
    height = rated.catalogue.per_joint(lambda ref: ref.head.height_above_tips_mm)
    return np.asarray(rated.tip_mm + 2.0 * (rated.gap_mm + height))


#: In the order in which `Rated.limits` holds them; explanations list them by owner, see `stated_limits`.
RATED_LIMITS: tuple[LimitRule[Rated], ...] = (
    _head(
        "gap_left_min_mm", "at least {} mm left of a gap of GAP mm", "at least", 0.001, "mm",
        lambda _, rated: rated.gap_left_mm,
        best="mm left of the gap",
    ),
    _head(
        "tooth_rate_max_hz", "tooth rate at most {} Hz", "at most", 1.0, "Hz",
        lambda _, rated: rated.tooth_rate_hz,
        best="Hz",
    ),
    *_targets(
        "angle_target_arcsec", "angle target {} arcsec", lambda _, rated: rated.error_arcsec,
        lambda _, ref: ref.target_arcsec,
    ),
    _shop(
        "clamp_runout_share", "clamping lobes at most {} of the run-out", "at most", 0.01, "",
        lambda _, rated: 2.0 * rated.lobe_um, row_unit="um",
        allowed=lambda _, rated, share: share * rated.runout_um,
        need=lambda _, rated, value: np.divide(value, rated.runout_um),
        best="of the run-out tolerance",
    ),
    _target(
        "resolution_bits", "{} usable bits", "at least", 0.1, "bits",
        lambda _, rated: rated.usable_bits,
        best="usable bits",
    ),
    _head(
        "width_mm", "heads {} mm wide", "at least", 0.1, "mm",
        head_checks.rated_head_arc_mm,
    ),
    _head(
        "sample_rate_hz", "{} samples a second", "at most", 1.0, "Hz",
        head_checks.rated_sampling_hz,
    ),
    _target(
        "lag_max_arcsec", "lag at most {} arcsec", "at most", 0.1, "arcsec",
        head_checks.rated_lag_arcsec,
    ),
    _joint(
        "unpowered_speed_rpm", "turned at {} rpm without power", "at least", 0.1, "rpm",
        head_checks.rated_unpowered_rpm, listed=1,
        bound=lambda _, ref: None if ref.head.never_counts else ref.joint.unpowered_speed_rpm,
    ),
    _head(
        "backup_counter_bits", "back-up counter of {} bits", "at most", 1.0, "bits",
        head_checks.rated_counter_bits,
        bound=lambda _, ref: None if ref.head.never_counts else ref.head.backup_counter_bits,
    ),
    _shop(
        "screw_sizes", "room for a screw", "kept", 1.0, "",
        lambda _, rated: rated.rim_mm, row_unit="mm of rim",
        bound=lambda _, ref: 0.0 if ref.joint.fastening == "screws" else None,
        allowed=lambda study, _, any_size: any_size + mounting_checks.rated_screw_rim_mm(study.shop),
    ),
    _joint(
        "slip_safety_min", "slip safety {}", "at least", 0.01, "",
        mounting_checks.rated_slip_safety, row_unit="times",
    ),
    _joint(
        "stress_safety_min", "stress safety {}", "at least", 0.01, "",
        mounting_checks.rated_stress_share, row_unit="of yield", row_side="at most",
        allowed=lambda _, rated, safety: 1.0 / safety,
        need=lambda _, rated, share: 1.0 / share,
    ),
    _joint(
        "burst_safety_min", "burst safety {}", "at least", 0.01, "",
        mounting_checks.rated_bursting_rpm, row_unit="rpm",
        allowed=lambda _, rated, safety: safety * _speed_rpm(rated),
        need=_per_speed,
    ),
    catalogue_housing_limit(_housing_mm),
    _joint(
        "axial_room_mm", "axial room {} mm", "at most", 0.1, "mm",
        lambda _, rated: finished_rings.rated_axial_need_mm(rated.catalogue),
    ),
    _joint(
        "ring_mass_max_kg", "ring at most {} kg", "at most", 0.001, "kg",
        lambda study, rated: finished_rings.rated_finished_kg(study, rated.catalogue),
    ),
    _joint(
        "ring_inertia_max_kg_m2", "inertia of the ring at most {} kg m2", "at most", 1e-8, "kg m2",
        lambda study, rated: finished_rings.rated_finished_inertia_kg_m2(study, rated.catalogue),
    ),
    *_targets(
        "repeatability_target_arcsec", "repeatability {} arcsec",
        lambda _, rated: rated.repeatability_arcsec, lambda _, ref: ref.scatter_target_arcsec,
    ),
    _joint(
        "second_ring", "a second ring that tells the pitches apart", "kept", 1.0, "",
        lambda _, rated: rated.pair_error_arcsec, row_side="at most", row_unit="arcsec",
        bound=lambda _, ref: 0.0 if ref.joint.second_ring else None,
        allowed=lambda _, rated, none: none + rated.pair_tolerance_arcsec,
    ),
    _joint(
        "keeps_part", "it keeps the part {}", "kept", 1.0, "", rated_kept_parts,
        bound=lambda _, ref: None if ref.joint.keeps_part is None else 1.0,
    ),
)  # fmt: skip
#: Every limit on single rings, as explanations list those of one owner.
RULES: tuple[LimitRule[Rated] | LimitRule[RingSizes], ...] = (
    *TOLD_SIZE_RULES, *BORE_LISTS, *COUNT_RULES, *RATED_LIMITS,
)  # fmt: skip
#: Limits below which `target.reserve_percent` keeps room, by field; resolution and lag are not among them.
ACCURACY_TARGETS = (
    "angle_target_arcsec", "target.angle_target_arcsec", "repeatability_target_arcsec",
    "target.repeatability_target_arcsec", *TOOL_POINT_TARGETS,
)  # fmt: skip
RULE_OF = {rule.field: rule for rule in RULES}


def rated_checks(study: Study, rated: Rated) -> dict[str, Check]:
    """Return every limit but those of size that bears on some joint, held against all rows, by field."""
    return catalogue_size_limits(
        study, rated.catalogue, rated, (r for r in RATED_LIMITS if not r.told_as)
    )


def rated_checks_in_full(study: Study, rated: Rated) -> dict[str, Check]:
    """Return every limit that bears on some joint, those of size too, held against all rows, by field."""
    return {**catalogue_size_checks(study, rated.catalogue), **rated_checks(study, rated)}


def rated_needs(study: Study, rated: Rated) -> dict[str, Floats]:
    """Return, by field, what number of each limit every row needs, but for limits of size.

    In the unit of the field, one float64 per row, for limits that bear on some joint.
    """
    refs = rated.catalogue.joints
    stated = [rule for rule in RATED_LIMITS if not np.isnan(rule.numbers(study, refs)).all()]
    return {rule.field: rule.needed(study, rated) for rule in stated}
