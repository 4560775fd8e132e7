"""Faults between the fields that say how large ring and heads may be: tips, housing, bores, axial room."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from ringset.schema.equipment import Head
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Study

#: Path of the field, what was given, what is allowed.
Parts = tuple[str, str, str]
#: How far a listed bore may lie off the step, in mm: half of the last digit to which bores are counted.
OFF_STEP_MM = 4e-10


def joint_size_faults(path: str, joint: Joint, study: Study) -> Iterator[Parts]:
    """Yield what cannot be of the sizes that a joint states; `path` is its own."""
    bore, tips, least = joint.bore_min_mm, joint.tip_max_mm, joint.tip_min_mm
    if tips is None and joint.housing_max_mm is None:
        yield f"{path}.tip_max_mm", "nothing", "a value, or one of housing_max_mm"
    if tips is not None and least is not None and least > tips:
        yield f"{path}.tip_max_mm", f"{tips:g}", f"at least tip_min_mm = {least:g}"
    if tips is not None and tips <= bore:
        yield f"{path}.tip_max_mm", f"{tips:g}", f"more than bore_min_mm = {bore:g}"
    if joint.head is None or joint.head in study.heads:  # else that is a fault already
        yield from _housing_faults(path, joint, study.head_of(joint))
    yield from _bore_faults(f"{path}.bores_mm", joint.bores_mm, study.shop)
    listed = joint.bores_mm or []
    if listed and not any(bore <= one <= joint.bore_max_mm for one in listed):
        allowed = f"one at least from bore_min_mm = {bore:g} to bore_max_mm = {joint.bore_max_mm:g}"
        yield f"{path}.bores_mm", _listed(listed), allowed


def _housing_faults(path: str, joint: Joint, head: Head) -> Iterator[Parts]:
    """Yield that a housing cannot hold the heads around the smallest bore."""
    stated = joint.housing_max_mm
    if stated is None:
        return
    around = head.around_tips_mm(head.narrowest_gap_mm)
    name = "head" if joint.head is None else f"heads.{joint.head}"
    heads = (
        f"twice the gap of {head.narrowest_gap_mm:g} and {name}.height_above_tips_mm = "
        f"{head.height_above_tips_mm:g}"
    )
    if stated <= joint.bore_min_mm + around:
        allowed = f"more than {joint.bore_min_mm + around:g} (bore_min_mm = {joint.bore_min_mm:g}, {heads})"
        yield f"{path}.housing_max_mm", f"{stated:g}", allowed


def shop_size_faults(shop: Shop) -> Iterator[Parts]:
    """Yield what cannot be of the bores that the shop lists."""
    yield from _bore_faults("shop.bores_mm", shop.bores_mm, shop)


def head_size_faults(path: str, head: Head) -> Iterator[Parts]:
    """Yield a stated width of a head along the axis that is less than what it senses over."""
    if "axial_width_mm" in head.model_fields_set and head.axial_width_mm < head.active_width_mm:
        allowed = f"at least active_width_mm = {head.active_width_mm:g}"
        yield f"{path}.axial_width_mm", f"{head.axial_width_mm:g}", allowed


def _bore_faults(path: str, listed: list[float] | None, shop: Shop) -> Iterator[Parts]:
    for bore, times in Counter(listed or []).items():
        if times > 1:
            yield path, f"{times} times {bore:g}", "each value once"
        step = shop.bore_step_mm
        if abs(bore - round(round(bore / step) * step, 9)) > OFF_STEP_MM:
            yield (
                path,
                f"{bore!r}",
                f"whole multiples of shop.bore_step_mm = {step:g}, or a finer step",
            )


def _listed(bores: list[float]) -> str:
    return ", ".join(f"{bore:g}" for bore in bores)
