"""How a ring part is accepted: sizes with limits, what to measure over teeth and pins, permitted deviations.

Part of `part_data`. Every limit names where it comes from; that of the bore is `catalogue.bore_zones`.
"""

from __future__ import annotations

from dataclasses import dataclass

from ringset.catalogue.bore_zones import ASSUMED_BORE_ZONE, catalogue_bore_zone
from ringset.physics import inspection
from ringset.schema.answer import JointRing
from ringset.schema.joint import Joint
from ringset.schema.study import Study
from ringset.schema.true_rack import study_rack
from ringset.standards import iso286, iso2768, tooth_thickness
from ringset.standards.iso286 import iso286_deviations_um, iso286_tolerance_um
from ringset.standards.iso1328 import (
    iso1328_cumulative_pitch_um,
    iso1328_profile_total_um,
    iso1328_round_um,
    iso1328_runout_um,
    iso1328_single_pitch_um,
)
from ringset.standards.preferred_numbers import PREFERRED_MM

#: Finest grade that tips are turned to, however narrow the gap's tolerance. Assumed.
FINEST_TIP_GRADE = 6


@dataclass(frozen=True)
class Limits:
    """A size with its limits in mm, and where they come from (a zone, a class, a formula)."""

    nominal_mm: float
    lower_mm: float
    upper_mm: float
    source: str


@dataclass(frozen=True)
class InspectionData:
    """How a ring part is accepted: sizes in mm, permitted deviations in um (ISO 1328-1:2013, rounded).

    Run-outs are full readings against the bore; that of the tips is what the sheet asks, what the gap was
    checked with, and what the budget counts half of where a dial on the tips sets the ring.

    `span`, `over_pins` hold the limits where a tooth thickness tolerance is known. `flank_class` speaks of
    pitch, run-out and helix; of the profile too, but where a cutter of a set has the form of another tooth
    count `iso1328_profile_total_um` is what that form gives, unrounded, and `profile_source` says so.
    """

    flank_class: int
    span_teeth: int
    span_mm: float
    span: Limits | None
    pin_mm: float | None
    over_pins_mm: float | None
    over_pins: Limits | None
    thickness_tolerance_um: float | None
    single_pitch_um: float
    cumulative_pitch_um: float
    runout_um: float
    tip_runout_um: float
    profile_total_um: float
    profile_source: str
    tip: Limits
    bore: Limits
    width: Limits
    general_tolerance: str


def shop_inspection_data(
    study: Study, ring: JointRing, served: list[Joint], notes: list[str]
) -> InspectionData:
    """Return how a ring part on the `served` joints is accepted; adds to `notes` what is wanting."""
    shop, rack = study.shop, study_rack(study.shop, ring.module_mm)
    m, z, x, d = ring.module_mm, ring.teeth, ring.profile_shift, ring.pitch_diameter_mm
    tolerance = (d, m, shop.flank_class)
    shape = {"addendum": rack.addendum, "dedendum": rack.dedendum, "fillet": rack.root_fillet}
    alpha = rack.pressure_angle_deg
    k = inspection.involute_teeth_to_span(m, z, **shape, shift=x, pressure_angle_deg=alpha)
    thickness = _thickness_um(study, ring, notes)
    runout = iso1328_round_um(float(iso1328_runout_um(*tolerance, extrapolate=True)))
    if any(joint.dial_on == "tips" for joint in served):
        notes.append(
            f"the ring is set by its tips: measure their run-out against the bore, {runout:g} um full "
            "reading at most"
        )
    pin = _pin(study, ring, notes)
    span, over, pins = float(inspection.involute_span_mm(m, z, k, x, alpha)), None, None
    if pin is not None:
        over = float(inspection.involute_over_pins_mm(m, z, pin, x, alpha))
        pins = _thinner(over, thickness, float(inspection.involute_pin_change(m, z, pin, x, alpha)))
    return InspectionData(
        flank_class=shop.flank_class,
        span_teeth=k,
        span_mm=span,
        span=_thinner(span, thickness, inspection.involute_span_change(alpha)),
        pin_mm=pin,
        over_pins_mm=over,
        over_pins=pins,
        thickness_tolerance_um=thickness,
        single_pitch_um=iso1328_round_um(
            float(iso1328_single_pitch_um(*tolerance, extrapolate=True))
        ),
        cumulative_pitch_um=iso1328_round_um(
            float(iso1328_cumulative_pitch_um(*tolerance, extrapolate=True))
        ),
        runout_um=runout,
        tip_runout_um=runout,
        profile_total_um=ring.profile_error_um
        or iso1328_round_um(float(iso1328_profile_total_um(*tolerance, extrapolate=True))),
        profile_source="form of the cutter"
        if ring.profile_error_um
        else f"class {shop.flank_class}",
        tip=_tip(study, ring, served),
        bore=_bore(study, ring, served, notes),
        width=_general(ring.face_width_mm, shop.general_tolerance),
        general_tolerance=f"ISO 2768-1 {shop.general_tolerance}",
    )


def _thinner(size_mm: float, thickness_um: float | None, change: float) -> Limits | None:
    """Return the limits of a size that falls by `change` times the tooth thickness tolerance."""
    if thickness_um is None:
        return None
    lower = size_mm - 1e-3 * thickness_um * change
    return Limits(size_mm, lower, size_mm, "tooth thickness 0 / -T_sn")


def _thickness_um(study: Study, ring: JointRing, notes: list[str]) -> float | None:
    shop, rack = study.shop, study_rack(study.shop, ring.module_mm)
    d = ring.pitch_diameter_mm
    try:
        infeed = tooth_thickness.standard_radial_infeed_um(d, shop.flank_class)
    except ValueError as error:
        notes.append(f"no tooth thickness tolerance: {error}")
        return None
    runout = float(iso1328_runout_um(d, ring.module_mm, shop.flank_class, extrapolate=True))
    return tooth_thickness.standard_thickness_tolerance_um(runout, infeed, rack.pressure_angle_deg)


def _pin(study: Study, ring: JointRing, notes: list[str]) -> float | None:
    rack = study_rack(study.shop, ring.module_mm)
    try:
        return inspection.involute_pin_to_measure_mm(
            ring.module_mm, ring.teeth, study.shop.pins_mm or PREFERRED_MM,
            addendum=rack.addendum, dedendum=rack.dedendum, fillet=rack.root_fillet,
            shift=ring.profile_shift, pressure_angle_deg=rack.pressure_angle_deg,
        )  # fmt: skip
    except ValueError as error:
        notes.append(f"no dimension over pins: {error}")
        return None


def _tip(study: Study, ring: JointRing, served: list[Joint]) -> Limits:
    """Tip circle: the coarsest h grade whose radius takes half of the gap's tolerance at most.

    Above 500 mm, where ISO 286 as held here ends, that half itself, and all of it below nominal: no head
    stands for tips that are larger than `tip_max_mm` and gap were checked with.
    """
    tip = ring.tip_diameter_mm
    allowed_um = 1e3 * min(study.head_of(joint).gap_tolerance_mm for joint in served)
    if tip > iso286.LARGEST_SIZE_MM:
        least_um = float(iso286_tolerance_um(iso286.LARGEST_SIZE_MM, FINEST_TIP_GRADE))
        return Limits(
            tip, tip - 1e-3 * max(allowed_um, least_um), tip, "half of the gap's tolerance"
        )
    grades = range(11, FINEST_TIP_GRADE - 1, -1)
    fine = [g for g in grades if iso286_tolerance_um(tip, g) <= allowed_um]
    return _zone(tip, f"h{fine[0] if fine else FINEST_TIP_GRADE}")


def _bore(study: Study, ring: JointRing, served: list[Joint], notes: list[str]) -> Limits:
    """Bore: the zone of the part, all of whose joints ask the same limits; a note where it is assumed."""
    zone = catalogue_bore_zone(study.shop, served[0], ring.bore_mm)
    source = f"ISO 286 {zone.name}" if ring.bore_mm <= iso286.LARGEST_SIZE_MM else zone.name
    if all(joint.seat_fit is None for joint in served):
        notes.append(_assumed_words(ring.bore_mm))
        source += ", assumed"
    lower, upper = (ring.bore_mm + 1e-3 * um for um in (zone.lower_um, zone.upper_um))
    return Limits(ring.bore_mm, lower, upper, source)


def _assumed_words(bore_mm: float) -> str:
    if bore_mm <= iso286.LARGEST_SIZE_MM:
        return f"no fit is stated: bore {ASSUMED_BORE_ZONE} assumed"
    return (
        f"no fit is stated, and ISO 286 as held here ends at {iso286.LARGEST_SIZE_MM:g} mm: the bore has "
        "the width of its general tolerance, all above nominal (assumed)"
    )


def _zone(size_mm: float, zone: str) -> Limits:
    lower, upper = iso286_deviations_um(size_mm, zone)
    return Limits(size_mm, size_mm + 1e-3 * lower, size_mm + 1e-3 * upper, f"ISO 286 {zone}")


def _general(size_mm: float, tolerance_class: str) -> Limits:
    deviation = iso2768.iso2768_linear_mm(size_mm, tolerance_class)
    source = f"ISO 2768-1 {tolerance_class}"
    return Limits(size_mm, size_mm - deviation, size_mm + deviation, source)
