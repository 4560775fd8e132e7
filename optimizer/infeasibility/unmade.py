"""Why the shop makes none of the toothings that fit a joint: its wire, or the counts that it cuts."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from operator import and_

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.joints import JointRef
from ringset.catalogue.limits import (
    catalogue_bore_steps,
    catalogue_roots_kept,
    catalogue_teeth_cut,
    catalogue_tooth_counts_kept,
)
from ringset.catalogue.ring_sizes import RingSizes
from ringset.catalogue.windows import catalogue_bore_window, catalogue_tooth_window
from ringset.physics.root_fillet import finest_wire_radius_mm
from ringset.schema.shop import Shop
from ringset.schema.study import Study

#: What bounds the toothings that a shop makes, by field, with what no count then is.
COUNTS = {
    "teeth_allowed": "is among them",
    "teeth_multiple_of": "is a multiple of it",
    "teeth_largest_prime": "has no larger prime factor",
}


#: Why a joint that asks a second ring has none, though rings fit it.
NO_PAIR = (
    "rings fit, but no two of one module and bore with coprime tooth counts that one cutter cuts"
)


@dataclass(frozen=True)
class NoFit:
    """The limit by which no ring fits a joint at all: its field, what stands there, what can be reached."""

    field: str
    given: str
    reached: str

    @property
    def text(self) -> str:
        """The whole as a reason."""
        return f"{self.field}{' ' * bool(self.given)}{self.given}: {self.reached}"


def infeasible_fits_alone(study: Study, ref: JointRef, modules: Floats) -> bool:
    """Say whether some ring fits a joint that asks a second one, if only by itself."""
    if not ref.joint.second_ring:
        return False
    module, teeth = catalogue_tooth_window(study, ref, modules)
    if not len(module):
        return False
    low, high = catalogue_bore_window(study, ref, RingSizes(study.shop, modules[module], teeth))
    listed = catalogue_bore_steps(study, ref)
    if listed is None:
        return bool((low <= high).any())
    inside = (low[:, np.newaxis] <= listed) & (listed <= high[:, np.newaxis])
    return bool(inside.any())


def infeasible_no_toothing_made(study: Study, ref: JointRef, modules: Floats) -> NoFit | None:
    """Return by which limit of the shop no toothing is left of those that fit a joint by all other sizes.

    Those are the toothings with a bore for the joint or, where there is none, those whose module and tips
    suit it. None where the shop is not in the way. Of limits that leave none only together, the first is told
    with the others.
    """
    shop = study.shop
    freed = dict.fromkeys(("wire_diameter_mm", *COUNTS))
    free = study.model_copy(update={"shop": shop.model_copy(update=freed)})
    module, teeth = catalogue_tooth_window(free, ref, modules)
    low, high = catalogue_bore_window(free, ref, RingSizes(shop, modules[module], teeth))
    if (low <= high).any():
        module, teeth = module[low <= high], teeth[low <= high]
    if len(module) == 0:
        return None
    rings = RingSizes(shop, modules[module], teeth)
    kept = catalogue_roots_kept(study, ref, rings)
    if not kept.any():
        return _too_sharp(shop, rings)
    counts = np.unique(teeth[kept])
    masks = catalogue_tooth_counts_kept(shop, counts)
    alone = [field for field, mask in masks.items() if not mask.any()]
    if alone:
        return _not_cut(shop, alone[0], [], counts)
    if masks and not reduce(and_, masks.values()).any():
        first, *others = masks
        return _not_cut(shop, first, others, counts)
    return None


def _too_sharp(shop: Shop, rings: RingSizes) -> NoFit:
    """Tell that every root that fits is sharper than the wire leaves it, and which module would do."""
    wire = shop.wire_diameter_mm or 0.0
    least = float(finest_wire_radius_mm(wire, shop.spark_gap_mm))
    best = int(np.argmax(rings.root_radius))
    radius, module = float(rings.root_radius[best]), float(rings.module[best])
    return NoFit(
        "shop.wire_diameter_mm",
        f"{wire:g}",
        f"it leaves no root sharper than {least:.4g} mm (its half and shop.spark_gap_mm "
        f"{shop.spark_gap_mm:g}), and the roundest that fits has {radius:.4g} mm (module {module:g}, "
        f"{rings.teeth[best]} teeth); the module must be at least {module * least / radius:.4g} mm",
    )


def _not_cut(shop: Shop, field: str, others: list[str], counts: Ints) -> NoFit:
    """Tell that no count that fits is cut, and which is the nearest that is."""
    name = field.partition(".")[2]
    stated = getattr(shop, name)
    given = ", ".join(map(str, stated)) if isinstance(stated, list) else f"{stated}"
    fewest, most = int(counts[0]), int(counts[-1])
    around = np.arange(1, 2 * most + 1, dtype=np.int64)
    cut = around[catalogue_teeth_cut(shop, around)].tolist()
    near = min(cut, key=lambda count: int(np.abs(counts - count).min()), default=None)
    beside = f" and keeps {' and '.join(others)}" if others else ""
    nearest = "" if near is None else f"; the nearest count that is cut is {near}"
    return NoFit(
        field,
        given,
        f"{fewest} to {most} teeth would fit, of which none {COUNTS[name]}{beside}{nearest}",
    )
