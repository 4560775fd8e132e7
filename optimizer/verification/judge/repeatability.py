"""The judge's own way to repeatability: which terms scatter, and what they come to, on plain numbers.

It takes amplitudes and standard uncertainties term by term, knows by a list of its own which of them come
back with the angle, and adds up the others itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from ringset.physics import budget as physics
from ringset.physics.limit_rule import number_at_most
from ringset.schema.answer import Answer, JointRing
from ringset.schema.joint import Joint
from ringset.schema.study import Robot, Study
from ringset.verification.judge.agreement import judge_number, judged_sum
from ringset.verification.judge.gap_and_budget import judged_left_percent, judged_target

#: Fixed in ring, seat, tooth shape and channels: the same each time the joint passes the same angle.
COMES_BACK = {
    "mounting_offset", "mounting_offset_second", "tips_off_bore", "cumulative_pitch", "single_pitch",
    "seat_ovality", "clamping", "residual_offset", "residual_gain", "residual_quadrature",
    "third_harmonic",
}  # fmt: skip


def judged_repeatability(study: Study, heads: int, budget: physics.Budget) -> dict[str, float]:
    """Return the repeatability in arcsec of a ring read by `heads` heads, by basis.

    Expanded: k times the root of the sum of squares. Worst case: amplitudes added up, noise at its sigmas,
    and the stray field of every head in the same direction, so that the mean over heads leaves all of it.
    """
    names = [name for name in budget.amplitude if name not in COMES_BACK]
    standard = [float(budget.standard[name]) for name in names]
    worst = 0.0
    for name in names:
        amplitude = float(budget.amplitude[name])
        if name == "noise":
            amplitude *= study.target.worst_noise_sigmas
        elif name == "stray_field":
            amplitude *= math.sqrt(heads)
        worst += amplitude
    return {
        "expanded": study.target.coverage_factor * math.hypot(*standard),
        "worst_case": worst,
    }


def judged_steady_target(study: Study, joint: Joint) -> float | None:
    """Return the repeatability target of a joint as stated: its own, else the shared one, else none."""
    own = joint.repeatability_target_arcsec
    return own if own is not None else study.target.repeatability_target_arcsec


def judged_repeatability_restated(
    study: Study, joint: Joint, ring: JointRing, judged: dict[str, float]
) -> Iterator[str]:
    """Check what an answer states of one ring's repeatability; `judged` is ours, by basis."""
    for basis, value in judged.items():
        name = f"repeatability_{basis}"
        given = getattr(ring.budget, f"{name}_arcsec")
        yield from judge_number(f"budget.{name}", given, value)
    value = judged[study.target.basis]
    yield from judge_number("repeatability_arcsec", ring.repeatability_arcsec, value)
    lever_um = 1000.0 * joint.reach_mm * math.radians(value / 3600.0)
    given = ring.tool_point_repeatability_um
    yield from judge_number("tool_point_repeatability_um", given, lever_um)
    for term in ring.budget.terms:
        if term.repeats != (term.name in COMES_BACK):
            yield f"budget.{term.name}: repeats {term.repeats}, {not term.repeats} wanted"
    target, left = ring.repeatability_target_arcsec, ring.repeatability_left_percent
    stated = judged_steady_target(study, joint)
    yield from _target_told("repeatability_target_arcsec", target, left, stated, value)


def judged_tool_point_repeats(study: Study, robot: Robot, answer: Answer) -> Iterator[str]:
    """Check a robot's repeatability at the tool point against its target, and what is stated of it."""
    for problem in _tool_point(study, robot, answer):
        yield f"{robot.name}: {problem}"


def _tool_point(study: Study, robot: Robot, answer: Answer) -> Iterator[str]:
    levers = [r.tool_point_repeatability_um for r in answer.rings if r.robot == robot.name]
    if robot.tool_point_rule == "rss":
        found = math.sqrt(judged_sum(lever * lever for lever in levers))
    else:
        found = judged_sum(levers)
    point = next(point for point in answer.tool_points if point.robot == robot.name)
    yield from judge_number("tool_points: repeatability_um", point.repeatability_um, found)
    stated, name = robot.tool_point_repeatability_target_um, "tool_point_repeatability_target_um"
    if stated is not None and not number_at_most(found, judged_target(study, stated)):
        kept = judged_target(study, stated)
        yield f"tool-point repeatability {found:.6g} um: above {name} {kept:.6g}"
    target, left = point.repeatability_target_um, point.repeatability_left_percent
    yield from _target_told("tool_points: repeatability_target_um", target, left, stated, found)


def _target_told(
    name: str, target: float | None, left: float | None, stated: float | None, reached: float
) -> Iterator[str]:
    """Check that a target, and what is left of it, are told as they are."""
    if target != stated:
        yield f"{name} {target!r}, {stated!r} wanted"
    if (left is None) != (stated is None):
        yield f"{name}: {left!r} percent left"
    elif stated is not None and left is not None:
        wanted = judged_left_percent(reached, stated)
        yield from judge_number("repeatability_left_percent", left, wanted)
