"""What would lower a joint's error most: the same ring rated again with one thing changed.

Each change is one that a designer can make: a second head, a finer flank class, a thicker rim, a larger
ring, odd or coprime teeth, better placed heads, a smaller offset, the bore as the circle that sets it.
Changes that the joint's own windows forbid are still shown, marked so: knowing what a limit costs is what
the early designer wants.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import gcd

from ringset.analysis.alternatives.models import Advice, ChangeKind, ErrorChange
from ringset.analysis.alternatives.single_ring import (
    Asked,
    single_ring_limit_field,
    single_rings_rated,
)
from ringset.catalogue.joints import JointRef, catalogue_joint
from ringset.errors import StudyError
from ringset.schema.answer import Answer, JointRing
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Robot, Study
from ringset.wording import in_study_order

#: How much thicker the rim and larger the ring are tried, in mm and teeth.
RIM_STEP_MM = 1.0
LARGER_SHARE = 0.1
#: Changes that gain less than this share of the error are not worth a line.
WORTH = 0.005
#: Offset that a ring set with an indicator reaches, in um, where a fit would seat it worse.
SET_BY_HAND_UM = 5.0
#: Joints of an answer whose changes are worked out for its report.
ADVICE_JOINTS = 40


@dataclass(frozen=True)
class _Trial:
    """A ring with one thing changed, not rated yet; `shop` is another where its flank class is changed."""

    kind: ChangeKind
    value: float
    text: str
    shop: Shop
    asked: Asked


def error_changes(study: Study, robot: Robot, joint: Joint, ring: JointRing) -> list[ErrorChange]:
    """Return the changes that lower the error in arcsec of a ring on its joint, the most helpful first."""
    return _changes(study, [(_on(study, robot, joint), ring)])[0]


def advice_on_answer(study: Study, answer: Answer) -> Advice:
    """Return what `error_changes` returns for the first `ADVICE_JOINTS` joints of an answer with rings."""
    if not answer.rings:
        return {}
    rings = in_study_order(study, answer.rings)[:ADVICE_JOINTS]
    joints = {(r.name, j.name): _on(study, r, j) for r in study.robots for j in r.joints}
    names = [(ring.robot, ring.joint) for ring in rings]
    found = _changes(study, [(joints[name], ring) for name, ring in zip(names, rings, strict=True)])
    return dict(zip(names, found, strict=True))


def _on(study: Study, robot: Robot, joint: Joint) -> JointRef:
    return catalogue_joint(study, robot, joint)


def _changes(study: Study, rings: Sequence[tuple[JointRef, JointRing]]) -> list[list[ErrorChange]]:
    """Return the helpful changes of each ring; all of them are rated together, shop by shop."""
    tried = [
        (place, trial)
        for place, (on, ring) in enumerate(rings)
        for trial in _trials(study.shop, on, ring)
    ]
    found: list[list[ErrorChange]] = [[] for _ in rings]
    for flank_class in sorted({trial.shop.flank_class for _, trial in tried}):
        mine = [(place, trial) for place, trial in tried if trial.shop.flank_class == flank_class]
        changed = study.model_copy(update={"shop": mine[0][1].shop})
        rated = single_rings_rated(changed, [trial.asked for _, trial in mine])
        for (place, trial), outcome in zip(mine, rated, strict=True):
            if not isinstance(outcome, StudyError):
                change = _change(trial, *outcome)
                if change.error_arcsec < (1.0 - WORTH) * rings[place][1].error_arcsec:
                    found[place].append(change)
    return [sorted(mine, key=lambda change: (change.error_arcsec, change.text)) for mine in found]


def _change(trial: _Trial, changed: JointRing, faults: list[str]) -> ErrorChange:
    broken = [
        field for field in map(single_ring_limit_field, faults) if field != "angle_target_arcsec"
    ]
    return ErrorChange(
        kind=trial.kind, value=trial.value, text=trial.text, error_arcsec=changed.error_arcsec,
        within=not broken, breaks=broken,
    )  # fmt: skip


def _trials(shop: Shop, on: JointRef, ring: JointRing) -> Iterator[_Trial]:
    """Yield every trial that there is for a ring on its joint."""
    for changed in (_heads, _class, _rim, _larger, _teeth, _placement, _offset, _set_by):
        trial = changed(shop, on, ring)
        if trial is not None:
            yield trial


def _asked(
    on: JointRef, ring: JointRing, teeth: int = 0, bore_mm: float = 0.0, heads: int = 0
) -> Asked:
    """Return the ring with some of its numbers changed (0: as it is)."""
    told = ring.electronics.second_ring
    second = 0 if told is None else told.teeth or 0
    return Asked(
        on,
        ring.module_mm,
        teeth or ring.teeth,
        bore_mm or ring.bore_mm,
        heads or ring.heads,
        second,
    )


def _heads(shop: Shop, on: JointRef, ring: JointRing) -> _Trial | None:
    more = ring.heads + 1 if ring.heads < 2 else 2 * ring.heads
    if more > 4:
        return None
    text = "a second, opposed head" if more == 2 else f"{more} heads"
    return _Trial("heads", more, text, shop, _asked(on, ring, heads=more))


def _class(shop: Shop, on: JointRef, ring: JointRing) -> _Trial | None:
    if shop.flank_class == 1:
        return None
    finer = shop.flank_class - 1
    changed = shop.model_copy(update={"flank_class": finer})
    return _Trial("flank_class", finer, f"flank class {finer}", changed, _asked(on, ring))


def _rim(shop: Shop, on: JointRef, ring: JointRing) -> _Trial:
    bore = ring.bore_mm - 2.0 * RIM_STEP_MM
    text = f"a rim {RIM_STEP_MM:g} mm thicker"
    return _Trial("rim", RIM_STEP_MM, text, shop, _asked(on, ring, bore_mm=bore))


def _larger(shop: Shop, on: JointRef, ring: JointRing) -> _Trial:
    more = 2 * max(1, round(LARGER_SHARE * ring.teeth / 2.0))  # an even step keeps odd teeth odd
    bore = ring.bore_mm + more * ring.module_mm
    step = shop.bore_step_mm
    text = f"{more} teeth more at the same rim (tip {ring.tip_diameter_mm + more * ring.module_mm:.5g} mm)"
    asked = _asked(on, ring, teeth=ring.teeth + more, bore_mm=round(bore / step) * step)
    return _Trial("larger", more, text, shop, asked)


def _teeth(shop: Shop, on: JointRef, ring: JointRing) -> _Trial | None:
    if ring.heads == 1 or gcd(ring.teeth, ring.heads) == 1:
        return None
    kind = "an odd count" if ring.heads == 2 else f"coprime to {ring.heads} heads"
    fewer = next(z for z in range(ring.teeth - 1, 0, -1) if gcd(z, ring.heads) == 1)
    return _Trial("teeth", fewer, f"{fewer} teeth, {kind}", shop, _asked(on, ring, teeth=fewer))


def _placement(shop: Shop, on: JointRef, ring: JointRing) -> _Trial | None:
    if ring.heads == 1 or on.head.placement_tolerance_deg == 0.0:
        return None
    tenth = on.head.placement_tolerance_deg / 10.0
    better = replace(on, head=on.head.model_copy(update={"placement_tolerance_deg": tenth}))
    text = f"heads placed within {tenth:g} degrees"
    return _Trial("placement", tenth, text, shop, _asked(better, ring))


def _offset(shop: Shop, on: JointRef, ring: JointRing) -> _Trial:
    if on.joint.seat_fit is not None:
        offset, change = SET_BY_HAND_UM, {"seat_fit": None}
        text = f"the ring set by its bore to {offset:g} um off centre instead of seated by its fit"
    else:
        offset, change = on.joint.set_offset_um / 2.0, {"seat_tir_um": None}
        text = f"the ring set to {offset:g} um off centre"
    text += f" (dial reading {2.0 * offset:g} um)"
    seated = on.joint.model_copy(update={**change, "seat_offset_um": offset})
    return _Trial("offset", offset, text, shop, _asked(replace(on, joint=seated), ring))


def _set_by(shop: Shop, on: JointRef, ring: JointRing) -> _Trial | None:
    """Return the ring set by its bore to the same offset, where it is set by its tips."""
    if on.joint.dial_on != "tips":
        return None
    seated = on.joint.model_copy(update={"set_by": "bore"})
    text, offset = "the ring set by its bore, not by its tips", on.joint.set_offset_um
    return _Trial("set_by", offset, text, shop, _asked(replace(on, joint=seated), ring))
