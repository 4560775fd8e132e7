"""What stands already among rated rows: the ring parts in production, and the cutters that the shop owns."""

from __future__ import annotations

import numpy as np

from ringset.arrays import Floats, Ints, Mask
from ringset.catalogue.bore_zones import catalogue_bore_limits_um
from ringset.catalogue.rows import Catalogue
from ringset.rating.rated import Weighed
from ringset.schema.standing import SAME_MM
from ringset.schema.study import Study
from ringset.standards.iso286 import LARGEST_SIZE_MM, iso286_deviations_um


def rated_parts_standing(study: Study, rows: Catalogue, teeth: Ints) -> Ints:
    """Return by row the place of its ring, with `teeth`, in `shop.parts_in_production`; -1 for a new one.

    `teeth` (int64, one a row) are those of the rows' rings, or of their second ones.
    """
    found = np.full(len(rows), -1, dtype=np.int64)
    parts = study.shop.parts_in_production
    if not parts or len(rows) == 0:
        return found
    module, bore = rows.module_mm(), rows.bore_mm()
    width = rows.per_joint(lambda ref: ref.joint.face_width_mm)
    lower, upper = catalogue_bore_limits_um(rows)
    order = np.argsort(teeth, kind="stable")
    counts = np.array([part.teeth for part in parts])
    starts, ends = (np.searchsorted(teeth[order], counts, side) for side in ("left", "right"))
    for place, (part, start, end) in enumerate(zip(parts, starts, ends, strict=True)):
        some = order[start:end]  # a part is held against the rows of its tooth count alone
        sizes = (module, part.module_mm), (bore, part.bore_mm), (width, part.face_width_mm)
        limits = []
        if len(some) and part.bore_mm <= LARGEST_SIZE_MM:  # all rows beyond ask one zone
            zone = iso286_deviations_um(part.bore_mm, part.bore_zone)
            limits = [(lower, zone[0]), (upper, zone[1])]
        for values, wanted in (*sizes, *limits):
            some = some[np.abs(values[some] - wanted) <= SAME_MM]
        found[some] = place
    return found


def rated_counted_parts(study: Study, rated: Weighed, ring: Ints, second: Ints | None) -> Mask:
    """Return by the number of a ring part whether it is new, as `rated_part_keys` numbers them.

    `ring` and `second` (-1: none) are those numbers, one a row.
    """
    rows = rated.catalogue
    every = ring if second is None else np.concatenate([ring, second])
    new = np.ones(int(every.max(initial=-1)) + 1, dtype=np.bool_)
    new[ring[rated_parts_standing(study, rows, rows.teeth) >= 0]] = False
    if second is not None:
        stands = (second >= 0) & (rated_parts_standing(study, rows, rows.second_teeth) >= 0)
        new[second[stands]] = False
    return new


def rated_kept_parts(study: Study, rated: Weighed) -> Floats:
    """Return by row 1 where its ring is the part that its joint keeps, else 0 (float64)."""
    rows = rated.catalogue
    places = {part.name: place for place, part in enumerate(study.shop.parts_in_production)}
    kept = [places.get(ref.joint.keeps_part or "", -2) for ref in rows.joints]
    standing = rated_parts_standing(study, rows, rows.teeth)
    same = standing == np.array(kept, dtype=np.int64)[rows.joint]
    return np.where(same, 1.0, 0.0)


def rated_cutters_owned(study: Study, rated: Weighed) -> Mask:
    """Return by row whether the shop owns its cutter; False where it needs none."""
    shop, rows = study.shop, rated.catalogue
    if not shop.owned_cutters:
        return np.zeros(len(rows), dtype=np.bool_)
    numbers, first, place = np.unique(rated.cutter, return_index=True, return_inverse=True)
    modules, teeth = rows.module_mm()[first].tolist(), rows.teeth[first].tolist()
    owned = [
        number >= 0 and shop.owns_cutter(module, count)
        for number, module, count in zip(numbers.tolist(), modules, teeth, strict=True)
    ]
    return np.array(owned, dtype=np.bool_)[place]
