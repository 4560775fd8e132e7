"""The judge's second half: what an answer says of itself as a whole.

Parts, cutters, totals, tool points, status and proof, recomputed from the rings that `judge` has checked
one by one. Shares with the accused what `judge` shares: study, answer, physics, standards.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ringset.physics.limit_rule import number_at_most
from ringset.schema.answer import (
    CAUTIONS,
    SETTLED,
    Answer,
    Cutter,
    JointRing,
    RingPart,
    Totals,
    stage_unit,
)
from ringset.schema.joint import Joint
from ringset.schema.study import Robot, Study
from ringset.standards import cutters, iso286, iso2768
from ringset.standards.iso286 import iso286_deviations_um, iso286_tolerance_um
from ringset.verification.judge.agreement import judge_number, judged_sum
from ringset.verification.judge.gap_and_budget import judged_left_percent, judged_target
from ringset.verification.judge.given_up import judge_gives
from ringset.verification.judge.own_shop import judged_pitch_name
from ringset.verification.judge.repeatability import judged_tool_point_repeats
from ringset.verification.judge.standing import (
    judge_standing,
    judged_cutter_key,
    judged_owned_count,
    judged_standing_name,
)
from ringset.verification.judge.stated_warnings import judge_warnings

#: Finest units of material in kg and of money. A coarser one is a power of ten, and all that rounding up adds
#: to an answer in it is at most this share of the answer; else it could hide that something better exists.
FINEST_KG, FINEST_MONEY, HIDDEN_SHARE = 1e-6, 1e-2, 1e-4
#: Largest number of whole units that doubles tell apart.
WHOLE_MAX = 2.0**53

PartKey = tuple[float, int, float, tuple[float, float], float]


def _whole(amount: float, unit: float) -> int:
    """Return an amount in whole units, rounded up, by the rule of `limit_rule.number_in_whole_units`."""
    return math.ceil(amount / unit - 1e-6)


def _unit_violations(
    name: str, unit: float, finest: float, amounts: Sequence[float]
) -> Iterator[str]:
    """Yield a violation where amounts cannot be counted in whole units of this size."""
    ten = f"{unit:.0e}".startswith("1") and float(f"{unit:.0e}") == unit
    hidden = unit * sum(amount > 0.0 for amount in amounts)
    if not (
        ten and (unit == finest or (finest < unit and hidden <= HIDDEN_SHARE * judged_sum(amounts)))
    ):
        yield (
            f"proof.{name}: {unit!r} stated; allowed: {finest:g}, or a power of ten above it in which "
            f"rounding up adds at most {HIDDEN_SHARE:g} of the total"
        )
    elif not all(amount / unit <= WHOLE_MAX for amount in amounts):
        yield f"proof.{name}: {unit!r} stated, in which the amounts are too many to be counted"


def judge_statements(study: Study, answer: Answer) -> Iterator[str]:
    """Check what the answer says of itself: study, status and proof must fit together."""
    if answer.study_sha256 != study.fingerprint():
        yield "study_sha256: the answer belongs to another study"
    if answer.basis != study.target.basis:
        yield f"basis: {answer.basis!r}, the study asks {study.target.basis!r}"
    if answer.reserve_percent != study.target.reserve_percent:
        asked = study.target.reserve_percent
        yield f"reserve_percent: {answer.reserve_percent!r}, the study asks {asked!r}"
    if answer.title != study.title:
        yield f"title: {answer.title!r}, the study's is {study.title!r}"
    if answer.cautions != CAUTIONS:
        yield "cautions: missing or changed"
    search = (study.search.seed, study.search.workers)
    if (answer.proof.seed, answer.proof.workers) != search:
        yield f"proof: seed and workers are not those of the study, {search}"
    stages, proof = answer.proof.stages, answer.proof
    pairs = any(joint.second_ring for robot in study.robots for joint in robot.joints)
    for name, each in (("rings_possible", 2 if pairs else 1), ("rows_searched", 1)):
        if getattr(proof, name) > each * proof.rows_possible:
            yield f"proof.{name}: {getattr(proof, name)}, more than rows_possible {proof.rows_possible}"
    if answer.status in ("impossible", "undecided"):
        parts = (
            answer.rings, answer.ring_parts, answer.cutters, answer.tool_points,
            answer.robot_rings, answer.electronics, answer.absolute, answer.second_rings, stages,
            answer.part_numbers,
        )  # fmt: skip
        if any(parts) or answer.totals is not None:
            yield f"rings: something given although the status is {answer.status}"
        if not answer.reasons:
            yield f"reasons: none although the status is {answer.status}"
        return
    yield from _stated_too_well(answer)
    for stage in stages:
        if stage.bound > stage.value:
            yield f"proof.stages.{stage.wish}: bound {stage.bound} above the value {stage.value}"
        wanted = stage_unit(stage.wish, answer.proof.material_unit_kg, answer.proof.cost_unit)
        if stage.unit != wanted:
            yield f"proof.stages.{stage.wish}: unit {stage.unit!r}, {wanted!r} wanted"
    if [stage.wish for stage in stages] != list(study.wishes.order):
        yield "proof.stages: not the wishes of the study in their order"
        return
    yield from judge_gives(study, answer)


def _stated_too_well(answer: Answer) -> Iterator[str]:
    """Yield where an answer states more of its proof than its wishes do."""
    stages = answer.proof.stages
    if answer.status in SETTLED and not all(stage.settled for stage in stages):
        yield f"status: {answer.status}, yet some wish has a bound that differs or is not confirmed"
    if answer.status == "proven" and any(stage.agreed for stage in stages):
        yield "status: proven, yet the engines only agree on some wish: no certificate of it was verified"
    if answer.status == "proven" and answer.reasons:
        yield "status: proven, yet reasons say why it is not"
    if answer.status == "agreed" and not answer.reasons:
        yield "reasons: none although the status is agreed"
    for stage in stages:
        if stage.agreed and not stage.settled:
            yield f"proof.stages.{stage.wish}: agreed on, yet its bound differs or is not confirmed"


def judge_whole_answer(study: Study, answer: Answer) -> Iterator[str]:
    """Check everything that speaks of all rings together; joints and rings match one to one."""
    yield from _names(study, answer)
    for part in answer.ring_parts:
        yield from _part(study, answer, part)
    for cutter in answer.cutters:
        yield from _tool(study, answer, cutter)
    if sorted(p.robot for p in answer.tool_points) != sorted(r.name for r in study.robots):
        yield "tool_points: not one for each robot"
    else:
        for robot in study.robots:
            yield from _tool_point(study, robot, answer)
            yield from judged_tool_point_repeats(study, robot, answer)
    yield from _targets_left(study, answer)
    yield from judge_standing(study, answer)
    yield from _totals(study, answer)
    yield from judge_warnings(study, answer)


def judged_bore_limits_um(study: Study, joint: Joint, bore_mm: float) -> tuple[float, float]:
    """Return the limits to which a joint's bore is made: of its fit's hole, or all above nominal."""
    if joint.seat_fit is not None:
        lower, upper = iso286_deviations_um(bore_mm, joint.seat_fit.split("/")[0])
        return float(lower), float(upper)
    if bore_mm <= iso286.LARGEST_SIZE_MM:
        return 0.0, float(iso286_tolerance_um(bore_mm, 7))
    return 0.0, 2e3 * iso2768.iso2768_linear_mm(bore_mm, study.shop.general_tolerance)


def judged_part_key(ring: JointRing) -> PartKey:
    """Return what makes two rings the same part; `judge` holds each ring's limits against its joint's."""
    limits = (ring.bore_lower_um, ring.bore_upper_um)
    return (ring.module_mm, ring.teeth, ring.bore_mm, limits, ring.face_width_mm)


def _names(study: Study, answer: Answer) -> Iterator[str]:
    """Check that every part and cutter has one name, listed once; `part_names` looks at names themselves."""
    parts = {judged_part_key(ring): ring.ring_part for ring in answer.every_ring}
    tools = {judged_cutter_key(study, r.module_mm, r.teeth): r.cutter for r in answer.every_ring}
    names = [name for key, name in tools.items() if key is not None and name is not None]
    for what, used, listed in (
        ("ring_parts", list(parts.values()), [part.id for part in answer.ring_parts]),
        ("cutters", names, [cutter.id for cutter in answer.cutters]),
    ):
        if len(set(used)) != len(used) or sorted(used) != sorted(listed):
            yield f"{what}: {sorted(listed)} listed, {sorted(used)} used"
    for ring in answer.every_ring:
        tool = tools[judged_cutter_key(study, ring.module_mm, ring.teeth)]
        if ring.ring_part != parts[judged_part_key(ring)] or ring.cutter != tool:
            yield f"{ring.robot}/{ring.joint}: one ring part or cutter under two names"


def _part(study: Study, answer: Answer, part: RingPart) -> Iterator[str]:
    """Check what is listed of one ring part against the rings that bear its name."""
    count = {robot.name: robot.count for robot in study.robots}
    mine = [ring for ring in answer.every_ring if ring.ring_part == part.id]
    if not mine:
        return  # its name is a fault already
    wanted = {
        "module_mm": mine[0].module_mm,
        "pitch_name": judged_pitch_name(study, mine[0].module_mm),
        "teeth": mine[0].teeth,
        "material": mine[0].material,
        "bore_mm": mine[0].bore_mm,
        "bore_lower_um": mine[0].bore_lower_um,
        "bore_upper_um": mine[0].bore_upper_um,
        "face_width_mm": mine[0].face_width_mm,
        "rim_mm": mine[0].rim_mm,
        "tip_diameter_mm": mine[0].tip_diameter_mm,
        "cutter": mine[0].cutter,
        "quantity": sum(count[ring.robot] for ring in mine),
    }
    for name, value in wanted.items():
        if getattr(part, name) != value:
            yield f"ring_parts {part.id}: {name} {getattr(part, name)!r} listed, {value!r} on the rings"
    yield from _zone_name(study, part, {(ring.robot, ring.joint) for ring in mine})
    if sorted(part.used_on) != sorted(f"{ring.robot}/{ring.joint}" for ring in mine):
        yield f"ring_parts {part.id}: used_on {part.used_on}, not the joints that use it"


def _zone_name(study: Study, part: RingPart, users: set[tuple[str, str]]) -> Iterator[str]:
    """Check that a part's zone is named as one of its joints asks it."""
    served = [j for robot in study.robots for j in robot.joints if (robot.name, j.name) in users]
    names = sorted({joint.seat_fit.split("/")[0] if joint.seat_fit else "H7" for joint in served})
    if part.bore_mm > iso286.LARGEST_SIZE_MM:
        names = [f"ISO 2768-1 {study.shop.general_tolerance}, above nominal"]
    if names and part.bore_zone != names[0]:
        yield f"ring_parts {part.id}: bore_zone {part.bore_zone!r} listed, {names[0]!r} wanted"


def _tool(study: Study, answer: Answer, cutter: Cutter) -> Iterator[str]:
    """Check what is listed of one cutter against the rings it cuts."""
    mine = [ring for ring in answer.every_ring if ring.cutter == cutter.id]
    if not mine:
        return  # its name is a fault already
    if study.shop.cutting == "wire":
        yield f"cutters {cutter.id}: listed, but the shop cuts by wire"
        return
    kind, tooth_range = "hob", "all teeth"
    if study.shop.cutting != "hob":
        key = judged_cutter_key(study, mine[0].module_mm, mine[0].teeth)
        kind, which = "disc cutter", 0 if key is None else key[1]
        if study.shop.cutting == "disc_special":
            tooth_range = cutters.standard_special_disc_label(which, study.shop.profile_shift)
        else:
            tooth_range = cutters.standard_disc_label(study.shop.cutting, which)
    module = mine[0].module_mm
    wanted = {
        "kind": kind, "tooth_range": tooth_range, "module_mm": module,
        "pitch_name": judged_pitch_name(study, module),
    }  # fmt: skip
    for name, value in wanted.items():
        if getattr(cutter, name) != value:
            yield f"cutters {cutter.id}: {name} {getattr(cutter, name)!r} listed, {value!r} wanted"
    if sorted(cutter.ring_parts) != sorted({ring.ring_part for ring in mine}):
        yield f"cutters {cutter.id}: ring_parts {cutter.ring_parts}, not the parts it cuts"


def _targets_left(study: Study, answer: Answer) -> Iterator[str]:
    """Check what every ring's error, which is checked elsewhere, leaves of the target of its joint."""
    joints = {(r.name, joint.name): joint for r in study.robots for joint in r.joints}
    for ring in answer.every_ring:
        stated = study.target_of(joints[ring.robot, ring.joint])
        left = judged_left_percent(ring.error_arcsec, stated)
        for problem in judge_number("target_left_percent", ring.target_left_percent, left):
            yield f"{ring.label}: {problem}"


def _tool_point(study: Study, robot: Robot, answer: Answer) -> Iterator[str]:
    """Check a robot's tool-point error and its statement."""
    levers = {r.joint: r.tool_point_um for r in answer.rings if r.robot == robot.name}
    weights = {j: v * v if robot.tool_point_rule == "rss" else v for j, v in levers.items()}
    whole = judged_sum(weights.values())
    error = math.sqrt(whole) if robot.tool_point_rule == "rss" else whole
    target = robot.tool_point_target_um
    stated = next(point for point in answer.tool_points if point.robot == robot.name)
    if (target is None) != (stated.target_left_percent is None):
        yield f"{robot.name}: tool_points: target_left_percent {stated.target_left_percent!r}"
    elif target is not None and stated.target_left_percent is not None:
        kept, left = judged_target(study, target), judged_left_percent(stated.error_um, target)
        if not number_at_most(error, kept):
            yield f"{robot.name}: tool point {error:.6g} um: above tool_point_target_um {kept:.6g}"
        for problem in judge_number("target_left_percent", stated.target_left_percent, left):
            yield f"{robot.name}: tool_points: {problem}"
    for name, wanted in (
        ("target_um", target),
        ("rule", robot.tool_point_rule),
        ("count", robot.count),
    ):
        if getattr(stated, name) != wanted:
            yield f"{robot.name}: tool_points: {name} {getattr(stated, name)!r}, {wanted!r} wanted"
    for problem in judge_number("tool point", stated.error_um, error):
        yield f"{robot.name}: {problem}"
    if stated.shares.keys() != weights.keys():
        yield f"{robot.name}: tool_points: shares of other joints"
        return
    for joint, weight in weights.items():
        share = weight / whole if whole > 0.0 else 0.0
        for problem in judge_number(f"tool_points: shares: {joint}", stated.shares[joint], share):
            yield f"{robot.name}: {problem}"


def _totals(study: Study, answer: Answer) -> Iterator[str]:
    """Check totals, ceilings, and the values the proof speaks of."""
    count = {robot.name: robot.count for robot in study.robots}
    rings, unit = answer.every_ring, answer.proof.material_unit_kg
    masses = [judged_sum(r.blank_kg * count[r.robot] for r in pair) for pair in _by_joint(answer)]
    if answer.totals is None:
        yield "totals: missing"
        return
    tools = {judged_cutter_key(study, ring.module_mm, ring.teeth) for ring in rings} - {None}
    new_tools = len(tools) - judged_owned_count(study, answer)
    parts = {judged_part_key(ring): judged_standing_name(study, ring) for ring in rings}
    new_parts = sum(name is None for name in parts.values())
    every = study.wishes.count == "all"
    reached: dict[str, float] = {
        "cutters": len(tools) if every else new_tools,
        "ring_parts": len(parts) if every else new_parts,
        "heads": sum(ring.heads * count[ring.robot] for ring in rings),
        "material_kg": judged_sum(masses),
        "finished_kg": judged_sum(ring.finished_kg * count[ring.robot] for ring in rings),
    }
    yield from _money(study, answer, answer.totals, new_tools, new_parts)
    for name, value in reached.items():
        yield from judge_number(f"totals.{name}", float(getattr(answer.totals, name)), value)
        limit = "material_max_kg" if name == "material_kg" else f"{name}_max"
        ceiling = getattr(study.wishes, limit, None)
        if ceiling is not None and not number_at_most(value, ceiling):
            yield f"{name} {value:.6g}: above wishes.{limit} {ceiling:.6g}"
    uncountable = list(_unit_violations("material_unit_kg", unit, FINEST_KG, masses))
    yield from uncountable
    if not uncountable:
        reached["material"] = sum(_whole(mass, unit) for mass in masses)
    for stage in answer.proof.stages:
        if stage.wish not in reached:
            continue  # not to be counted, or with the money
        value = int(reached[stage.wish])
        if stage.value != value:
            yield f"proof.stages.{stage.wish}: {stage.value} stated, {value} recomputed"


def _by_joint(answer: Answer) -> list[list[JointRing]]:
    """Return the rings of every joint, the second one beside the first: they are counted as one amount."""
    found: dict[tuple[str, str], list[JointRing]] = {}
    for ring in answer.every_ring:
        found.setdefault(ring.place, []).append(ring)
    return list(found.values())


def _money(
    study: Study, answer: Answer, totals: Totals, tools: int, parts: int
) -> Iterator[str]:  # fmt: skip
    """Check every line of the money, its ceiling, and the value that the proof speaks of.

    `tools` and `parts` are those that are new.
    """
    prices, unit = study.shop.prices, answer.proof.cost_unit
    if prices is None:
        if totals.cost is not None or unit != 0.0:
            yield "totals.cost, proof.cost_unit: given although the study has no shop.prices"
        return
    if totals.cost is None:
        yield "totals.cost: missing although the study has shop.prices"
        return
    count = {robot.name: robot.count for robot in study.robots}
    hours = prices.cutting_minutes_per_tooth[str(study.shop.flank_class)] / 60.0
    per_joint = [
        (
            count[pair[0].robot] * judged_sum(r.blank_kg for r in pair) * prices.material_per_kg,
            count[pair[0].robot] * sum(r.teeth for r in pair) * hours * prices.machine_per_hour,
            count[pair[0].robot] * sum(r.heads for r in pair) * prices.head,
        )
        for pair in _by_joint(answer)
    ]
    material, cutting, heads = (judged_sum(column) for column in zip(*per_joint, strict=True))
    lines = {
        "cutters": tools * prices.cutter,
        "set_up": parts * prices.set_up_per_ring_part,
        "material": material,
        "cutting": cutting,
        "heads": heads,
    }
    lines["total"] = judged_sum(lines.values())
    for name, value in lines.items():
        yield from judge_number(f"totals.cost.{name}", float(getattr(totals.cost, name)), value)
    ceiling = study.wishes.cost_max
    if ceiling is not None and not number_at_most(lines["total"], ceiling):
        yield f"cost {lines['total']:.9g}: above wishes.cost_max {ceiling:.9g}"
    amounts = [judged_sum(row) for row in per_joint]
    amounts += [prices.cutter] * tools + [prices.set_up_per_ring_part] * parts
    uncountable = list(_unit_violations("cost_unit", unit, FINEST_MONEY, amounts))
    yield from uncountable
    if uncountable:
        return
    counted = sum(_whole(amount, unit) for amount in amounts)
    for stage in answer.proof.stages:
        if stage.wish == "cost" and stage.value != counted:
            yield f"proof.stages.cost: {stage.value} stated, {counted} recomputed"
