"""What an answer warns of: where a standard's scope, a formula's range or a flank class is left."""

from __future__ import annotations

from ringset.physics import rim_bending
from ringset.schema.answer import JointRing, RingPart
from ringset.schema.standing import SAME_MM
from ringset.schema.study import Study
from ringset.standards.iso1328 import (
    iso1328_outside_scope,
    iso1328_profile_total_um,
    iso1328_round_um,
)


def composed_answer_warnings(
    study: Study, rings: list[JointRing], parts: list[RingPart]
) -> list[str]:
    """Return the warnings of an answer; `rings` are all that are made, second rings too."""
    return [
        *_warnings(study, parts),
        *_clamping_warnings(study, parts),
        *_profile_warnings(rings, parts),
        *_gap_warnings(rings),
        *_standing_warnings(study, parts),
    ]


def _warnings(study: Study, parts: list[RingPart]) -> list[str]:
    """Return where ring parts leave the scope of ISO 1328-1:2013."""
    warnings = []
    for part in parts:
        outside = iso1328_outside_scope(
            part.module_mm, part.teeth, part.module_mm * part.teeth, part.face_width_mm,
            study.shop.flank_class,
        )  # fmt: skip
        warnings += [
            f"{part.id}: {reason}: outside ISO 1328-1:2013, its tolerance formulas are carried on "
            f"and "
            "are no standard values here"
            for reason in outside
        ]
    return warnings


def _clamping_warnings(study: Study, parts: list[RingPart]) -> list[str]:
    """Return which ring parts are too thick for their lobes from clamping to be closely known."""
    if study.shop.clamp_force_n == 0.0:
        return []
    return [
        f"{part.id}: {reason}"
        for part in parts
        for reason in rim_bending.lobes_outside_range(
            study.shop.clamp_jaws, part.bore_mm, part.rim_mm
        )
    ]


def _profile_warnings(rings: list[JointRing], parts: list[RingPart]) -> list[str]:
    """Return which ring parts have a profile that their class does not permit, because of their cutter."""
    warnings = {}
    for ring in rings:
        permitted = float(
            iso1328_profile_total_um(
                ring.pitch_diameter_mm, ring.module_mm, ring.flank_class, extrapolate=True
            )
        )
        if ring.profile_error_um is not None and ring.profile_error_um > permitted:
            warnings[ring.ring_part] = (
                f"{ring.ring_part}: profile: the form of its cutter is off by up to "
                f"{ring.profile_error_um:.1f} um at {ring.teeth} teeth, class {ring.flank_class} permits "
                f"{iso1328_round_um(permitted):g} um (F_alpha, ISO 1328-1:2013); the class holds for pitch, "
                "run-out and flank line alone. shop.cutting disc_special, hob or wire keeps the profile"
            )
    return [warnings[part.id] for part in parts if part.id in warnings]


def _gap_warnings(rings: list[JointRing]) -> list[str]:
    """Return which rings are read over a gap far from what their module suggests."""
    low, high = 0.25, 0.7
    return [
        f"{ring.label}: the gap of {ring.gap_mm:g} mm is {ring.gap_mm / ring.module_mm:.2f} "
        "modules; 0.3 to 0.6 is usual (a rule of thumb without source)"
        for ring in rings
        if not low <= ring.gap_mm / ring.module_mm <= high
    ]


def _standing_warnings(study: Study, parts: list[RingPart]) -> list[str]:
    """Return what stands already and serves nobody, and parts in production whose cutter must be bought."""
    shop, offered = study.shop, study.shop.modules_mm()
    unused = [
        f"shop.owned_cutters: module {one.module_mm:g} mm is not on offer (shop.modules), so no ring uses it"
        for one in shop.owned_cutters
        if not _among(one.module_mm, offered)
    ]
    unused += [
        f"{one.name}: in production, but its module {one.module_mm:g} mm is not on offer (shop.modules), so "
        "no joint can take it"
        for one in shop.parts_in_production
        if not _among(one.module_mm, offered)
    ]
    bought = [
        f"{part.id}: in production, yet its cutter {part.cutter} is not among shop.owned_cutters and "
        "counts as a new one"
        for part in parts
        if part.in_production and part.cutter and not shop.owns_cutter(part.module_mm, part.teeth)
    ]
    return [*unused, *bought]


def _among(module_mm: float, offered: list[float]) -> bool:
    return any(abs(module_mm - one) <= SAME_MM for one in offered)
