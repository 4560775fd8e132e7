"""How one ring sits on one joint: what holds it, what strains it, what takes it on and off.

Part of `part_data`. Pure numbers for sheets and answers; nothing here steers the search (that is
`rating.mounting_checks`). A hub whose bore the study does not state is taken as solid, and a note says so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ringset.manufacturing.dial_setting import DialSetting, shop_dial_setting
from ringset.physics import face_bolting, interference_fit, rotating_ring
from ringset.rating.mounting_checks import ASSEMBLY_C, rated_hub, rated_screw_choice
from ringset.schema.answer import FaceScrews, JointRing
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.solving.face_screws import (
    Face,
    composed_screw_asked_nm,
    composed_screw_face,
    composed_screw_preload_n,
    composed_screw_slip_nm,
    composed_screws,
)
from ringset.standards import iso2768, yield_strength
from ringset.standards.iso286 import iso286_fit_clearance_um
from ringset.standards.materials import Material
from ringset.standards.screws import (
    standard_engagement_mm,
    standard_longest_engagement_mm,
    standard_screw,
    standard_screw_length_mm,
)

#: Above this a ring of steel may lose hardness when it is heated to be joined. Unnamed: from memory.
HOTTEST_C = 300.0
#: (least, greatest) over the tolerance of the fit.
Pair = tuple[float, float]


@dataclass(frozen=True)
class SeatData:
    """An ISO 286 seat at assembly temperature; pairs are (loosest, tightest) ring. um, MPa, N m, N."""

    fit: str
    interference_um: Pair
    pressure_mpa: Pair
    ring_hoop_mpa: Pair
    hub_hoop_mpa: Pair
    tip_growth_um: Pair
    slip_torque_nm: float
    worst_slip_torque_nm: float
    press_force_n: float
    joining_c: float | None
    temperature_c: tuple[float, float] | None
    contact_loss_rpm: float | None


@dataclass(frozen=True)
class ScrewData:
    """Screws through the face: socket heads (ISO 4762), class 8.8, holes ISO 273 medium. mm, N, N m.

    The heads bear on the face away from the hub. `length_mm` is the shortest listed one that reaches
    through the ring and `engaged_mm` into the thread of the hub; None where none is long enough. Its end
    comes as deep as `thread_mm` through the narrowest ring that the general tolerance allows: the thread
    must go that far, else the screw meets its end before it clamps. Nobody knows what a material of the
    user's own needs: `engagement_known` is then false, and `engaged_mm` the longest that any material of
    the table needs.
    """

    size: str
    count: int
    circle_mm: float
    hole_mm: float
    hub: str
    engaged_mm: float
    engagement_known: bool
    thread_mm: float
    length_mm: float | None
    wall_to_bore_mm: float
    wall_to_root_mm: float
    preload_n: float
    tightening_nm: float
    torque_nm: float


@dataclass(frozen=True)
class MountingData:
    """One ring on one joint. None where the study or the tables do not give what a value needs.

    A fit (`seat`) or a dial indicator (`dial`) centres the ring, never both.
    """

    robot: str
    joint: str
    fastening: str
    seat: SeatData | None
    dial: DialSetting | None
    screws: ScrewData | None
    torque_asked_nm: float | None
    slip_safety: float | None
    ring_yield_mpa: float | None
    hub_yield_mpa: float | None
    stress_share: float | None
    yielding_through_rpm: float | None
    speed_max_rpm: float
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Bodies:
    """Ring and hub of one joint as the physics takes them."""

    seat: interference_fit.Seat
    full: interference_fit.Seat
    ring: Material
    hub: Material
    root_mm: float
    tip_mm: float
    bore_mm: float


def shop_mounting_data(
    study: Study, joint: Joint, ring: JointRing, part_screws: FaceScrews | None
) -> MountingData:
    """Return how `ring` sits on `joint`: pressure, stress, grip, temperatures, speeds, screws.

    `part_screws` are those of the ring part, which every joint with fastening screws uses.
    """
    bodies, face = _bodies(study, joint, ring), composed_screw_face(study.shop, ring)
    seat = None if joint.seat_fit is None else _seat_data(study, joint, bodies)
    asked = composed_screw_asked_nm(joint, face)
    screws = _screw_data(study.shop, joint, bodies, face, part_screws)
    held = _held_nm(joint, seat, screws)
    ring_yield, hub_yield = _yields(study, joint, bodies)
    return MountingData(
        robot=ring.robot,
        joint=ring.joint,
        fastening=joint.fastening,
        seat=seat,
        dial=shop_dial_setting(study.shop, joint, ring),
        screws=screws,
        torque_asked_nm=asked,
        slip_safety=None if asked is None or held is None else held / asked,
        ring_yield_mpa=ring_yield,
        hub_yield_mpa=hub_yield,
        stress_share=_stress_share(study, joint, bodies, ring_yield, hub_yield),
        yielding_through_rpm=None if ring_yield is None else _through_rpm(bodies, ring_yield),
        speed_max_rpm=joint.speed_max_rpm,
        notes=tuple(_notes(study, joint, bodies, seat, screws)),
    )


def _bodies(study: Study, joint: Joint, ring: JointRing) -> _Bodies:
    steel, hub, bore = study.shop.ring_material, rated_hub(study.shop, joint), ring.bore_mm
    elastic = [
        interference_fit.Elastic(m.youngs_modulus_gpa, m.poisson, m.expansion_per_k)
        for m in (steel, hub)
    ]
    hollow = joint.hub_bore_mm or 0.0
    root, tip = ring.root_diameter_mm, ring.tip_diameter_mm
    seat, full = (interference_fit.Seat(bore, outer, hollow, *elastic) for outer in (root, tip))
    return _Bodies(seat, full, steel, hub, root, tip, bore)


def _thermal_mm(joint: Joint, bodies: _Bodies) -> Pair:
    """Return how much interference the joint's temperatures take and give at most."""
    per_k = float(bodies.seat.thermal_mm_per_k)
    changes = [per_k * (c - ASSEMBLY_C) for c in (joint.temperature_min_c, joint.temperature_max_c)]
    return min(0.0, *changes), max(0.0, *changes)


def _seat_data(study: Study, joint: Joint, bodies: _Bodies) -> SeatData:
    seat, fit, width = bodies.seat, joint.seat_fit or "", joint.face_width_mm
    smallest, largest = iso286_fit_clearance_um(bodies.bore_mm, fit)
    least, greatest = -1e-3 * float(largest), -1e-3 * float(smallest)
    both = np.array([least, greatest])
    pressure = np.asarray(interference_fit.pressure_mpa(seat, both))
    stresses = interference_fit.stresses_mpa(seat, pressure)
    cold, _ = _thermal_mm(joint, bodies)
    densities = (bodies.ring.density_kg_per_m3, bodies.hub.density_kg_per_m3)
    opened = float(rotating_ring.opening_mm(seat, *densities, joint.speed_max_rpm, bodies.tip_mm))
    grip = float(interference_fit.interference_gripping_mm(least, joint.seat_roughness_um))

    def slip_nm(interference: float) -> float:
        held = interference_fit.pressure_mpa(seat, interference)
        return float(
            interference_fit.slip_torque_nm(held, bodies.bore_mm, width, joint.seat_friction)
        )

    full = interference_fit.pressure_mpa(bodies.full, greatest)
    force = interference_fit.press_force_n(full, bodies.bore_mm, width, joint.seat_friction)
    warmer = float(interference_fit.joining_warmer_k(seat, greatest))
    lost = float(rotating_ring.contact_loss_rpm(seat, grip, *densities, bodies.tip_mm))
    pressed = greatest > 0.0
    return SeatData(
        fit=fit,
        interference_um=(1e3 * least, 1e3 * greatest),
        pressure_mpa=_pair(pressure),
        ring_hoop_mpa=_pair(stresses.ring_bore_mpa),
        hub_hoop_mpa=_pair(stresses.hub_bore_mpa),
        tip_growth_um=_pair(1e3 * np.asarray(interference_fit.outer_growth_mm(seat, pressure))),
        slip_torque_nm=slip_nm(grip),
        worst_slip_torque_nm=slip_nm(grip + cold - opened),
        press_force_n=float(force),
        joining_c=ASSEMBLY_C + warmer if pressed else None,
        temperature_c=_temperature_c(study, joint, bodies, least, greatest),
        contact_loss_rpm=lost if 0.0 < lost < math.inf else None,
    )


def _pair(values: object) -> Pair:
    low, high = np.asarray(values, dtype=np.float64).tolist()
    return low, high


def _temperature_c(
    study: Study, joint: Joint, bodies: _Bodies, least: float, greatest: float
) -> Pair | None:
    """Return between which temperatures the seat holds without yielding; None if it never does."""
    ring_yield, hub_yield = _yields(study, joint, bodies)
    if ring_yield is None or hub_yield is None:
        return None
    safety = joint.stress_safety_min or 1.0
    most = interference_fit.most_interference_mm(bodies.full, math.inf, hub_yield / safety)
    most = min(
        float(most),
        float(interference_fit.most_interference_mm(bodies.seat, ring_yield / safety, math.inf)),
    )
    grip = float(interference_fit.interference_gripping_mm(least, joint.seat_roughness_um))
    low, high = interference_fit.temperature_range_k(bodies.seat, grip, greatest, most)
    if math.isnan(float(low)):
        return None
    return ASSEMBLY_C + float(low), ASSEMBLY_C + float(high)


def _yields(study: Study, joint: Joint, bodies: _Bodies) -> tuple[float | None, float | None]:
    shop = study.shop
    blank = bodies.tip_mm + shop.diameter_allowance_mm
    ring = float(
        yield_strength.standard_yield_or_zero_mpa(
            shop.ring_material, blank, shop.material_treatment
        )
    )
    hub = float(yield_strength.standard_yield_or_zero_mpa(bodies.hub, bodies.bore_mm))
    return ring or None, hub or None


def _stress_share(
    study: Study,
    joint: Joint,
    bodies: _Bodies,
    ring_yield: float | None,
    hub_yield: float | None,
) -> float | None:
    """Return the largest equivalent stress over yield at the tightest fit, worst temperature, full speed."""
    greatest = 0.0
    if joint.seat_fit is not None:
        smallest, _ = iso286_fit_clearance_um(bodies.bore_mm, joint.seat_fit)
        greatest = -1e-3 * float(smallest) + _thermal_mm(joint, bodies)[1]
    if ring_yield is None or (hub_yield is None and greatest > 0.0):
        return None
    spin = rotating_ring.bore_hoop_mpa(
        bodies.ring.density_kg_per_m3, bodies.ring.poisson, joint.speed_max_rpm,
        bodies.bore_mm, bodies.root_mm, bodies.tip_mm,
    )  # fmt: skip
    on_ring = interference_fit.stresses_mpa(
        bodies.seat, interference_fit.pressure_mpa(bodies.seat, greatest), spin
    )
    on_hub = interference_fit.stresses_mpa(
        bodies.full, interference_fit.pressure_mpa(bodies.full, greatest)
    )
    return max(
        float(on_ring.ring_mpa) / ring_yield, float(on_hub.hub_mpa) / (hub_yield or math.inf)
    )


def _through_rpm(bodies: _Bodies, ring_yield: float) -> float:
    sizes = (bodies.bore_mm, bodies.root_mm, bodies.tip_mm)
    density = bodies.ring.density_kg_per_m3
    return float(rotating_ring.yielding_through_rpm(density, ring_yield, *sizes))


def _held_nm(joint: Joint, seat: SeatData | None, screws: ScrewData | None) -> float | None:
    if joint.fastening == "screws":
        return 0.0 if screws is None else screws.torque_nm
    return None if seat is None else seat.worst_slip_torque_nm


def _screw_data(
    shop: Shop, joint: Joint, bodies: _Bodies, face: Face, screws: FaceScrews | None
) -> ScrewData | None:
    """Return the screws of the part on this joint; where a fit holds it, those that could instead."""
    if screws is None or joint.fastening != "screws":
        other = joint.model_copy(update={"fastening": "screws"})
        screws = composed_screws(shop, [other], face)
    if screws is None:
        return None
    inside, outside = face_bolting.hole_walls_mm(
        bodies.bore_mm, bodies.root_mm, screws.circle_mm, screws.hole_mm
    )
    known = bodies.hub.key not in shop.materials
    engaged = (
        standard_engagement_mm(screws.size, bodies.hub.key)
        if known
        else standard_longest_engagement_mm(screws.size)
    )
    preload = composed_screw_preload_n(shop, screws.size)
    tightening = face_bolting.tightening_torque_nm(preload, standard_screw(screws.size).thread_mm)
    width = joint.face_width_mm
    length = standard_screw_length_mm(screws.size, width + engaged)
    narrowest = width - iso2768.iso2768_linear_mm(width, shop.general_tolerance)
    return ScrewData(
        size=screws.size,
        count=screws.count,
        circle_mm=screws.circle_mm,
        hole_mm=screws.hole_mm,
        hub=bodies.hub.title,
        engaged_mm=engaged,
        engagement_known=known,
        thread_mm=engaged if length is None else round(length - narrowest, 6),
        length_mm=length,
        wall_to_bore_mm=float(inside),
        wall_to_root_mm=float(outside),
        preload_n=preload,
        tightening_nm=float(tightening),
        torque_nm=composed_screw_slip_nm(shop, joint, screws),
    )


def _notes(
    study: Study, joint: Joint, bodies: _Bodies, seat: SeatData | None, screws: ScrewData | None
) -> list[str]:
    notes = []
    if seat is None and joint.fastening == "fit":
        notes.append("no fit is stated: what holds the ring is the builder's to show")
    if seat is not None and seat.interference_um[1] > 0.0 and joint.hub_bore_mm is None:
        notes.append("hub taken as solid (hub_bore_mm not stated); a hollow one holds less")
    if seat is not None and joint.fastening == "fit" and seat.worst_slip_torque_nm <= 0.0:
        notes.append(
            f"{seat.fit} does not hold by itself at its loosest: secure the ring otherwise"
        )
    if seat is not None and seat.temperature_c is not None:
        low, high = seat.temperature_c
        if not (low <= joint.temperature_min_c and joint.temperature_max_c <= high):
            notes.append(
                f"the seat keeps its grip and its yield from {low:.0f} to {high:.0f} C only; the joint "
                f"goes from {joint.temperature_min_c:g} to {joint.temperature_max_c:g}"
            )
    if seat is not None and seat.joining_c is not None and seat.joining_c > HOTTEST_C:
        notes.append(
            f"heating to {seat.joining_c:.0f} C may soften the ring: cool the hub as well, press, or take a "
            "looser fit"
        )
    if screws is None:
        smallest = rated_screw_choice(study.shop)[0]
        needed = float(
            face_bolting.rim_needed_for_screw_mm(
                smallest.clearance_mm, smallest.head_mm, study.shop.screw_wall_min_mm
            )
        )
        rim = (bodies.root_mm - bodies.bore_mm) / 2.0
        notes.append(f"no screws fit the rim of {rim:.2f} mm; {smallest.size} needs {needed:.2f}")
    if joint.fastening == "screws" and screws is not None and not screws.engagement_known:
        notes.append(
            f"no length of thread is known for {screws.hub}: the {screws.engaged_mm:g} mm are the "
            "longest that any material of the table needs; show that they hold"
        )
    held: list[tuple[str, Material, float]] = [
        ("ring", study.shop.ring_material, bodies.tip_mm + study.shop.diameter_allowance_mm)
    ]
    if seat is not None and seat.interference_um[1] > 0.0:
        held.append(("hub", bodies.hub, bodies.bore_mm))
    for what, steel, size in held:
        if yield_strength.standard_yield_or_zero_mpa(steel, size) <= 0.0:
            largest = yield_strength.standard_largest_yield_size_mm(steel)
            notes.append(
                f"{what}: no yield of {steel.key} known at {size:g} mm (up to {largest:g})"
            )
    return notes
