"""What mounting and making ask of rows: no slip, no yield, no burst, room for screws.

Values of the table of limits (`limits.py`): one float64 per row of a rated catalogue. The ring ends at its
root circle (its teeth carry no hoop), and its inertia is that of the turned blank: both on the safe side.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ringset.arrays import Floats, Mask
from ringset.catalogue.joints import JointRef
from ringset.catalogue.rows import Catalogue
from ringset.physics import face_bolting, geometry, interference_fit, rotating_ring
from ringset.physics.limit_rule import number_at_least
from ringset.rating.rated import Rated
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.standards.iso286 import iso286_fit_clearance_um
from ringset.standards.materials import Material
from ringset.standards.screws import PROOF_STRESS_88_MPA, SCREWS, Screw
from ringset.standards.yield_strength import standard_yield_or_zero_mpa

#: Temperature at which joints are assembled and gaps are set.
ASSEMBLY_C = 20.0
#: Stands for a yield that no table gives: nothing is strong enough, and margins stay finite.
NO_YIELD_MPA = 1e-9


def rated_fits(rows: Catalogue) -> list[tuple[str, Mask]]:
    """Return every ISO 286 fit that seats a ring, with which rows it seats, in alphabetical order."""
    stated = [ref.joint.seat_fit for ref in rows.joints]
    return [
        (fit, np.array([other == fit for other in stated])[rows.joint])
        for fit in sorted({fit for fit in stated if fit is not None})
    ]


def rated_hub(shop: Shop, joint: Joint) -> Material:
    """Return the material of a joint's hub: stated, else the ring's own."""
    return shop.material_of(joint.hub_material or shop.material)


def rated_interference_mm(study: Study, rows: Catalogue) -> tuple[Floats, Floats]:
    """Return least and greatest interference over fit and temperature, float64 in mm on the diameter.

    Two columns with one entry per row; 0 where no fit is stated, negative where there is clearance. A hub
    that expands more than its ring tightens when warm and loosens when cold; both ends of the joint's
    temperature range count. Limits of the fit are those of ISO 286.
    """
    least, greatest = np.zeros(len(rows)), np.zeros(len(rows))
    ring = study.shop.ring_material.expansion_per_k
    per_k = rows.per_joint(lambda r: rated_hub(study.shop, r.joint).expansion_per_k - ring)
    ends = [
        per_k * rows.bore_mm() * rows.per_joint(warmer)
        for warmer in (
            lambda r: r.joint.temperature_min_c - ASSEMBLY_C,
            lambda r: r.joint.temperature_max_c - ASSEMBLY_C,
        )
    ]
    for fit, mine in rated_fits(rows):
        smallest, largest = iso286_fit_clearance_um(rows.bore_mm()[mine], fit)
        least[mine] = -1e-3 * np.asarray(largest) + np.minimum(0.0, np.minimum(*ends))[mine]
        greatest[mine] = -1e-3 * np.asarray(smallest) + np.maximum(0.0, np.maximum(*ends))[mine]
    return least, greatest


def _seat(study: Study, rows: Catalogue, outer_mm: Floats) -> interference_fit.Seat:
    """Return every row's seat; a hub whose bore is not stated counts as solid."""
    steel = study.shop.ring_material

    def hub(value: Callable[[Material], float]) -> Floats:
        return rows.per_joint(lambda r: value(rated_hub(study.shop, r.joint)))

    return interference_fit.Seat(
        seat_mm=rows.bore_mm(),
        outer_mm=outer_mm,
        hub_bore_mm=rows.per_joint(lambda r: r.joint.hub_bore_mm or 0.0),
        ring=interference_fit.Elastic(
            steel.youngs_modulus_gpa, steel.poisson, steel.expansion_per_k
        ),
        hub=interference_fit.Elastic(
            hub(lambda m: m.youngs_modulus_gpa),
            hub(lambda m: m.poisson),
            hub(lambda m: m.expansion_per_k),
        ),
    )


def _speed(ref: JointRef) -> float:
    return ref.joint.speed_max_rpm


def rated_slip_safety(study: Study, rated: Rated) -> Floats:
    """Return the torque at which each row's ring slips over the torque that its acceleration asks.

    0 where nothing holds, and where no acceleration is stated.
    """
    rows, root, tip = rated.catalogue, rated.root_mm, rated.tip_mm
    steel = study.shop.ring_material
    width, friction = (
        rows.per_joint(lambda r: r.joint.face_width_mm),
        rows.per_joint(lambda r: r.joint.seat_friction),
    )
    seat = _seat(study, rows, root)
    least, _ = rated_interference_mm(study, rows)
    held = interference_fit.interference_gripping_mm(
        least, rows.per_joint(lambda r: r.joint.seat_roughness_um)
    )
    density = rows.per_joint(lambda r: rated_hub(study.shop, r.joint).density_kg_per_m3)
    held = held - rotating_ring.opening_mm(
        seat, steel.density_kg_per_m3, density, rows.per_joint(_speed), tip
    )
    pressure = interference_fit.pressure_mpa(seat, held)
    torque = np.asarray(interference_fit.slip_torque_nm(pressure, rows.bore_mm(), width, friction))
    screwed = rows.per_joint(lambda r: float(r.joint.fastening == "screws")) > 0.0
    torque = np.where(screwed, _most_screw_torque(study, rows, root, friction), torque)
    blank = geometry.annulus_section(tip, rows.bore_mm())
    inertia = geometry.inertia_kg_m2(blank, width, steel.density_kg_per_m3)
    asked = interference_fit.inertia_torque_nm(
        inertia, rows.per_joint(lambda r: r.joint.acceleration_max_rad_s2 or np.inf)
    )
    return np.asarray(torque / asked)


def rated_stress_share(study: Study, rated: Rated) -> Floats:
    """Return the largest equivalent stress of ring or hub over its yield: tightest fit, full speed."""
    rows, root, tip = rated.catalogue, rated.root_mm, rated.tip_mm
    shop, steel, bore = study.shop, study.shop.ring_material, rows.bore_mm()
    _, greatest = rated_interference_mm(study, rows)
    spin = rotating_ring.bore_hoop_mpa(
        steel.density_kg_per_m3, steel.poisson, rows.per_joint(_speed), bore, root, tip
    )
    seat, full = _seat(study, rows, root), _seat(study, rows, tip)
    ring = interference_fit.stresses_mpa(
        seat, interference_fit.pressure_mpa(seat, greatest), spin
    ).ring_mpa
    full_on = interference_fit.pressure_mpa(full, greatest)
    on_hub = interference_fit.stresses_mpa(full, full_on).hub_mpa
    hub_yield = np.empty(len(rows))
    hubs = [rated_hub(shop, ref.joint) for ref in rows.joints]
    for hub in {one.key: one for one in hubs}.values():
        mine = np.array([other.key == hub.key for other in hubs])[rows.joint]
        hub_yield[mine] = standard_yield_or_zero_mpa(hub, bore[mine])
    ring_yield = _ring_yield(shop, tip)
    return np.asarray(np.maximum(ring / ring_yield, on_hub / np.maximum(NO_YIELD_MPA, hub_yield)))


def _ring_yield(shop: Shop, tip_mm: Floats) -> Floats:
    """Yield of bars from which rings with these tips are turned."""
    blank = tip_mm + shop.diameter_allowance_mm
    found = standard_yield_or_zero_mpa(shop.ring_material, blank, shop.material_treatment)
    return np.asarray(np.maximum(NO_YIELD_MPA, found))


def rated_bursting_rpm(study: Study, rated: Rated) -> Floats:
    """Return the speed in rpm at which the wall of each row's ring yields through."""
    density = study.shop.ring_material.density_kg_per_m3
    strength = _ring_yield(study.shop, rated.tip_mm)
    return np.asarray(
        rotating_ring.yielding_through_rpm(
            density, strength, rated.catalogue.bore_mm(), rated.root_mm, rated.tip_mm
        )
    )


def rated_screw_choice(shop: Shop) -> list[Screw]:
    """Return the shop's screws, smallest first."""
    return [screw for size, screw in SCREWS.items() if size in shop.screw_sizes]


def rated_screw_rim_mm(shop: Shop) -> float:
    """Return the thinnest rim in mm that some screw of the shop suits."""
    return min(
        float(
            face_bolting.rim_needed_for_screw_mm(s.clearance_mm, s.head_mm, shop.screw_wall_min_mm)
        )
        for s in rated_screw_choice(shop)
    )


def _most_screw_torque(study: Study, rows: Catalogue, root_mm: Floats, friction: Floats) -> Floats:
    """Largest friction torque of any screws that suit each row, 0 where none do."""
    shop, best = study.shop, np.zeros(len(rows))
    rim = np.asarray(geometry.rim_thickness_mm(root_mm, rows.bore_mm()))
    circle = np.asarray(face_bolting.bolt_circle_mm(rows.bore_mm(), root_mm))
    for s in rated_screw_choice(shop):
        needed = face_bolting.rim_needed_for_screw_mm(
            s.clearance_mm, s.head_mm, shop.screw_wall_min_mm
        )
        suits = number_at_least(rim, needed)
        area = face_bolting.stress_area_mm2(s.thread_mm, s.pitch_mm)
        preload = face_bolting.preload_n(area, PROOF_STRESS_88_MPA, shop.screw_preload_share)
        count = np.asarray(face_bolting.most_screws_on_circle(circle, s.thread_mm, s.head_mm))
        torque = face_bolting.friction_torque_nm(count, preload, friction, circle)
        best = np.maximum(best, np.where(suits & (count >= face_bolting.FEWEST), torque, 0.0))
    return best
