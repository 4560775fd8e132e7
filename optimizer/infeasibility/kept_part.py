"""Why the part in production that a joint keeps does not do there: what it is, and what the joint asks."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ringset.catalogue.bore_zones import catalogue_bore_zone, catalogue_zone_at
from ringset.catalogue.joints import JointRef, catalogue_joints, catalogue_modules
from ringset.catalogue.limits import (
    catalogue_bore_steps,
    catalogue_size_checks,
    catalogue_tooth_counts_kept,
)
from ringset.catalogue.rows import Catalogue
from ringset.rating.limits import rated_checks_in_full
from ringset.rating.rate import rate
from ringset.schema.standing import SAME_MM, PartInProduction
from ringset.schema.study import Study


def infeasible_kept_part(study: Study, ref: JointRef) -> str:
    """Return what is against the part that a joint keeps, in words; the joint states one."""
    name = ref.joint.keeps_part
    part = next(one for one in study.shop.parts_in_production if one.name == name)
    broken = list(_against(study, ref, part)) or [
        "it keeps each other limit, though not all together"
    ]
    return f"keeps_part {name}: {'; '.join(broken)}"


def _against(study: Study, ref: JointRef, part: PartInProduction) -> Iterator[str]:
    """Yield what is against a part on a joint: what makes it another ring first, then limits."""
    shop, joint = study.shop, ref.joint
    if abs(part.face_width_mm - joint.face_width_mm) > SAME_MM:
        asked = f"face_width_mm asks {joint.face_width_mm:g}"
        yield f"its width is {part.face_width_mm:g} mm, and {asked}"
    own = catalogue_zone_at(shop, part.bore_zone, part.bore_mm)
    asks = catalogue_bore_zone(shop, joint, part.bore_mm)
    if (own.lower_um, own.upper_um) != (asks.lower_um, asks.upper_um):
        yield f"its bore is made to {own.name}, and the joint asks {asks.name}"
    modules = catalogue_modules(shop)
    module = int(np.argmin(np.abs(modules - part.module_mm)))
    if abs(float(modules[module]) - part.module_mm) > SAME_MM:
        yield f"its module {part.module_mm:g} mm is not on offer (shop.modules)"
        return
    steps = round(part.bore_mm / shop.bore_step_mm)
    if abs(steps * shop.bore_step_mm - part.bore_mm) > SAME_MM:
        yield f"its bore {part.bore_mm:g} mm is no multiple of shop.bore_step_mm {shop.bore_step_mm:g}"
        return
    listed = catalogue_bore_steps(study, ref)
    if listed is not None and steps not in listed:
        field = "shop.bores_mm" if joint.bores_mm is None else "bores_mm"
        yield f"its bore {part.bore_mm:g} mm is not among {field}"
    counts = catalogue_tooth_counts_kept(shop, np.array([part.teeth]))
    yield from (
        f"{field}: it has {part.teeth} teeth" for field, kept in counts.items() if not kept.all()
    )
    yield from _broken(study, _rows(study, ref, module, part.teeth, steps))


def _rows(study: Study, ref: JointRef, module: int, teeth: int, steps: int) -> Catalogue:
    """Return the part on its joint, with each number of heads."""
    refs = catalogue_joints(study)
    place = next(
        i for i, one in enumerate(refs) if (one.robot, one.joint) == (ref.robot, ref.joint)
    )
    heads = np.array(ref.joint.head_counts, dtype=np.int64)

    def column(value: int) -> np.ndarray:
        return np.full(len(heads), value, dtype=np.int64)

    sizes = column(place), column(module), column(teeth), column(steps)
    return Catalogue(refs, catalogue_modules(study.shop), study.shop.bore_step_mm, *sizes, heads)


def _broken(study: Study, rows: Catalogue) -> Iterator[str]:
    """Yield the limits that the ring breaks: those of size or, where it keeps these, all others."""
    checks = catalogue_size_checks(study, rows)
    if all(check.kept.all() for check in checks.values()):
        checks = rated_checks_in_full(study, rate(study, rows))
    for field, check in checks.items():
        if field in ("keeps_part", "second_ring") or check.kept.any():
            continue
        best = int(np.argmin(check.sign * (check.value - check.allowed)))
        unit = f" {check.unit}" if check.unit else ""
        yield f"{field} {check.allowed[best]:.6g}{unit}: it has {check.value[best]:.6g}"
