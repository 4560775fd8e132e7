"""The judge's own way to second rings: where they stand, what makes a pair, and what they keep."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator

from ringset.physics.budget import Budget
from ringset.physics.limit_rule import number_at_most
from ringset.schema.answer import Answer, FaceScrews, JointRing
from ringset.schema.joint import Joint
from ringset.schema.study import Study
from ringset.standards import cutters
from ringset.verification.judge.agreement import judge_number

ARCSEC_PER_TURN = 1_296_000.0
#: Limits that a second ring keeps: on its sizes, and on how it is made, mounted and read.
KEPT_BY_SECOND = frozenset(
    {
        "bore_min_mm", "bore_max_mm", "tip_min_mm", "tip_max_mm", "shop.rim_min_mm", "shop.rim_min_depths",
        "shop.rim_max_mm", "head.module_min_mm", "head.module_max_mm", "head.teeth_min", "head.teeth_max",
        "head.gap_left_min_mm", "head.tooth_rate_max_hz", "head.width_mm", "head.sample_rate_hz",
        "shop.clamp_runout_share", "shop.screw_sizes", "slip_safety_min", "stress_safety_min",
        "burst_safety_min", "housing_max_mm", "shop.teeth_largest_prime", "shop.wire_diameter_mm",
    }
)  # fmt: skip


def judged_misplaced(study: Study, answer: Answer) -> list[str]:
    """Return which joints do not have exactly one ring, or not the second ones that they ask."""
    joints = [(robot, joint) for robot in study.robots for joint in robot.joints]
    wanted = [(robot.name, joint.name) for robot, joint in joints]
    asked = [(robot.name, joint.name) for robot, joint in joints if joint.second_ring]
    return [
        *_misplaced(wanted, "rings", answer.rings),
        *_misplaced(asked, "second_rings", answer.second_rings),
    ]


def _misplaced(wanted: list[tuple[str, str]], name: str, rings: list[JointRing]) -> list[str]:
    one = name.replace("_", " ")
    found = Counter((ring.robot, ring.joint) for ring in rings)
    violations = []
    for robot, joint in wanted:
        times = found.pop((robot, joint), 0)
        if times != 1:
            violations.append(f"{robot}/{joint}: {times} {one}, exactly one wanted")
    if not violations and not found:
        given = [(ring.robot, ring.joint) for ring in rings]
        if given != wanted:
            violations.append(f"{name}: not in the natural order of robots and joints")
    what = "not a joint of the study" if name == "rings" else "a second ring that is not asked"
    return violations + [f"{robot}/{joint}: {what}" for robot, joint in found]


def judged_alone(joint: Joint) -> Joint:
    """Return a joint as each ring of a pair sees it: with one head, and no other ring beside."""
    return joint.model_copy(
        update={"head_counts": [1], "head_angles_deg": {}, "second_ring": False}
    )


def judged_pair_limits(
    joint: Joint, first: JointRing, second: JointRing,
    budget_of: Callable[[Joint, JointRing], Budget],
) -> tuple[float, float]:  # fmt: skip
    """Return by how many arcsec the errors of a pair differ at worst, and by how many they may.

    `rated_error_budget` is the judge's own. Tooth counts that share a divisor may not differ at all.
    """
    alone = judged_alone(joint)
    error = math.fsum(
        float(budget_of(alone, ring.model_copy(update={"heads": 1})).worst_case)
        for ring in (first, second)
    )
    if math.gcd(first.teeth, second.teeth) > 1:
        return error, 0.0
    return error, ARCSEC_PER_TURN / 2.0 / (first.teeth * second.teeth)


def judge_pair(
    study: Study, joint: Joint, first: JointRing, second: JointRing, error: float, tolerance: float
) -> Iterator[str]:
    """Check that two rings are a pair, and what the first one says of the second.

    `error` and `tolerance` are those of `judged_pair_limits`.
    """
    told = first.electronics.second_ring
    for name in ("module_mm", "bore_mm"):
        if getattr(first, name) != getattr(second, name):
            yield f"second ring: {name} {getattr(second, name)!r}, {getattr(first, name)!r} wanted"
    shop = study.shop
    if shop.cutting in cutters.DISC_SETS:
        one, other = (
            cutters.standard_disc_range_index(shop.cutting, r.teeth) for r in (first, second)
        )
        if one != other:
            yield "second ring: needs another cutter than the first"
    if first.second or not second.second:
        yield "second: not as the rings stand"
    if second.heads != 1:
        yield f"second ring: {second.heads} heads, one wanted"
    if (first.absolute_by, first.turns_known) != (second.absolute_by, second.turns_known):
        yield "second ring: absolute_by or turns_known not that of the first"
    if told is None:
        yield "electronics.second_ring: missing"
        return
    if (told.teeth, told.ring_part) != (second.teeth, second.ring_part):
        yield f"electronics.second_ring: {told.teeth} teeth of {told.ring_part}, not those of the second ring"
    feasible = bool(number_at_most(error, tolerance))
    if told.feasible != feasible:
        yield f"electronics.second_ring.feasible: {told.feasible}, recomputed {feasible}"
    for name, given, value in (
        ("tolerance", told.tolerance_arcsec, tolerance),
        ("error", told.relative_error_arcsec, error),
    ):
        if given is None:
            yield f"electronics.second_ring.{name}: None stated, {value!r} recomputed"
        else:
            yield from judge_number(f"electronics.second_ring.{name}", given, value)


def judge_screws(
    ring: JointRing, given: FaceScrews | None, wanted: FaceScrews | None
) -> Iterator[str]:
    """Check the screws that the ring's part states."""
    if given is None or wanted is None or (given.size, given.count) != (wanted.size, wanted.count):
        if given != wanted:
            yield f"screws of {ring.ring_part}: {_named(given)} stated, {_named(wanted)} wanted"
        return
    yield from judge_number("screws: circle_mm", given.circle_mm, wanted.circle_mm)
    yield from judge_number("screws: hole_mm", given.hole_mm, wanted.hole_mm)


def _named(screws: FaceScrews | None) -> str:
    return "none" if screws is None else f"{screws.count} x {screws.size}"
