"""Stage 2: sizes, mass, error and checks of every row of the catalogue, on whole columns at once."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from optimizer.catalogue import ROW_COLUMNS, Catalogue, Floats, head_angles_deg
from optimizer.equipment import Head, Shop
from optimizer.mount_checks import ASSEMBLY_C, fits_of, interference_mm, row_checks
from optimizer.physics import budget as physics
from optimizer.physics import field, gap, geometry, heads, readout, rim
from optimizer.physics.limits import at_least, at_most
from optimizer.physics.quantity import Quantity
from optimizer.standards import cutters, iso1328
from optimizer.standards.materials import material
from optimizer.standards.racks import RACKS
from optimizer.study import Study

#: Offset of a ring set with a dial indicator, where neither fit nor offset is given. Assumed.
SET_OFFSET_UM = 15.0


@dataclass(frozen=True)
class Weighed:
    """Rows with what a search needs of them: cutter, mass of the blank in kg, error in arcsec."""

    catalogue: Catalogue
    cutter: NDArray[np.int64]
    blank_kg: Floats
    error_arcsec: Floats

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Self:
        """Return the given rows only (indices or mask)."""
        columns = {
            f.name: getattr(self, f.name)[rows] for f in fields(self) if f.name not in _WHOLE
        }
        return replace(self, catalogue=self.catalogue.take(rows), **columns)

    def weighed(self) -> Weighed:
        """Return the rows without anything that a search does not need."""
        return Weighed(self.catalogue, self.cutter, self.blank_kg, self.error_arcsec)


@dataclass(frozen=True)
class Rated(Weighed):
    """A rated catalogue: one array entry per row. Lengths mm, errors arcsec, masses kg."""

    pitch_mm: Floats
    tip_mm: Floats
    root_mm: Floats
    rim_mm: Floats
    usable_bits: Floats
    gap_mm: Floats
    gap_left_mm: Floats
    tooth_rate_hz: Floats
    lobe_um: Floats
    runout_um: Floats
    limits: dict[str, NDArray[np.bool_]]

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Rows that keep every limit of their joint."""
        keeps = np.ones(len(self.catalogue), dtype=np.bool_)
        for mask in self.limits.values():
            keeps &= mask
        return keeps

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Self:
        """Return the given rows only (indices or mask)."""
        limits = {name: mask[rows] for name, mask in self.limits.items()}
        return replace(super().take(rows), limits=limits)


#: Fields that are not one array with an entry per row.
_WHOLE = ("catalogue", "limits")


def joined(blocks: list[Weighed]) -> Weighed:
    """Return blocks as one; the list is emptied on the way, so that little is held twice."""
    if len(blocks) == 1:
        return blocks.pop()
    known = blocks[0].catalogue
    places = [[getattr(block.catalogue, name) for block in blocks] for name in ROW_COLUMNS]
    cutter, blank = [b.cutter for b in blocks], [b.blank_kg for b in blocks]
    error = [b.error_arcsec for b in blocks]
    blocks.clear()
    rows = [np.concatenate(places.pop(0)) for _ in ROW_COLUMNS]
    whole = Catalogue(known.joints, known.modules_mm, known.bore_step_mm, *rows)
    return Weighed(whole, np.concatenate(cutter), np.concatenate(blank), np.concatenate(error))


def rate(study: Study, rows: Catalogue, gap_mm: Floats | None = None) -> Rated:
    """Rate every row of `rows`; `limits` says per limit which rows keep it.

    Without `gap_mm` (a column) each row gets the head's gap or, where the head allows a range, the gap
    of that range with the least error that leaves enough of it.
    """
    if gap_mm is None:
        return _with_best_gap(study, rows)
    sizes = sizes_of(study, rows)
    budget = budget_of(study, rows, sizes, gap_mm)
    head_limit = rows.per_joint(lambda r: r.head.gap_left_min_mm)
    left = gap_left_mm(study, rows, sizes, gap_mm)
    rated = Rated(
        catalogue=rows,
        pitch_mm=sizes.pitch_mm,
        tip_mm=sizes.tip_mm,
        root_mm=sizes.root_mm,
        rim_mm=sizes.rim_mm,
        blank_kg=np.asarray(
            geometry.mass_kg(
                geometry.annulus_section(sizes.tip_mm, rows.bore_mm()),
                rows.per_joint(lambda r: r.joint.face_width_mm),
                material(study.shop.material).density_kg_per_m3,
            )
        ),
        error_arcsec=np.asarray(budget.total(study.target.basis)),
        usable_bits=np.asarray(readout.usable_bits(budget.amplitude["noise"])),
        gap_mm=gap_mm,
        gap_left_mm=left,
        tooth_rate_hz=np.asarray(
            readout.tooth_rate_hz(rows.teeth, rows.per_joint(lambda r: r.joint.speed_max_rpm))
        ),
        lobe_um=sizes.lobe_um,
        runout_um=sizes.runout_um,
        cutter=cutter_of(study.shop, rows),
        limits={"head.gap_left_min_mm": at_least(left, head_limit)},
    )
    rated.limits.update(_limits(study, rated))
    return rated


def gaps_mm(head: Head) -> Floats:
    """Return the gaps that the search may choose for a head, narrowest first."""
    if head.gap_min_mm is None or head.gap_max_mm is None:
        return np.array([head.gap_mm])
    steps = int(np.floor((head.gap_max_mm - head.gap_min_mm) / head.gap_step_mm + 1e-9))
    return np.round(head.gap_min_mm + head.gap_step_mm * np.arange(steps + 1), 9)


def _with_best_gap(study: Study, rows: Catalogue) -> Rated:
    """Rate rows at every gap of their heads and keep, per row, the one of least error that is allowed."""
    choices = [gaps_mm(ref.head) for ref in rows.joints]
    best: Rated | None = None
    for turn in range(max((len(choice) for choice in choices), default=1)):
        gap = np.array([choice[min(turn, len(choice) - 1)] for choice in choices])[rows.joint]
        rated = rate(study, rows, gap)
        best = rated if best is None else _better(best, rated)
    if best is None:
        raise AssertionError("a head has at least one gap")
    return best


def _better(one: Rated, other: Rated) -> Rated:
    """Return, row by row, the rating that keeps more limits or, if equal, has less error."""

    def order(rated: Rated) -> tuple[Floats, Floats]:
        kept = sum(mask.astype(np.float64) for mask in rated.limits.values())
        return np.asarray(kept), rated.error_arcsec

    (kept, error), (other_kept, other_error) = order(one), order(other)
    swap = (other_kept > kept) | ((other_kept == kept) & (other_error < error))
    columns = {
        f.name: np.where(swap, getattr(other, f.name), getattr(one, f.name))
        for f in fields(one)
        if f.name not in ("catalogue", "limits")
    }
    limits = {name: np.where(swap, other.limits[name], mask) for name, mask in one.limits.items()}
    return Rated(catalogue=one.catalogue, limits=limits, **columns)


def _limits(study: Study, rated: Rated) -> dict[str, NDArray[np.bool_]]:
    rows = rated.catalogue
    rates = rows.per_joint(lambda r: r.head.tooth_rate_max_hz)
    limits = {
        "head.tooth_rate_max_hz": at_most(rated.tooth_rate_hz, rates),
        "angle_target_arcsec": at_most(
            rated.error_arcsec, rows.per_joint(lambda r: r.target_arcsec)
        ),
    }
    if study.shop.clamp_runout_share is not None:
        allowed = study.shop.clamp_runout_share * rated.runout_um
        limits["shop.clamp_runout_share"] = at_most(2.0 * rated.lobe_um, allowed)
    if study.target.resolution_bits is not None:
        limits["target.resolution_bits"] = at_least(rated.usable_bits, study.target.resolution_bits)
    for name, check in row_checks(study, rows, rated.tip_mm, rated.gap_mm).items():
        limits[name] = check.kept
    return limits


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


def mounting_offset_um(study: Study, rows: Catalogue) -> Floats:
    """Radial offset of every row's ring from its joint axis in um.

    From a fit: half the largest clearance at any temperature (none for interference) plus the hub's
    own offset.
    """
    stated = rows.per_joint(
        lambda r: SET_OFFSET_UM if r.joint.seat_offset_um is None else r.joint.seat_offset_um,
    )
    least, _ = interference_mm(study, rows)
    for _, mine in fits_of(rows):
        hub = rows.per_joint(lambda r: r.joint.hub_offset_um)[mine]
        stated[mine] = np.maximum(0.0, -1e3 * least[mine]) / 2.0 + hub
    return stated


@dataclass(frozen=True)
class Sizes:
    """Diameters, rim and distortions of every row: mm and um."""

    pitch_mm: Floats
    tip_mm: Floats
    root_mm: Floats
    rim_mm: Floats
    lobe_um: Floats
    ovality_um: Floats
    runout_um: Floats


def sizes_of(study: Study, rows: Catalogue) -> Sizes:
    """Return sizes and distortions of every row."""
    shop, rack, steel = study.shop, RACKS[study.shop.rack], material(study.shop.material)
    module, bore = rows.module_mm(), rows.bore_mm()
    pitch = np.asarray(geometry.pitch_diameter_mm(module, rows.teeth))
    tip = geometry.tip_diameter_mm(module, rows.teeth, rack.addendum, shop.profile_shift)
    root = geometry.root_diameter_mm(module, rows.teeth, rack.dedendum, shop.profile_shift)
    rim_mm = np.asarray(geometry.rim_thickness_mm(root, bore))
    width, modulus = rows.per_joint(lambda r: r.joint.face_width_mm), steel.youngs_modulus_gpa
    lobe_mm = rim.clamping_lobe_mm(
        shop.clamp_jaws, shop.clamp_force_n, bore, rim_mm, width, modulus
    )
    share = rim.transmitted_ovality(
        rows.per_joint(lambda r: r.joint.seat_stiffness_n_per_mm2), bore, rim_mm, width, modulus
    )
    runout = iso1328.runout_um(pitch, module, shop.flank_class, extrapolate=True)
    return Sizes(
        pitch_mm=pitch,
        tip_mm=np.asarray(tip),
        root_mm=np.asarray(root),
        rim_mm=rim_mm,
        lobe_um=1e3 * np.asarray(lobe_mm),
        ovality_um=rows.per_joint(lambda r: r.joint.seat_ovality_um) * share,
        runout_um=np.asarray(runout),
    )


def gap_left_mm(study: Study, rows: Catalogue, sizes: Sizes, gap_mm: Floats) -> Floats:
    """Return what is left of the gap when everything that closes it acts at once.

    Taken off: the gap's tolerance, the ring's offset, its lobes and ovality, half the run-out of its
    teeth, the growth of a press fit, and the worst temperature.
    """
    tolerance = rows.per_joint(lambda r: r.head.gap_tolerance_mm)
    rings_um = mounting_offset_um(study, rows) + sizes.lobe_um + sizes.ovality_um
    rings_um = rings_um + sizes.runout_um / 2.0 + rows.per_joint(lambda r: r.joint.bearing_shift_um)
    narrow, _ = gap_ends_mm(study, rows, sizes)
    return np.asarray(gap_mm - tolerance - rings_um * 1e-3 + narrow)


def gap_ends_mm(study: Study, rows: Catalogue, sizes: Sizes) -> tuple[Floats, Floats]:
    """Return by how much temperature and press fit change the gap at worst: (narrower, wider), signed."""
    ring = material(study.shop.material).expansion_per_k
    housing = rows.per_joint(lambda r: material(r.joint.housing_material).expansion_per_k)
    ends = [
        np.asarray(gap.thermal_change_mm(sizes.tip_mm / 2.0, ring, housing, rows.per_joint(warmer)))
        for warmer in (
            lambda r: r.joint.temperature_min_c - ASSEMBLY_C,
            lambda r: r.joint.temperature_max_c - ASSEMBLY_C,
        )
    ]
    _, pressed = interference_mm(study, rows)
    growth = np.asarray(gap.tip_growth_mm(pressed, rows.bore_mm(), sizes.root_mm))
    return np.minimum(*ends) - growth, np.maximum(0.0, np.maximum(*ends))


def _head_columns(rows: Catalogue, lobes: int) -> dict[str, Floats]:
    """Return what the heads of every row keep: orders 1, 2 and `lobes`, z, 2 z and 4 z, pitch."""
    names = (
        "gain_first", "gain_second", "gain_lobes", "gain_teeth", "gain_teeth_double",
        "gain_teeth_fourth", "pitch_share", "worst_pitch_share",
    )  # fmt: skip
    known: dict[tuple[tuple[float, ...], float], int] = {}
    layout = np.zeros((len(rows.joints), 9), dtype=np.int64)
    for index, ref in enumerate(rows.joints):
        for count in ref.joint.head_counts:
            key = (head_angles_deg(ref.joint, count), ref.head.placement_tolerance_deg)
            layout[index, count] = known.setdefault(key, len(known))
    counts = np.arange(int(rows.teeth.max(initial=0)) + 1)
    table = np.empty((len(known), len(counts), len(names)))
    for key, index in known.items():
        for column, order in enumerate((1, 2, lobes)):
            table[index, :, column] = heads.worst_head_gain(order, *key)
        for column, order in enumerate((1, 2, 4), start=3):
            table[index, :, column] = heads.worst_head_gain(order * counts, *key)
        table[index, :, 6] = heads.pitch_share(key[0])
        table[index, :, 7] = heads.worst_pitch_share(key[0])
    columns = table[layout[rows.joint, rows.heads], rows.teeth]
    return {name: columns[:, i] for i, name in enumerate(names)}


def budget_of(study: Study, rows: Catalogue, sizes: Sizes, gap_mm: Floats) -> physics.Budget:
    """Return the whole budget of every row at its gap."""
    shop, steel = study.shop, material(study.shop.material)
    tolerance = (sizes.pitch_mm, rows.module_mm(), shop.flank_class)
    inputs = physics.BudgetInputs(
        pitch_diameter_mm=sizes.pitch_mm,
        teeth=rows.teeth,
        heads=rows.heads,
        **_head_columns(rows, shop.clamp_jaws),
        mounting_offset_um=mounting_offset_um(study, rows),
        cumulative_pitch_um=iso1328.cumulative_pitch_um(*tolerance, extrapolate=True),
        single_pitch_um=iso1328.single_pitch_um(*tolerance, extrapolate=True),
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
    )
    return physics.budget(inputs)


def _field_columns(
    study: Study, rows: Catalogue, sizes: Sizes, gap_mm: Floats
) -> dict[str, Quantity]:
    """Return field ratios of every row on the safe side: widest gap for the signal, narrowest for h3."""
    narrower, wider = gap_ends_mm(study, rows, sizes)
    tolerance = rows.per_joint(lambda r: r.head.gap_tolerance_mm)
    stated_gap = rows.per_joint(lambda r: r.head.stated_gap_mm)
    stated_module = rows.per_joint(lambda r: r.head.stated_module_mm)
    wide = gap_mm + tolerance + wider
    narrow = np.maximum(0.0, gap_mm - tolerance + np.minimum(0.0, narrower))
    return {
        "amplitude_ratio": field.amplitude_ratio(
            wide, sizes.tip_mm, rows.teeth, stated_gap, stated_module
        )
        * _passed(rows),
        "third_harmonic_ratio": field.third_harmonic_ratio(
            narrow, sizes.tip_mm, rows.teeth, stated_gap, stated_module
        ),
    }


def _passed(rows: Catalogue) -> Floats:
    """Return what the channels' low pass leaves of the signal at full speed, 1 where none is stated."""
    rate_hz = readout.tooth_rate_hz(rows.teeth, rows.per_joint(lambda r: r.joint.speed_max_rpm))
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
