"""The condition in which the steel of a ring is ordered: the one whose yield the strength limits took.

A shop that states `material_treatment` orders that. Where it states none, the weakest treatment with data for
the size of the blank counts (`standards/yield_strength.py`). Where a limit on stress or bursting rests on
that yield, steel as it comes may be weaker, so the treatment is part of the order.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.standards.materials import YieldRow, standard_material_in_full
from ringset.standards.yield_strength import standard_weakest_yield_row


def shop_counted_yield(shop: Shop, joints: Iterable[Joint], tip_mm: float) -> YieldRow | None:
    """Return the yield that strength limits of these joints took of a ring with such tips (mm).

    None where none of them states `stress_safety_min` or `burst_safety_min`, and where the shop states the
    treatment itself.
    """
    strained = any(
        joint.stress_safety_min is not None or joint.burst_safety_min is not None
        for joint in joints
    )
    if not strained or shop.material_treatment is not None:
        return None
    return standard_weakest_yield_row(shop.ring_material, tip_mm + shop.diameter_allowance_mm)


def shop_ordered_material(shop: Shop, joints: Iterable[Joint], tip_mm: float) -> str:
    """Return the material of a ring part as it is ordered, with the treatment stated or counted."""
    counted = shop_counted_yield(shop, joints, tip_mm)
    if counted is None or not counted.treatment:
        return shop.ordered_material
    return standard_material_in_full(shop.ring_material.title, counted.treatment)


def shop_condition_notes(shop: Shop, joints: Iterable[Joint], tip_mm: float) -> Iterator[str]:
    """Yield in which condition a ring part is ordered, with the yield that its strength limits count."""
    counted = shop_counted_yield(shop, joints, tip_mm)
    if counted is not None:
        yield (
            f"order the steel {counted.treatment or 'as delivered'}: limits on strength count its yield of "
            f"{counted.yield_mpa:g} MPa"
        )
