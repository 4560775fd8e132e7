"""Which tooth counts and bores a joint lets pass, as windows of whole numbers, by the table of limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.joints import JointRef
from ringset.catalogue.limits import (
    catalogue_keeps_size_limits,
    catalogue_size_interval,
    catalogue_toothings_made,
)
from ringset.catalogue.ring_sizes import NO_COUNTS, NO_LENGTHS, RingSizes
from ringset.catalogue.rows import catalogue_bore_mm
from ringset.physics.limit_rule import rounding_allowance
from ringset.schema.study import Study


def catalogue_usable_modules(study: Study, ref: JointRef, modules: Floats) -> Ints:
    """Return which of some modules (float64, mm) the head of a joint reads, as indices into them."""
    return np.flatnonzero(
        catalogue_keeps_size_limits(study, ref, "module", RingSizes(study.shop, modules, NO_COUNTS))
    )


def catalogue_teeth_range(study: Study, ref: JointRef) -> tuple[int, int]:
    """Return the fewest and the most teeth that the head of a joint reads."""
    fewest, most = catalogue_size_interval(
        study, ref, "teeth", RingSizes(study.shop, NO_LENGTHS, NO_COUNTS)
    )
    return int(fewest), int(most)


def catalogue_tooth_window(study: Study, ref: JointRef, modules: Floats) -> tuple[Ints, Ints]:
    """Return every toothing whose module, teeth, tips and roots suit the joint and the shop.

    `modules` are the shop's, in mm and ascending. Two int64 arrays come back, one entry per toothing, by
    module and then by teeth: an index into `modules`, and the number of teeth.
    """
    usable = catalogue_usable_modules(study, ref, modules)
    fewest, most = catalogue_teeth_range(study, ref)
    teeth = np.arange(fewest, most + 1, dtype=np.int64)
    module_grid = np.repeat(usable, len(teeth)).astype(np.int64)
    teeth_grid = np.tile(teeth, len(usable))
    rings = RingSizes(
        study.shop, modules[module_grid], teeth_grid, around=np.array(ref.least_around_mm)
    )
    kept = catalogue_keeps_size_limits(study, ref, "tip", rings)
    kept &= catalogue_keeps_size_limits(study, ref, "housing", rings)
    kept &= catalogue_toothings_made(study, ref, rings)
    return module_grid[kept], teeth_grid[kept]


def catalogue_tip_limits(study: Study, ref: JointRef) -> tuple[float, float]:
    """Return the least and the largest tip diameter in mm that a joint and its housing let pass.

    At the narrowest gap of its head; infinite where nothing is stated.
    """
    rings = RingSizes(study.shop, NO_LENGTHS, NO_COUNTS)
    least, most = catalogue_size_interval(study, ref, "tip", rings)
    _, widest = catalogue_size_interval(study, ref, "housing", rings)
    return float(least), min(float(most), float(widest) - ref.least_around_mm)


def catalogue_bore_limits(study: Study, ref: JointRef, rings: RingSizes) -> tuple[Floats, Floats]:
    """Return the smallest and the largest bore that joint and rim allow each toothing, float64 in mm.

    The bores of `rings` are not looked at. The smallest may exceed the largest: then no bore is left.
    """
    smallest, largest = catalogue_size_interval(study, ref, "bore", rings)
    thinnest, thickest = catalogue_size_interval(study, ref, "rim", rings)
    return (
        np.maximum(smallest, rings.root - 2.0 * thickest),
        np.minimum(largest, rings.root - 2.0 * thinnest),
    )


def catalogue_bore_window(study: Study, ref: JointRef, toothings: RingSizes) -> tuple[Ints, Ints]:
    """Return the first and the last bore that keep every limit on bore and rim, per toothing.

    Int64 in whole bore steps, one at least; no bore is left where the first exceeds the last.
    """
    smallest, largest = catalogue_bore_limits(study, ref, toothings)
    step = study.shop.bore_step_mm
    low = np.ceil((smallest - 4.0 * rounding_allowance(smallest)) / step).astype(np.int64)
    high = np.floor((largest + 4.0 * rounding_allowance(largest)) / step).astype(np.int64)
    low = np.maximum(low, 1)
    # the one rule of limits decides on those that lie beyond by no more than rounding
    for ends, beyond, inward in ((low, np.less, 1), (high, np.greater, -1)):
        if beyond(ends * step, smallest if inward > 0 else largest).any():
            rings = replace(toothings, bore=catalogue_bore_mm(ends, step))
            ends += inward * ~(
                catalogue_keeps_size_limits(study, ref, "bore", rings)
                & catalogue_keeps_size_limits(study, ref, "rim", rings)
            )
    return low, high
