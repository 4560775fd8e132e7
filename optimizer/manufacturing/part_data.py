"""All that the shop and the inspector need of one ring part, put together from study and answer.

`shop_data` gives one `RingShopData` for each ring part: how it sits on each joint it serves
(`mounting`), how it is made, how it is accepted, checks with margins, notes and cautions. Sheets
and tables print it. Values are unrounded except the tolerances that a standard itself rounds.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ringset.catalogue.limits import catalogue_least_rim_mm
from ringset.manufacturing.blanks import shop_allowances, shop_blanks
from ringset.manufacturing.condition import shop_condition_notes, shop_ordered_material
from ringset.manufacturing.inspection import InspectionData, shop_inspection_data
from ringset.manufacturing.mounting import MountingData, shop_mounting_data
from ringset.physics import machining as making
from ringset.physics import rim_bending
from ringset.physics.limit_rule import number_at_least, number_at_most
from ringset.schema.answer import Answer, JointRing, RingPart
from ringset.schema.answer_checks import refuse_unknown_field_names
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.schema.true_rack import study_cuts_deeper, study_rack
from ringset.standards import yield_strength
from ringset.standards.iso1328 import iso1328_runout_um
from ringset.standards.racks import RACKS

#: Printed with every ring.
SHOP_CAUTIONS = (
    "Seats, screws and speeds are sized with nominal formulas and data from memory or data sheets: a "
    "qualified person must check them with the certificates of the material in hand; local codes and "
    "the rules for the machine come first.",
    "Heating, pressing on and pulling off a ring: hot metal and sudden release. Only trained people, "
    "with guards and to the rules of the shop.",
    "A ring that turns fast stores energy: keep it guarded and below the speeds given here, and never "
    "run a cracked or repaired ring.",
    "The teeth are sharp: break the edges as drawn, wear gloves, and guard the ring in service.",
)
#: Share of the run-out tolerance that lobes may use where the study sets no share. Assumed.
USUAL_SHARE = 0.5
#: Share of its yield to which jaws may bend a rim. Assumed: a force is seldom known within a factor.
JAW_YIELD_SHARE = 0.5
#: Jaw counts for which the largest force is told beside the shop's own.
JAWS_TOLD = (3, 6)


@dataclass(frozen=True)
class ShopCheck:
    """One check: value against what is allowed, `margin` >= 0 inside. `stated`: by the study."""

    name: str
    value: float
    allowed: float
    unit: str
    margin: float
    stated: bool
    kept: bool


@dataclass(frozen=True)
class MakingData:
    """How a ring part is made. `blank` None: no stock stated, or none suits (a note says which).

    `least_blank` is what any stock must have, `jaw_force_n` the largest force of a jaw by their number,
    within the lobes allowed and half of the yield of the blank; the free rim rings at `rings_at_hz` with
    two lobes.
    """

    material: str
    least_blank: str
    cutter: str
    teeth_above_undercut: float
    whole_depth_mm: float
    backup_ratio: float
    blank: making.Blank | None
    bought_kg: float | None
    finished_kg: float
    kept_share: float | None
    lobe_budget_um: float
    jaw_force_n: dict[int, float]
    rings_at_hz: float


@dataclass(frozen=True)
class RingShopData:
    """One ring part for shop, inspector and builder."""

    part: RingPart
    mounting: tuple[MountingData, ...]
    making: MakingData
    inspection: InspectionData
    checks: tuple[ShopCheck, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


def shop_data(study: Study, answer: Answer) -> list[RingShopData]:
    """Return the data of every ring part of an answer to `study`, in the answer's order.

    Raises StudyError for an answer whose rings and ring parts do not fit the study or each other.
    """
    refuse_unknown_field_names(study, answer)
    joints = {
        f"{robot.name}/{joint.name}": joint for robot in study.robots for joint in robot.joints
    }
    users: dict[str, list[JointRing]] = {}
    for ring in answer.every_ring:
        users.setdefault(ring.ring_part, []).append(ring)
    tools = {tool.id: f"{tool.id}: {tool.kind}, {tool.tooth_range}" for tool in answer.cutters}
    return [
        ring_shop_data(study, part, users[part.id], joints, tools.get(part.cutter or ""))
        for part in answer.ring_parts
    ]


def ring_shop_data(
    study: Study,
    part: RingPart,
    rings: list[JointRing],
    joints: dict[str, Joint],
    cutter: str | None,
) -> RingShopData:
    """Return the data of one ring part; `rings` are its uses, `joints` by "robot/joint"."""
    served = [joints[ring.label] for ring in rings]
    mounts = tuple(
        shop_mounting_data(study, joint, ring, part.screws)
        for joint, ring in zip(served, rings, strict=True)
    )
    notes: list[str] = []
    made = _making(study, rings[0], served, cutter, notes)
    accepted = shop_inspection_data(study, rings[0], served, notes)
    notes += shop_condition_notes(study.shop, served, part.tip_diameter_mm)
    notes += _own_materials(study.shop, served)
    notes += [f"{m.robot}/{m.joint}: {note}" for m in mounts for note in m.notes]
    checks = [*_making_checks(study, rings[0], made)]
    for joint, mount in zip(served, mounts, strict=True):
        checks += _mounting_checks(joint, mount)
    return RingShopData(
        part=part,
        mounting=mounts,
        making=made,
        inspection=accepted,
        checks=tuple(checks),
        notes=tuple(dict.fromkeys(notes)),
        cautions=SHOP_CAUTIONS,
    )


def _own_materials(shop: Shop, joints: list[Joint]) -> list[str]:
    """Return where the values of materials of the user's own are from, of ring and hubs."""
    names = [shop.material, *(joint.hub_material for joint in joints if joint.hub_material)]
    return [
        f"values of {name} as the study states them, from: {shop.materials[name].source}"
        for name in dict.fromkeys(names)
        if name in shop.materials
    ]


def _making(
    study: Study, ring: JointRing, served: list[Joint], cutter: str | None, notes: list[str]
) -> MakingData:
    shop, steel = study.shop, study.shop.ring_material
    m, z = ring.module_mm, ring.teeth
    rack = study_rack(shop, m)
    deep = RACKS["full_d"].dedendum
    left = float(making.rim_below_deeper_cut_mm(ring.rim_mm, m, rack.dedendum, deep))
    if (
        m < 1.25
        and not study_cuts_deeper(shop, m)
        and shop.rack == "full"
        and shop.cutting != "wire"
    ):
        notes.append(
            f"a fine-module cutter may cut {m * (rack.addendum + deep):g} mm deep (2.4 modules): "
            f"measure the first root circle; the rim would then be {left:.2f} mm"
        )
    allowed_um = (shop.clamp_runout_share or USUAL_SHARE) * float(
        iso1328_runout_um(m * z, m, shop.flank_class, extrapolate=True)
    )
    blank = _blank(study, ring, notes)
    return MakingData(
        material=shop_ordered_material(shop, served, ring.tip_diameter_mm),
        least_blank=shop_allowances(shop).needed(
            ring.tip_diameter_mm, ring.bore_mm, ring.face_width_mm
        ),
        cutter=cutter or "wire erosion",
        teeth_above_undercut=float(
            making.teeth_above_undercut(
                z, rack.dedendum, rack.root_fillet, ring.profile_shift, rack.pressure_angle_deg
            )
        ),
        whole_depth_mm=ring.tooth_depth_mm,
        backup_ratio=ring.rim_mm / ring.tooth_depth_mm,
        blank=blank,
        bought_kg=None if blank is None else blank.bought_kg,
        finished_kg=ring.finished_kg,
        kept_share=None if blank is None else ring.finished_kg / blank.bought_kg,
        lobe_budget_um=allowed_um,
        jaw_force_n=_jaw_forces_n(study, ring, 0.5e-3 * allowed_um),
        rings_at_hz=float(
            rim_bending.ring_frequency_hz(
                2, ring.bore_mm, ring.rim_mm, steel.youngs_modulus_gpa, steel.density_kg_per_m3
            )
        ),
    )


def _jaw_forces_n(study: Study, ring: JointRing, lobe_mm: float) -> dict[int, float]:
    """Return the largest force of a jaw, by their number: lobes of `lobe_mm`, half of yield at most."""
    shop, steel = study.shop, study.shop.ring_material
    outer = ring.tip_diameter_mm + shop.diameter_allowance_mm
    strength = float(
        yield_strength.standard_yield_or_zero_mpa(
            shop.ring_material, outer, shop.material_treatment
        )
    )
    shape = (ring.bore_mm, ring.rim_mm, ring.face_width_mm)
    forces = {}
    for jaws in sorted({shop.clamp_jaws, *JAWS_TOLD}):
        elastic = (steel.youngs_modulus_gpa, steel.poisson)
        lobes = making.largest_jaw_force_n(jaws, lobe_mm, *shape, *elastic)
        yielding = (
            JAW_YIELD_SHARE * strength / float(rim_bending.clamping_stress_mpa(jaws, 1.0, *shape))
            if strength
            else np.inf
        )
        forces[jaws] = min(float(lobes), yielding)
    return forces


def _blank(study: Study, ring: JointRing, notes: list[str]) -> making.Blank | None:
    """Return the lightest blank of the stock that suits; a note where stock is stated and none does."""
    shop = study.shop
    if not (shop.bars_mm or shop.tubes or shop.plates_mm):
        return None
    found = shop_blanks(shop, ring.tip_diameter_mm, ring.bore_mm, ring.face_width_mm)
    if found:
        return found[0]
    least = shop_allowances(shop).needed(ring.tip_diameter_mm, ring.bore_mm, ring.face_width_mm)
    notes.append(f"no stock suits: {least}, is needed")
    return None


def _check(
    name: str, value: float, allowed: float, unit: str, *, upper: bool, stated: bool
) -> ShopCheck:
    kept = number_at_most(value, allowed) if upper else number_at_least(value, allowed)
    margin = (allowed - value) if upper else (value - allowed)
    return ShopCheck(name, value, allowed, unit, margin, stated, bool(kept))


def _making_checks(study: Study, ring: JointRing, made: MakingData) -> Iterator[ShopCheck]:
    shop = study.shop
    yield _check(
        "teeth above undercut", made.teeth_above_undercut, 0.0, "teeth", upper=False, stated=False
    )
    least = float(catalogue_least_rim_mm(shop, ring.tooth_depth_mm))
    yield _check("rim", ring.rim_mm, least, "mm", upper=False, stated=True)
    most = made.jaw_force_n[shop.clamp_jaws]
    stated = shop.clamp_runout_share is not None
    yield _check("jaw force", shop.clamp_force_n, most, "N", upper=True, stated=stated)
    factor = float(rim_bending.rim_factor_external(ring.rim_mm, ring.tooth_depth_mm))
    yield _check("rim factor (a guide)", factor, 1.0, "", upper=True, stated=False)


def _mounting_checks(joint: Joint, mount: MountingData) -> Iterator[ShopCheck]:
    where = f"{mount.robot}/{mount.joint}"
    for name, value, least, unit in (
        ("safety against slip", mount.slip_safety, joint.slip_safety_min, "times"),
        (
            "safety against yield",
            None if not mount.stress_share else 1.0 / mount.stress_share,
            joint.stress_safety_min,
            "times",
        ),
        (
            "safety against lifting off at speed",
            None
            if mount.seat is None
            or mount.seat.contact_loss_rpm is None
            or mount.speed_max_rpm <= 0.0
            else mount.seat.contact_loss_rpm / mount.speed_max_rpm,
            None,
            "times",
        ),
        (
            "safety against yielding through at speed",
            None
            if mount.yielding_through_rpm is None or mount.speed_max_rpm <= 0.0
            else mount.yielding_through_rpm / mount.speed_max_rpm,
            joint.burst_safety_min,
            "times",
        ),
    ):
        if value is not None:
            stated = least is not None
            yield _check(f"{where}: {name}", value, least or 1.0, unit, upper=False, stated=stated)
