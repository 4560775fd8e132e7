"""Which tooth counts and bores a joint lets pass, as windows of whole numbers."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints
from ringset.catalogue.joints import JointRef, least_rim_mm
from ringset.physics import geometry
from ringset.physics.limit_rule import at_least, at_most, rounding_allowance
from ringset.schema.equipment import Shop
from ringset.standards.racks import RACKS


def tooth_window(ref: JointRef, shop: Shop, modules: Floats) -> tuple[Ints, Ints]:
    """Return (module index, teeth) of every toothing whose module, teeth and tips suit the joint."""
    head, joint, rack = ref.head, ref.joint, RACKS[shop.rack]
    usable = np.flatnonzero(
        at_least(modules, head.module_min_mm) & at_most(modules, head.module_max_mm)
    )
    teeth = np.arange(head.teeth_min, head.teeth_max + 1, dtype=np.int64)
    module_grid = np.repeat(usable, len(teeth)).astype(np.int64)
    teeth_grid = np.tile(teeth, len(usable))
    tips = geometry.tip_diameter_mm(
        modules[module_grid], teeth_grid, rack.addendum, shop.profile_shift
    )
    fits = at_most(tips, joint.tip_max_mm)
    if joint.tip_min_mm is not None:
        fits &= at_least(tips, joint.tip_min_mm)
    return module_grid[fits], teeth_grid[fits]


def bore_limits(ref: JointRef, shop: Shop, module_mm: Floats, teeth: Ints) -> tuple[Floats, Floats]:
    """Return the smallest and largest bore in mm that joint and rim allow, per toothing."""
    root = _root_mm(shop, module_mm, teeth)
    largest = np.minimum(ref.joint.bore_max_mm, root - 2.0 * least_rim_mm(shop, module_mm))
    smallest = np.full(len(teeth), ref.joint.bore_min_mm)
    if shop.rim_max_mm is not None:
        smallest = np.maximum(smallest, root - 2.0 * shop.rim_max_mm)
    return smallest, largest


def bore_window(ref: JointRef, shop: Shop, module_mm: Floats, teeth: Ints) -> tuple[Ints, Ints]:
    """Return first and last bore step per toothing; the end ones may still miss by rounding."""
    smallest, largest = bore_limits(ref, shop, module_mm, teeth)
    step = shop.bore_step_mm
    low = np.ceil((smallest - 4.0 * rounding_allowance(smallest)) / step).astype(np.int64)
    high = np.floor((largest + 4.0 * rounding_allowance(largest)) / step).astype(np.int64)
    return np.maximum(low, 1), high


def bore_fits(
    ref: JointRef, shop: Shop, module_mm: Floats, teeth: Ints, bore_steps: Ints
) -> NDArray[np.bool_]:
    """Return which bores keep every limit, by the one rule of `physics.limits`."""
    bore = np.round(bore_steps * shop.bore_step_mm, 9)
    rim = np.asarray(geometry.rim_thickness_mm(_root_mm(shop, module_mm, teeth), bore))
    fits = at_least(bore, ref.joint.bore_min_mm) & at_most(bore, ref.joint.bore_max_mm)
    fits &= at_least(rim, least_rim_mm(shop, module_mm))
    if shop.rim_max_mm is not None:
        fits &= at_most(rim, shop.rim_max_mm)
    return fits


def _root_mm(shop: Shop, module_mm: Floats, teeth: Ints) -> Floats:
    dedendum = RACKS[shop.rack].dedendum
    return np.asarray(
        geometry.root_diameter_mm(module_mm, teeth, dedendum, shop.profile_shift), dtype=np.float64
    )
