"""The rack whose teeth the shop's cutters truly leave: every size that hangs on the tooth depth asks here."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ringset.physics import geometry
from ringset.schema.shop import Shop
from ringset.standards.racks import RACKS, Rack, standard_deeper_rack


def study_cuts_deeper(shop: Shop, module_mm: float) -> bool:
    """Say whether cutters of a module are deeper than the shop's rack."""
    return shop.deeper_cut_below_mm is not None and module_mm < shop.deeper_cut_below_mm


def study_rack(shop: Shop, module_mm: float) -> Rack:
    """Return the rack of a module: the shop's own, or the deeper one of its fine modules."""
    if study_cuts_deeper(shop, module_mm):
        return standard_deeper_rack(shop.deeper_cut_depth_modules)
    return RACKS[shop.rack]


def study_racks(shop: Shop) -> list[Rack]:
    """Return every rack that some module on offer is cut by, the shop's own first."""
    racks = [RACKS[shop.rack]]
    if any(study_cuts_deeper(shop, module) for module in shop.modules_mm()):
        racks.append(standard_deeper_rack(shop.deeper_cut_depth_modules))
    return racks


def study_least_teeth(shop: Shop) -> float:
    """Return the least tooth count (a real number) that no cutter of the shop undercuts."""
    return max(
        geometry.least_teeth_without_undercut(
            rack.dedendum, rack.root_fillet, shop.profile_shift, rack.pressure_angle_deg
        )
        for rack in study_racks(shop)
    )


def study_dedendum(shop: Shop, module_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the dedendum factor h_f* of every module of an array of any shape."""
    return _of_rack(shop, module_mm, lambda rack: rack.dedendum)


def study_fillet(shop: Shop, module_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the corner radius factor rho_f* of every module of an array of any shape."""
    return _of_rack(shop, module_mm, lambda rack: rack.root_fillet)


def _of_rack(
    shop: Shop, module_mm: NDArray[np.float64], size: Callable[[Rack], float]
) -> NDArray[np.float64]:
    own = np.full(np.shape(module_mm), size(RACKS[shop.rack]))
    if shop.deeper_cut_below_mm is None:
        return own
    deep = size(standard_deeper_rack(shop.deeper_cut_depth_modules))
    return np.where(np.asarray(module_mm) < shop.deeper_cut_below_mm, deep, own)
