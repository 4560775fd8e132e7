"""What would lower a joint's error most: the same ring rated again with one thing changed.

Each change is one that a designer can make: a second head, a finer flank class, a thicker rim, a larger
ring, odd or coprime teeth, better placed heads, a smaller offset. Changes that the joint's own windows
forbid are still shown, marked so: knowing what a limit costs is what the early designer wants.
"""

from __future__ import annotations

from math import gcd
from typing import Literal

from pydantic import Field

from ringset.analysis.alternatives.single_ring import field_of, rate_one
from ringset.errors import StudyError
from ringset.schema.answer import JointRing
from ringset.schema.base import Piece
from ringset.schema.study import Joint, Robot, Study

#: How much thicker the rim and larger the ring are tried, in mm and teeth.
RIM_STEP_MM = 1.0
LARGER_SHARE = 0.1
#: Changes that gain less than this share of the error are not worth a line.
WORTH = 0.005


#: What is changed: heads, flank class, rim, size, tooth count, placement of heads, seat.
Kind = Literal["heads", "flank_class", "rim", "larger", "teeth", "placement", "offset"]


class ErrorChange(Piece):
    """One change, and the error of the joint with it."""

    kind: Kind
    value: float = Field(
        description="New heads, flank class or teeth; mm of rim more; teeth more (larger); degrees "
        "(placement); um off centre (offset)."
    )
    text: str
    error_arcsec: float = Field(
        description="Error of the joint with it, on the basis of the target."
    )
    within: bool = Field(description="Whether every other limit of the joint still holds.")
    breaks: list[str] = Field(
        description="Fields of the study whose limit it breaks, such as head_counts; empty if within."
    )


def changes(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> list[ErrorChange]:
    """Return the changes that lower the error of a ring on its joint, the most helpful first."""
    tried = [
        _heads(study, robot, joint, ring),
        _class(study, robot, joint, ring),
        _rim(study, robot, joint, ring),
        _larger(study, robot, joint, ring),
        _teeth(study, robot, joint, ring),
        _placement(study, robot, joint, ring),
        _offset(study, robot, joint, ring),
    ]
    helpful = [
        change
        for change in tried
        if change is not None and change.error_arcsec < (1.0 - WORTH) * ring.error_arcsec
    ]
    return sorted(helpful, key=lambda change: (change.error_arcsec, change.text))


def _rated(
    study: Study, robot: Robot, joint: Joint, ring: JointRing, kind: Kind, value: float, text: str,
    teeth: int = 0, bore_mm: float = 0.0, heads: int = 0,
) -> ErrorChange | None:  # fmt: skip
    """Return the ring rated with some of its numbers changed (0: as it is), or None if it cannot be."""
    try:
        changed, faults = rate_one(
            study, robot, joint, ring.module_mm, teeth or ring.teeth, bore_mm or ring.bore_mm,
            heads or ring.heads,
        )  # fmt: skip
    except StudyError:
        return None
    broken = [field for field in map(field_of, faults) if field != "angle_target_arcsec"]
    return ErrorChange(
        kind=kind, value=value, text=text, error_arcsec=changed.error_arcsec, within=not broken,
        breaks=broken,
    )  # fmt: skip


def _heads(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> ErrorChange | None:
    more = ring.heads + 1 if ring.heads < 2 else 2 * ring.heads
    if more > 4:
        return None
    text = "a second, opposed head" if more == 2 else f"{more} heads"
    return _rated(study, robot, joint, ring, "heads", more, text, heads=more)


def _class(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> ErrorChange | None:
    if study.shop.flank_class == 1:
        return None
    finer = study.shop.flank_class - 1
    shop = study.shop.model_copy(update={"flank_class": finer})
    changed = study.model_copy(update={"shop": shop})
    return _rated(changed, robot, joint, ring, "flank_class", finer, f"flank class {finer}")


def _rim(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> ErrorChange | None:
    bore = ring.bore_mm - 2.0 * RIM_STEP_MM
    text = f"a rim {RIM_STEP_MM:g} mm thicker"
    return _rated(study, robot, joint, ring, "rim", RIM_STEP_MM, text, bore_mm=bore)


def _larger(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> ErrorChange | None:
    more = 2 * max(1, round(LARGER_SHARE * ring.teeth / 2.0))  # an even step keeps odd teeth odd
    bore = ring.bore_mm + more * ring.module_mm
    step = study.shop.bore_step_mm
    text = f"{more} teeth more at the same rim (tip {ring.tip_diameter_mm + more * ring.module_mm:.5g} mm)"
    bore = round(bore / step) * step
    more_teeth = ring.teeth + more
    return _rated(study, robot, joint, ring, "larger", more, text, teeth=more_teeth, bore_mm=bore)


def _teeth(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> ErrorChange | None:
    if ring.heads == 1 or gcd(ring.teeth, ring.heads) == 1:
        return None
    kind = "an odd count" if ring.heads == 2 else f"coprime to {ring.heads} heads"
    fewer = next(z for z in range(ring.teeth - 1, 0, -1) if gcd(z, ring.heads) == 1)
    return _rated(study, robot, joint, ring, "teeth", fewer, f"{fewer} teeth, {kind}", teeth=fewer)


def _placement(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> ErrorChange | None:
    head = study.head_of(joint)
    if ring.heads == 1 or head.placement_tolerance_deg == 0.0:
        return None
    tenth = head.placement_tolerance_deg / 10.0
    better = head.model_copy(update={"placement_tolerance_deg": tenth})
    alone = joint.model_copy(update={"head": None})
    changed = study.model_copy(update={"head": better})
    text = f"heads placed within {tenth:g} degrees"
    return _rated(changed, robot, alone, ring, "placement", tenth, text)


def _offset(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> ErrorChange | None:
    if joint.seat_fit is not None:
        seated = joint.model_copy(update={"seat_fit": None, "seat_offset_um": 5.0})
        text = "the ring set to 5 um instead of seated by its fit"
        return _rated(study, robot, seated, ring, "offset", 5.0, text)
    half = joint.set_offset_um / 2.0
    seated = joint.model_copy(update={"seat_offset_um": half})
    text = f"the ring set to {half:g} um off centre"
    return _rated(study, robot, seated, ring, "offset", half, text)
