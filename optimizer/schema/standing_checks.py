"""Faults of what stands already: cutters that the shop's way of cutting does not know, one thing twice."""

from __future__ import annotations

from collections.abc import Hashable, Iterator

from ringset.errors import Fault, shown_in_error
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.standards import cutters
from ringset.standards.iso286 import iso286_deviations_um


def standing_faults(shop: Shop) -> Iterator[Fault]:
    """Yield every fault of the cutters owned and of the ring parts in production."""
    known: dict[Hashable, str] = {}
    for index, owned in enumerate(shop.owned_cutters):
        path = f"shop.owned_cutters[{index}]"
        fault = _cutter_fault(shop, path, owned.teeth)
        if fault is not None:
            yield fault
        else:
            yield from _once(known, shop.cutter_key(owned.module_mm, owned.teeth or 0), path)
    names: dict[Hashable, str] = {}
    sizes: dict[Hashable, str] = {}
    for index, part in enumerate(shop.parts_in_production):
        path = f"shop.parts_in_production[{index}]"
        yield from _once(names, part.name, f"{path}.name")
        try:
            iso286_deviations_um(min(part.bore_mm, 500.0), part.bore_zone)
        except ValueError as error:
            yield Fault(f"{path}.bore_zone", shown_in_error(part.bore_zone), str(error))
            continue
        key = (round(part.module_mm, 6), part.teeth, part.bore_mm, part.face_width_mm)
        yield from _once(sizes, (*key, part.bore_zone), path)


def kept_part_faults(study: Study) -> Iterator[Fault]:
    """Yield joints that keep a part which is not in production."""
    known = {part.name for part in study.shop.parts_in_production}
    for i, robot in enumerate(study.robots):
        for j, joint in enumerate(robot.joints):
            if joint.keeps_part is not None and joint.keeps_part not in known:
                path = f"robots[{i}].joints[{j}].keeps_part"
                names = ", ".join(shown_in_error(name) for name in sorted(known)[:8])
                allowed = f"a name in shop.parts_in_production: {names or 'there is none'}"
                yield Fault(path, shown_in_error(joint.keeps_part), allowed)


def _cutter_fault(shop: Shop, path: str, teeth: int | None) -> Fault | None:
    """Return what is wrong with the tooth count of an owned cutter, None for nothing."""
    if shop.cutting == "wire":
        return Fault(path, "a cutter with cutting wire", "no owned cutters, for a wire needs none")
    if shop.cutting == "hob":
        if teeth is None:
            return None
        return Fault(f"{path}.teeth", f"{teeth}", "none, for a hob cuts every tooth count")
    if teeth is None:
        return Fault(f"{path}.teeth", "none", f"a tooth count that it cuts, with {shop.cutting}")
    if shop.cutting != "disc_special":
        fewest = cutters.standard_disc_set(shop.cutting)[0][0]
        if teeth < fewest:
            return Fault(f"{path}.teeth", f"{teeth}", f"at least {fewest}, the fewest of the set")
    return None


def _once(known: dict[Hashable, str], key: Hashable, path: str) -> Iterator[Fault]:
    """Yield a fault where the same thing was listed before, with both paths."""
    other = known.setdefault(key, path)
    if other != path:
        yield Fault(path, f"the same as {other}", "each one once")
