"""Sizes that rings come to on their joints: diameters, offset, what is left of the gap, cutter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.ring_sizes import catalogue_ring_sizes
from ringset.catalogue.rows import Catalogue
from ringset.physics import air_gap as gap
from ringset.physics import geometry, rim_bending
from ringset.physics.cutter_form import involute_total_deviation_modules
from ringset.rating.mounting_checks import ASSEMBLY_C, rated_fits, rated_interference_mm
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.schema.true_rack import study_rack
from ringset.standards import cutters
from ringset.standards.iso1328 import iso1328_runout_um

#: Above every tooth count, also of a catalogue widened by a quarter: a special cutter is one number.
TEETH_BASE = 16_384


def rated_cutters(shop: Shop, rows: Catalogue) -> Ints:
    """Return the cutter of every row as a whole number; -1 where none is needed.

    A hob cuts every tooth count of its module; a disc cutter of a set cuts one range of it, a special one
    a single count.
    """
    if shop.cutting == "wire":
        return np.full(len(rows), -1, dtype=np.int64)
    if shop.cutting == "hob":
        return rows.module.copy()
    if shop.cutting == "disc_special":
        return rows.module * TEETH_BASE + rows.teeth
    ranges = len(cutters.standard_disc_set(shop.cutting))
    return rows.module * ranges + cutters.standard_disc_range_index(shop.cutting, rows.teeth)


def rated_profile_error_um(shop: Shop, module_mm: float, teeth: int) -> float | None:
    """Return how far the cutter's form takes the profile of a ring off its involute: a span in um, 0 or more.

    None where no disc cutter makes the teeth, 0 from one made for this tooth count. Raises ValueError
    where the form has no flank on the pitch circle (`ringset.physics.cutter_form`).
    """
    if shop.cutting == "disc_special":
        return 0.0
    if shop.cutting not in cutters.DISC_SETS:
        return None
    rack = study_rack(shop, module_mm)
    form = cutters.standard_disc_form_teeth(shop.cutting, teeth, shop.disc_form)
    return module_mm * involute_total_deviation_modules(
        teeth, form, rack.addendum, rack.dedendum, rack.root_fillet, rack.pressure_angle_deg,
        shop.profile_shift,
    )  # fmt: skip


def rated_mounting_offset_um(study: Study, rows: Catalogue) -> Floats:
    """Return the radial offset of every row's ring from its joint axis, float64 in um, 0 or more.

    As stated, or by default, where no fit seats the ring: that of its bore, or of its tips where they set
    it. From a fit: half the largest clearance at any
    temperature (none for interference) plus the hub's own offset.
    """
    stated = rows.per_joint(lambda r: r.joint.set_offset_um)
    least, _ = rated_interference_mm(study, rows)
    for _, mine in rated_fits(rows):
        hub = rows.per_joint(lambda r: r.joint.hub_offset_um)[mine]
        stated[mine] = np.maximum(0.0, -1e3 * least[mine]) / 2.0 + hub
    return stated


def rated_tips_off_bore_um(rows: Catalogue, runout_um: Floats) -> Floats:
    """Return how far every row's tips may lie off its bore, where they set the ring; 0 elsewhere.

    Float64 in um, 0 or more; `iso1328_runout_um` is the tolerance F_r of the flank class (ISO 1328-2), one
    per row. Seen from the bore's centre, the flanks stand around c and the tips around t. F_p is measured
    about the bore (datum A of the sheet), so its first order holds c, whatever circle sets the ring. A dial
    in the bore brings the bore to e off the axis and the flanks to e + c: nothing else is left. A dial on the
    tips brings the tips to e, so the bore to e - t and the flanks to e - t + c. Of this, t is new: no flank
    and no pitch shows it, so F_p does not hold it. The sheet lets the tip circle run out by F_r against A,
    which is a full reading: t = F_r / 2 at most. c is bound by F_r too, but it is not counted again. t and c
    count as independent, as where tips are turned and teeth are cut in two settings. Tips that the cutter
    cuts along with the flanks have t = c: the teeth then stand at e, and what F_p has of c cancels. How much
    of F_p that is no study states, so nothing is taken off: the safe side.
    """
    return np.asarray(_dial_on_tips(rows) * runout_um / 2.0)


def _dial_on_tips(rows: Catalogue) -> Floats:
    """Return 1 for every row whose ring is set by its tips, else 0."""
    return rows.per_joint(lambda r: float(r.joint.dial_on == "tips"))


@dataclass(frozen=True)
class Sizes:
    """Diameters, rim and distortions of every row: float64 with one entry per row.

    `lobe_um` is the radial height of the lobes that clamping leaves, `ovality_um` what the ring takes on of
    its seat's, `iso1328_runout_um` the tolerance of the run-out of its teeth (ISO 1328-2).
    """

    pitch_mm: Floats
    tip_mm: Floats
    root_mm: Floats
    rim_mm: Floats
    lobe_um: Floats
    ovality_um: Floats
    runout_um: Floats


def rated_sizes(study: Study, rows: Catalogue) -> Sizes:
    """Return sizes and distortions of every row; a rim of 0 or less has none that are sound."""
    shop, steel = study.shop, study.shop.ring_material
    rings = catalogue_ring_sizes(shop, rows)
    module, bore, rim_mm = rings.module, rings.bore, rings.rim
    pitch = np.asarray(geometry.pitch_diameter_mm(module, rows.teeth))
    width = rows.per_joint(lambda r: r.joint.face_width_mm)
    rim = (bore, rim_mm, width, steel.youngs_modulus_gpa, steel.poisson)
    lobe_mm = rim_bending.clamping_lobe_mm(shop.clamp_jaws, shop.clamp_force_n, *rim)
    seat = rows.per_joint(lambda r: r.joint.seat_stiffness_n_per_mm2)
    share = rim_bending.transmitted_ovality(seat, *rim)
    runout = iso1328_runout_um(pitch, module, shop.flank_class, extrapolate=True)
    return Sizes(
        pitch_mm=pitch,
        tip_mm=rings.tip,
        root_mm=rings.root,
        rim_mm=rim_mm,
        lobe_um=1e3 * np.asarray(lobe_mm),
        ovality_um=rows.per_joint(lambda r: r.joint.seat_ovality_um) * share,
        runout_um=np.asarray(runout),
    )


def rated_gap_left_mm(study: Study, rows: Catalogue, sizes: Sizes, gap_mm: Floats) -> Floats:
    """Return what is left of each row's gap (float64, mm) when everything that closes it acts at once.

    Taken off: the gap's tolerance, the ring's offset, its lobes and ovality, half the run-out of its
    teeth, the growth of a press fit, and the worst temperature. Where the tips set the ring the offset is
    theirs: the dial has read their run-out already, and it is not taken off again.
    """
    tolerance = rows.per_joint(lambda r: r.head.gap_tolerance_mm)
    rings_um = rated_mounting_offset_um(study, rows) + sizes.lobe_um + sizes.ovality_um
    runout_um = sizes.runout_um / 2.0 - rated_tips_off_bore_um(rows, sizes.runout_um)
    rings_um = rings_um + runout_um + rows.per_joint(lambda r: r.joint.bearing_shift_um)
    narrow, _ = rated_gap_changes_mm(study, rows, sizes)
    return np.asarray(gap_mm - tolerance - rings_um * 1e-3 + narrow)


def rated_gap_changes_mm(study: Study, rows: Catalogue, sizes: Sizes) -> tuple[Floats, Floats]:
    """Return by how much temperature and press fit change each row's gap at worst.

    Two columns of float64 in mm, signed: the narrowest (a press fit grows the ring), and the widest, which
    leaves the press fit out. The ring is first turned where it is assembled, so 0 K counts beside both ends
    of the joint's range: the narrowest is 0 or less, the widest 0 or more.
    """
    ring = study.shop.ring_material.expansion_per_k
    housing = rows.per_joint(
        lambda r: study.shop.material_of(r.joint.housing_material).expansion_per_k
    )
    ends = [
        np.asarray(gap.thermal_change_mm(sizes.tip_mm / 2.0, ring, housing, rows.per_joint(warmer)))
        for warmer in (
            lambda r: r.joint.temperature_min_c - ASSEMBLY_C,
            lambda r: r.joint.temperature_max_c - ASSEMBLY_C,
        )
    ]
    _, pressed = rated_interference_mm(study, rows)
    growth = np.asarray(gap.tip_growth_mm(pressed, rows.bore_mm(), sizes.root_mm))
    return np.minimum(0.0, np.minimum(*ends)) - growth, np.maximum(0.0, np.maximum(*ends))
