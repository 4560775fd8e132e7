"""The judge's own way to what rings take up and weigh: housing, axial room, listed bores, mass, inertia."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ringset.physics.limit_rule import number_at_most
from ringset.schema.answer import Answer, JointRing, RobotRings
from ringset.schema.joint import Joint
from ringset.schema.study import Robot, Study
from ringset.verification.judge.agreement import judge_number, judged_sum

#: A limit: words, value, field of the study, what it allows (None: not stated), unit, side.
Given = tuple[str, float, str, float | None, str, int]


def judged_amount_bounds(
    study: Study, joint: Joint, ring: JointRing, tip_mm: float, amounts: tuple[float, float]
) -> list[Given]:
    """Return what a joint asks of the room that ring and heads take, and of the undrilled ring's amounts.

    `amounts` are its mass in kg and its moment of inertia in kg m^2.
    """
    head, (mass, inertia) = study.head_of(joint), amounts
    radius = tip_mm / 2.0 + ring.gap_mm + head.height_above_tips_mm
    along = joint.face_width_mm
    if head.axial_width_mm > along:
        along = head.axial_width_mm
    if joint.second_ring:  # two rings side by side, each with its head
        along *= 2.0
    return [
        ("housing", 2.0 * radius, "housing_max_mm", joint.housing_max_mm, "mm", 1),
        ("axial room", along, "axial_room_mm", joint.axial_room_mm, "mm", 1),
        ("mass", mass, "ring_mass_max_kg", joint.ring_mass_max_kg, "kg", 1),
        ("inertia", inertia, "ring_inertia_max_kg_m2", joint.ring_inertia_max_kg_m2, "kg m2", 1),
    ]


def judged_bore_list(study: Study, joint: Joint, bore_mm: float) -> Iterator[str]:
    """Check that a bore is one of those that the joint, or else the shop, lists."""
    field, listed = "bores_mm", joint.bores_mm
    if listed is None:
        field, listed = "shop.bores_mm", study.shop.bores_mm
    if listed is not None and not any(abs(bore_mm - one) < 1e-8 for one in listed):
        yield f"bore {bore_mm!r} mm: not among {field}"


def judge_robot_rings(
    study: Study, answer: Answer, amounts: dict[tuple[str, str], tuple[float, float]]
) -> Iterator[str]:
    """Check mass and inertia of every robot's rings, their limits and what is stated of them.

    `amounts` are the judge's own mass (kg) and inertia (kg m^2) of every ring, undrilled, by robot and joint.
    """
    if sorted(one.robot for one in answer.robot_rings) != sorted(r.name for r in study.robots):
        yield "robot_rings: not one for each robot"
        return
    for robot in study.robots:
        stated = next(one for one in answer.robot_rings if one.robot == robot.name)
        mine = [amounts.get((robot.name, joint.name)) for joint in robot.joints]
        if None not in mine:  # else a ring is at fault by itself
            for problem in _sums(robot, stated, [one for one in mine if one is not None]):
                yield f"{robot.name}: {problem}"


def _sums(robot: Robot, stated: RobotRings, mine: Iterable[tuple[float, float]]) -> Iterator[str]:
    masses, inertias = zip(*mine, strict=True)
    for name, value, most, unit in (
        ("rings_mass{}_kg", judged_sum(masses), robot.rings_mass_max_kg, "kg"),
        ("rings_inertia{}_kg_m2", judged_sum(inertias), robot.rings_inertia_max_kg_m2, "kg m2"),
    ):
        field, limit = name.format(""), name.format("_max")
        yield from judge_number(f"robot_rings: {field}", getattr(stated, field), value)
        if getattr(stated, limit) != most:
            yield f"robot_rings: {limit} {getattr(stated, limit)!r}, {most!r} wanted"
        if most is not None and not number_at_most(value, most):
            yield f"{field} {value:.6g} {unit}: above {limit} {most:.6g}"
