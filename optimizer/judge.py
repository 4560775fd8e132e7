"""Stage 5: the judge recomputes every limit and total from study and answer alone.

No solver, no catalogue, no rating: it shares with the accused only the study, the answer, the physics
and the standards, and works ring by ring on plain numbers. An answer it finds fault with is never
shown. It cannot tell whether something better exists; that is the proof's work.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from optimizer.answer import Answer, JointRing
from optimizer.physics import budget as physics
from optimizer.physics import field, geometry, heads, readout, rim, toolpoint
from optimizer.physics.limits import at_least, at_most, whole_units
from optimizer.standards import cutters, iso286, iso1328
from optimizer.standards.materials import material
from optimizer.standards.modules import series_modules
from optimizer.standards.racks import RACKS
from optimizer.study import Joint, Robot, Study

#: Restated values must agree to this relative tolerance: both sides compute in double precision.
AGREEMENT = 1e-9


@dataclass(frozen=True)
class Sizes:
    """What the judge computes of one ring: mm, kg, um, arcsec."""

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
    budget: physics.Budget


def judge(study: Study, answer: Answer) -> list[str]:
    """Return every violation, each naming ring and limit; an empty list for a sound answer."""
    study = study.canonical()
    violations = list(_statements(study, answer))
    if answer.status in ("impossible", "undecided"):
        return violations
    wanted = [(robot, joint) for robot in study.robots for joint in robot.joints]
    misplaced = _misplaced([(robot.name, joint.name) for robot, joint in wanted], answer)
    if misplaced:
        return violations + misplaced
    rings = {(ring.robot, ring.joint): ring for ring in answer.rings}
    for robot, joint in wanted:
        ring = rings[(robot.name, joint.name)]
        problems = list(_not_made(study, joint, ring))
        if not problems:
            sizes = size(study, joint, ring)
            problems = [*_limits(study, joint, ring, sizes), *_restated(study, joint, ring, sizes)]
        violations += [f"{robot.name}/{joint.name}: {problem}" for problem in problems]
    for robot in study.robots:
        mine = [rings[(robot.name, joint.name)] for joint in robot.joints]
        violations += _tool_point(robot, mine, answer)
    return violations + list(_totals(study, answer))


def _misplaced(wanted: list[tuple[str, str]], answer: Answer) -> list[str]:
    """Return which joints do not have exactly one ring."""
    found = Counter((ring.robot, ring.joint) for ring in answer.rings)
    violations = []
    for robot, joint in wanted:
        times = found.pop((robot, joint), 0)
        if times != 1:
            violations.append(f"{robot}/{joint}: {times} rings, exactly one wanted")
    return violations + [f"{robot}/{joint}: not a joint of the study" for robot, joint in found]


def _statements(study: Study, answer: Answer) -> Iterator[str]:
    """Check what the answer says of itself: study, status and proof must fit together."""
    if answer.study_sha256 != study.fingerprint():
        yield "study_sha256: the answer belongs to another study"
    if answer.basis != study.target.basis:
        yield f"basis: {answer.basis!r}, the study asks {study.target.basis!r}"
    if not answer.cautions:
        yield "cautions: missing"
    stages = answer.proof.stages
    if answer.status in ("impossible", "undecided"):
        if answer.rings or answer.totals is not None:
            yield f"rings: given although the status is {answer.status}"
        if not answer.reasons:
            yield f"reasons: none although the status is {answer.status}"
        return
    proven = all(s.value == s.bound and s.confirmed_by != "nothing" for s in stages)
    if answer.status == "proven" and (not proven or answer.reasons):
        yield "status: proven, yet some wish has a bound that differs or is not confirmed"
    if [stage.wish for stage in stages] != list(study.wishes.order):
        yield "proof.stages: not the wishes of the study in their order"


def _not_made(study: Study, joint: Joint, ring: JointRing) -> Iterator[str]:
    """Check that shop and head allow this ring at all."""
    shop, head = study.shop, study.head_of(joint)
    modules = series_modules(shop.modules) if isinstance(shop.modules, str) else shop.modules
    if ring.module_mm not in modules:
        yield f"module {ring.module_mm:g} mm: not among shop.modules"
    if not at_least(ring.module_mm, head.module_min_mm):
        yield f"module {ring.module_mm:g} mm: below head.module_min_mm {head.module_min_mm:g}"
    if not at_most(ring.module_mm, head.module_max_mm):
        yield f"module {ring.module_mm:g} mm: above head.module_max_mm {head.module_max_mm:g}"
    if ring.teeth < head.teeth_min:
        yield f"{ring.teeth} teeth: below head.teeth_min {head.teeth_min}"
    if ring.teeth > head.teeth_max:
        yield f"{ring.teeth} teeth: above head.teeth_max {head.teeth_max}"
    if ring.heads not in joint.head_counts:
        yield f"{ring.heads} heads: not in head_counts {joint.head_counts}"
    steps = ring.bore_mm / shop.bore_step_mm
    if abs(steps - round(steps)) > 1e-6:
        yield f"bore {ring.bore_mm!r} mm: no whole number of shop.bore_step_mm {shop.bore_step_mm:g}"
    for name, given, allowed in (
        ("face_width_mm", ring.face_width_mm, joint.face_width_mm),
        ("profile_shift", ring.profile_shift, shop.profile_shift),
        ("flank_class", ring.flank_class, shop.flank_class),
    ):
        if given != allowed:
            yield f"{name} {given!r}: the study asks {allowed!r}"


def size(study: Study, joint: Joint, ring: JointRing) -> Sizes:
    """Return sizes, masses and budget of one ring on its joint, from first principles of `physics`."""
    shop, rack, steel = study.shop, RACKS[study.shop.rack], material(study.shop.material)
    module, teeth, bore = ring.module_mm, ring.teeth, ring.bore_mm
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
    lobe = rim.clamping_lobe_mm(
        shop.clamp_jaws, shop.clamp_force_n, bore, rim_mm, width, steel.youngs_modulus_gpa
    )
    runout = iso1328.runout_um(pitch, module, shop.flank_class, extrapolate=True)
    return Sizes(
        pitch, tip, root, rim_mm,
        least_rim=max(shop.rim_min_mm, shop.rim_min_depths * depth),
        blank_kg=float(geometry.mass_kg(geometry.annulus_section(tip, bore), width, density)),
        finished_kg=float(geometry.mass_kg(section, width, density)),
        inertia=float(geometry.inertia_kg_m2(section, width, density)),
        lobe_um=1e3 * float(lobe),
        runout_um=float(runout),
        budget=_budget(study, joint, ring, (pitch, tip, rim_mm, 1e3 * float(lobe))),
    )  # fmt: skip


def _budget(
    study: Study, joint: Joint, ring: JointRing, sizes: tuple[float, float, float, float]
) -> physics.Budget:
    shop, head, steel = study.shop, study.head_of(joint), material(study.shop.material)
    pitch, tip, rim_mm, lobe_um = sizes
    count = ring.heads
    angles = joint.head_angles_deg.get(str(count)) or [360.0 * i / count for i in range(count)]

    def gain(order: float) -> float:
        return heads.worst_head_gain(order, angles, head.placement_tolerance_deg)

    share = rim.transmitted_ovality(
        joint.seat_stiffness_n_per_mm2, ring.bore_mm, rim_mm, joint.face_width_mm,
        steel.youngs_modulus_gpa,
    )  # fmt: skip
    wide, narrow = head.gap_mm + head.gap_tolerance_mm, head.gap_mm - head.gap_tolerance_mm
    stated = (head.stated_gap_mm, head.stated_module_mm)
    tolerance = (pitch, ring.module_mm, shop.flank_class)
    return physics.budget(
        physics.BudgetInputs(
            pitch_diameter_mm=pitch,
            teeth=ring.teeth,
            heads=count,
            gain_first=gain(1.0),
            gain_second=gain(2.0),
            gain_lobes=gain(float(shop.clamp_jaws)),
            pitch_share=heads.pitch_share(angles),
            mounting_offset_um=_mounting_offset_um(joint, ring.bore_mm),
            cumulative_pitch_um=iso1328.cumulative_pitch_um(*tolerance, extrapolate=True),
            single_pitch_um=iso1328.single_pitch_um(*tolerance, extrapolate=True),
            teeth_sensed=head.teeth_sensed,
            seat_ovality_um=joint.seat_ovality_um * share,
            clamping_lobe_um=lobe_um,
            lobes=shop.clamp_jaws,
            amplitude_ratio=field.amplitude_ratio(wide, tip, ring.teeth, *stated),
            third_harmonic_ratio=field.third_harmonic_ratio(narrow, tip, ring.teeth, *stated),
            residual_offset=head.residual_offset,
            residual_gain=head.residual_gain,
            residual_quadrature_deg=head.residual_quadrature_deg,
            third_harmonic=head.third_harmonic,
            stray_field=head.stray_field,
            noise_ratio=head.noise_ratio,
            position_bits=head.position_bits,
            bearing_shift_um=joint.bearing_shift_um,
            expansion_per_k=steel.expansion_per_k,
            gradient_k=joint.temperature_gradient_k,
            wobble_mrad=joint.wobble_mrad,
            flank_line_mrad=shop.flank_line_mrad,
            speed_rpm=joint.speed_max_rpm,
            timing_jitter_us=head.timing_jitter_us,
        )
    )


def _mounting_offset_um(joint: Joint, bore_mm: float) -> float:
    if joint.seat_fit is not None:
        _, largest = iso286.fit_clearance_um(bore_mm, joint.seat_fit)
        return max(0.0, float(largest)) / 2.0 + joint.hub_offset_um
    return 15.0 if joint.seat_offset_um is None else joint.seat_offset_um


def _limits(study: Study, joint: Joint, ring: JointRing, sizes: Sizes) -> Iterator[str]:
    """Check every limit of joint, shop, head and target with the judge's own numbers."""
    shop, head, target = study.shop, study.head_of(joint), study.target_of(joint)
    noise = float(sizes.budget.amplitude["noise"])
    error = float(sizes.budget.total(study.target.basis))
    upper = [
        ("bore", ring.bore_mm, "bore_max_mm", joint.bore_max_mm),
        ("tip diameter", sizes.tip, "tip_max_mm", joint.tip_max_mm),
        ("rim", sizes.rim, "shop.rim_max_mm", shop.rim_max_mm),
        (
            "tooth rate",
            float(readout.tooth_rate_hz(ring.teeth, joint.speed_max_rpm)),
            "head.tooth_rate_max_hz",
            head.tooth_rate_max_hz,
        ),
        ("error", error, "angle_target_arcsec", target),
        (
            "clamping lobes, peak to valley",
            2.0 * sizes.lobe_um,
            "shop.clamp_runout_share of the run-out",
            None if shop.clamp_runout_share is None else shop.clamp_runout_share * sizes.runout_um,
        ),
    ]
    lower = [
        ("bore", ring.bore_mm, "bore_min_mm", joint.bore_min_mm),
        ("tip diameter", sizes.tip, "tip_min_mm", joint.tip_min_mm),
        ("rim", sizes.rim, "shop.rim_min_mm or rim_min_depths", sizes.least_rim),
        (
            "usable bits",
            float(readout.usable_bits(noise)),
            "target.resolution_bits",
            study.target.resolution_bits,
        ),
    ]
    for name, value, limit, allowed in upper:
        if allowed is not None and not at_most(value, allowed):
            yield f"{name} {value:.6g}: above {limit} {allowed:.6g}"
    for name, value, limit, allowed in lower:
        if allowed is not None and not at_least(value, allowed):
            yield f"{name} {value:.6g}: below {limit} {allowed:.6g}"


def _restated(study: Study, joint: Joint, ring: JointRing, sizes: Sizes) -> Iterator[str]:
    """Check every number that the answer states of a ring."""
    head, rack, budget = study.head_of(joint), RACKS[study.shop.rack], sizes.budget
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
        "gap_mm": head.gap_mm,
        "housing_diameter_mm": sizes.tip + 2.0 * (head.gap_mm + head.height_above_tips_mm),
        "error_arcsec": error,
        "target_arcsec": study.target_of(joint),
        "displayed_bits": float(head.position_bits),
        "displayed_step_arcsec": float(readout.step_arcsec(head.position_bits)),
        "usable_bits": float(readout.usable_bits(noise)),
        "tool_point_um": float(toolpoint.lever_error_um(joint.reach_mm, error)),
    }
    for name, value in stated.items():
        yield from _differs(name, float(getattr(ring, name)), value)
    yield from _differs("budget.combined", ring.budget.combined_arcsec, float(budget.combined))
    yield from _differs("budget.expanded", ring.budget.expanded_arcsec, float(budget.expanded))
    yield from _differs(
        "budget.worst_case", ring.budget.worst_case_arcsec, float(budget.worst_case)
    )
    if [term.name for term in ring.budget.terms] != list(physics.TERMS):
        yield "budget.terms: not the terms of the budget"
        return
    for term in ring.budget.terms:
        name = f"budget.{term.name}"
        yield from _differs(name, term.amplitude_arcsec, float(budget.amplitude[term.name]))
        yield from _differs(name, term.standard_arcsec, float(budget.standard[term.name]))
    for margin in ring.margins:
        if not at_least(margin.margin, 0.0):
            yield f"margin of {margin.limit}: {margin.margin:g}, negative"


def _differs(name: str, given: float, value: float) -> Iterator[str]:
    if not math.isclose(given, value, rel_tol=AGREEMENT, abs_tol=1e-12):
        yield f"{name}: {given!r} stated, {value!r} recomputed"


def _tool_point(robot: Robot, rings: list[JointRing], answer: Answer) -> Iterator[str]:
    """Check a robot's tool-point error and its statement."""
    levers = [ring.tool_point_um for ring in rings]
    error = math.hypot(*levers) if robot.tool_point_rule == "rss" else math.fsum(levers)
    target = robot.tool_point_target_um
    if target is not None and not at_most(error, target):
        yield f"{robot.name}: tool point {error:.6g} um: above tool_point_target_um {target:.6g}"
    stated = [point for point in answer.tool_points if point.robot == robot.name]
    if len(stated) != 1 or stated[0].target_um != target or stated[0].rule != robot.tool_point_rule:
        yield f"{robot.name}: tool_points does not state this robot's target once"
        return
    for problem in _differs("tool point", stated[0].error_um, error):
        yield f"{robot.name}: {problem}"


def _cutter(study: Study, ring: JointRing) -> tuple[float, int] | None:
    """Return what makes two cutters the same tool: module, and tooth range for disc cutters."""
    if study.shop.cutting == "wire":
        return None
    if study.shop.cutting == "hob":
        return (ring.module_mm, 0)
    teeth = max(
        ring.teeth, cutters.disc_set(study.shop.cutting)[0][0]
    )  # fewer is refused elsewhere
    return (ring.module_mm, int(cutters.disc_range_index(study.shop.cutting, teeth)))


def _totals(study: Study, answer: Answer) -> Iterator[str]:
    """Check names of parts and cutters, totals, ceilings, and the values the proof speaks of."""
    count = {robot.name: robot.count for robot in study.robots}
    rings, wishes = answer.rings, study.wishes
    parts = {(r.module_mm, r.teeth, r.bore_mm, r.face_width_mm): r.ring_part for r in rings}
    tools = {_cutter(study, ring): ring.cutter for ring in rings}
    yield from _named_apart("ring_parts", list(parts.values()), [p.id for p in answer.ring_parts])
    names = [name for key, name in tools.items() if key is not None and name is not None]
    yield from _named_apart("cutters", names, [cutter.id for cutter in answer.cutters])
    for ring in rings:
        key = (ring.module_mm, ring.teeth, ring.bore_mm, ring.face_width_mm)
        if ring.ring_part != parts[key] or ring.cutter != tools[_cutter(study, ring)]:
            yield f"{ring.robot}/{ring.joint}: one ring part or cutter under two names"
    material_kg = math.fsum(ring.blank_kg * count[ring.robot] for ring in rings)
    unit = answer.proof.material_unit_kg
    if not 0.0 < unit < math.inf:
        yield f"proof.material_unit_kg: {unit!r}, no unit to count in"
        return
    counted = sum(int(whole_units(ring.blank_kg * count[ring.robot], unit)) for ring in rings)
    reached: dict[str, float] = {
        "cutters": len(set(tools) - {None}),
        "ring_parts": len(parts),
        "heads": sum(ring.heads * count[ring.robot] for ring in rings),
        "material": material_kg,
    }
    finished = math.fsum(ring.finished_kg * count[ring.robot] for ring in rings)
    if answer.totals is None:
        yield "totals: missing"
        return
    for wish, value in reached.items():
        name = f"{wish}_kg" if wish == "material" else wish
        yield from _differs(f"totals.{name}", float(getattr(answer.totals, name)), value)
        ceiling = getattr(wishes, "material_max_kg" if wish == "material" else f"{wish}_max")
        if ceiling is not None and not at_most(value, ceiling):
            yield f"{wish} {value:.6g}: above wishes.{wish}_max {ceiling:.6g}"
    yield from _differs("totals.finished_kg", answer.totals.finished_kg, finished)
    for stage in answer.proof.stages:
        value = counted if stage.wish == "material" else reached[stage.wish]
        if stage.value != value:
            yield f"proof.stages.{stage.wish}: {stage.value} stated, {value} recomputed"


def _named_apart(what: str, names: list[str], listed: list[str]) -> Iterator[str]:
    if len(set(names)) != len(names) or sorted(names) != sorted(listed):
        yield f"{what}: {sorted(listed)} listed, {sorted(set(names))} used for {len(names)} different"
