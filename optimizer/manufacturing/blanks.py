"""From which stock of the study a ring is turned: bars, tubes and plates with the shop's allowances."""

from __future__ import annotations

from ringset.arrays import Mask
from ringset.physics.machining import (
    Allowances,
    Blank,
    blank_is_on_stock,
    blank_stock_sizes,
)
from ringset.physics.quantity import Quantity
from ringset.schema.shop import Shop


def shop_allowances(shop: Shop) -> Allowances:
    """Return what a blank of the shop needs beyond its ring, in mm."""
    return Allowances(shop.diameter_allowance_mm, shop.width_allowance_mm, shop.saw_cut_mm)


def shop_blanks(shop: Shop, tip_mm: float, bore_mm: float, face_width_mm: float) -> list[Blank]:
    """Return every blank that the stock of a shop has for a ring (sizes in mm), lightest first."""
    return blank_stock_sizes(
        tip_mm, bore_mm, face_width_mm, shop.ring_material.density_kg_per_m3,
        shop_allowances(shop), bars_mm=shop.bars_mm,
        tubes_mm=[(tube.outer_mm, tube.bore_mm) for tube in shop.tubes], plates_mm=shop.plates_mm,
    )  # fmt: skip


def shop_has_blanks(
    shop: Shop, tip_mm: Quantity, bore_mm: Quantity, face_width_mm: Quantity
) -> Mask:
    """Return for which rings (columns of sizes in mm) the stock of a shop has a blank."""
    return blank_is_on_stock(
        tip_mm, bore_mm, face_width_mm, shop_allowances(shop), bars_mm=shop.bars_mm,
        tubes_mm=[(tube.outer_mm, tube.bore_mm) for tube in shop.tubes], plates_mm=shop.plates_mm,
    )  # fmt: skip
