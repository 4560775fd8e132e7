"""Stage 5: the judge recomputes every limit and total from study and answer alone.

No solver, no catalogue, no rating: it shares with the accused only the study, the answer, the physics
and the standards, and works ring by ring on plain numbers. An answer it finds fault with is never
shown. It cannot tell whether something better exists; that is the proof's work.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ringset.physics import budget as physics
from ringset.physics import geometry, resolution, toolpoint
from ringset.physics import rim_bending as rim
from ringset.physics.limit_rule import number_at_least, number_at_most
from ringset.schema.answer import Answer, FaceScrews, JointRing
from ringset.schema.answer_checks import answer_range_faults
from ringset.schema.earlier_names import earlier_part_names
from ringset.schema.equipment import Head
from ringset.schema.joint import Joint
from ringset.schema.study import Robot, Study
from ringset.standards.iso1328 import iso1328_runout_um
from ringset.standards.materials import standard_material_in_full
from ringset.verification.judge.agreement import judge_number
from ringset.verification.judge.bounds import Bound, judge_bounds, judge_margins
from ringset.verification.judge.electronics import (
    judge_ring_electronics,
    judge_robot_electronics,
    judged_head_bounds,
)
from ringset.verification.judge.gap_and_budget import (
    Shape,
    judged_gap_left_mm,
    judged_head_angles_deg,
    judged_ring_budget,
    judged_target,
)
from ringset.verification.judge.mounting import (
    judged_drilled_away,
    judged_face_screws,
    judged_mounting_bounds,
    judged_profile_error_um,
    judged_rack,
)
from ringset.verification.judge.own_shop import judged_making_bounds, judged_tooth_count
from ringset.verification.judge.pairs import (
    KEPT_BY_SECOND,
    judge_pair,
    judge_screws,
    judged_alone,
    judged_misplaced,
    judged_pair_limits,
)
from ringset.verification.judge.part_names import judge_part_names
from ringset.verification.judge.repeatability import (
    judged_repeatability,
    judged_repeatability_restated,
    judged_steady_target,
)
from ringset.verification.judge.ring_amounts import (
    judge_robot_rings,
    judged_amount_bounds,
    judged_bore_list,
)
from ringset.verification.judge.standing import judged_kept_part
from ringset.verification.judge.whole_answer import (
    PartKey,
    judge_statements,
    judge_whole_answer,
    judged_bore_limits_um,
    judged_part_key,
)

#: Mass in kg and inertia in kg m^2 of every ring before its screw holes, by robot and joint.
Amounts = dict[tuple[str, str], tuple[float, float]]


@dataclass(frozen=True)
class Sizes:
    """What the judge computes of one ring: mm, kg, um, arcsec; finished as before its screw holes."""

    pitch: float
    tip: float
    root: float
    rim: float
    least_rim: float
    blank_kg: float
    finished_kg: float
    inertia: float
    lobe_um: float
    runout_um: float
    gap_left: float
    budget: physics.Budget
    repeatability: dict[str, float]


def judge(study: Study, answer: Answer, previous: Answer | None = None) -> list[str]:
    """Return every violation, each naming ring and limit; an empty list for a sound answer.

    A field outside its range is one as well, in whatever way the answer was put together. With the answer
    `previous` to an earlier revision, its rings must keep their names, and no name of others comes back;
    raises StudyError where its names cannot be kept.
    """
    if previous is not None:
        earlier_part_names(previous)
    try:
        violations = _violations(study.canonical(), answer, previous)
    except (ArithmeticError, TypeError, ValueError):  # as numbers outside their ranges may do
        violations = [str(fault) for fault in answer_range_faults(answer)]
        if not violations:
            raise
    return violations or [str(fault) for fault in answer_range_faults(answer)]


def _violations(study: Study, answer: Answer, previous: Answer | None) -> list[str]:
    """Return what is wrong with an answer to a study in canonical order."""
    violations = list(judge_statements(study, answer))
    if answer.status in ("impossible", "undecided"):
        return violations
    misplaced = judged_misplaced(study, answer)
    if misplaced:
        return violations + misplaced
    joints = {
        (robot.name, joint.name): (robot, joint) for robot in study.robots for joint in robot.joints
    }
    served: dict[PartKey, list[Joint]] = {}
    for ring in answer.every_ring:
        served.setdefault(judged_part_key(ring), []).append(joints[ring.place][1])
    stated = {part.id: part.screws for part in answer.ring_parts}
    seconds = {ring.place: ring for ring in answer.second_rings}
    amounts: Amounts = {}
    for ring in answer.every_ring:
        robot, joint = joints[ring.place]
        other = seconds.get(ring.place)
        first, placed = ring is not other, joint if ring is not other else judged_alone(joint)
        problems = list(_not_made(study, placed, ring))
        beside = first and other is not None and any(_not_made(study, judged_alone(joint), other))
        if not problems and not beside:  # no pair can be sized with a ring that cannot be made
            mine = served[judged_part_key(ring)]
            problems = _checked(study, robot, placed, ring, mine, stated, other, amounts)
        if first and ring.second:
            problems.append("second: stated of the first ring")
        where = ring.label if first else f"{ring.label}, second ring"
        violations += [f"{where}: {problem}" for problem in problems]
    violations += judge_whole_answer(study, answer)
    violations += judge_part_names(study, answer, previous)
    violations += judge_robot_rings(study, answer, amounts)
    return violations + list(judge_robot_electronics(study, answer))


def _checked(
    study: Study, robot: Robot, joint: Joint, ring: JointRing, served: list[Joint],
    stated: dict[str, FaceScrews | None], second: JointRing | None, amounts: Amounts,
) -> list[str]:  # fmt: skip
    """Return what is wrong with a ring that shop and head allow.

    `served` are all joints that share it, `stated` the screws of every ring part; `second` is the second ring
    of its joint, this ring itself where it is that one. What both come to before their screw holes goes into
    `amounts`.
    """

    def budget(placed: Joint, other: JointRing) -> physics.Budget:
        return judged_ring_sizes(study, placed, other).budget

    pair: list[str] = []
    try:
        sizes = judged_ring_sizes(study, joint, ring)
        screws = judged_face_screws(study, served, ring, sizes.root, sizes.tip)
        mass, inertia = judged_drilled_away(study, ring, screws)
        both = (sizes.finished_kg, sizes.inertia)  # limits speak of rings before their holes
        if second is not None and second is not ring:
            other = judged_ring_sizes(study, judged_alone(joint), second)
            both = (both[0] + other.finished_kg, both[1] + other.inertia)
        bounds = _bounds(study, joint, ring, sizes, both)
        if second is not ring:
            amounts[ring.place] = both
        sizes = replace(
            sizes, finished_kg=sizes.finished_kg - mass, inertia=sizes.inertia - inertia
        )
        if second is ring:
            bounds = [bound for bound in bounds if bound.limit in KEPT_BY_SECOND]
        elif second is not None:
            error, tolerance = judged_pair_limits(joint, ring, second, budget)
            bounds.append(Bound("error of the pair", error, "second_ring", tolerance, "arcsec", 1))
            pair = list(judge_pair(study, joint, ring, second, error, tolerance))
        electronics = list(judge_ring_electronics(study, robot, joint, ring, second is ring))
    except ValueError as error_:
        return [f"cannot be sized: {error_}"]
    restated = [*judge_screws(ring, stated.get(ring.ring_part), screws)]
    restated += _restated(study, joint, ring, sizes)
    restated += judged_bore_list(study, joint, ring.bore_mm)
    return [*judge_bounds(bounds), *judge_margins(ring, bounds), *restated, *electronics, *pair]


def _not_made(study: Study, joint: Joint, ring: JointRing) -> Iterator[str]:
    """Check that shop and head allow this ring at all."""
    shop, head = study.shop, study.head_of(joint)
    if ring.module_mm not in shop.modules_mm():
        yield f"module {ring.module_mm:g} mm: not among shop.modules"
    if ring.teeth < head.teeth_min:
        yield f"{ring.teeth} teeth: below head.teeth_min {head.teeth_min}"
    if ring.teeth > head.teeth_max:
        yield f"{ring.teeth} teeth: above head.teeth_max {head.teeth_max}"
    yield from judged_tooth_count(shop, ring.teeth)
    if ring.heads not in joint.head_counts:
        yield f"{ring.heads} heads: not in head_counts {joint.head_counts}"
    if not 0.0 < ring.bore_mm < ring.module_mm * ring.teeth:
        yield f"bore {ring.bore_mm!r} mm: not between 0 and the pitch circle"
        return
    steps = ring.bore_mm / shop.bore_step_mm
    if abs(steps - round(steps)) > 1e-6:
        yield f"bore {ring.bore_mm!r} mm: no whole number of shop.bore_step_mm {shop.bore_step_mm:g}"
    if not _gap_offered(head, ring.gap_mm):
        yield f"gap_mm {ring.gap_mm!r}: not a gap that the head allows"
    for name, given, allowed in (
        ("face_width_mm", ring.face_width_mm, joint.face_width_mm),
        ("profile_shift", ring.profile_shift, shop.profile_shift),
        ("flank_class", ring.flank_class, shop.flank_class),
        (
            "material",
            ring.material,
            standard_material_in_full(shop.material, shop.material_treatment),
        ),
    ):
        if given != allowed:
            yield f"{name} {given!r}: the study asks {allowed!r}"
    yield from _zone(study, joint, ring)


def _zone(study: Study, joint: Joint, ring: JointRing) -> Iterator[str]:
    """Check that the limits of a ring's bore are those that its joint asks."""
    try:
        lower, upper = judged_bore_limits_um(study, joint, ring.bore_mm)
    except ValueError as error:
        yield f"bore {ring.bore_mm!r} mm: no tolerance zone: {error}"
        return
    yield from judge_number("bore_lower_um", ring.bore_lower_um, lower)
    yield from judge_number("bore_upper_um", ring.bore_upper_um, upper)


def _gap_offered(head: Head, gap_mm: float) -> bool:
    """Say whether a gap is the head's own or, where it gives a range, a step of that range."""
    if head.gap_min_mm is None or head.gap_max_mm is None:
        return gap_mm == head.gap_mm
    steps = (gap_mm - head.gap_min_mm) / head.gap_step_mm
    inside = number_at_least(gap_mm, head.gap_min_mm) and number_at_most(gap_mm, head.gap_max_mm)
    return bool(inside) and abs(steps - round(steps)) < 1e-6


def judged_ring_sizes(study: Study, joint: Joint, ring: JointRing) -> Sizes:
    """Return sizes, masses and budget of one ring on its joint, from first principles of `physics`."""
    shop, steel = study.shop, study.shop.ring_material
    module, teeth, bore = ring.module_mm, ring.teeth, ring.bore_mm
    rack = judged_rack(shop, module)
    pitch = float(geometry.pitch_diameter_mm(module, teeth))
    tip = float(geometry.tip_diameter_mm(module, teeth, rack.addendum, shop.profile_shift))
    root = float(geometry.root_diameter_mm(module, teeth, rack.dedendum, shop.profile_shift))
    rim_mm = float(geometry.rim_thickness_mm(root, bore))
    depth = float(geometry.whole_depth_mm(module, rack.addendum, rack.dedendum))
    section = geometry.toothed_section(
        module, teeth, bore, addendum=rack.addendum, dedendum=rack.dedendum,
        fillet=rack.root_fillet, pressure_angle_deg=rack.pressure_angle_deg,
        shift=shop.profile_shift,
    )  # fmt: skip
    width, density = joint.face_width_mm, steel.density_kg_per_m3
    beam = (bore, rim_mm, width, steel.youngs_modulus_gpa, steel.poisson)
    lobe = rim.clamping_lobe_mm(shop.clamp_jaws, shop.clamp_force_n, *beam)
    share = rim.transmitted_ovality(joint.seat_stiffness_n_per_mm2, *beam)
    runout = iso1328_runout_um(pitch, module, shop.flank_class, extrapolate=True)
    shape = Shape(
        pitch, tip, root, 1e3 * float(lobe), joint.seat_ovality_um * float(share), float(runout)
    )
    budget = judged_ring_budget(study, joint, ring, shape)
    return Sizes(
        pitch, tip, root, rim_mm,
        least_rim=max(shop.rim_min_mm, shop.rim_min_depths * depth),
        blank_kg=float(geometry.mass_kg(geometry.annulus_section(tip, bore), width, density)),
        finished_kg=float(geometry.mass_kg(section, width, density)),
        inertia=float(geometry.inertia_kg_m2(section, width, density)),
        lobe_um=shape.lobe_um,
        runout_um=shape.runout_um,
        gap_left=judged_gap_left_mm(study, joint, ring, shape),
        budget=budget,
        repeatability=judged_repeatability(study, ring.heads, budget),
    )  # fmt: skip


def _bounds(
    study: Study, joint: Joint, ring: JointRing, sizes: Sizes, amounts: tuple[float, float] | None = None
) -> list[Bound]:  # fmt: skip
    """Return every limit of joint, shop, head and target that applies, with the judge's numbers.

    `amounts` are mass (kg) and inertia (kg m^2) of all rings of the joint, by default of this one.
    """
    amounts = (sizes.finished_kg, sizes.inertia) if amounts is None else amounts
    shop, head = study.shop, study.head_of(joint)
    share = shop.clamp_runout_share
    lobes = None if share is None else share * sizes.runout_um
    target = judged_target(study, study.target_of(joint))
    steady, scatter = judged_steady_target(study, joint), sizes.repeatability[study.target.basis]
    steady = None if steady is None else judged_target(study, steady)
    noise = sizes.budget.amplitude["noise"]
    bits = float(resolution.usable_bits(noise, study.target.noise_free_sigmas))
    rate = float(resolution.tooth_rate_hz(ring.teeth, joint.speed_max_rpm))
    error = float(sizes.budget.total(study.target.basis))
    rim_rule = "shop.rim_min_mm" if sizes.least_rim <= shop.rim_min_mm else "shop.rim_min_depths"
    given: list[tuple[str, float, str, float | None, str, int]] = [
        ("bore", ring.bore_mm, "bore_min_mm", joint.bore_min_mm, "mm", -1),
        ("rim", sizes.rim, rim_rule, sizes.least_rim, "mm", -1),
        ("tip diameter", sizes.tip, "tip_min_mm", joint.tip_min_mm, "mm", -1),
        ("module", ring.module_mm, "head.module_min_mm", head.module_min_mm, "mm", -1),
        ("teeth", ring.teeth, "head.teeth_min", head.teeth_min, "teeth", -1),
        ("gap left", sizes.gap_left, "head.gap_left_min_mm", head.gap_left_min_mm, "mm", -1),
        ("usable bits", bits, "target.resolution_bits", study.target.resolution_bits, "bits", -1),
        ("bore", ring.bore_mm, "bore_max_mm", joint.bore_max_mm, "mm", 1),
        ("tip diameter", sizes.tip, "tip_max_mm", joint.tip_max_mm, "mm", 1),
        ("rim", sizes.rim, "shop.rim_max_mm", shop.rim_max_mm, "mm", 1),
        ("module", ring.module_mm, "head.module_max_mm", head.module_max_mm, "mm", 1),
        ("teeth", ring.teeth, "head.teeth_max", head.teeth_max, "teeth", 1),
        ("tooth rate", rate, "head.tooth_rate_max_hz", head.tooth_rate_max_hz, "Hz", 1),
        ("clamping lobes", 2.0 * sizes.lobe_um, "shop.clamp_runout_share", lobes, "um", 1),
        ("error", error, "angle_target_arcsec", target, "arcsec", 1),
        ("repeatability", scatter, "repeatability_target_arcsec", steady, "arcsec", 1),
        judged_kept_part(study, joint, ring),
        *judged_head_bounds(study, joint, ring, sizes.tip),
        *judged_making_bounds(shop, ring.module_mm, ring.teeth),
        *judged_mounting_bounds(study, joint, ring, sizes.root, sizes.tip),
        *judged_amount_bounds(study, joint, ring, sizes.tip, amounts),
    ]
    return [
        Bound(words, float(value), limit, float(allowed), unit, sign)
        for words, value, limit, allowed, unit, sign in given
        if allowed is not None
    ]


def _restated(study: Study, joint: Joint, ring: JointRing, sizes: Sizes) -> Iterator[str]:
    """Check every number that the answer states of a ring."""
    head, rack, budget = study.head_of(joint), judged_rack(study.shop, ring.module_mm), sizes.budget
    noise = float(budget.amplitude["noise"])
    error = float(budget.total(study.target.basis))
    stated = {
        "pitch_diameter_mm": sizes.pitch,
        "tip_diameter_mm": sizes.tip,
        "root_diameter_mm": sizes.root,
        "rim_mm": sizes.rim,
        "tooth_depth_mm": ring.module_mm * rack.whole_depth,
        "blank_kg": sizes.blank_kg,
        "finished_kg": sizes.finished_kg,
        "inertia_kg_m2": sizes.inertia,
        "gap_left_mm": sizes.gap_left,
        "housing_diameter_mm": sizes.tip + 2.0 * (ring.gap_mm + head.height_above_tips_mm),
        "error_arcsec": error,
        "target_arcsec": study.target_of(joint),
        "displayed_bits": float(head.position_bits),
        "displayed_step_arcsec": float(resolution.step_arcsec(head.position_bits)),
        "usable_bits": float(resolution.usable_bits(noise, study.target.noise_free_sigmas)),
        "tool_point_um": float(toolpoint.lever_error_um(joint.reach_mm, error)),
    }
    for name, value in stated.items():
        yield from judge_number(name, float(getattr(ring, name)), value)
    yield from _profile(ring, judged_profile_error_um(study.shop, ring))
    for name in ("combined", "expanded", "worst_case"):
        given, value = getattr(ring.budget, f"{name}_arcsec"), float(getattr(budget, name))
        yield from judge_number(f"budget.{name}", given, value)
    yield from judged_repeatability_restated(study, joint, ring, sizes.repeatability)
    if [term.name for term in ring.budget.terms] != list(physics.TERMS):
        yield "budget.terms: not the terms of the budget"
        return
    for term in ring.budget.terms:
        name = f"budget.{term.name}"
        yield from judge_number(name, term.amplitude_arcsec, float(budget.amplitude[term.name]))
        yield from judge_number(name, term.standard_arcsec, float(budget.standard[term.name]))
    if ring.head_angles_deg != judged_head_angles_deg(joint, ring.heads):
        yield f"head_angles_deg {ring.head_angles_deg}: the study puts the heads elsewhere"


def _profile(ring: JointRing, wanted: float | None) -> Iterator[str]:
    """Check how far the form of the ring's cutter takes the profile off."""
    given = ring.profile_error_um
    if given is None or wanted is None:
        if given != wanted:
            yield f"profile_error_um: {given!r} stated, {wanted!r} recomputed"
        return
    yield from judge_number("profile_error_um", given, wanted)
