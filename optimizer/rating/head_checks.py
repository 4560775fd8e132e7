"""What the head's electronics and size ask of rows: room, sampling, lag, counting without power.

Values of the table of limits (`limits.py`): one float64 per row of a rated catalogue.
"""

from __future__ import annotations

import numpy as np

from ringset.arrays import Floats
from ringset.catalogue.joints import catalogue_head_angles_deg
from ringset.physics import battery_backup, latency, resolution
from ringset.rating.rated import Rated
from ringset.schema.equipment import HEADS_MOST
from ringset.schema.study import Study


def rated_head_arc_mm(study: Study, rated: Rated) -> Floats:
    """Return the arc in mm between the two nearest heads on the circle over the gap; one head has all of it.

    Held against a head's width it says, where heads are equally spaced, that all fit round the circle. The
    arc is shorter than what straight heads on their tangents have: the safe side.
    """
    rows = rated.catalogue
    nearest = np.full((len(rows.joints), HEADS_MOST + 1), 360.0)
    known: dict[tuple[float, ...], float] = {}
    for index, ref in enumerate(rows.joints):
        for count in ref.joint.head_counts:
            angles = catalogue_head_angles_deg(ref.joint, count)
            if angles not in known:
                turned = np.sort(np.mod(angles, 360.0))
                known[angles] = float(np.min(np.diff(turned, append=turned[0] + 360.0)))
            nearest[index, count] = known[angles]
    arc = np.pi * (rated.tip_mm + 2.0 * rated.gap_mm) * nearest[rows.joint, rows.heads] / 360.0
    return np.asarray(arc)


def rated_sampling_hz(study: Study, rated: Rated) -> Floats:
    """Return the sample rate in Hz at which every row's teeth are still told apart at full speed."""
    rows = rated.catalogue
    samples = rows.per_joint(lambda r: r.head.samples_per_tooth_min)
    return np.asarray(latency.least_sampling_hz(_tooth_rate_hz(rated), samples))


def rated_lag_arcsec(study: Study, rated: Rated) -> Floats:
    """Return by how many arcsec every reading lags at full speed; 0 where no bandwidth is stated."""
    rows = rated.catalogue
    corners = rows.per_joint(lambda r: r.head.bandwidth_hz or np.inf)
    return np.asarray(latency.low_pass_lag_arcsec(rows.teeth, _speed_rpm(rated), corners))


def rated_unpowered_rpm(study: Study, rated: Rated) -> Floats:
    """Return the speed in rpm up to which the back-up counter misses no tooth of a row."""
    rows = rated.catalogue
    looks = rows.per_joint(lambda r: r.head.backup_polling_ms or np.inf)
    return np.asarray(battery_backup.fastest_unpowered_rpm(looks, rows.teeth))


def rated_counter_bits(study: Study, rated: Rated) -> Floats:
    """Return the bits (whole numbers) that count every row's teeth over all turns of its joint."""
    rows = rated.catalogue
    turns = rows.per_joint(lambda r: r.joint.turns_range)
    return np.asarray(battery_backup.counter_bits(rows.teeth, turns), dtype=np.float64)


def _speed_rpm(rated: Rated) -> Floats:
    return rated.catalogue.per_joint(lambda r: r.joint.speed_max_rpm)


def _tooth_rate_hz(rated: Rated) -> Floats:
    return np.asarray(resolution.tooth_rate_hz(rated.catalogue.teeth, _speed_rpm(rated)))
