"""The error budget of whole columns of rows, fed from study, sizes and heads."""

from __future__ import annotations

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.joints import catalogue_head_angles_deg
from ringset.catalogue.rows import Catalogue
from ringset.physics import budget as physics
from ringset.physics import head_averaging, resolution, tooth_field
from ringset.physics.pitch_spectrum import PitchSpectrum
from ringset.physics.quantity import Quantity
from ringset.rating.sizes import (
    Sizes,
    rated_gap_changes_mm,
    rated_mounting_offset_um,
    rated_tips_off_bore_um,
)
from ringset.schema.equipment import HEADS_MOST
from ringset.schema.study import Study
from ringset.standards.iso1328 import iso1328_cumulative_pitch_um, iso1328_single_pitch_um


def _head_columns(study: Study, rows: Catalogue) -> dict[str, Floats]:
    """Return what the heads of every row keep: orders 1, 2 and of the jaws, z, 2 z and 4 z, pitch."""
    names = (
        "gain_first", "gain_second", "gain_lobes", "gain_teeth", "gain_teeth_double",
        "gain_teeth_fourth", "pitch_share", "worst_pitch_share",
    )  # fmt: skip
    lobes, spectrum = study.shop.clamp_jaws, rated_pitch_spectrum(study)
    known: dict[tuple[tuple[float, ...], float], int] = {}
    layout = np.zeros((len(rows.joints), HEADS_MOST + 1), dtype=np.int64)
    for index, ref in enumerate(rows.joints):
        for count in ref.joint.head_counts:
            key = (catalogue_head_angles_deg(ref.joint, count), ref.head.placement_tolerance_deg)
            layout[index, count] = known.setdefault(key, len(known))
    counts = np.arange(int(rows.teeth.max(initial=0)) + 1)
    table = np.empty((len(known), len(counts), len(names)))
    for key, index in known.items():
        for column, order in enumerate((1, 2, lobes)):
            table[index, :, column] = head_averaging.worst_head_gain(order, *key)
        for column, order in enumerate((1, 2, 4), start=3):
            table[index, :, column] = head_averaging.worst_head_gain(order * counts, *key)
        table[index, :, 6:] = _pitch_shares(study, key[0], counts, spectrum)
    columns = table[layout[rows.joint, rows.heads], rows.teeth]
    return {name: columns[:, i] for i, name in enumerate(names)}


def rated_pitch_spectrum(study: Study) -> PitchSpectrum:
    """Return the spectrum of pitch errors that a study assumes."""
    shop = study.shop
    return PitchSpectrum(
        exponent=shop.pitch_spectrum_exponent,
        worst_percent=study.target.worst_ring_percent,
        uneven_factor=shop.uneven_pitch_factor,
        uneven_extra=shop.uneven_worst_extra,
    )


def _pitch_shares(
    study: Study, angles_deg: tuple[float, ...], teeth: Ints, spectrum: PitchSpectrum
) -> Floats:
    """Return mean and worst share of the cumulative pitch, two columns: as stated, else of the spectrum."""
    shop, count = study.shop, str(len(angles_deg))
    share = np.asarray(head_averaging.pitch_share(angles_deg, teeth, spectrum))
    worst = np.asarray(head_averaging.worst_pitch_share(angles_deg, teeth, spectrum))
    share = np.full(len(teeth), shop.pitch_share.get(count, share))
    worst = np.full(len(teeth), shop.worst_pitch_share.get(count, worst))
    return np.stack([share, np.maximum(share, worst)], axis=1)


def rated_error_budget(
    study: Study, rows: Catalogue, sizes: Sizes, gap_mm: Floats
) -> physics.Budget:
    """Return the whole error budget of every row at its gap (`gap_mm`: float64, mm, one per row).

    Amplitudes and standard uncertainties are in arcsec, with one entry per row or one for all rows. The
    equations are those of `physics.angle_error_budget`; tolerances of the teeth come from ISO 1328-1 and -2,
    extrapolated where sizes lie beyond its tables.
    """
    shop, steel = study.shop, study.shop.ring_material
    tolerance = (sizes.pitch_mm, rows.module_mm(), shop.flank_class)
    inputs = physics.BudgetInputs(
        pitch_diameter_mm=sizes.pitch_mm,
        teeth=rows.teeth,
        heads=rows.heads,
        **_head_columns(study, rows),
        mounting_offset_um=rated_mounting_offset_um(study, rows),
        tips_off_bore_um=rated_tips_off_bore_um(rows, sizes.runout_um),
        cumulative_pitch_um=iso1328_cumulative_pitch_um(*tolerance, extrapolate=True),
        single_pitch_um=iso1328_single_pitch_um(*tolerance, extrapolate=True),
        seat_ovality_um=sizes.ovality_um,
        clamping_lobe_um=sizes.lobe_um,
        lobes=shop.clamp_jaws,
        **_field_columns(study, rows, sizes, gap_mm),
        **_head_data(rows),
        bearing_shift_um=rows.per_joint(lambda r: r.joint.bearing_shift_um),
        expansion_per_k=steel.expansion_per_k,
        gradient_k=rows.per_joint(lambda r: r.joint.temperature_gradient_k),
        wobble_mrad=rows.per_joint(lambda r: r.joint.wobble_mrad),
        flank_line_mrad=shop.flank_line_mrad,
        speed_rpm=rows.per_joint(lambda r: r.joint.speed_max_rpm),
        sensing_radius_mm=sizes.tip_mm / 2.0 + gap_mm,
        coverage=study.target.coverage_factor,
        worst_sigmas=study.target.worst_noise_sigmas,
    )
    return physics.angle_error_budget(inputs)


def _field_columns(
    study: Study, rows: Catalogue, sizes: Sizes, gap_mm: Floats
) -> dict[str, Quantity]:
    """Return field ratios of every row on the safe side: widest gap for the signal, narrowest for h3."""
    narrower, wider = rated_gap_changes_mm(study, rows, sizes)
    tolerance = rows.per_joint(lambda r: r.head.gap_tolerance_mm)
    stated_gap = rows.per_joint(lambda r: r.head.stated_gap_mm)
    stated_module = rows.per_joint(lambda r: r.head.stated_module_mm)
    wide = gap_mm + tolerance + wider
    narrow = np.maximum(0.0, gap_mm - tolerance + narrower)
    return {
        "amplitude_ratio": tooth_field.amplitude_ratio(
            wide, sizes.tip_mm, rows.teeth, stated_gap, stated_module
        )
        * _passed(rows),
        "third_harmonic_ratio": tooth_field.third_harmonic_ratio(
            narrow, sizes.tip_mm, rows.teeth, stated_gap, stated_module
        ),
    }


def _passed(rows: Catalogue) -> Floats:
    """Return what the channels' low pass leaves of the signal at full speed, 1 where none is stated."""
    rate_hz = resolution.tooth_rate_hz(rows.teeth, rows.per_joint(lambda r: r.joint.speed_max_rpm))
    corner = rows.per_joint(lambda r: r.head.bandwidth_hz or np.inf)
    return np.asarray(1.0 / np.hypot(1.0, np.asarray(rate_hz) / corner))


def _head_data(rows: Catalogue) -> dict[str, Floats]:
    """Return the head's own data as columns."""
    names = (
        "teeth_sensed", "residual_offset", "residual_gain", "residual_quadrature_deg",
        "third_harmonic", "stray_field", "noise_ratio", "position_bits", "timing_jitter_us",
        "common_share",
    )  # fmt: skip
    heads_in_order = [ref.head for ref in rows.joints]
    data = {
        name: np.array([float(getattr(h, name)) for h in heads_in_order])[rows.joint]
        for name in names
    }
    # a ratio of 1 - d errs a little more than one of 1 + d: the other way round it is 1 / (1 - d)
    data["residual_gain"] = data["residual_gain"] / (1.0 - data["residual_gain"])
    return data
