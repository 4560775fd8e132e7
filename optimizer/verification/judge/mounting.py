"""The judge's own way to what a ring's mounting and making must keep: one ring, plain numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ringset.physics import face_bolting, interference_fit, rotating_ring
from ringset.physics.cutter_form import involute_total_deviation_modules
from ringset.physics.limit_rule import number_at_least
from ringset.schema.answer import FaceScrews, JointRing
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.standards import cutters
from ringset.standards.iso286 import iso286_fit_clearance_um
from ringset.standards.materials import Material
from ringset.standards.racks import RACKS, Rack, standard_deeper_rack
from ringset.standards.screws import PROOF_STRESS_88_MPA, SCREWS
from ringset.standards.yield_strength import standard_yield_or_zero_mpa

#: A limit: words, value, field of the study, what it allows (None: not stated), unit, side.
Given = tuple[str, float, str, float | None, str, int]


def judged_mounting_bounds(
    study: Study, joint: Joint, ring: JointRing, root_mm: float, tip_mm: float
) -> list[Given]:
    """Return what the study asks of a ring's mounting and making; limits not stated have None."""
    slip, stress, burst = joint.slip_safety_min, joint.stress_safety_min, joint.burst_safety_min
    rim, screwed = (root_mm - ring.bore_mm) / 2.0, joint.fastening == "screws"
    value = 0.0 if slip is None else _slip_safety(study, joint, ring, root_mm, tip_mm)
    share = 0.0 if stress is None else _stress_share(study, joint, ring, root_mm, tip_mm)
    speed = 0.0 if burst is None else _through_rpm(study, ring, root_mm, tip_mm)
    least_speed = None if burst is None else burst * joint.speed_max_rpm
    return [
        (
            "rim for screws", rim, "shop.screw_sizes",
            _screw_rim_mm(study) if screwed else None, "mm of rim", -1
        ),
        ("safety against slip", value, "slip_safety_min", slip, "times", -1),
        ("speed of yielding through", speed, "burst_safety_min", least_speed, "rpm", -1),
        (
            "stress", share, "stress_safety_min",
            None if stress is None else 1.0 / stress, "of yield", 1
        ),
    ]  # fmt: skip


def judged_rack(shop: Shop, module_mm: float) -> Rack:
    """Return the rack whose teeth the cutters of a module leave: the shop's, or a deeper one below a
    module."""
    deepened = shop.deeper_cut_below_mm
    if deepened is None or module_mm >= deepened:
        return RACKS[shop.rack]
    return standard_deeper_rack(shop.deeper_cut_depth_modules)


def judged_interference_mm(study: Study, joint: Joint, bore_mm: float) -> tuple[float, float]:
    """Return least and greatest interference over fit and temperature, 0 without a fit."""
    if joint.seat_fit is None:
        return 0.0, 0.0
    smallest, largest = iso286_fit_clearance_um(bore_mm, joint.seat_fit)
    ring = study.shop.ring_material
    per_k = (_hub(study, joint).expansion_per_k - ring.expansion_per_k) * bore_mm
    changes = [
        per_k * (celsius - 20.0) for celsius in (joint.temperature_min_c, joint.temperature_max_c)
    ]
    least = -1e-3 * float(largest) + min(0.0, *changes)
    return least, -1e-3 * float(smallest) + max(0.0, *changes)


def _hub(study: Study, joint: Joint) -> Material:
    return study.shop.material_of(joint.hub_material or study.shop.material)


def _seat(study: Study, joint: Joint, bore_mm: float, outer_mm: float) -> interference_fit.Seat:
    steel, hub = study.shop.ring_material, _hub(study, joint)
    return interference_fit.Seat(
        bore_mm, outer_mm, joint.hub_bore_mm or 0.0,
        ring=interference_fit.Elastic(steel.youngs_modulus_gpa, steel.poisson, steel.expansion_per_k),
        hub=interference_fit.Elastic(hub.youngs_modulus_gpa, hub.poisson, hub.expansion_per_k),
    )  # fmt: skip


def _slip_safety(
    study: Study, joint: Joint, ring: JointRing, root_mm: float, tip_mm: float
) -> float:
    """Torque that seat or screws hold over what the turned blank asks."""
    steel, bore = study.shop.ring_material, ring.bore_mm
    if joint.fastening == "screws":
        torque = _screw_torque(study, joint, bore, root_mm)
    else:
        seat = _seat(study, joint, bore, root_mm)
        least, _ = judged_interference_mm(study, joint, bore)
        held = least - 1.6e-3 * joint.seat_roughness_um
        densities = (steel.density_kg_per_m3, _hub(study, joint).density_kg_per_m3)
        held -= float(rotating_ring.opening_mm(seat, *densities, joint.speed_max_rpm, tip_mm))
        pressure = float(interference_fit.pressure_mpa(seat, held))
        torque = math.pi / 2e3 * bore**2 * joint.face_width_mm * joint.seat_friction * pressure
    mass_per = math.pi * steel.density_kg_per_m3 * 1e-15 * joint.face_width_mm / 2.0
    inertia = mass_per * ((tip_mm / 2.0) ** 4 - (bore / 2.0) ** 4)
    return torque / (inertia * (joint.acceleration_max_rad_s2 or math.inf))


def _stress_share(
    study: Study, joint: Joint, ring: JointRing, root_mm: float, tip_mm: float
) -> float:
    """Largest equivalent stress over yield, of ring (to its root) and hub (ring to its tips)."""
    steel, bore = study.shop.ring_material, ring.bore_mm
    _, greatest = judged_interference_mm(study, joint, bore)
    spin = rotating_ring.bore_hoop_mpa(
        steel.density_kg_per_m3, steel.poisson, joint.speed_max_rpm, bore, root_mm, tip_mm
    )
    seat, full = (_seat(study, joint, bore, outer) for outer in (root_mm, tip_mm))
    on_ring = interference_fit.stresses_mpa(
        seat, interference_fit.pressure_mpa(seat, greatest), spin
    ).ring_mpa
    on_hub = interference_fit.stresses_mpa(
        full, interference_fit.pressure_mpa(full, greatest)
    ).hub_mpa
    hub_yield = float(standard_yield_or_zero_mpa(_hub(study, joint), bore))
    shares = (float(on_ring) / _yield(study, tip_mm), float(on_hub) / max(1e-9, hub_yield))
    return max(shares)


def _yield(study: Study, tip_mm: float) -> float:
    shop = study.shop
    blank = tip_mm + shop.diameter_allowance_mm
    return max(
        1e-9, float(standard_yield_or_zero_mpa(shop.ring_material, blank, shop.material_treatment))
    )


def _through_rpm(study: Study, ring: JointRing, root_mm: float, tip_mm: float) -> float:
    """Speed at which the mean hoop stress of the wall reaches yield, from equilibrium of half a ring."""
    density = study.shop.ring_material.density_kg_per_m3
    inner, root, tip = ring.bore_mm / 2e3, root_mm / 2e3, tip_mm / 2e3  # metres
    load = density * (tip**3 - inner**3) / 3.0 / (root - inner)
    return math.sqrt(1e6 * _yield(study, tip_mm) / load) * 30.0 / math.pi


def _screw_rim_mm(study: Study) -> float:
    """Thinnest rim that the smallest screw on offer suits."""
    wall = study.shop.screw_wall_min_mm
    return min(
        max(SCREWS[size].clearance_mm + 2.0 * wall, SCREWS[size].head_mm)
        for size in study.shop.screw_sizes
    )


def _screw_torque(study: Study, joint: Joint, bore_mm: float, root_mm: float) -> float:
    """Largest friction torque of any screws on offer that the rim takes."""
    shop, circle, best = study.shop, (bore_mm + root_mm) / 2.0, 0.0
    for size in shop.screw_sizes:
        s = SCREWS[size]
        needed = max(s.clearance_mm + 2.0 * shop.screw_wall_min_mm, s.head_mm)
        count = int(face_bolting.most_screws_on_circle(circle, s.thread_mm, s.head_mm))
        if not number_at_least((root_mm - bore_mm) / 2.0, needed) or count < face_bolting.FEWEST:
            continue
        area = math.pi / 4.0 * (s.thread_mm - 0.9382 * s.pitch_mm) ** 2
        preload = shop.screw_preload_share * PROOF_STRESS_88_MPA * area
        best = max(best, count * preload * joint.seat_friction * circle / 2e3)
    return best


def judged_face_screws(
    study: Study, served: Sequence[Joint], ring: JointRing, root_mm: float, tip_mm: float
) -> FaceScrews | None:
    """Return the screws that a ring on these joints must have: tried one by one, smallest first."""
    shop, circle = study.shop, (ring.bore_mm + root_mm) / 2.0
    screwed = [joint for joint in served if joint.fastening == "screws"]
    choices: list[tuple[FaceScrews, float]] = []  # with the preload of all of them
    for size in SCREWS if screwed else ():
        s = SCREWS[size]
        needed = max(s.clearance_mm + 2.0 * shop.screw_wall_min_mm, s.head_mm)
        most = int(face_bolting.most_screws_on_circle(circle, s.thread_mm, s.head_mm))
        if size in shop.screw_sizes and number_at_least((root_mm - ring.bore_mm) / 2.0, needed):
            proof = PROOF_STRESS_88_MPA * math.pi / 4.0 * (s.thread_mm - 0.9382 * s.pitch_mm) ** 2
            choices += [
                (
                    FaceScrews(size=size, count=n, circle_mm=circle, hole_mm=s.clearance_mm),
                    n * shop.screw_preload_share * proof,
                )
                for n in range(face_bolting.FEWEST, most + 1)
            ]
    mass_per = math.pi * shop.ring_material.density_kg_per_m3 * 1e-15 / 2.0
    inertia = mass_per * ring.face_width_mm * ((tip_mm / 2.0) ** 4 - (ring.bore_mm / 2.0) ** 4)
    preloads = [
        joint.acceleration_max_rad_s2 * inertia * (joint.slip_safety_min or 2.0)
        / (joint.seat_friction * circle / 2e3)
        for joint in screwed if joint.acceleration_max_rad_s2 is not None
    ]  # fmt: skip
    if not preloads:
        least = [screws for screws, _ in choices if screws.count == face_bolting.FEWEST]
        return least[-1] if least else None
    for screws, preload in choices:
        if number_at_least(preload, max(preloads)):
            return screws
    return max(choices, key=lambda choice: choice[1], default=(None, 0.0))[0]


def judged_drilled_away(
    study: Study, ring: JointRing, screws: FaceScrews | None
) -> tuple[float, float]:
    """Return mass (kg) and moment of inertia (kg m^2) that screw holes take off a ring."""
    if screws is None:
        return 0.0, 0.0
    density = study.shop.ring_material.density_kg_per_m3 * 1e-9
    radius, out = screws.hole_mm / 2.0, screws.circle_mm / 2.0
    mass = screws.count * density * ring.face_width_mm * math.pi * radius**2
    return mass, 1e-6 * mass * (radius**2 / 2.0 + out**2)


def judged_profile_error_um(shop: Shop, ring: JointRing) -> float | None:
    """Return how far the form of a ring's disc cutter takes the profile off; None where it is no disc."""
    rack = judged_rack(shop, ring.module_mm)
    if shop.cutting == "disc_special":
        return 0.0
    if shop.cutting not in ("disc_8", "disc_15"):
        return None
    return ring.module_mm * involute_total_deviation_modules(
        ring.teeth, cutters.standard_disc_form_teeth(shop.cutting, ring.teeth, shop.disc_form),
        rack.addendum, rack.dedendum, rack.root_fillet, rack.pressure_angle_deg, shop.profile_shift,
    )  # fmt: skip
