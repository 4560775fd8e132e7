"""Faults of what a shop says that it can make: modules named twice, counts that clash, wires without room."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator

import numpy as np

from ringset.errors import Fault, shown_in_error
from ringset.physics.tooth_factors import largest_prime_factor_of_teeth
from ringset.schema.pitches import module_field_mm
from ringset.schema.shop import Shop
from ringset.schema.true_rack import study_rack


def making_faults(shop: Shop) -> Iterator[Fault]:
    """Yield every fault between the fields that say which toothings a shop makes."""
    yield from _module_faults(shop)
    yield from _count_faults(shop)
    yield from _wire_faults(shop)


def _module_faults(shop: Shop) -> Iterator[Fault]:
    """Yield modules that are listed twice, whatever they are named by."""
    if isinstance(shop.modules, str):
        return
    named: dict[float, float | str] = {}
    for one, times in Counter(shop.modules).items():
        if times > 1:
            given = f"{times} times {shown_in_error(one)}"
            yield Fault("shop.modules", given, "each value once")
        other = named.setdefault(round(module_field_mm(one), 6), one)
        if other != one:
            given = f"{shown_in_error(other)} and {shown_in_error(one)}, which are one module"
            yield Fault("shop.modules", given, "each module once")


def _count_faults(shop: Shop) -> Iterator[Fault]:
    """Yield counts that are listed twice, and limits on counts that no count keeps together."""
    listed, multiple, prime = shop.teeth_allowed, shop.teeth_multiple_of, shop.teeth_largest_prime
    for count, times in Counter(listed or []).items():
        if times > 1:
            yield Fault("shop.teeth_allowed", f"{times} times {count}", "each value once")
    if multiple is not None and prime is not None:
        factor = int(largest_prime_factor_of_teeth(np.array([multiple]))[0])
        if factor > prime:
            allowed = f"a number without prime factors above shop.teeth_largest_prime = {prime}"
            yield Fault("shop.teeth_multiple_of", f"{multiple}, which has {factor}", allowed)
            return
    if listed is None:
        return
    multiples = np.array([count % (multiple or 1) == 0 for count in listed])
    smooth = largest_prime_factor_of_teeth(np.array(listed)) <= (prime or math.inf)
    of, factors = f"shop.teeth_multiple_of = {multiple}", f"shop.teeth_largest_prime = {prime}"
    for kept, wanted in (
        (multiples, f"a multiple of {of}"),
        (smooth, f"a count without prime factors above {factors}"),
        (multiples & smooth, f"a multiple of {of} without prime factors above {factors}"),
    ):
        if not kept.any():
            yield Fault("shop.teeth_allowed", shown_in_error(listed), f"{wanted} among them")
            return


def _wire_faults(shop: Shop) -> Iterator[Fault]:
    """Yield a wire beside another way of cutting, and one that no gap between teeth takes in."""
    wire = shop.wire_diameter_mm
    if wire is None:
        return
    if shop.cutting != "wire":
        given = f"{wire:g} with cutting {shop.cutting}"
        yield Fault("shop.wire_diameter_mm", given, "none, or shop.cutting wire")
        return
    coarsest = max(shop.modules_mm())
    angle = math.radians(study_rack(shop, coarsest).pressure_angle_deg)
    # a gap between teeth on the pitch circle, along its arc
    gap = coarsest * (math.pi / 2.0 - 2.0 * shop.profile_shift * math.tan(angle))
    if wire + 2.0 * shop.spark_gap_mm >= gap:
        room = max(0.0, gap - 2.0 * shop.spark_gap_mm)
        allowed = (
            f"less than {room:.4g}, what shop.spark_gap_mm = {shop.spark_gap_mm:g} leaves of a gap between "
            f"teeth of module {coarsest:g}, the coarsest on offer"
        )
        yield Fault("shop.wire_diameter_mm", f"{wire:g}", allowed)
