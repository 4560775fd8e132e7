"""Stage 2: sizes, mass, error and checks of every row of the catalogue, on whole columns at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.catalogue import Catalogue, Floats, JointRef
from optimizer.equipment import Shop
from optimizer.physics import budget as physics
from optimizer.physics import field, geometry, heads, readout, rim
from optimizer.physics.limits import at_least, at_most
from optimizer.physics.quantity import Quantity
from optimizer.standards import cutters, iso286, iso1328
from optimizer.standards.materials import material
from optimizer.standards.racks import RACKS
from optimizer.study import Joint, Study

#: Offset of a ring set with a dial indicator, where neither fit nor offset is given. Assumed.
SET_OFFSET_UM = 15.0


@dataclass(frozen=True)
class Rated:
    """A rated catalogue: one array entry per row. Lengths mm, errors arcsec, masses kg."""

    catalogue: Catalogue
    pitch_mm: Floats
    tip_mm: Floats
    root_mm: Floats
    rim_mm: Floats
    blank_kg: Floats
    error_arcsec: Floats
    usable_bits: Floats
    tooth_rate_hz: Floats
    lobe_um: Floats
    runout_um: Floats
    cutter: NDArray[np.int64]
    limits: dict[str, NDArray[np.bool_]]

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Rows that keep every limit of their joint."""
        keeps = np.ones(len(self.catalogue), dtype=np.bool_)
        for mask in self.limits.values():
            keeps &= mask
        return keeps

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Rated:
        """Return the given rows only (indices or mask)."""
        return Rated(
            self.catalogue.take(rows), self.pitch_mm[rows], self.tip_mm[rows], self.root_mm[rows],
            self.rim_mm[rows], self.blank_kg[rows], self.error_arcsec[rows],
            self.usable_bits[rows], self.tooth_rate_hz[rows], self.lobe_um[rows],
            self.runout_um[rows], self.cutter[rows],
            {name: mask[rows] for name, mask in self.limits.items()},
        )  # fmt: skip


def rate(study: Study, rows: Catalogue) -> Rated:
    """Rate every row of `rows`; `limits` says per limit which rows keep it."""
    shop, rack = study.shop, RACKS[study.shop.rack]
    module, bore = rows.module_mm(), rows.bore_mm()
    pitch = np.asarray(geometry.pitch_diameter_mm(module, rows.teeth))
    tip = np.asarray(
        geometry.tip_diameter_mm(module, rows.teeth, rack.addendum, shop.profile_shift)
    )
    root = np.asarray(
        geometry.root_diameter_mm(module, rows.teeth, rack.dedendum, shop.profile_shift)
    )
    budget, lobe = budget_of(study, rows)
    runout = iso1328.runout_um(pitch, module, shop.flank_class, extrapolate=True)
    noise = np.asarray(budget.amplitude["noise"])
    bits = np.asarray(readout.usable_bits(noise))
    teeth_rate = readout.tooth_rate_hz(rows.teeth, per_joint(rows, lambda r: r.joint.speed_max_rpm))
    error = np.asarray(budget.total(study.target.basis))
    rated = Rated(
        catalogue=rows,
        pitch_mm=pitch,
        tip_mm=tip,
        root_mm=root,
        rim_mm=np.asarray(geometry.rim_thickness_mm(root, bore)),
        blank_kg=np.asarray(
            geometry.mass_kg(
                geometry.annulus_section(tip, bore),
                per_joint(rows, lambda r: r.joint.face_width_mm),
                material(shop.material).density_kg_per_m3,
            )
        ),
        error_arcsec=error,
        usable_bits=bits,
        tooth_rate_hz=np.asarray(teeth_rate),
        lobe_um=lobe,
        runout_um=np.asarray(runout),
        cutter=cutter_of(shop, rows),
        limits={},
    )
    rated.limits.update(_limits(study, rated))
    return rated


def _limits(study: Study, rated: Rated) -> dict[str, NDArray[np.bool_]]:
    rows = rated.catalogue
    rates = per_joint(rows, lambda r: r.head.tooth_rate_max_hz)
    limits = {
        "head.tooth_rate_max_hz": at_most(rated.tooth_rate_hz, rates),
        "angle_target_arcsec": at_most(
            rated.error_arcsec, per_joint(rows, lambda r: r.target_arcsec)
        ),
    }
    if study.shop.clamp_runout_share is not None:
        allowed = study.shop.clamp_runout_share * rated.runout_um
        limits["shop.clamp_runout_share"] = at_most(2.0 * rated.lobe_um, allowed)
    if study.target.resolution_bits is not None:
        limits["target.resolution_bits"] = at_least(rated.usable_bits, study.target.resolution_bits)
    return limits


def per_joint(rows: Catalogue, value: Callable[[JointRef], float]) -> Floats:
    """Return `value` of each row's joint as a column."""
    return np.array([value(ref) for ref in rows.joints], dtype=np.float64)[rows.joint]


def cutter_of(shop: Shop, rows: Catalogue) -> NDArray[np.int64]:
    """Return the cutter of every row as a whole number; -1 where none is needed.

    A hob cuts every tooth count of its module; a disc cutter of a set cuts one range of it.
    """
    if shop.cutting == "wire":
        return np.full(len(rows), -1, dtype=np.int64)
    if shop.cutting == "hob":
        return rows.module.copy()
    ranges = len(cutters.disc_set(shop.cutting))
    return rows.module * ranges + cutters.disc_range_index(shop.cutting, rows.teeth)


def head_angles_deg(joint: Joint, count: int) -> tuple[float, ...]:
    """Return where `count` heads stand on `joint`: as stated, else equally spaced."""
    return tuple(joint.head_angles_deg.get(str(count), heads.equal_angles_deg(count)))


def mounting_offset_um(study: Study, rows: Catalogue) -> Floats:
    """Radial offset of every row's ring from its joint axis in um.

    From a fit: half the largest clearance (none for interference) plus the hub's own offset.
    """
    stated = per_joint(
        rows,
        lambda r: SET_OFFSET_UM if r.joint.seat_offset_um is None else r.joint.seat_offset_um,
    )
    fits = [ref.joint.seat_fit for ref in rows.joints]
    bore = rows.bore_mm()
    for fit in sorted({fit for fit in fits if fit is not None}):
        mine = np.array([other == fit for other in fits])[rows.joint]
        _, largest = iso286.fit_clearance_um(bore[mine], fit)
        hub = per_joint(rows, lambda r: r.joint.hub_offset_um)[mine]
        stated[mine] = np.maximum(0.0, np.asarray(largest)) / 2.0 + hub
    return stated


def _head_columns(rows: Catalogue, lobes: int) -> dict[str, Floats]:
    """Return the gains of orders 1, 2 and `lobes` and the pitch share of every row."""
    names = ("gain_first", "gain_second", "gain_lobes", "pitch_share")
    table = np.zeros((len(rows.joints), 9, len(names)))
    known: dict[tuple[tuple[float, ...], float], tuple[float, ...]] = {}
    for index, ref in enumerate(rows.joints):
        for count in ref.joint.head_counts:
            key = (head_angles_deg(ref.joint, count), ref.head.placement_tolerance_deg)
            if key not in known:
                gains = np.asarray(heads.worst_head_gain(np.array([1, 2, lobes]), *key))
                known[key] = (*gains.tolist(), heads.pitch_share(key[0]))
            table[index, count] = known[key]
    columns = table[rows.joint, rows.heads]
    return {name: columns[:, i] for i, name in enumerate(names)}


def budget_of(study: Study, rows: Catalogue) -> tuple[physics.Budget, Floats]:
    """Return the whole budget of every row, and the clamping lobe in um."""
    shop, rack, steel = study.shop, RACKS[study.shop.rack], material(study.shop.material)
    module, bore = rows.module_mm(), rows.bore_mm()
    pitch = geometry.pitch_diameter_mm(module, rows.teeth)
    tip = geometry.tip_diameter_mm(module, rows.teeth, rack.addendum, shop.profile_shift)
    root = geometry.root_diameter_mm(module, rows.teeth, rack.dedendum, shop.profile_shift)
    rim_mm = geometry.rim_thickness_mm(root, bore)
    width = per_joint(rows, lambda r: r.joint.face_width_mm)
    modulus = steel.youngs_modulus_gpa
    lobe_um = 1e3 * np.asarray(
        rim.clamping_lobe_mm(shop.clamp_jaws, shop.clamp_force_n, bore, rim_mm, width, modulus)
    )
    share = rim.transmitted_ovality(
        per_joint(rows, lambda r: r.joint.seat_stiffness_n_per_mm2), bore, rim_mm, width, modulus
    )
    inputs = physics.BudgetInputs(
        pitch_diameter_mm=pitch,
        teeth=rows.teeth,
        heads=rows.heads,
        **_head_columns(rows, shop.clamp_jaws),
        mounting_offset_um=mounting_offset_um(study, rows),
        cumulative_pitch_um=iso1328.cumulative_pitch_um(
            pitch, module, shop.flank_class, extrapolate=True
        ),
        single_pitch_um=iso1328.single_pitch_um(pitch, module, shop.flank_class, extrapolate=True),
        seat_ovality_um=per_joint(rows, lambda r: r.joint.seat_ovality_um) * share,
        clamping_lobe_um=lobe_um,
        lobes=shop.clamp_jaws,
        **_field_columns(rows, tip),
        **_head_data(rows),
        bearing_shift_um=per_joint(rows, lambda r: r.joint.bearing_shift_um),
        expansion_per_k=steel.expansion_per_k,
        gradient_k=per_joint(rows, lambda r: r.joint.temperature_gradient_k),
        wobble_mrad=per_joint(rows, lambda r: r.joint.wobble_mrad),
        flank_line_mrad=shop.flank_line_mrad,
        speed_rpm=per_joint(rows, lambda r: r.joint.speed_max_rpm),
    )
    return physics.budget(inputs), lobe_um


def _field_columns(rows: Catalogue, tip_mm: Quantity) -> dict[str, Quantity]:
    """Return field ratios of every row on the safe side: widest gap for the signal, narrowest for h3."""
    gap = per_joint(rows, lambda r: r.head.gap_mm)
    tolerance = per_joint(rows, lambda r: r.head.gap_tolerance_mm)
    stated_gap = per_joint(rows, lambda r: r.head.stated_gap_mm)
    stated_module = per_joint(rows, lambda r: r.head.stated_module_mm)
    return {
        "amplitude_ratio": field.amplitude_ratio(
            gap + tolerance, tip_mm, rows.teeth, stated_gap, stated_module
        ),
        "third_harmonic_ratio": field.third_harmonic_ratio(
            gap - tolerance, tip_mm, rows.teeth, stated_gap, stated_module
        ),
    }


def _head_data(rows: Catalogue) -> dict[str, Floats]:
    """Return the head's own data as columns."""
    names = (
        "teeth_sensed", "residual_offset", "residual_gain", "residual_quadrature_deg",
        "third_harmonic", "stray_field", "noise_ratio", "position_bits", "timing_jitter_us",
    )  # fmt: skip
    heads_in_order = [ref.head for ref in rows.joints]
    return {
        name: np.array([float(getattr(h, name)) for h in heads_in_order])[rows.joint]
        for name in names
    }
