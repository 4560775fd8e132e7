"""Faults of materials: names that mean nothing or two things, rings that no head sees, yields that clash."""

from __future__ import annotations

from collections.abc import Iterator

from ringset.errors import Fault, shown_in_error
from ringset.schema.materials import BODY_MATERIALS, RING_MATERIALS, OwnMaterial
from ringset.schema.study import Study
from ringset.standards.materials import MATERIALS


def material_name_faults(study: Study) -> Iterator[Fault]:
    """Yield names of materials that the study does not have: whoever looks them up must not go on."""
    own = study.shop.materials
    yield from _unknown("shop.material", study.shop.material, RING_MATERIALS, own)
    for i, robot in enumerate(study.robots):
        for j, joint in enumerate(robot.joints):
            for field in ("housing_material", "hub_material"):
                name = getattr(joint, field)
                if name is not None:
                    path = f"robots[{i}].joints[{j}].{field}"
                    yield from _unknown(path, name, BODY_MATERIALS, own)


def _unknown(
    path: str, name: str, known: tuple[str, ...], own: dict[str, OwnMaterial]
) -> Iterator[Fault]:
    if name not in known and name not in own:
        *names, last = (f"'{one}'" for one in (*known, *sorted(own)))
        yield Fault(path, shown_in_error(name), f"{', '.join(names)} or {last}")


def material_faults(study: Study) -> Iterator[Fault]:
    """Yield faults within the shop's own materials, and a ring of one that no magnetic head sees."""
    own = study.shop.materials
    taken = {text.casefold() for key, one in MATERIALS.items() for text in (key, one.title)}
    for name, stated in own.items():
        if name.casefold() in taken:
            allowed = "a name that no material of Ringset has, nor its title"
            yield Fault(f"shop.materials.{name}", f"the name {shown_in_error(name)}", allowed)
        yield from _yield_faults(f"shop.materials.{name}", stated)
    ring = own.get(study.shop.material)
    if ring is not None and not ring.ferromagnetic:
        allowed = "a ferromagnetic material: a magnetic head sees no other"
        yield Fault("shop.material", shown_in_error(study.shop.material), allowed)


def _yield_faults(path: str, stated: OwnMaterial) -> Iterator[Fault]:
    for index, row in enumerate(stated.yields):
        where = f"{path}.yields[{index}]"
        if row.upto_mm <= row.over_mm:
            allowed = f"more than over_mm = {row.over_mm:g}"
            yield Fault(f"{where}.upto_mm", f"{row.upto_mm:g}", allowed)
            continue
        for other, before in enumerate(stated.yields[:index]):
            apart = row.over_mm >= before.upto_mm or before.over_mm >= row.upto_mm
            if row.treatment == before.treatment and not apart:
                given = f"over {row.over_mm:g} up to {row.upto_mm:g} mm"
                allowed = f"sizes that yields[{other}] of the same treatment does not hold"
                yield Fault(where, given, allowed)
