"""Screws that hold a ring part through its face: which and how many, and what their holes take away.

A ring part is one thing wherever it is used, so one pattern of holes serves all of its joints that are
fastened by screws: the smallest screws, and the fewest of them, that carry every joint's torque.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ringset.physics import face_bolting, geometry, interference_fit
from ringset.physics.limit_rule import number_at_least
from ringset.rating.mounting_checks import rated_screw_choice
from ringset.schema.answer import FaceScrews, JointRing
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.standards.screws import PROOF_STRESS_88_MPA, Screw, standard_screw

#: Safety against slip for which screws are counted where the study states none. Assumed.
USUAL_SAFETY = 2.0


@dataclass(frozen=True)
class Face:
    """The face of a ring between bore and root circle, and what the turned blank weighs; mm, kg m^2."""

    bore_mm: float
    root_mm: float
    inertia_kg_m2: float

    @property
    def circle_mm(self) -> float:
        """Diameter of the bolt circle."""
        return float(face_bolting.bolt_circle_mm(self.bore_mm, self.root_mm))


def composed_screw_face(shop: Shop, ring: JointRing) -> Face:
    """Return the face of a ring; its inertia is that of the turned blank, the safe side for slip."""
    blank = geometry.annulus_section(ring.tip_diameter_mm, ring.bore_mm)
    density = shop.ring_material.density_kg_per_m3
    inertia = float(geometry.inertia_kg_m2(blank, ring.face_width_mm, density))
    return Face(ring.bore_mm, ring.root_diameter_mm, inertia)


def composed_screw_asked_nm(joint: Joint, face: Face) -> float | None:
    """Return the torque that a joint's acceleration asks of its ring's seat; None where not stated."""
    acceleration = joint.acceleration_max_rad_s2
    if acceleration is None:
        return None
    return float(interference_fit.inertia_torque_nm(face.inertia_kg_m2, acceleration))


def composed_screws(shop: Shop, served: Sequence[Joint], face: Face) -> FaceScrews | None:
    """Return the screws of a ring part on `served` joints; None if none fit or no joint has screws.

    The smallest size, and the fewest of it, that carries what every screwed joint's acceleration asks
    with its slip_safety_min (`USUAL_SAFETY` where not stated); the strongest if none does. Where no
    acceleration is stated: three of the largest size that fits.
    """
    needs = [
        (asked * (joint.slip_safety_min or USUAL_SAFETY), joint.seat_friction)
        for joint in served
        if joint.fastening == "screws"
        and (asked := composed_screw_asked_nm(joint, face)) is not None
    ]
    fitting = [s for s in rated_screw_choice(shop) if _suits(shop, face, s)]
    if not fitting or all(joint.fastening != "screws" for joint in served):
        return None
    if not needs:
        return composed_screw_pattern(face, fitting[-1].size, face_bolting.FEWEST)
    strongest, found = 0.0, None
    for offered in fitting:
        # torque of one screw per unit of friction; the joints differ in friction and need alone
        each = face_bolting.friction_torque_nm(
            1, composed_screw_preload_n(shop, offered.size), 1.0, face.circle_mm
        )
        wanted = max(needed / (float(each) * friction) for needed, friction in needs)
        fewest = math.ceil(wanted) - bool(number_at_least(math.ceil(wanted) - 1, wanted))
        count = min(_most(face, offered), max(face_bolting.FEWEST, fewest))
        if number_at_least(count, wanted):
            return composed_screw_pattern(face, offered.size, count)
        if count * float(each) > strongest:
            strongest, found = (
                count * float(each),
                composed_screw_pattern(face, offered.size, count),
            )
    return found


def composed_screw_pattern(face: Face, size: str, count: int) -> FaceScrews:
    """Return screws of a size on the circle in the middle of the rim."""
    return FaceScrews(
        size=size, count=count, circle_mm=face.circle_mm, hole_mm=standard_screw(size).clearance_mm
    )


def composed_screw_preload_n(shop: Shop, size: str) -> float:
    """Return the preload that the shop counts on for one screw (class 8.8)."""
    held = standard_screw(size)
    area = face_bolting.stress_area_mm2(held.thread_mm, held.pitch_mm)
    return float(face_bolting.preload_n(area, PROOF_STRESS_88_MPA, shop.screw_preload_share))


def composed_screw_slip_nm(shop: Shop, joint: Joint, screws: FaceScrews) -> float:
    """Return the torque at which a joint's ring slips under its screws."""
    preload = composed_screw_preload_n(shop, screws.size)
    return float(
        face_bolting.friction_torque_nm(
            screws.count, preload, joint.seat_friction, screws.circle_mm
        )
    )


def composed_screw_hole_cuts(shop: Shop, ring: JointRing, screws: FaceScrews | None) -> JointRing:
    """Return a ring whose finished mass and inertia are without what its screw holes take away."""
    if screws is None:
        return ring
    holes = face_bolting.holes_section(screws.count, screws.hole_mm, screws.circle_mm)
    width, density = ring.face_width_mm, shop.ring_material.density_kg_per_m3
    mass = float(geometry.mass_kg(holes, width, density))
    inertia = float(geometry.inertia_kg_m2(holes, width, density))
    return ring.model_copy(
        update={
            "finished_kg": ring.finished_kg - mass,
            "inertia_kg_m2": ring.inertia_kg_m2 - inertia,
        }
    )


def _suits(shop: Shop, face: Face, offered: Screw) -> bool:
    rim = (face.root_mm - face.bore_mm) / 2.0
    needed = face_bolting.rim_needed_for_screw_mm(
        offered.clearance_mm, offered.head_mm, shop.screw_wall_min_mm
    )
    return bool(number_at_least(rim, needed)) and _most(face, offered) >= face_bolting.FEWEST


def _most(face: Face, offered: Screw) -> int:
    return int(
        face_bolting.most_screws_on_circle(face.circle_mm, offered.thread_mm, offered.head_mm)
    )
