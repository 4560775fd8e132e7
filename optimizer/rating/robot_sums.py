"""What rated rows add to the sums of their robots (money, tool point, battery, polling), and their parts."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.bore_zones import catalogue_bore_zone_keys
from ringset.catalogue.joints import JointRef
from ringset.catalogue.rows import Catalogue
from ringset.physics.battery_backup import largest_current_ua
from ringset.physics.limit_rule import rounding_allowance
from ringset.physics.serial_line import serial_joint_time_us, serial_reply_bytes
from ringset.physics.toolpoint import lever_error_um
from ringset.rating.rated import Weighed
from ringset.schema.battery_and_bus import Battery
from ringset.schema.study import Robot, Study
from ringset.schema.targets import Target


def rated_pieces_money(study: Study, rated: Weighed, built: Ints) -> Floats:
    """Return the money of every row's pieces and heads, for all that are built; 0 without prices."""
    rows, prices = rated.catalogue, study.shop.prices
    if prices is None:
        return np.zeros(len(rows))
    piece = prices.piece(study.shop.flank_class, rated.blank_kg, rows.teeth)
    if rows.paired:
        # both rings are cut, tooth by tooth; the mass is that of both
        second = prices.piece(study.shop.flank_class, 0.0, rows.second_teeth)
        piece = piece + np.where(rows.second_teeth > 0, second, 0.0)
    return np.asarray(built * (piece + rated.all_heads * prices.head))


def rated_ring_keys(rated: Weighed) -> Ints:
    """Return a whole number per row that is equal for rows of the same ring part, in canonical order.

    A part is what one drawing makes: module, teeth, bore with its tolerance zone, width. Class, depth,
    shift and material are the shop's, and one pattern of screw holes serves all joints of a part.
    """
    return _keys(rated.catalogue)


def rated_part_keys(rated: Weighed) -> tuple[Ints, Ints | None]:
    """Return the ring parts of every row as whole numbers: of its ring, and of its second one (-1: none).

    Equal numbers are equal parts, whichever of the two rings they are. None where no row has a second ring.
    """
    rows = rated.catalogue
    if not rows.paired:
        return _keys(rows), None
    has = np.flatnonzero(rows.second_teeth > 0)
    every = rows.take(np.concatenate([np.arange(len(rows)), has]))
    every.teeth[len(rows) :] = rows.second_teeth[has]  # a copy, so that nothing else sees it
    key = _keys(every)
    second = np.full(len(rows), -1, dtype=np.int64)
    second[has] = key[len(rows) :]
    return key[: len(rows)], second


def rated_ring_count(rated: Weighed) -> int:
    """Return how many ring parts rows have, as rings or as second rings."""
    first, second = rated_part_keys(rated)
    every = first if second is None else np.concatenate([first, second[second >= 0]])
    return len(np.unique(every))


def _keys(rows: Catalogue) -> Ints:
    """Return the ring part of every row of a catalogue as a whole number."""
    _, width = np.unique(rows.per_joint(lambda r: r.joint.face_width_mm), return_inverse=True)
    if len(rows) == 0:
        return np.empty(0, dtype=np.int64)
    key = rows.module * (rows.teeth.max() + 1) + rows.teeth
    key = key * (rows.bore_steps.max() + 1) + rows.bore_steps
    key, zone = key * (width.max() + 1) + width, catalogue_bore_zone_keys(rows)
    _, key = np.unique(key * (zone.max() + 1) + zone, return_inverse=True)
    return np.asarray(key, dtype=np.int64)


#: By the field of its target, what of a joint's ring in arcsec every tool-point sum adds up, and its words.
_AT_TOOL_POINT: dict[str, tuple[Callable[[Weighed], Floats], str]] = {
    "tool_point_target_um": (lambda rated: rated.error_arcsec, "the most accurate ring"),
    "tool_point_repeatability_target_um": (
        lambda rated: rated.repeatability_arcsec,
        "the most repeatable ring",
    ),
}


def rated_tool_point_shares(rated: Weighed, field: str = "tool_point_target_um") -> Floats:
    """Return every row's share of its robot's tool-point sum: um^2 for rss, um for sum.

    `field` names the target of the sum, one of `TOOL_POINT_TARGETS`.
    """
    rows, (angle_of, _) = rated.catalogue, _AT_TOOL_POINT[field]
    reach = rows.per_joint(lambda r: r.joint.reach_mm)
    lever = np.asarray(lever_error_um(reach, angle_of(rated)))
    squared = np.array([ref.robot.tool_point_rule == "rss" for ref in rows.joints])[rows.joint]
    return np.where(squared, lever**2, lever)


def rated_best_ring_words(field: str) -> str:
    """Return what rings a tool-point target, by its field, asks of the joints, in words."""
    return _AT_TOOL_POINT[field][1]


def rated_tool_point_limit(
    target: Target, robot: Robot, field: str = "tool_point_target_um"
) -> float | None:
    """Return the limit of a robot's tool-point sum (um^2 for rss, um for sum); None for no target.

    `field` names the target. The study's reserve is taken off, and room for rounding is included.
    """
    stated = getattr(robot, field)
    if stated is None:
        return None
    kept = float(target.less_reserve(stated))
    with_room = float(kept + rounding_allowance(kept))
    return with_room**2 if robot.tool_point_rule == "rss" else with_room


def rated_tool_point_um(total: float, rule: str) -> float:
    """Return the error in um at the tool point that a tool-point sum comes to (um^2 for rss, um for sum)."""
    return total**0.5 if rule == "rss" else total


def rated_battery_shares_ua(rated: Weighed) -> Floats:
    """Return every row's average current in uA from its robot's battery; 0 without battery."""
    rows = rated.catalogue
    current = rows.per_joint(
        lambda r: (
            0.0
            if r.robot.battery is None or r.head.backup_current_ua is None
            else r.head.backup_current_ua * r.robot.battery.unpowered_share
        )
    )
    return np.asarray(current * rated.all_heads)


def rated_battery_limit_ua(battery: Battery) -> float | None:
    """Return the largest average current in uA for the stated life, room for rounding included.

    The room is that of the life, so that both ways to put the limit let the same answers pass.
    """
    life = battery.life_min_years
    if life is None:
        return None
    return float(
        largest_current_ua(
            battery.capacity_ah,
            battery.usable_share,
            life - rounding_allowance(life),
            battery.self_discharge_per_year,
        )
    )


def rated_polling_times(ref: JointRef) -> tuple[int, float]:
    """Return the length of a joint's reply in bytes and the time to ask and hear it in us.

    Raises ValueError where the joint's robot has no line.
    """
    line = ref.robot.line
    if line is None:
        raise ValueError("line: given none, allowed a robot with a line")
    reply = int(
        serial_reply_bytes(
            ref.head.position_bits, line.turns_bits, line.status_bits, crc_bits=line.crc_bits
        )
    )
    time_us = serial_joint_time_us(
        line.request_bytes, reply, line.bit_rate_mbit_per_s, line.turn_round_us, line.cable_m
    )
    return reply, float(time_us)


def rated_polling_cycle_us(refs: list[JointRef]) -> float:
    """Return the time in us to poll the joints `refs` of one robot once; it knows no ring."""
    return sum(rated_polling_times(ref)[1] for ref in refs)
