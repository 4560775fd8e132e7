"""Faults of a study that lie between its fields."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from typing import Any

from ringset.errors import Fault, StudyError, shown_in_error
from ringset.physics import geometry
from ringset.physics.cutter_form import largest_shift_of_form
from ringset.schema.absolute_checks import absolute_faults
from ringset.schema.equipment import Head
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.give_checks import give_faults
from ringset.schema.joint import Joint
from ringset.schema.making_checks import making_faults
from ringset.schema.material_checks import material_faults, material_name_faults
from ringset.schema.mounting_checks import mount_faults
from ringset.schema.range_checks import range_faults
from ringset.schema.shop import Shop
from ringset.schema.size_checks import head_size_faults, joint_size_faults, shop_size_faults
from ringset.schema.standing_checks import kept_part_faults, standing_faults
from ringset.schema.study import TOOL_POINT_TARGETS, Robot, Study, Wishes
from ringset.schema.targets import Target
from ringset.schema.true_rack import study_least_teeth, study_racks
from ringset.standards import cutters
from ringset.standards.iso286 import iso286_fit_clearance_um

#: Most joints of one study, and most paths in `fixed` that are told to be wrong.
JOINTS_MAX, PATH_FAULTS_MAX = 20_000, 5


def study_faults(study: Study) -> list[Fault]:
    """Return every fault that lies between the fields of a study."""
    return list(cross_faults(study))


def cross_faults(study: Study) -> Iterator[Fault]:
    """Yield every fault that lies between fields, not in one of them."""
    yield from _name_faults("robots", [robot.name for robot in study.robots])
    joints = sum(len(robot.joints) for robot in study.robots)
    if joints > JOINTS_MAX:
        yield Fault("robots", f"{joints} joints in all", f"at most {JOINTS_MAX}")
    yield from _shop_faults(study.shop)
    yield from _head_faults("head", study.head, study.shop)
    for name, head in study.heads.items():
        yield from _head_faults(f"heads.{name}", head, study.shop)
    yield from _wish_faults(study.wishes, study.shop)
    for i, robot in enumerate(study.robots):
        yield from _robot_faults(f"robots[{i}]", robot)
        for j, joint in enumerate(robot.joints):
            yield from _joint_faults(f"robots[{i}].joints[{j}]", joint, study)
    yield from _target_faults(study.target, study)
    yield from _electronics_faults(study)
    yield from kept_part_faults(study)
    yield from absolute_faults(study)
    yield from material_faults(study)
    unknown = list(material_name_faults(study))
    yield from unknown
    if not unknown:
        yield from (Fault(*parts) for parts in mount_faults(study))
    yield from _path_faults(study)
    yield from range_faults(study)


def _path_faults(study: Study) -> Iterator[Fault]:
    """Yield the first paths in `fixed` that lead nowhere: looking for what each meant takes time."""
    wrong = 0
    for index, text in enumerate(study.fixed):
        try:
            resolve_field_path(study, text)
        except StudyError as error:
            fault = error.faults[0]
            yield Fault(f"fixed[{index}]", f"{shown_in_error(text)}, {fault.given}", fault.allowed)
            wrong += 1
            if wrong == PATH_FAULTS_MAX:
                return


def _name_faults(path: str, names: list[str]) -> Iterator[Fault]:
    for name, times in Counter(names).items():
        if times > 1:
            yield Fault(path, f"{times} times the name {shown_in_error(name)}", "each name once")


def _order_fault(
    path: str, low_name: str, low: float, high_name: str, high: float
) -> Iterator[Fault]:
    if low > high:
        yield Fault(f"{path}.{high_name}", f"{high:g}", f"at least {low_name} = {low:g}")


def _shop_faults(shop: Shop) -> Iterator[Fault]:
    yield from (Fault(*parts) for parts in shop_size_faults(shop))
    yield from making_faults(shop)
    yield from standing_faults(shop)
    for count, least in shop.pitch_share.items():
        worst = shop.worst_pitch_share.get(count, 1.0)
        if worst < least:
            allowed = f"at least shop.pitch_share.{count} = {least:g}"
            yield Fault(f"shop.worst_pitch_share.{count}", f"{worst:g}", allowed)
    if shop.rim_max_mm is not None:
        yield from _order_fault(
            "shop", "rim_min_mm", shop.rim_min_mm, "rim_max_mm", shop.rim_max_mm
        )


def _repeat_faults(path: str, values: list[Any]) -> Iterator[Fault]:
    for value, times in Counter(values).items():
        if times > 1:
            yield Fault(path, f"{times} times {shown_in_error(value)}", "each value once")


def _head_faults(path: str, head: Head, shop: Shop) -> Iterator[Fault]:
    yield from _order_fault(
        path, "module_min_mm", head.module_min_mm, "module_max_mm", head.module_max_mm
    )
    yield from _order_fault(path, "teeth_min", head.teeth_min, "teeth_max", head.teeth_max)
    yield from _gap_faults(path, head)
    yield from (Fault(*parts) for parts in head_size_faults(path, head))
    if head.teeth_min < 2 * shop.clamp_jaws:
        allowed = (
            f"at least 2 x shop.clamp_jaws = {2 * shop.clamp_jaws} (teeth must show the lobes)"
        )
        yield Fault(f"{path}.teeth_min", str(head.teeth_min), allowed)
    if 8 * head.teeth_sensed > head.teeth_min:
        allowed = f"at most an eighth of teeth_min = {head.teeth_min}"
        yield Fault(f"{path}.teeth_sensed", str(head.teeth_sensed), allowed)
    least = study_least_teeth(shop)
    if head.teeth_min < least:
        allowed = f"at least {least:.1f} with this rack and profile shift (undercut)"
        yield Fault(f"{path}.teeth_min", str(head.teeth_min), allowed)
        return
    try:
        for rack in study_racks(shop):
            geometry.toothed_section(
                1.0, head.teeth_min, 0.0, addendum=rack.addendum, dedendum=rack.dedendum,
                fillet=rack.root_fillet, pressure_angle_deg=rack.pressure_angle_deg,
                shift=shop.profile_shift,
            )  # fmt: skip
    except ValueError as error:
        yield Fault("shop.profile_shift", f"{shop.profile_shift:g}", f"smaller ({error})")
        return
    yield from _form_faults(path, head, shop)


def _form_faults(path: str, head: Head, shop: Shop) -> Iterator[Fault]:
    """Yield that a cutter of a set has no flank on the pitch circle of rings with the fewest teeth."""
    most = study_shift_most(shop, head.teeth_min)
    if shop.profile_shift > most:
        allowed = (
            f"at most {most:.3f} with {shop.cutting} and {path}.teeth_min = {head.teeth_min} (the flank of "
            "its cutter, formed without shift, ends above the pitch circle), or another shop.cutting"
        )
        yield Fault("shop.profile_shift", f"{shop.profile_shift:g}", allowed)


def study_shift_most(shop: Shop, teeth: int) -> float:
    """Return the largest profile shift of a ring of so many teeth that the shop's cutter has a form for.

    Only cutters of a set bound it. ValueError for fewer teeth than the set mills.
    """
    if shop.cutting not in cutters.DISC_SETS:
        return math.inf
    form = cutters.standard_disc_form_teeth(shop.cutting, teeth, shop.disc_form)
    return min(
        float(
            largest_shift_of_form(
                teeth, form, dedendum=rack.dedendum, fillet=rack.root_fillet,
                pressure_angle_deg=rack.pressure_angle_deg,
            )
        )
        for rack in study_racks(shop)
    )  # fmt: skip


def _gap_faults(path: str, head: Head) -> Iterator[Fault]:
    name, narrowest = "gap_mm", head.gap_mm
    if (head.gap_min_mm is None) != (head.gap_max_mm is None):
        given = "gap_min_mm" if head.gap_max_mm is None else "gap_max_mm"
        yield Fault(
            f"{path}.{given}", "one end of a range", "gap_min_mm and gap_max_mm, or neither"
        )
    elif head.gap_min_mm is not None and head.gap_max_mm is not None:
        name, narrowest = "gap_min_mm", head.gap_min_mm
        yield from _order_fault(path, name, narrowest, "gap_max_mm", head.gap_max_mm)
    if head.gap_tolerance_mm >= narrowest:
        allowed = f"less than {name} = {narrowest:g} (the gap would close)"
        yield Fault(f"{path}.gap_tolerance_mm", f"{head.gap_tolerance_mm:g}", allowed)


def _wish_faults(wishes: Wishes, shop: Shop) -> Iterator[Fault]:
    yield from _repeat_faults("wishes.order", list(wishes.order))
    if shop.prices is None and "cost" in wishes.order:
        yield Fault("wishes.order", "cost without shop.prices", "cost with shop.prices only")
    if shop.prices is None and wishes.cost_max is not None:
        yield Fault("wishes.cost_max", f"{wishes.cost_max:g}", "none without shop.prices")
    yield from give_faults(wishes, "" if shop.prices is None else shop.prices.currency)
    if shop.prices is not None:
        known = shop.prices.cutting_minutes_per_tooth
        if str(shop.flank_class) not in known:
            given = f"classes {', '.join(known) or 'none'}"
            wanted = f"a time for the shop's flank_class {shop.flank_class}"
            yield Fault("shop.prices.cutting_minutes_per_tooth", given, wanted)


def _robot_faults(path: str, robot: Robot) -> Iterator[Fault]:
    yield from _name_faults(f"{path}.joints", [joint.name for joint in robot.joints])
    if any(joint.reach_mm > 0 for joint in robot.joints):
        return
    for field in TOOL_POINT_TARGETS:
        stated = getattr(robot, field)
        if stated is not None:
            given = f"{stated:g} with no joint that has a reach"
            yield Fault(f"{path}.{field}", given, "reach_mm above 0 on some joint")


def _joint_faults(path: str, joint: Joint, study: Study) -> Iterator[Fault]:
    yield from _order_fault(
        path, "bore_min_mm", joint.bore_min_mm, "bore_max_mm", joint.bore_max_mm
    )
    yield from (Fault(*parts) for parts in joint_size_faults(path, joint, study))
    yield from _order_fault(
        path,
        "temperature_min_c",
        joint.temperature_min_c,
        "temperature_max_c",
        joint.temperature_max_c,
    )
    if joint.seat_fit is not None:
        yield from _fit_faults(path, joint, joint.seat_fit)
    elif joint.seat_tir_um is not None:
        yield from _two_offsets(path, joint.seat_tir_um, joint.seat_offset_um)
    if joint.head is not None and joint.head not in study.heads:
        known = ", ".join(sorted(study.heads)) or "none is given in heads"
        yield Fault(f"{path}.head", shown_in_error(joint.head), f"a name in heads ({known})")
        return
    head = study.head_of(joint)
    if joint.face_width_mm < head.active_width_mm:
        allowed = f"at least the head's active_width_mm = {head.active_width_mm:g}"
        yield Fault(f"{path}.face_width_mm", f"{joint.face_width_mm:g}", allowed)
    yield from _repeat_faults(f"{path}.head_counts", joint.head_counts)
    for count, angles in joint.head_angles_deg.items():
        where = f"{path}.head_angles_deg.{count}"
        if int(count) not in joint.head_counts:
            yield Fault(
                where, f"angles for {count} heads", f"a count in head_counts {joint.head_counts}"
            )
        if len(angles) != int(count):
            yield Fault(where, f"{len(angles)} angles", f"{count} angles")
        yield from _repeat_faults(where, [angle % 360.0 for angle in angles])


def _two_offsets(path: str, tir_um: float, offset_um: float | None) -> Iterator[Fault]:
    if offset_um is not None:
        given = f"{tir_um:g} beside seat_offset_um {offset_um:g}"
        yield Fault(
            f"{path}.seat_tir_um", given, "one of the two (the reading is twice the offset)"
        )


def _fit_faults(path: str, joint: Joint, fit: str) -> Iterator[Fault]:
    for field in ("seat_offset_um", "seat_tir_um", "set_by"):
        stated = getattr(joint, field)
        if stated is not None:
            shown = stated if isinstance(stated, str) else f"{stated:g}"
            given = f"{shown} beside seat_fit {shown_in_error(fit)}"
            yield Fault(f"{path}.{field}", given, "one of the two (a fit centres the ring)")
    try:
        iso286_fit_clearance_um(joint.bore_min_mm, fit)
        iso286_fit_clearance_um(joint.bore_max_mm, fit)
    except ValueError as error:
        reason, _, allowed = str(error).partition("; allowed: ")
        given = f"{shown_in_error(fit)}: {reason}" if allowed else shown_in_error(fit)
        yield Fault(f"{path}.seat_fit", given, allowed or reason)


def _target_faults(target: Target, study: Study) -> Iterator[Fault]:
    heads = [study.head, *study.heads.values()]
    most = max(head.position_bits for head in heads)
    if target.resolution_bits is not None and target.resolution_bits > most:
        allowed = f"at most the head's position_bits = {most}"
        yield Fault("target.resolution_bits", f"{target.resolution_bits:g}", allowed)


def _electronics_faults(study: Study) -> Iterator[Fault]:
    """Yield limits whose head does not state what they need, and lives that no battery reaches."""
    missing: set[str] = set()  # each field of each head is named once, with the first that needs it
    for i, robot in enumerate(study.robots):
        path, battery = f"robots[{i}]", robot.battery
        life = None if battery is None else battery.life_min_years
        if battery is not None and life is not None and battery.self_discharge_per_year > 0.0:
            longest = battery.usable_share / battery.self_discharge_per_year
            if life >= longest:
                allowed = f"less than {longest:g} (usable_share over self_discharge_per_year)"
                yield Fault(f"{path}.battery.life_min_years", f"{life:g}", allowed)
        if battery is not None and battery.self_discharge_per_year == 0.0:
            refs = [
                study.heads.get(joint.head, study.head) if joint.head else study.head
                for joint in robot.joints
            ]
            if all(head.never_counts for head in refs):
                allowed = "more than 0, for no head of the robot draws from its battery"
                yield Fault(f"{path}.battery.self_discharge_per_year", "0", allowed)
        for j, joint in enumerate(robot.joints):
            if joint.head is not None and joint.head not in study.heads:
                continue  # a fault already
            if joint.second_ring and study.shop.cutting == "disc_special":
                allowed = "another shop.cutting: one special cutter cuts no two tooth counts"
                yield Fault(f"{path}.joints[{j}].second_ring", "true", allowed)
            head = study.head_of(joint)
            name = "head" if joint.head is None else f"heads.{joint.head}"
            where = f"which reads {path}.joints[{j}]"
            for asks, field, limit, words in (
                (
                    battery is not None,
                    "backup_current_ua",
                    f"{path}.battery",
                    "a value, 0 for a head that draws nothing from it",
                ),
                (
                    joint.unpowered_speed_rpm is not None and not head.never_counts,
                    "backup_polling_ms",
                    f"{path}.joints[{j}].unpowered_speed_rpm",
                    "a value",
                ),
                (
                    study.target.lag_max_arcsec is not None,
                    "bandwidth_hz",
                    "target.lag_max_arcsec",
                    "a value",
                ),
            ):
                if asks and getattr(head, field) is None and f"{name}.{field}" not in missing:
                    missing.add(f"{name}.{field}")
                    yield Fault(
                        f"{name}.{field}", "nothing", f"{words} ({limit} needs it, {where})"
                    )
