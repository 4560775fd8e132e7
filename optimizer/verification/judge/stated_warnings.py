"""The judge's own list of what an answer must warn of."""

from __future__ import annotations

from collections.abc import Iterator

from ringset.physics import rim_bending
from ringset.schema.answer import Answer
from ringset.schema.prices import IDLE_PRICES
from ringset.schema.study import Study
from ringset.standards.iso1328 import iso1328_outside_scope, iso1328_profile_total_um


def judge_warnings(study: Study, answer: Answer) -> Iterator[str]:
    """Check that it is said where a standard's scope, a formula's range or the class is left.

    And that prices count nothing, where they do not.
    """
    asked = "cost" in study.wishes.order or study.wishes.cost_max is not None
    if study.shop.prices is not None and not asked and IDLE_PRICES not in answer.warnings:
        yield "warnings: that shop.prices count nothing: missing"
    yield from _standing(study, answer)
    for part in answer.ring_parts:
        outside = iso1328_outside_scope(
            part.module_mm, part.teeth, part.module_mm * part.teeth, part.face_width_mm,
            study.shop.flank_class,
        )  # fmt: skip
        reasons = [*outside]
        if study.shop.clamp_force_n > 0.0:
            jaws = study.shop.clamp_jaws
            reasons += rim_bending.lobes_outside_range(jaws, part.bore_mm, part.rim_mm)
        for reason in reasons:
            if not any(w.startswith(f"{part.id}: {reason}") for w in answer.warnings):
                yield f"warnings: {part.id}: {reason}: missing"
    for ring in answer.every_ring:
        allowed = iso1328_profile_total_um(
            ring.module_mm * ring.teeth, ring.module_mm, study.shop.flank_class, extrapolate=True
        )
        told = any(w.startswith(f"{ring.ring_part}: profile: ") for w in answer.warnings)
        if (ring.profile_error_um or 0.0) > float(allowed) and not told:
            yield f"warnings: {ring.ring_part}: a profile that its class does not permit: missing"


def _standing(study: Study, answer: Answer) -> Iterator[str]:
    """Check that it is said where a part in production needs a cutter that must be bought."""
    owned = {cutter.id for cutter in answer.cutters if cutter.owned}
    for part in answer.ring_parts:
        bought = part.in_production and part.cutter is not None and part.cutter not in owned
        if bought and not any(
            w.startswith(f"{part.id}: in production, yet") for w in answer.warnings
        ):
            yield f"warnings: {part.id}: in production, and its cutter is new: missing"
