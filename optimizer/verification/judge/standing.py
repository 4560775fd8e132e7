"""What stands already, by the judge's own reading: cutters owned, and ring parts in production."""

from __future__ import annotations

from collections.abc import Iterator

from ringset.schema.answer import Answer, JointRing
from ringset.schema.joint import Joint
from ringset.schema.pitches import module_field_mm
from ringset.schema.study import Study
from ringset.standards import cutters, iso286, iso2768
from ringset.standards.iso286 import iso286_deviations_um

CutterKey = tuple[float, int]
#: Sizes are the same where they differ by no more than this, in mm and um.
_SAME = 1e-6


def judged_cutter_key(study: Study, module_mm: float, teeth: int) -> CutterKey | None:
    """Return what makes two cutters the same tool: module, and tooth range or count for disc cutters."""
    if study.shop.cutting == "wire":
        return None
    if study.shop.cutting == "hob":
        return (module_mm, 0)
    if study.shop.cutting == "disc_special":
        return (module_mm, teeth)
    fewest = cutters.standard_disc_set(study.shop.cutting)[0][0]  # fewer are refused elsewhere
    teeth = max(teeth, fewest)
    return (module_mm, int(cutters.standard_disc_range_index(study.shop.cutting, teeth)))


def judged_cutter_owned(study: Study, key: CutterKey | None) -> bool:
    """Say whether a cutter, as `judged_cutter_key` tells it, is one that the shop owns."""
    for owned in study.shop.owned_cutters:
        mine = judged_cutter_key(study, module_field_mm(owned.module), owned.teeth or 0)
        if key is None or mine is None or mine[1] != key[1]:
            continue
        if abs(mine[0] - key[0]) <= _SAME:
            return True
    return False


def judged_standing_name(study: Study, ring: JointRing) -> str | None:
    """Return the number of the part in production that a ring is, None for a new one."""
    for part in study.shop.parts_in_production:
        if part.bore_mm <= iso286.LARGEST_SIZE_MM:
            lower, upper = (
                float(end) for end in iso286_deviations_um(part.bore_mm, part.bore_zone)
            )
        else:
            lower, upper = (
                0.0,
                2e3 * iso2768.iso2768_linear_mm(part.bore_mm, study.shop.general_tolerance),
            )
        wanted = (
            (ring.module_mm, module_field_mm(part.module)), (ring.bore_mm, part.bore_mm),
            (ring.face_width_mm, part.face_width_mm), (ring.bore_lower_um, lower),
            (ring.bore_upper_um, upper),
        )  # fmt: skip
        if ring.teeth == part.teeth and all(abs(own - other) <= _SAME for own, other in wanted):
            return part.name
    return None


def judged_kept_part(
    study: Study, joint: Joint, ring: JointRing
) -> tuple[str, float, str, float | None, str, int]:  # fmt: skip
    """Return the limit that a ring is the part its joint keeps: 1 where it is, 0 where it is not."""
    asked = joint.keeps_part
    same = asked is not None and judged_standing_name(study, ring) == asked
    return "part kept", float(same), "keeps_part", None if asked is None else 1.0, "", -1


def judge_standing(study: Study, answer: Answer) -> Iterator[str]:
    """Check that what stands already bears its name, is told as such, and is counted apart."""
    rings = {ring.ring_part: ring for ring in answer.every_ring}
    names = {name: judged_standing_name(study, ring) for name, ring in rings.items()}
    standing = {part.name for part in study.shop.parts_in_production}
    for part in answer.ring_parts:
        name = names.get(part.id)
        if name is not None and name != part.id:
            yield f"ring_parts {part.id}: in production as {name}, whose name it does not bear"
        if name is None and part.id in standing:
            yield f"ring_parts {part.id}: bears the name of a part in production, and is another ring"
        if part.in_production != (name is not None):
            yield f"ring_parts {part.id}: in_production {part.in_production}, not as the study says"
    cut = {ring.cutter: ring for ring in answer.every_ring}
    for cutter in answer.cutters:
        mine = cut.get(cutter.id)
        if mine is None:
            continue  # its name is a fault already
        key = judged_cutter_key(study, mine.module_mm, mine.teeth)
        if cutter.owned != judged_cutter_owned(study, key):
            yield f"cutters {cutter.id}: owned {cutter.owned}, not as the study says"
    stated = bool(study.shop.owned_cutters or study.shop.parts_in_production)
    if answer.totals is not None:
        counted = study.wishes.count if stated else None
        if answer.totals.counted != counted:
            yield f"totals.counted: {answer.totals.counted!r} stated, {counted!r} wanted"
        told = answer.totals.parts_in_production, answer.totals.cutters_owned
        found = sum(name is not None for name in names.values()), judged_owned_count(study, answer)
        if told != found:
            yield (
                f"totals: {told[0]} ring parts in production and {told[1]} cutters owned, "
                f"{found[0]} and {found[1]} recomputed"
            )


def judged_owned_count(study: Study, answer: Answer) -> int:
    """Return how many different cutters of an answer the shop owns."""
    keys = {judged_cutter_key(study, r.module_mm, r.teeth) for r in answer.every_ring}
    return sum(judged_cutter_owned(study, key) for key in keys)
