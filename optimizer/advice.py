"""What would lower a joint's error most: the same ring rated again with one thing changed.

Each change is one that a designer can make: a second head, a finer flank class, a thicker rim, a larger
ring, odd or coprime teeth, better placed heads, a smaller offset. Changes that the joint's own windows
forbid are still shown, marked so: knowing what a limit costs is what the early designer wants.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import gcd

from optimizer.answer import JointRing
from optimizer.loading import StudyError
from optimizer.single import rate_one
from optimizer.study import Joint, Robot, Study

#: How much thicker the rim and larger the ring are tried, in mm and teeth.
RIM_STEP_MM = 1.0
LARGER_SHARE = 0.1
#: Changes that gain less than this share of the error are not worth a line.
WORTH = 0.005


@dataclass(frozen=True)
class Change:
    """One change, and the error of the joint with it; `within` the joint's own limits or not."""

    text: str
    error_arcsec: float
    within: bool


def changes(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> list[Change]:
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
    study: Study, robot: Robot, joint: Joint, ring: JointRing, text: str, teeth: int = 0,
    bore_mm: float = 0.0, heads: int = 0,
) -> Change | None:  # fmt: skip
    """Return the ring rated with some of its numbers changed (0: as it is), or None if it cannot be."""
    try:
        changed, faults = rate_one(
            study, robot, joint, ring.module_mm, teeth or ring.teeth, bore_mm or ring.bore_mm,
            heads or ring.heads,
        )  # fmt: skip
    except StudyError:
        return None
    broken = [fault for fault in faults if not fault.startswith("angle_target_arcsec")]
    return Change(text, changed.error_arcsec, not broken)


def _heads(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> Change | None:
    more = ring.heads + 1 if ring.heads < 2 else 2 * ring.heads
    if more > 4:
        return None
    text = "a second, opposed head" if more == 2 else f"{more} heads"
    return _rated(study, robot, joint, ring, text, heads=more)


def _class(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> Change | None:
    if study.shop.flank_class == 1:
        return None
    finer = study.shop.flank_class - 1
    shop = study.shop.model_copy(update={"flank_class": finer})
    changed = study.model_copy(update={"shop": shop})
    return _rated(changed, robot, joint, ring, f"flank class {finer}")


def _rim(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> Change | None:
    bore = ring.bore_mm - 2.0 * RIM_STEP_MM
    return _rated(study, robot, joint, ring, f"a rim {RIM_STEP_MM:g} mm thicker", bore_mm=bore)


def _larger(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> Change | None:
    more = 2 * max(1, round(LARGER_SHARE * ring.teeth / 2.0))  # an even step keeps odd teeth odd
    bore = ring.bore_mm + more * ring.module_mm
    step = study.shop.bore_step_mm
    text = f"{more} teeth more at the same rim (tip {ring.tip_diameter_mm + more * ring.module_mm:.5g} mm)"
    bore = round(bore / step) * step
    return _rated(study, robot, joint, ring, text, teeth=ring.teeth + more, bore_mm=bore)


def _teeth(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> Change | None:
    if ring.heads == 1 or gcd(ring.teeth, ring.heads) == 1:
        return None
    kind = "an odd count" if ring.heads == 2 else f"coprime to {ring.heads} heads"
    fewer = next(z for z in range(ring.teeth - 1, 0, -1) if gcd(z, ring.heads) == 1)
    return _rated(study, robot, joint, ring, f"{fewer} teeth, {kind}", teeth=fewer)


def _placement(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> Change | None:
    head = study.head_of(joint)
    if ring.heads == 1 or head.placement_tolerance_deg == 0.0:
        return None
    tenth = head.placement_tolerance_deg / 10.0
    better = head.model_copy(update={"placement_tolerance_deg": tenth})
    alone = joint.model_copy(update={"head": None})
    changed = study.model_copy(update={"head": better})
    return _rated(changed, robot, alone, ring, f"heads placed within {tenth:g} degrees")


def _offset(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> Change | None:
    if joint.seat_fit is not None:
        seated = joint.model_copy(update={"seat_fit": None, "seat_offset_um": 5.0})
        return _rated(
            study, robot, seated, ring, "the ring set to 5 um instead of seated by its fit"
        )
    offset = 15.0 if joint.seat_offset_um is None else joint.seat_offset_um
    seated = joint.model_copy(update={"seat_offset_um": offset / 2.0})
    return _rated(study, robot, seated, ring, f"the ring set to {offset / 2.0:g} um off centre")
