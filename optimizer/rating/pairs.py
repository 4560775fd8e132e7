"""Rows with a second ring: both rings rated, what their errors may differ by, and whether both keep limits.

The pair tells the pitch within a turn while |e1 - e2| < pi / (z1 z2) (`physics/vernier.py`). A wrong pitch is
a wrong position, so the worst cases of both rings must fit in together: each sits off centre in its own way,
and an axis shift acts on both by their own radii. Each ring is read by one head here, both at one angle.

The second ring is made, mounted and read like any ring of the joint, so it keeps the limits on that
(`SECOND_KEEPS`). It only names the pitch: it keeps no limit on accuracy, and the counter counts on the first.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.partners import catalogue_joint_alone, catalogue_partners_tell_pitches
from ringset.catalogue.rows import NO_SECOND, Catalogue
from ringset.physics.quantity import ARCSEC_PER_RAD
from ringset.rating.error_budget import rated_error_budget
from ringset.rating.rated import Rated, RatedInFull
from ringset.rating.sizes import rated_sizes
from ringset.schema.shop import Shop
from ringset.schema.study import Study

#: Limits, those of size apart, that a second ring must keep as well.
SECOND_KEEPS = frozenset(
    {
        "head.gap_left_min_mm", "head.tooth_rate_max_hz", "head.width_mm", "head.sample_rate_hz",
        "shop.clamp_runout_share", "shop.screw_sizes", "slip_safety_min", "stress_safety_min",
        "burst_safety_min", "housing_max_mm",
    }
)  # fmt: skip


def rated_rows_ask_pairs(rows: Catalogue) -> bool:
    """Say whether some joint asks a second ring, or some row has one."""
    return rows.paired or any(ref.joint.second_ring for ref in rows.joints)


def rated_first_rings(rows: Catalogue, gap_mm: Floats) -> tuple[Catalogue, Floats, Ints]:
    """Return the rings of rows without their second ones, each once with its gap, and which is each row's."""
    gaps, gap = np.unique(gap_mm, return_inverse=True)
    # ring and heads in 49 bits; joint and gap in 15 each do not fit beside them
    ring = rows.module << 41 | rows.teeth << 27 | rows.bore_steps << 4 | rows.heads
    place = rows.joint * len(gaps) + np.asarray(gap).reshape(-1)
    _, ring = np.unique(ring, return_inverse=True)
    _, at, back = np.unique(
        place * (int(ring.max(initial=0)) + 1) + ring, return_index=True, return_inverse=True
    )
    return replace(rows.take(at), second_teeth=NO_SECOND), gap_mm[at], np.asarray(back)


def rated_alone_arcsec(study: Study, rows: Catalogue, gap_mm: Floats) -> Floats:
    """Return the worst-case error in arcsec of every row's ring with one head, float64."""
    single = replace(
        rows,
        joints=tuple(catalogue_joint_alone(ref) for ref in rows.joints),
        heads=np.ones(len(rows), dtype=np.int64),
        second_teeth=NO_SECOND,
    )
    budget = rated_error_budget(study, single, rated_sizes(study, single), gap_mm)
    return np.broadcast_to(np.asarray(budget.worst_case, dtype=np.float64), (len(rows),))


def rated_with_second(
    shop: Shop, rated: RatedInFull, first_worst: Floats, second: Rated, second_worst: Floats,
    place: Ints,
) -> RatedInFull:  # fmt: skip
    """Return rows with what their second rings add: blanks, the difference of errors, and its tolerance.

    `first_worst` is the worst case of every row's ring with one head, `second_worst` that of every second
    ring; `place` names the second ring of every row, -1 for none. A joint that asks one and has none
    tolerates nothing.
    """
    rows = rated.catalogue
    asks = np.array([ref.joint.second_ring for ref in rows.joints], dtype=np.bool_)[rows.joint]
    error, tolerance = np.where(asks, first_worst, 0.0), np.zeros(len(rows))
    blank = rated.blank_kg.copy()
    has = np.flatnonzero(place >= 0)
    teeth, other = rows.teeth[has], rows.partner_teeth()[has]
    sound = catalogue_partners_tell_pitches(shop, teeth, other)
    tolerance[has] = np.where(sound, np.pi / (teeth * other) * ARCSEC_PER_RAD, 0.0)
    error[has] = first_worst[has] + second_worst[place[has]]
    blank[has] += second.blank_kg[place[has]]
    return replace(rated, blank_kg=blank, pair_error_arcsec=error, pair_tolerance_arcsec=tolerance)


def rated_limits_kept_by_both(rated: RatedInFull, second: Rated, place: Ints) -> None:
    """Let rows keep a limit that second rings keep only where theirs do too."""
    has = place >= 0
    for field in SECOND_KEEPS & second.limits.keys() & rated.limits.keys():
        rated.limits[field][has] &= second.limits[field][place[has]]
