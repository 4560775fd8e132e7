"""The judge's own way to what the reading electronics come to: ring by ring, then robot by robot."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ringset.physics import battery_backup, latency, resolution
from ringset.physics.limit_rule import number_at_least, number_at_most
from ringset.physics.serial_line import serial_joint_time_us
from ringset.schema.absolute import Place, study_absolute_sentences
from ringset.schema.answer import Answer, JointRing, SecondRing
from ringset.schema.battery_and_bus import Line
from ringset.schema.equipment import Head
from ringset.schema.joint import Joint
from ringset.schema.study import Robot, Study
from ringset.verification.judge.agreement import judge_number
from ringset.verification.judge.gap_and_budget import judged_head_angles_deg

#: A limit: words, value, field of the study, what it allows (None: not stated), unit, side.
Given = tuple[str, float, str, float | None, str, int]
ARCSEC_PER_TURN = 1_296_000.0


def judged_head_bounds(study: Study, joint: Joint, ring: JointRing, tip_mm: float) -> list[Given]:
    """Return what the head's electronics and size ask of one ring, None where nothing is asked."""
    head, most_lag = study.head_of(joint), study.target.lag_max_arcsec
    teeth, rpm = ring.teeth, joint.speed_max_rpm
    needed = teeth * rpm / 60.0 * head.samples_per_tooth_min
    behind = _lag_arcsec(teeth, rpm, head.bandwidth_hz)
    counts = _may_count(head)
    turned = joint.unpowered_speed_rpm if counts else None
    bits = _bits(teeth, joint.turns_range)
    return [
        ("room for a head", _arc_mm(joint, ring, tip_mm), "head.width_mm", head.width_mm, "mm", -1),
        ("sampling rate needed", needed, "head.sample_rate_hz", head.sample_rate_hz, "Hz", 1),
        ("lag", behind or 0.0, "target.lag_max_arcsec", most_lag, "arcsec", 1),
        (
            "fastest speed counted",
            _countable_rpm(teeth, head.backup_polling_ms) or 0.0,
            "unpowered_speed_rpm",
            turned,
            "rpm",
            -1,
        ),
        (
            "counter bits needed",
            bits,
            "head.backup_counter_bits",
            head.backup_counter_bits if counts else None,
            "bits",
            1,
        ),
    ]


def _arc_mm(joint: Joint, ring: JointRing, tip_mm: float) -> float:
    """Return the arc between the two nearest heads on the circle over the gap."""
    turned = sorted(angle % 360.0 for angle in judged_head_angles_deg(joint, ring.heads))
    apart = [b - a for a, b in zip(turned, [*turned[1:], turned[0] + 360.0], strict=True)]
    return math.radians(min(apart)) * (tip_mm / 2.0 + ring.gap_mm)


def _lag_arcsec(teeth: int, rpm: float, corner_hz: float | None) -> float | None:
    if corner_hz is None:
        return None
    return math.degrees(math.atan(teeth * rpm / 60.0 / corner_hz)) * 3600.0 / teeth


def _countable_rpm(teeth: int, polling_ms: float | None) -> float | None:
    return None if polling_ms is None else 60.0 / (2.0 * teeth * polling_ms * 1e-3)


def _may_count(head: Head) -> bool:
    """Say whether a head may count pitches without power: not if it is stated to draw no current for it."""
    return head.backup_current_ua is None or head.backup_current_ua > 0.0


def _bits(teeth: int, turns: float) -> int:
    counts = max(1, math.ceil(teeth * turns - 1e-6))
    return (counts - 1).bit_length()


def judge_ring_electronics(
    study: Study,
    robot: Robot,
    joint: Joint,
    ring: JointRing,
    is_second: bool,
) -> Iterator[str]:
    """Check what the answer states of one joint's electronics, as its ring or its second ring has them."""
    head, stated, line = study.head_of(joint), ring.electronics, robot.line
    teeth, rpm, corner = ring.teeth, joint.speed_max_rpm, head.bandwidth_hz
    samples = head.samples_per_tooth_min
    rate_hz = float(resolution.tooth_rate_hz(teeth, rpm))
    current = head.backup_current_ua
    wanted: dict[str, float | None] = {
        "sample_rate_needed_hz": None if head.sample_rate_hz is None else rate_hz * samples,
        "lag_arcsec": _lag_arcsec(teeth, rpm, corner),
        "signal_loss_share": None
        if corner is None
        else float(latency.low_pass_loss(rate_hz, corner)),
        "unpowered_speed_max_rpm": (
            _countable_rpm(teeth, head.backup_polling_ms) if _may_count(head) else None
        ),
        "counter_bits_needed": (
            None
            if head.backup_counter_bits is None or not _may_count(head)
            else _bits(teeth, joint.turns_range)
        ),
        "backup_current_ua": None
        if current is None
        else current * (ring.heads + joint.second_ring),
        "reply_bytes": None if line is None else _reply_bytes(head, line),
        "line_time_us": None if line is None else _line_time_us(head, line),
    }
    for name, value in wanted.items():
        yield from _restated(f"electronics.{name}", getattr(stated, name), value)
    if (stated.second_ring is not None) != joint.second_ring:
        yield "electronics.second_ring: not as the study asks"
    if not is_second:  # which says what the first ring says
        yield from _place(study, robot, joint, ring, stated.second_ring)


def _place(
    study: Study, robot: Robot, joint: Joint, ring: JointRing, told: SecondRing | None
) -> Iterator[str]:
    """Check by what a ring says that its joint finds its place after power loss.

    `told` is what the answer says of a second ring, which is checked elsewhere.
    """
    head = study.head_of(joint)
    counts = robot.battery is not None and _may_count(head)
    for name in ("backup_polling_ms", "backup_counter_bits", "backup_current_ua"):
        counts = counts and getattr(head, name) is not None
    if counts:
        most_rpm = _countable_rpm(ring.teeth, head.backup_polling_ms) or 0.0
        slow = joint.unpowered_speed_rpm
        counts = slow is None or bool(number_at_least(most_rpm, slow))
        counts = counts and _bits(ring.teeth, joint.turns_range) <= (head.backup_counter_bits or 0)
    tells = joint.second_ring and told is not None and told.feasible
    words = {
        (False, False): "none",
        (True, False): "counter",
        (False, True): "second_ring",
        (True, True): "counter_and_second_ring",
    }
    wanted = words[counts, tells]
    if ring.absolute_by != wanted:
        yield f"absolute_by: {ring.absolute_by!r} stated, {wanted!r} recomputed"
    if joint.absolute is not None and joint.absolute not in wanted:
        yield f"absolute_by: {wanted!r}, the study asks absolute {joint.absolute!r}"
    turns = counts or (tells and bool(number_at_most(joint.turns_range, 1.0)))
    if ring.turns_known != turns:
        yield f"turns_known: {ring.turns_known} stated, {turns} recomputed"


def _places(answer: Answer) -> Iterator[str]:
    """Check the sentences about all joints against what their rings say each, which is checked elsewhere."""
    places = [
        Place(r.label, r.absolute_by, r.turns_known, r.electronics.unpowered_speed_max_rpm)
        for r in answer.rings
    ]
    if answer.absolute != study_absolute_sentences(places):
        yield f"absolute: {answer.absolute}, not what the rings say"


def _restated(name: str, given: float | None, value: float | None) -> Iterator[str]:
    if given is None or value is None:
        if given is not value:
            yield f"{name}: {given!r} stated, {value!r} recomputed"
        return
    yield from judge_number(name, float(given), float(value))


def _reply_bytes(head: Head, line: Line) -> int:
    data = head.position_bits + line.turns_bits + line.status_bits
    return math.ceil(data / 8) + 1 + math.ceil(line.crc_bits / 8)  # one byte of address


def _line_time_us(head: Head, line: Line) -> float:
    return float(
        serial_joint_time_us(
            line.request_bytes,
            _reply_bytes(head, line),
            line.bit_rate_mbit_per_s,
            line.turn_round_us,
            line.cable_m,
        )
    )


def judge_robot_electronics(study: Study, answer: Answer) -> Iterator[str]:
    """Check battery and line of every robot, their limits and what is stated of them."""
    if sorted(piece.robot for piece in answer.electronics) != sorted(r.name for r in study.robots):
        yield "electronics: not one for each robot"
        return
    yield from _places(answer)
    heads = {(ring.robot, ring.joint): ring.heads for ring in answer.rings}
    for ring in answer.second_rings:
        heads[ring.robot, ring.joint] += ring.heads
    for robot in study.robots:
        stated = next(piece for piece in answer.electronics if piece.robot == robot.name)
        wanted = {**_battery(study, robot, heads), **_cycle(study, robot)}
        for name, value in wanted.items():
            given = getattr(stated, name)
            for problem in _restated(f"electronics.{name}", given, value):
                yield f"{robot.name}: {problem}"
        life, asked = wanted["battery_life_years"], wanted["battery_life_min_years"]
        if life is not None and asked is not None and not number_at_least(life, asked):
            yield f"{robot.name}: battery life {life:.6g} years: below battery.life_min_years {asked:.6g}"
        cycle, most = wanted["cycle_us"], wanted["cycle_max_us"]
        if cycle is not None and most is not None and not number_at_most(cycle, most):
            yield f"{robot.name}: cycle {cycle:.6g} us: above line.cycle_max_us {most:.6g}"


def _battery(
    study: Study, robot: Robot, heads: dict[tuple[str, str], int]
) -> dict[str, float | None]:
    battery = robot.battery
    if battery is None:
        names = ("battery_current_ua", "battery_life_years", "battery_life_min_years")
        return dict.fromkeys(names)
    drawn = math.fsum(
        (study.head_of(joint).backup_current_ua or 0.0) * heads[(robot.name, joint.name)]
        for joint in robot.joints
    )
    current = drawn * battery.unpowered_share
    lost_ah = current * 1e-6 * battery_backup.HOURS_PER_YEAR
    lost_ah += battery.self_discharge_per_year * battery.capacity_ah
    return {
        "battery_current_ua": current,
        "battery_life_years": battery.capacity_ah * battery.usable_share / lost_ah,
        "battery_life_min_years": battery.life_min_years,
    }


def _cycle(study: Study, robot: Robot) -> dict[str, float | None]:
    if robot.line is None:
        return dict.fromkeys(("cycle_us", "cycle_max_us", "cycle_rate_hz", "skew_arcsec"))
    times = [_line_time_us(study.head_of(joint), robot.line) for joint in robot.joints]
    cycle = math.fsum(times)
    fastest = max(joint.speed_max_rpm for joint in robot.joints)
    return {
        "cycle_us": cycle,
        "cycle_max_us": robot.line.cycle_max_us,
        "cycle_rate_hz": 1e6 / cycle,
        "skew_arcsec": fastest / 60e6 * (cycle - min(times)) * ARCSEC_PER_TURN,
    }
