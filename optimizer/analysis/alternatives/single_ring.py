"""One ring that the user has in mind on one joint: rated like any other, limits broken or not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from pydantic import ValidationError

from ringset.arrays import Ints
from ringset.catalogue.joints import JointRef, catalogue_joint, catalogue_modules
from ringset.catalogue.limits import catalogue_heads_allowed, catalogue_teeth_not_cut
from ringset.catalogue.rows import NO_SECOND, Catalogue, catalogue_bore_mm
from ringset.errors import Fault, StudyError
from ringset.physics import geometry
from ringset.physics.limit_rule import rounding_allowance
from ringset.rating.rate import rate_in_full
from ringset.rating.second_choice import rated_with_best_second
from ringset.schema.answer import JointRing, Margin
from ringset.schema.cross_checks import study_shift_most
from ringset.schema.equipment import HEADS_MOST
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Robot, Study
from ringset.schema.true_rack import study_rack
from ringset.solving.compose import composed_joint_ring
from ringset.solving.face_screws import (
    composed_screw_face,
    composed_screw_hole_cuts,
    composed_screws,
)
from ringset.solving.margins import solved_margins
from ringset.solving.second_rings import solved_second_places, solved_second_ratings
from ringset.standards.cutters import DISC_SETS, standard_disc_set
from ringset.standards.racks import RACKS
from ringset.wording import wording_of_no_pair

#: Bores of single rings are taken to this grid, in mm.
BORE_GRID_MM = 1e-4
#: Most teeth of a single ring.
TEETH_MAX = 10_000


def find_joint(study: Study, joint: str, robot: str | None = None) -> tuple[Robot, Joint]:
    """Return the joint of that name; raises StudyError if there is none or more than one."""
    names = [r.name for r in study.robots]
    if robot is not None and robot not in names:
        raise StudyError([Fault("robot", repr(robot), f"one of {', '.join(names)}")])
    found = [
        (r, j)
        for r in study.robots
        for j in r.joints
        if joint in (j.name, f"{r.name}/{j.name}") and robot in (None, r.name)
    ]
    if len(found) == 1:
        return found[0]
    allowed = ", ".join(f"{r.name}/{j.name}" for r in study.robots for j in r.joints)
    problem = "no joint" if not found else "joints of several robots; name the robot too"
    raise StudyError([Fault("joint", f"{joint!r}, which names {problem}", f"one of {allowed}")])


def teeth_for_tip(study: Study, module_mm: float, tip_mm: float) -> int:
    """Return the most teeth whose tip circle is not above `tip_mm`: tip / m - 2 (h_a* + x)."""
    rack = RACKS[study.shop.rack]
    return math.floor(tip_mm / module_mm - 2.0 * (rack.addendum + study.shop.profile_shift) + 1e-9)


def bore_for_rim(study: Study, module_mm: float, teeth: int, rim_mm: float) -> float:
    """Return the bore in mm that leaves `rim_mm` below the root circle."""
    rack = study_rack(study.shop, module_mm)
    root = geometry.root_diameter_mm(module_mm, teeth, rack.dedendum, study.shop.profile_shift)
    return float(root) - 2.0 * rim_mm


@dataclass(frozen=True)
class Asked:
    """A ring asked about, on one joint with its head; the bore is taken to `BORE_GRID_MM`.

    `second_teeth` are those of its second ring where the joint asks one; with 0 it is the one with the fewest
    teeth that keeps all its limits, or else the fewest.
    """

    on: JointRef
    module_mm: float
    teeth: int
    bore_mm: float
    heads: int
    second_teeth: int = 0


def rate_one(
    study: Study,
    robot: Robot,
    joint: Joint,
    module_mm: float,
    teeth: int,
    bore_mm: float,
    heads: int,
    second_teeth: int = 0,
) -> tuple[JointRing, list[str]]:
    """Return one ring rated on one joint, and every limit it breaks.

    Raises StudyError for a ring that has no sound geometry (undercut teeth, bore beyond the root), or
    whose error no finite number tells.
    """
    on = catalogue_joint(study, robot, joint)
    (rated,) = single_rings_rated(
        study, [Asked(on, module_mm, teeth, bore_mm, heads, second_teeth)]
    )
    if isinstance(rated, StudyError):
        raise rated
    return rated


def single_rings_rated(
    study: Study, asked: Sequence[Asked]
) -> list[tuple[JointRing, list[str]] | StudyError]:
    """Return for each ring what `rate_one` returns or raises, all of them rated at once.

    Shop and target are the study's; joint and head those that the ring is asked on.
    """
    faults = [_faults(study.shop, one) for one in asked]
    sound = [one for one, wrong in zip(asked, faults, strict=True) if not wrong]
    rated = rate_in_full(study, rated_with_best_second(study, _rows(sound))) if sound else None
    second = None if rated is None else solved_second_ratings(study, rated.catalogue)
    places = [] if rated is None else solved_second_places(rated.catalogue)
    rows = iter(range(len(sound)))
    found: list[tuple[JointRing, list[str]] | StudyError] = []
    for one, wrong in zip(asked, faults, strict=True):
        if wrong or rated is None:
            found.append(StudyError(wrong))
            continue
        row = next(rows)
        beside = (
            [] if second is None or places[row] < 0 else solved_margins(second.checks, places[row])
        )
        try:
            ring, broken = _on_its_joint(
                study, one.on.joint, composed_joint_ring(study, rated, row)
            )
            told = [f"{fault} (second ring)" for fault in _broken(beside)]
            found.append((ring, [*broken, *told]))
        except ValidationError:  # an answer holds finite numbers only
            allowed = "inputs at which error and signal are finite numbers"
            found.append(StudyError([Fault("ring", "inputs beyond all measure", allowed)]))
    return found


def _form_faults(shop: Shop, teeth: int, field: str = "teeth") -> list[Fault]:
    """Return that no cutter of the shop's set has a form for so few teeth, which stand in `field`."""
    if shop.cutting not in DISC_SETS:
        return []
    fewest = standard_disc_set(shop.cutting)[0][0]
    if teeth >= fewest and shop.profile_shift <= study_shift_most(shop, teeth):
        return []
    allowed = (
        f"{fewest} or more, whose pitch circle the flank of a cutter of {shop.cutting} reaches with "
        f"shop.profile_shift {shop.profile_shift:g}"
    )
    return [Fault(field, str(teeth), allowed)]


def _faults(shop: Shop, one: Asked) -> list[Fault]:
    """Return what of a ring's own numbers gives it no sound geometry."""
    rack, hollow = study_rack(shop, one.module_mm), one.on.joint.hub_bore_mm or 0.0
    faults = []
    least = geometry.least_teeth_without_undercut(
        rack.dedendum, rack.root_fillet, shop.profile_shift, rack.pressure_angle_deg
    )
    if not least <= one.teeth <= TEETH_MAX:
        allowed = f"{math.ceil(least)} (fewer are undercut) to {TEETH_MAX}"
        faults.append(Fault("teeth", str(one.teeth), allowed))
    faults += _form_faults(shop, one.teeth)
    root = float(
        geometry.root_diameter_mm(one.module_mm, one.teeth, rack.dedendum, shop.profile_shift)
    )
    if not (hollow < one.bore_mm < root and hollow < _on_the_grid_mm(one.bore_mm) < root):
        least_mm = f"{hollow:g} (hub_bore_mm)" if hollow else f"{BORE_GRID_MM / 2.0:g}"
        allowed = f"above {least_mm} and below the root {root:g} mm"
        faults.append(Fault("bore", f"{one.bore_mm:g} mm", allowed))
    faults += _second_faults(shop, one, least)
    if not 1 <= one.heads <= HEADS_MOST:
        faults.append(Fault("heads", str(one.heads), f"1 to {HEADS_MOST}"))
    return faults


def _second_faults(shop: Shop, one: Asked, least: float) -> list[Fault]:
    """Return what gives a second ring asked about no sound geometry; `least` teeth are not undercut."""
    if not one.second_teeth:
        return []
    rack = study_rack(shop, one.module_mm)
    root = geometry.root_diameter_mm(
        one.module_mm, one.second_teeth, rack.dedendum, shop.profile_shift
    )
    if least <= one.second_teeth <= TEETH_MAX and one.bore_mm < float(root):
        return _form_faults(shop, one.second_teeth, "second_teeth")
    fewest = max(least, (one.bore_mm / one.module_mm) + 2.0 * (rack.dedendum - shop.profile_shift))
    allowed = f"{math.floor(fewest) + 1} (its root is then above the bore) to {TEETH_MAX}"
    return [Fault("second_teeth", str(one.second_teeth), allowed)]


def _bore_steps(bore_mm: float) -> int:
    """Return how many steps of the grid a bore comes to: none for one below half a step."""
    return round(bore_mm / BORE_GRID_MM)


def _on_the_grid_mm(bore: float) -> float:
    """Return the bore in mm with which a ring is rated."""
    return float(catalogue_bore_mm(np.array(_bore_steps(bore)), BORE_GRID_MM))


def _rows(asked: Sequence[Asked]) -> Catalogue:
    """Return the rings as rows, each on a joint of its own that allows its heads."""
    modules, module = np.unique([one.module_mm for one in asked], return_inverse=True)
    return Catalogue(
        joints=tuple(
            replace(one.on, joint=one.on.joint.model_copy(update={"head_counts": [one.heads]}))
            for one in asked
        ),
        modules_mm=modules,
        bore_step_mm=BORE_GRID_MM,
        joint=np.arange(len(asked), dtype=np.int64),
        module=np.asarray(module, dtype=np.int64),
        teeth=np.array([one.teeth for one in asked], dtype=np.int64),
        bore_steps=np.array([_bore_steps(one.bore_mm) for one in asked], dtype=np.int64),
        heads=np.array([one.heads for one in asked], dtype=np.int64),
        second_teeth=_second_teeth(asked),
    )


def _second_teeth(asked: Sequence[Asked]) -> Ints:
    """Return the teeth of the second rings asked about, 0 where none is stated."""
    asks = [one.second_teeth if one.on.joint.second_ring else 0 for one in asked]
    return np.array(asks, dtype=np.int64) if any(asks) else NO_SECOND


def _on_its_joint(study: Study, joint: Joint, ring: JointRing) -> tuple[JointRing, list[str]]:
    """Return the ring with its own screw holes, and every limit of the joint that it breaks."""
    screws = composed_screws(study.shop, [joint], composed_screw_face(study.shop, ring))
    ring = composed_screw_hole_cuts(study.shop, ring, screws)
    why = wording_of_no_pair(ring)
    broken = [
        f"{fault} ({why})" if why and single_ring_limit_field(fault) == "second_ring" else fault
        for fault in _broken(ring.margins)
    ]
    return ring, [*_not_on_offer(study, joint, ring), *broken]


def single_ring_limit_field(broken: str) -> str:
    """Return the field of the study whose limit one of the sentences of `rate_one` begins with."""
    return broken.replace(":", " ").split(" ")[0]


def _not_on_offer(study: Study, joint: Joint, ring: JointRing) -> list[str]:
    faults = []
    if ring.module_mm not in catalogue_modules(study.shop):
        faults.append(f"shop.modules: {ring.module_mm:g} mm is not among them")
    steps = ring.bore_mm / study.shop.bore_step_mm
    if abs(steps - round(steps)) > 1e-6:
        faults.append(
            f"shop.bore_step_mm {study.shop.bore_step_mm:g}: the bore is no multiple of it"
        )
    listed, field = study.bores_of(joint), "bores_mm" if joint.bores_mm else "shop.bores_mm"
    if listed is not None and not any(
        abs(ring.bore_mm - one) < BORE_GRID_MM / 10.0 for one in listed
    ):
        faults.append(f"{field}: {ring.bore_mm:g} mm is not among them")
    told = ring.electronics.second_ring
    counts = [(ring.teeth, ""), *([(told.teeth, " (second ring)")] if told and told.teeth else [])]
    faults += [
        f"{field}: {teeth} teeth{which}; {near} is the nearest count that the shop cuts"
        for teeth, which in counts
        for field, near in catalogue_teeth_not_cut(study.shop, teeth)
    ]
    if not catalogue_heads_allowed(joint, ring.heads):
        faults.append(f"head_counts {joint.head_counts}: {ring.heads} is not among them")
    return faults


def _broken(margins: Sequence[Margin]) -> list[str]:
    return [
        f"{m.limit}: {m.value:.6g} {m.unit}, allowed {m.allowed:.6g}"
        for m in margins
        if m.margin < -rounding_allowance(m.allowed)  # the one rule of all limits
    ]
