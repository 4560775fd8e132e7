"""What the reading electronics come to on the chosen rings, joint by joint and robot by robot.

Only what the study states is computed. The judge shares none of this: it recomputes it by itself.
"""

from __future__ import annotations

from ringset.physics import battery_backup, latency, resolution
from ringset.physics.limit_rule import number_at_least, number_at_most
from ringset.rating.rated import Rated
from ringset.rating.robot_sums import rated_polling_times
from ringset.schema.absolute import Place, study_absolute_word
from ringset.schema.answer import JointElectronics, JointRing, RobotElectronics, SecondRing
from ringset.schema.study import Study


def composed_joint_electronics(study: Study, rated: Rated, row: int) -> JointElectronics:
    """Return what head and joint ask of the electronics on one rated row; null where not stated."""
    rows = rated.catalogue
    ref = rows.joints[int(rows.joint[row])]
    head, joint, teeth = ref.head, ref.joint, int(rows.teeth[row])
    rate_hz = resolution.tooth_rate_hz(teeth, joint.speed_max_rpm)
    behind = loss = needed = fastest = bits = reply = line_us = None
    if head.sample_rate_hz is not None:
        needed = float(latency.least_sampling_hz(rate_hz, head.samples_per_tooth_min))
    if head.bandwidth_hz is not None:
        behind = float(latency.low_pass_lag_arcsec(teeth, joint.speed_max_rpm, head.bandwidth_hz))
        loss = float(latency.low_pass_loss(rate_hz, head.bandwidth_hz))
    if head.backup_polling_ms is not None and not head.never_counts:
        fastest = float(battery_backup.fastest_unpowered_rpm(head.backup_polling_ms, teeth))
    if head.backup_counter_bits is not None and not head.never_counts:
        bits = int(battery_backup.counter_bits(teeth, joint.turns_range))
    if ref.robot.line is not None:
        reply, line_us = rated_polling_times(ref)
    current = head.backup_current_ua
    return JointElectronics(
        sample_rate_needed_hz=needed,
        lag_arcsec=behind,
        signal_loss_share=loss,
        unpowered_speed_max_rpm=fastest,
        counter_bits_needed=bits,
        backup_current_ua=None if current is None else current * int(rated.all_heads[row]),
        reply_bytes=reply,
        line_time_us=line_us,
        second_ring=_second_ring(rated, row) if joint.second_ring else None,
    )


def composed_joint_place(rated: Rated, row: int, told: JointElectronics) -> Place:
    """Return by what the joint of a rated row finds its place after power loss (`schema/absolute.py`).

    `told` is what its electronics come to.
    """
    rows = rated.catalogue
    ref = rows.joints[int(rows.joint[row])]
    asked, bits = ref.joint.unpowered_speed_rpm, ref.head.backup_counter_bits
    counted, needed = told.unpowered_speed_max_rpm, told.counter_bits_needed
    # a head that draws nothing has nothing to count with
    counter = ref.robot.battery is not None and bool(ref.head.backup_current_ua)
    counter &= counted is not None and (asked is None or bool(number_at_least(counted, asked)))
    counter &= bits is not None and needed is not None and bool(number_at_most(needed, bits))
    second = told.second_ring is not None and told.second_ring.feasible
    return Place(
        ref.label,
        study_absolute_word(counter, second),
        counter or (second and bool(number_at_most(ref.joint.turns_range, 1.0))),
        counted,
    )


def composed_robot_electronics(study: Study, rings: list[JointRing]) -> list[RobotElectronics]:
    """Return battery and line of every robot; null where the study states none."""
    found = []
    for robot in study.robots:
        mine = [ring.electronics for ring in rings if ring.robot == robot.name]
        current = life = cycle = skew = None
        if robot.battery is not None:
            battery = robot.battery
            drawn = sum(e.backup_current_ua or 0.0 for e in mine)
            current = float(battery_backup.average_current_ua(drawn, 1, battery.unpowered_share))
            life = float(
                battery_backup.battery_life_years(
                    battery.capacity_ah,
                    battery.usable_share,
                    current,
                    battery.self_discharge_per_year,
                )
            )
        times = [e.line_time_us for e in mine if e.line_time_us is not None]
        if robot.line is not None:
            cycle = sum(times)
            fastest = max(joint.speed_max_rpm for joint in robot.joints)
            # whichever joint is polled last, its own time no longer sets the samples apart
            skew = float(latency.latency_lag_arcsec(fastest, cycle - min(times)))
        found.append(
            RobotElectronics(
                robot=robot.name,
                battery_current_ua=current,
                battery_life_years=life,
                battery_life_min_years=robot.battery.life_min_years if robot.battery else None,
                cycle_us=cycle,
                cycle_max_us=robot.line.cycle_max_us if robot.line else None,
                cycle_rate_hz=None if cycle is None else 1e6 / cycle,
                skew_arcsec=skew,
            )
        )
    return found


def _second_ring(rated: Rated, row: int) -> SecondRing:
    """Return what a row's second ring comes to; without one nothing is told and nothing feasible."""
    teeth = int(rated.catalogue.partner_teeth()[row])
    if not teeth:
        return SecondRing(
            teeth=None, tolerance_arcsec=None, relative_error_arcsec=None, feasible=False
        )
    error = float(rated.pair_error_arcsec[row])
    tolerance = float(rated.pair_tolerance_arcsec[row])
    return SecondRing(
        teeth=teeth,
        tolerance_arcsec=tolerance,
        relative_error_arcsec=error,
        feasible=bool(number_at_most(error, tolerance)),
    )
