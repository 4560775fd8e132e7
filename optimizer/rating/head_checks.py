"""What the head's electronics and size ask of a row: sampling, lag, back-up counting, room.

Each check is a limit only on joints whose study states it; elsewhere its limit is infinite.
"""

from __future__ import annotations

import numpy as np

from ringset.arrays import Floats
from ringset.catalogue.joints import head_angles_deg
from ringset.catalogue.rows import Catalogue
from ringset.physics import battery_backup, latency, resolution
from ringset.rating.check import Check
from ringset.schema.study import Study


def head_checks(study: Study, rows: Catalogue, tip_mm: Floats, gap_mm: Floats) -> dict[str, Check]:
    """Return every check that some joint of the study states, by the field that sets its limit."""
    speed = rows.per_joint(lambda r: r.joint.speed_max_rpm)
    heads = [ref.head for ref in rows.joints]
    checks = {"head.width_mm": _width(rows, tip_mm, gap_mm)}
    if any(head.sample_rate_hz is not None for head in heads):
        samples = rows.per_joint(lambda r: r.head.samples_per_tooth_min)
        needed = latency.least_sampling_hz(resolution.tooth_rate_hz(rows.teeth, speed), samples)
        rates = rows.per_joint(lambda r: r.head.sample_rate_hz or np.inf)
        checks["head.sample_rate_hz"] = Check(np.asarray(needed), rates, "Hz", 1)
    if study.target.lag_max_arcsec is not None:
        corners = rows.per_joint(lambda r: r.head.bandwidth_hz or np.inf)
        behind = np.asarray(latency.low_pass_lag_arcsec(rows.teeth, speed, corners))
        most = np.full(len(rows), study.target.lag_max_arcsec)
        checks["target.lag_max_arcsec"] = Check(behind, most, "arcsec", 1)
    if any(ref.joint.unpowered_speed_rpm is not None for ref in rows.joints):
        looks = rows.per_joint(lambda r: r.head.backup_polling_ms or np.inf)
        fastest = np.asarray(battery_backup.fastest_unpowered_rpm(looks, rows.teeth))
        turned = rows.per_joint(lambda r: r.joint.unpowered_speed_rpm or -np.inf)
        checks["unpowered_speed_rpm"] = Check(fastest, turned, "rpm", -1)
    if any(head.backup_counter_bits is not None for head in heads):
        turns = rows.per_joint(lambda r: r.joint.turns_range)
        bits = np.asarray(battery_backup.counter_bits(rows.teeth, turns), dtype=np.float64)
        most = rows.per_joint(lambda r: r.head.backup_counter_bits or np.inf)
        checks["head.backup_counter_bits"] = Check(bits, most, "bits", 1)
    return checks


def _width(rows: Catalogue, tip_mm: Floats, gap_mm: Floats) -> Check:
    """Arc in mm between the two nearest heads on the circle over the gap, against a head's width.

    Equally spaced this says that all heads fit round the circle; one head has all of it. The arc is
    shorter than what straight heads on their tangents have: the safe side.
    """
    nearest = np.full((len(rows.joints), 9), 360.0)
    known: dict[tuple[float, ...], float] = {}
    for index, ref in enumerate(rows.joints):
        for count in ref.joint.head_counts:
            angles = head_angles_deg(ref.joint, count)
            if angles not in known:
                turned = np.sort(np.mod(angles, 360.0))
                known[angles] = float(np.min(np.diff(turned, append=turned[0] + 360.0)))
            nearest[index, count] = known[angles]
    arc = np.pi * (tip_mm + 2.0 * gap_mm) * nearest[rows.joint, rows.heads] / 360.0
    return Check(arc, rows.per_joint(lambda r: r.head.width_mm), "mm", -1)
