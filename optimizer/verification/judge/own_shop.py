"""What the shop states of pitches, tooth counts and wires, by formulas of the judge's own."""

from __future__ import annotations

from collections.abc import Iterator

from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.standards.pitches import standard_pitch_module_mm
from ringset.verification.judge.mounting import judged_rack

#: Words, value, limit, what it allows, unit, and 1 for an upper or -1 for a lower limit.
Given = tuple[str, float, str, float | None, str, int]


def judged_pitch_name(study: Study, module_mm: float) -> str | None:
    """Return the text among the shop's modules that names this one by its pitch, None where none does."""
    if isinstance(study.shop.modules, str):
        return None  # the name of a series
    for one in study.shop.modules:
        if isinstance(one, str) and standard_pitch_module_mm(one) == module_mm:
            return one
    return None


def judged_tooth_count(shop: Shop, teeth: int) -> Iterator[str]:
    """Yield the limits on tooth counts that have no margin and that a count breaks."""
    if shop.teeth_allowed is not None and teeth not in shop.teeth_allowed:
        yield f"{teeth} teeth: not in shop.teeth_allowed {shop.teeth_allowed}"
    if shop.teeth_multiple_of is not None and teeth % shop.teeth_multiple_of != 0:
        yield f"{teeth} teeth: no multiple of shop.teeth_multiple_of {shop.teeth_multiple_of}"


def judged_making_bounds(shop: Shop, module_mm: float, teeth: int) -> list[Given]:
    """Return the limits on toothings that have a margin: prime factors of the count, roots for the wire."""
    wire = None
    if shop.cutting == "wire" and shop.wire_diameter_mm is not None:
        wire = 0.5 * shop.wire_diameter_mm + shop.spark_gap_mm
    radius, factor = _root_radius_mm(shop, module_mm, teeth), float(_largest_factor(teeth))
    return [
        (
            "largest prime factor of the teeth", factor, "shop.teeth_largest_prime",
            shop.teeth_largest_prime, "largest factor", 1,
        ),
        ("radius of the roots", radius, "shop.wire_diameter_mm", wire, "mm", -1),
    ]  # fmt: skip


def _largest_factor(number: int) -> int:
    """Return the largest prime factor by trial division, 1 of 1."""
    largest, trial = 1, 2
    while number > 1:
        if number % trial:
            trial += 1
        else:
            largest, number = trial, number // trial
    return largest


def _root_radius_mm(shop: Shop, module_mm: float, teeth: int) -> float:
    """Return the least radius of the root fillets: the corner's, and that of the path of its centre.

    The centre of the corner is `arm` from the point about which the rack turns at the deepest point of the
    fillet, so that it moves by `arm` a radian, and is pulled outwards by `arm` and the pitch radius: v^2 / a.
    """
    rack = judged_rack(shop, module_mm)
    corner = module_mm * rack.root_fillet
    arm = module_mm * (rack.dedendum - shop.profile_shift) - corner
    return corner + arm * arm / (arm + 0.5 * module_mm * teeth)
