"""What the shop states of pitches, tooth counts and wires, by formulas of the judge's own."""

from __future__ import annotations

from ringset.schema.study import Study
from ringset.standards.pitches import pitch_module_mm


def judged_pitch_name(study: Study, module_mm: float) -> str | None:
    """Return the text among the shop's modules that names this one by its pitch, None where none does."""
    if isinstance(study.shop.modules, str):
        return None  # the name of a series
    for one in study.shop.modules:
        if isinstance(one, str) and pitch_module_mm(one) == module_mm:
            return one
    return None
