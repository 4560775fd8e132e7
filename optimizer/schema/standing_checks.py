"""Faults of what stands already: cutters that the shop's way of cutting does not know, one thing twice."""

from __future__ import annotations

from collections.abc import Iterator

from ringset.errors import Fault, shown_in_error
from ringset.schema.shop import Shop
from ringset.schema.standing import PartInProduction, same_cutter
from ringset.schema.study import Study
from ringset.standards import cutters
from ringset.standards.iso286 import LARGEST_SIZE_MM, iso286_deviations_um


def standing_faults(shop: Shop) -> Iterator[Fault]:
    """Yield every fault of the cutters owned and of the ring parts in production."""
    known: list[tuple[str, tuple[float, int]]] = []
    for index, owned in enumerate(shop.owned_cutters):
        path = f"shop.owned_cutters[{index}]"
        fault = _cutter_fault(shop, path, owned.teeth)
        if fault is not None:
            yield fault
            continue
        key = shop.cutter_key(owned.module_mm, owned.teeth or 0)
        if key is not None:
            yield from _once(path, [where for where, other in known if same_cutter(other, key)])
            known.append((path, key))
    names: dict[str, str] = {}
    by_teeth: dict[int, list[tuple[str, PartInProduction]]] = {}
    for index, part in enumerate(shop.parts_in_production):
        path = f"shop.parts_in_production[{index}]"
        first = names.setdefault(part.name, path)
        yield from _once(f"{path}.name", [f"{first}.name"] if first != path else [])
        fault = _zone_fault(f"{path}.bore_zone", part)
        if fault is not None:
            yield fault
        before = by_teeth.setdefault(part.teeth, [])
        yield from _once(path, [at for at, other in before if _same_part(part, other)])
        before.append((path, part))


def _zone_fault(path: str, part: PartInProduction) -> Fault | None:
    """Return what is wrong with the zone of a part's bore, None for nothing."""
    given = shown_in_error(part.bore_zone)
    if not part.bore_zone[0].isupper():
        return Fault(path, given, "the zone of a hole, a capital letter first, such as H7")
    try:
        iso286_deviations_um(min(part.bore_mm, LARGEST_SIZE_MM), part.bore_zone)
    except ValueError as error:
        return Fault(path, given, str(error))
    return None


def _same_part(one: PartInProduction, other: PartInProduction) -> bool:
    zones = one.bore_zone == other.bore_zone or one.bore_mm > LARGEST_SIZE_MM
    return zones and one.is_ring(other.module_mm, other.teeth, other.bore_mm, other.face_width_mm)


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


def _once(path: str, others: list[str]) -> Iterator[Fault]:
    """Yield a fault where the same thing was listed before, with both paths."""
    if others:
        yield Fault(path, f"the same as {others[0]}", "each one once")
