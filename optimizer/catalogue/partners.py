"""Second rings: what can stand beside a ring on the same joint, to tell the pitches of a turn apart.

A second ring is another ring of the joint: it keeps every limit of size that a ring of the joint keeps. It
sits on the same hub seat as the first, so it has the same bore; it has the same module and is cut by the same
cutter; and it shares no divisor with the first tooth count, be it more or fewer. The room of two rings side
by side is that of `axial_room_mm`, where it is stated.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ringset.arrays import Ints, Mask
from ringset.catalogue.joints import JointRef
from ringset.catalogue.limits import catalogue_sizes_kept
from ringset.catalogue.rows import NO_SECOND, Catalogue
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.standards import cutters


def catalogue_pair_count(module: Ints, bore_steps: Ints) -> int:
    """Return how many ordered pairs of rings of one module and bore there are, coprime or not."""
    key = module << 32 | bore_steps
    _, count = np.unique(key, return_counts=True)
    return int(np.sum(count.astype(np.int64) ** 2))


def catalogue_partners_tell_pitches(shop: Shop, teeth: Ints, other: Ints) -> Mask:
    """Return which two tooth counts of one module (int64) make a pair: coprime, and cut by one cutter."""
    kept = np.gcd(teeth, other) == 1
    if shop.cutting == "disc_special":
        return np.zeros_like(kept)  # each cuts one count
    if shop.cutting in cutters.DISC_SETS:
        ranges = (
            cutters.standard_disc_range_index(shop.cutting, counts) for counts in (teeth, other)
        )
        kept &= np.equal(*ranges)
    return np.asarray(kept)


def catalogue_coprime_partners(
    shop: Shop, module: Ints, teeth: Ints, bore_steps: Ints
) -> tuple[Ints, Ints]:
    """Return the pairs of some distinct rings of one joint: place of the first ring, teeth of the second.

    Rings are int64, one entry each; pairs come in the order of the first rings, then by teeth of the second.
    """
    order = np.lexsort((teeth, bore_steps, module))
    key = (module << 32 | bore_steps)[order]
    starts = np.flatnonzero(np.diff(key, prepend=np.int64(-1)))
    count = np.diff(starts, append=len(order))
    mine = np.repeat(count, count)
    place = np.repeat(np.arange(len(order)), mine)
    turn = np.arange(len(place)) - np.repeat(np.cumsum(mine) - mine, mine)
    first, other = order[place], order[np.repeat(starts, count)[place] + turn]
    kept = catalogue_partners_tell_pitches(shop, teeth[first], teeth[other])
    first, second = first[kept], teeth[other[kept]]
    sort = np.lexsort((second, first))
    return first[sort], second[sort]


def catalogue_joint_alone(ref: JointRef) -> JointRef:
    """Return a joint as one ring of a pair sees it: with one head, where the first head of all stands."""
    update = {"head_counts": [1], "head_angles_deg": {}, "second_ring": False}
    return replace(ref, joint=ref.joint.model_copy(update=update))


def catalogue_second_rows(rows: Catalogue) -> tuple[Catalogue, Ints]:
    """Return the second rings of rows as rows of their own, each once, and which is each row's (-1: none)."""
    has = np.flatnonzero(rows.partner_teeth() > 0)
    columns = (rows.joint, rows.module, rows.partner_teeth(), rows.bore_steps)
    joint, module, teeth, bore = (column[has] for column in columns)
    _, at, back = np.unique(
        # joint, module, teeth and bore in 15, 8, 14 and 23 bits, which hold all there can be
        joint << 45 | module << 37 | teeth << 23 | bore,
        return_index=True,
        return_inverse=True,
    )
    place = np.full(len(rows), -1, dtype=np.int64)
    place[has] = back
    refs = tuple(catalogue_joint_alone(ref) for ref in rows.joints)
    kept = (joint[at], module[at], teeth[at], bore[at], np.ones(len(at), dtype=np.int64))
    return Catalogue(refs, rows.modules_mm, rows.bore_step_mm, *kept, NO_SECOND), place


def catalogue_both_sizes_kept(study: Study, rows: Catalogue) -> Mask:
    """Return which rows keep every limit of size, their second rings too; heads are not looked at."""
    kept = catalogue_sizes_kept(study, rows)
    others, place = catalogue_second_rows(rows)
    if len(others):
        has = place >= 0
        kept[has] &= catalogue_sizes_kept(study, others)[place[has]]
    return kept
