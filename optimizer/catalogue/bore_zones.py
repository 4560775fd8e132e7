"""The tolerance zone of a bore, which is part of what makes a ring part: a bore is turned to one zone.

The zone is the hole half of a joint's fit. A joint without fit asks `ASSUMED_BORE_ZONE`, so that its bore
never comes out below nominal, and its rings can be the parts of joints that state this zone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.rows import Catalogue, catalogue_bore_mm
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.standards import iso286, iso2768
from ringset.standards.iso286 import iso286_deviations_um, iso286_parse_fit

#: Hole zone of a bore for which no joint states a fit. Assumed.
ASSUMED_BORE_ZONE = "H7"


@dataclass(frozen=True)
class BoreZone:
    """A zone at one bore: its name, and its limits as deviations from the bore in um, signed."""

    name: str
    lower_um: float
    upper_um: float


def catalogue_hole_zone(joint: Joint) -> str:
    """Return the letter and grade that a joint asks of its ring's bore, such as "H7"."""
    return ASSUMED_BORE_ZONE if joint.seat_fit is None else iso286_parse_fit(joint.seat_fit)[0]


def catalogue_bore_zone(shop: Shop, joint: Joint, bore: float) -> BoreZone:
    """Return the zone to which a bore of `bore` mm is made for a joint."""
    return catalogue_zone_at(shop, catalogue_hole_zone(joint), bore)


def catalogue_zone_at(shop: Shop, name: str, bore: float) -> BoreZone:
    """Return the zone of a name such as "H7" at a bore of `bore` mm.

    Above 500 mm, where ISO 286 as held here ends and no joint states a fit, it is as wide as the shop's
    general tolerance (ISO 2768-1), all above nominal. Assumed.
    """
    if bore <= iso286.LARGEST_SIZE_MM:
        return BoreZone(name, *(float(limit) for limit in iso286_deviations_um(bore, name)))
    width_um = 2e3 * iso2768.iso2768_linear_mm(bore, shop.general_tolerance)
    return BoreZone(f"ISO 2768-1 {shop.general_tolerance}, above nominal", 0.0, round(width_um, 6))


def catalogue_bore_limits_um(rows: Catalogue) -> tuple[Floats, Floats]:
    """Return the lower and upper deviation of every row's bore, float64 in um.

    They tell zones of one bore apart. Bores above 500 mm have those of 500 mm: no fit is stated there, so
    that they all ask one zone.
    """
    names = [catalogue_hole_zone(ref.joint) for ref in rows.joints]
    first, last = (int(f(rows.bore_steps)) if len(rows) else 1 for f in (np.min, np.max))
    bores = catalogue_bore_mm(np.arange(first, last + 1), rows.bore_step_mm)
    held = np.minimum(bores, iso286.LARGEST_SIZE_MM)
    known = {name: np.array(iso286_deviations_um(held, name)) for name in set(names)}
    limits = np.array([known[name] for name in names])  # joint, lower or upper, bore
    place = rows.bore_steps - first
    return limits[rows.joint, 0, place], limits[rows.joint, 1, place]


def catalogue_bore_zone_keys(rows: Catalogue) -> Ints:
    """Return a whole number per row, int64, that is equal for rows of one zone at one bore."""
    if len({catalogue_hole_zone(ref.joint) for ref in rows.joints}) < 2:
        return np.zeros(len(rows), dtype=np.int64)
    _, key = np.unique(np.stack(catalogue_bore_limits_um(rows)), axis=1, return_inverse=True)
    return np.asarray(key, dtype=np.int64).reshape(-1)
