"""The judge's own way to gap and error budget: one ring on one joint, on plain numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.physics import air_gap, head_averaging, latency, resolution, tooth_field
from ringset.physics import budget as physics
from ringset.physics.pitch_spectrum import PitchSpectrum
from ringset.schema.answer import JointRing
from ringset.schema.joint import Joint
from ringset.schema.study import Study
from ringset.standards.iso1328 import iso1328_cumulative_pitch_um, iso1328_single_pitch_um
from ringset.verification.judge.mounting import judged_interference_mm


@dataclass(frozen=True)
class Shape:
    """Sizes in mm and distortions in um of one ring that gap and budget need."""

    pitch_mm: float
    tip_mm: float
    root_mm: float
    lobe_um: float
    ovality_um: float
    runout_um: float


def judged_head_angles_deg(joint: Joint, count: int) -> list[float]:
    """Return where `count` heads stand on a joint: as stated, else equally spaced."""
    return joint.head_angles_deg.get(str(count)) or [360.0 * i / count for i in range(count)]


def judged_target(study: Study, stated: float) -> float:
    """Return what is left for the error of a stated accuracy target, the study's reserve taken off."""
    return stated * (1.0 - study.target.reserve_percent / 100.0)


def judged_left_percent(error: float, stated: float) -> float:
    """Return what an error leaves of a stated accuracy target, in percent of the target."""
    return 100.0 * (stated - error) / stated


def _mounting_offset_um(study: Study, joint: Joint, bore_mm: float) -> float:
    if joint.seat_fit is not None:
        least, _ = judged_interference_mm(study, joint, bore_mm)
        return max(0.0, -1e3 * least) / 2.0 + joint.hub_offset_um
    if joint.seat_tir_um is not None:
        return 0.5 * joint.seat_tir_um
    return 15.0 if joint.seat_offset_um is None else joint.seat_offset_um


def _by_tips(joint: Joint) -> bool:
    """Say whether a dial on the tips sets the ring: a fit would centre it by its bore."""
    return joint.seat_fit is None and joint.set_by == "tips"


def _gap_changes_mm(
    study: Study, joint: Joint, ring: JointRing, shape: Shape
) -> tuple[float, float]:
    """Return what temperature and press fit do to the gap at worst: (narrower, wider), signed.

    Besides the ends of the joint's range there is the 20 degrees at which it is assembled: no change.
    """
    expansion = study.shop.ring_material.expansion_per_k
    housing = study.shop.material_of(joint.housing_material).expansion_per_k
    changes = [0.0] + [
        float(air_gap.thermal_change_mm(shape.tip_mm / 2.0, expansion, housing, celsius - 20.0))
        for celsius in (joint.temperature_min_c, joint.temperature_max_c)
    ]
    _, pressed = judged_interference_mm(study, joint, ring.bore_mm)
    growth = float(air_gap.tip_growth_mm(pressed, ring.bore_mm, shape.root_mm))
    return min(changes) - growth, max(changes)


def judged_gap_left_mm(study: Study, joint: Joint, ring: JointRing, shape: Shape) -> float:
    """Return what is left of the gap when everything that closes it acts at once."""
    head = study.head_of(joint)
    narrower, _ = _gap_changes_mm(study, joint, ring, shape)
    rings_um = _mounting_offset_um(study, joint, ring.bore_mm) + shape.lobe_um + shape.ovality_um
    rings_um += joint.bearing_shift_um
    if not _by_tips(joint):  # else the offset is that of the tips themselves
        rings_um += shape.runout_um / 2.0
    return ring.gap_mm - head.gap_tolerance_mm - rings_um * 1e-3 + narrower


def _kept_of_pitch(study: Study, angles: list[float], teeth: int) -> tuple[float, float]:
    """Return mean and worst share of the cumulative pitch that the heads leave: stated, else simulated."""
    shop, count = study.shop, str(len(angles))
    spectrum = PitchSpectrum(
        shop.pitch_spectrum_exponent,
        study.target.worst_ring_percent,
        shop.uneven_pitch_factor,
        shop.uneven_worst_extra,
    )
    if count in shop.pitch_share:
        share = shop.pitch_share[count]
    else:
        share = float(head_averaging.pitch_share(angles, teeth, spectrum))
    if count in shop.worst_pitch_share:
        worst = shop.worst_pitch_share[count]
    else:
        worst = float(head_averaging.worst_pitch_share(angles, teeth, spectrum))
    return share, max(share, worst)


def judged_ring_budget(study: Study, joint: Joint, ring: JointRing, shape: Shape) -> physics.Budget:
    """Return the error budget of one ring on its joint."""
    shop, head, steel = study.shop, study.head_of(joint), study.shop.ring_material
    count, angles = ring.heads, judged_head_angles_deg(joint, ring.heads)
    share, worst = _kept_of_pitch(study, angles, ring.teeth)

    def gain(order: float) -> float:
        return float(head_averaging.worst_head_gain(order, angles, head.placement_tolerance_deg))

    narrower, wider = _gap_changes_mm(study, joint, ring, shape)
    wide = ring.gap_mm + head.gap_tolerance_mm + wider
    narrow = max(0.0, ring.gap_mm - head.gap_tolerance_mm + narrower)
    passed = 1.0
    if head.bandwidth_hz is not None:
        rate_hz = float(resolution.tooth_rate_hz(ring.teeth, joint.speed_max_rpm))
        passed = float(latency.low_pass_gain(rate_hz, head.bandwidth_hz))
    stated = (head.stated_gap_mm, head.stated_module_mm)
    tolerance = (shape.pitch_mm, ring.module_mm, shop.flank_class)
    return physics.angle_error_budget(
        physics.BudgetInputs(
            pitch_diameter_mm=shape.pitch_mm,
            teeth=ring.teeth,
            heads=count,
            gain_first=gain(1.0),
            gain_second=gain(2.0),
            gain_lobes=gain(float(shop.clamp_jaws)),
            gain_teeth=gain(ring.teeth),
            gain_teeth_double=gain(2.0 * ring.teeth),
            gain_teeth_fourth=gain(4.0 * ring.teeth),
            pitch_share=share,
            worst_pitch_share=worst,
            coverage=study.target.coverage_factor,
            worst_sigmas=study.target.worst_noise_sigmas,
            mounting_offset_um=_mounting_offset_um(study, joint, ring.bore_mm),
            tips_off_bore_um=shape.runout_um / 2.0 if _by_tips(joint) else 0.0,
            cumulative_pitch_um=iso1328_cumulative_pitch_um(*tolerance, extrapolate=True),
            single_pitch_um=iso1328_single_pitch_um(*tolerance, extrapolate=True),
            teeth_sensed=head.teeth_sensed,
            seat_ovality_um=shape.ovality_um,
            clamping_lobe_um=shape.lobe_um,
            lobes=shop.clamp_jaws,
            amplitude_ratio=passed
            * tooth_field.amplitude_ratio(wide, shape.tip_mm, ring.teeth, *stated),
            third_harmonic_ratio=tooth_field.third_harmonic_ratio(
                narrow, shape.tip_mm, ring.teeth, *stated
            ),
            residual_offset=head.residual_offset,
            residual_gain=1.0 / (1.0 - head.residual_gain) - 1.0,  # the worse sign of the two
            residual_quadrature_deg=head.residual_quadrature_deg,
            third_harmonic=head.third_harmonic,
            stray_field=head.stray_field,
            noise_ratio=head.noise_ratio,
            position_bits=head.position_bits,
            common_share=head.common_share,
            bearing_shift_um=joint.bearing_shift_um,
            expansion_per_k=steel.expansion_per_k,
            gradient_k=joint.temperature_gradient_k,
            wobble_mrad=joint.wobble_mrad,
            flank_line_mrad=shop.flank_line_mrad,
            speed_rpm=joint.speed_max_rpm,
            timing_jitter_us=head.timing_jitter_us,
            sensing_radius_mm=np.float64(shape.tip_mm / 2.0 + ring.gap_mm),
        )
    )
