"""Faults between the fields of mounting and stock: what a stated limit needs, and what no table holds."""

from __future__ import annotations

import math
from collections.abc import Iterator

from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.standards import yield_strength
from ringset.standards.materials import Material

#: Path of the field, what was given, what is allowed.
Parts = tuple[str, str, str]


def mount_faults(study: Study) -> Iterator[Parts]:
    """Yield every fault of mounting fields that lies between fields or beyond the tables."""
    yield from _shop_faults(study.shop)
    for i, robot in enumerate(study.robots):
        for j, joint in enumerate(robot.joints):
            path = f"robots[{i}].joints[{j}]"
            yield from _needed(path, joint)
            yield from _yields(path, joint, study)


def _shop_faults(shop: Shop) -> Iterator[Parts]:
    for i, tube in enumerate(shop.tubes):
        if tube.bore_mm >= tube.outer_mm:
            allowed = f"less than outer_mm = {tube.outer_mm:g}"
            yield f"shop.tubes[{i}].bore_mm", f"{tube.bore_mm:g}", allowed
    known = [one for one in yield_strength.standard_treatments(shop.ring_material) if one]
    if shop.material_treatment is not None and shop.material_treatment not in known:
        allowed = f"a treatment with data for {shop.material}: {', '.join(known) or 'none has any'}"
        yield "shop.material_treatment", shop.material_treatment, allowed
    if shop.deeper_cut_below_mm is not None and shop.rack != "full":
        yield "shop.deeper_cut_below_mm", f"a limit with rack {shop.rack}", "rack full"


def _needed(path: str, joint: Joint) -> Iterator[Parts]:
    """Yield fields that a stated limit of a joint cannot do without."""
    if joint.hub_bore_mm is not None and joint.hub_bore_mm >= joint.bore_min_mm:
        allowed = f"less than bore_min_mm = {joint.bore_min_mm:g}"
        yield f"{path}.hub_bore_mm", f"{joint.hub_bore_mm:g}", allowed
    slips, strained = joint.slip_safety_min is not None, joint.stress_safety_min is not None
    by_seat = joint.fastening == "fit"
    pressed = joint.seat_fit is not None
    hub_counts = (slips and by_seat) or (strained and pressed)
    for asks, field, limit, allowed in (
        (slips, "acceleration_max_rad_s2", "slip_safety_min", "a value"),
        (slips and by_seat, "seat_fit", "slip_safety_min", "a fit, or fastening screws"),
        (
            hub_counts,
            "hub_bore_mm",
            "slip_safety_min" if slips and by_seat else "stress_safety_min",
            "a value, 0 for a solid hub",
        ),
    ):
        if asks and getattr(joint, field) is None:
            yield f"{path}.{field}", "nothing", f"{allowed} ({limit} needs it)"


def _yields(path: str, joint: Joint, study: Study) -> Iterator[Parts]:
    """Yield materials whose yield is not known for the sizes that a strength limit needs."""
    shop = study.shop
    if joint.stress_safety_min is None and joint.burst_safety_min is None:
        return
    if joint.head is not None and joint.head not in study.heads:
        return  # a fault already
    treatment, steel = shop.material_treatment, shop.ring_material
    tips = study.largest_tip_mm(joint)
    blank = tips + shop.diameter_allowance_mm
    if treatment is not None and treatment not in yield_strength.standard_treatments(steel):
        pass  # a fault already
    elif steel.bars is not None:
        yield from _gaps(path, steel, treatment, joint.bore_min_mm, blank)
    else:
        largest = yield_strength.standard_largest_yield_size_mm(steel, treatment)
        if largest < blank < math.inf:
            named = shop.material if treatment is None else f"{shop.material} {treatment}"
            field = "tip_max_mm" if tips == joint.tip_max_mm else "housing_max_mm"
            stated = float(getattr(joint, field))
            most = stated - (blank - largest)  # what is around the tips stays
            allowed = (
                f"at most {most:g} with a strength limit: the yield of "
                f"shop.material {named} is known for bars up to {largest:g} mm"
            )
            yield f"{path}.{field}", f"{stated:g}", allowed
    if joint.stress_safety_min is not None and joint.seat_fit is not None:
        yield from _hub_yields(path, joint, shop)


def _hub_yields(path: str, joint: Joint, shop: Shop) -> Iterator[Parts]:
    hub = shop.material_of(joint.hub_material or shop.material)
    if hub.bars is not None:
        yield from _gaps(path, hub, None, joint.bore_min_mm, joint.bore_max_mm)
        return
    largest = yield_strength.standard_largest_yield_size_mm(hub)
    if joint.bore_max_mm > largest:
        allowed = (
            f"a material with a known yield at {joint.bore_max_mm:g} mm; {hub.key}: {largest:g}"
        )
        yield f"{path}.hub_material", hub.key, allowed


def _gaps(
    path: str, steel: Material, treatment: str | None, low_mm: float, high_mm: float
) -> Iterator[Parts]:
    """Yield from which size on a material of the user's own has no yield, within `low_mm` to `high_mm`."""
    if steel.bars is None:
        return
    known = low_mm  # the yield is known from low_mm up to here; a range does not hold its lower end
    for row in sorted(steel.bars, key=lambda row: row.over_mm):
        begins = row.over_mm < low_mm if known == low_mm else row.over_mm <= known
        if treatment in (None, row.treatment) and begins:
            known = max(known, row.upto_mm)
    if known < high_mm:
        named = steel.key if treatment is None else f"{steel.key} {treatment}"
        given = f"no yield of {named} for bars of {known:g} mm and more"
        allowed = (
            f"yields for bars from {low_mm:g} to {high_mm:g} mm (a limit of {path} needs them)"
        )
        yield f"shop.materials.{steel.key}.yields", given, allowed
