"""For people: an answer as readable text, and one rated ring. Numbers are rounded as they are written."""

from __future__ import annotations

from collections.abc import Sequence
from math import gcd

from ringset.analysis.alternatives.models import Advice
from ringset.analysis.next_steps.models import WishSteps
from ringset.reporting.electronics_text import electronics_text, joint_text
from ringset.reporting.pieces_text import counted_note, pieces_text
from ringset.reporting.robot_rings_text import robot_rings_text
from ringset.reporting.wishes_text import (
    agreed_text,
    given_up_texts,
    proven_text,
    stage_text,
    steps_text,
)
from ringset.schema.absolute import Place, study_absolute_sentences
from ringset.schema.answer import Answer, Cost, JointRing, Margin, RingPart, ToolPoint
from ringset.schema.assumed_inputs import assumed_inputs
from ringset.schema.study import Study
from ringset.wording import (
    TERM_WORDS,
    count,
    in_study_order,
    wording_bullets,
    wording_of_basis,
    wording_of_count,
    wording_of_coverage,
    wording_of_cutter,
    wording_of_part,
    wording_of_readings,
    wording_table,
    wording_wrapped,
)

_HEADLINES = {
    "found": "Found, not proven best.",
    "impossible": "Impossible as stated.",
    "undecided": "Undecided in the time given.",
}


def answer_text(
    study: Study, answer: Answer, advice: Advice, steps: WishSteps | None = None
) -> str:
    """Return the whole answer as text for a terminal, joints in the order of the study.

    `advice` holds what would help the joints, as `advice_on_answer` works it out; `steps` what a step more of
    each wish would buy.
    """
    blocks = [short_text(study, answer, steps)]
    if answer.rings:
        rings = in_study_order(study, answer.rings)
        blocks += [
            _ring_table(rings, answer.basis),
            _mass_table(rings),
            *([_second_table(answer)] if answer.second_rings else []),
            _part_table(answer),
            *([_tool_points(answer)] if any(r.tool_point_um > 0.0 for r in rings) else []),
            *filter(None, [robot_rings_text(answer)]),
            *filter(None, [electronics_text(answer.model_copy(update={"rings": rings}))]),
            "\n".join(["Closest limits", *(f"  {r.label}: {_closest(r)}" for r in rings)]),
            "\n".join(
                [
                    "Largest parts of the error (standard uncertainty, arcsec)",
                    *(f"  {r.label}: {_largest_terms(r)}" for r in rings),
                ]
            ),
            _advice(rings, advice),
        ]
    blocks.append(_proof(answer))
    assumed = len(assumed_inputs(study))
    if assumed:
        blocks.append(f"{count(assumed, 'input')} assumed (ringset assumptions STUDY ranks them)")
    blocks += [wording_bullets("Warnings", answer.warnings)] if answer.warnings else []
    blocks.append(wording_bullets("Cautions", answer.cautions))
    return "\n\n".join(blocks) + "\n"


def short_text(study: Study, answer: Answer, steps: WishSteps | None = None) -> str:
    """Return the first lines of the report: status, totals, and what one step more of each wish would buy."""
    lines = _headline(study, answer)
    if steps is None or not (steps.steps or steps.open):
        return lines
    return f"{lines}\n\n{steps_text(steps)}"


def _headline(study: Study, answer: Answer) -> str:
    lines = [answer.title] if answer.title else []
    settled = {"proven": proven_text, "agreed": agreed_text}.get(answer.status)
    lines.append(settled(study) if settled else _HEADLINES[answer.status])
    if answer.totals is not None:
        t = answer.totals
        lines.append(
            f"{pieces_text(t)}, {count(t.heads, 'head')}, {t.material_kg:.4g} kg of blanks "
            f"({t.finished_kg:.4g} kg finished)"
            + ("" if all(r.count == 1 for r in study.robots) else ", over all robots built")
        )
        note = counted_note(t.counted)
        lines += [] if note is None else [wording_wrapped(note, "")]
        lines += _money(study, t.cost)
        lines += [wording_wrapped(text, "") for text in given_up_texts(study, answer)]
        lines += [
            wording_wrapped(text, "")
            for text in [*answer.absolute, *_taken_by_seconds(study, answer)]
        ]
    if answer.reserve_percent:
        text = f"A reserve of {answer.reserve_percent:g} % is kept below every accuracy target (angles, "
        text += "repeatability and tool points; not resolution and lag)."
        lines.append(wording_wrapped(text, ""))
    lines += [wording_wrapped(reason, "  - ") for reason in answer.reasons]
    if answer.status == "impossible":
        lines.append(
            "ringset why STUDY says which limits collide and which least changes would help."
        )
    return "\n".join(lines)


def _money(study: Study, cost: Cost | None) -> list[str]:
    """Return what it costs, line by line of the price list."""
    prices = study.shop.prices
    if cost is None or prices is None:
        return []
    parts = {
        "cutters": cost.cutters, "set-up": cost.set_up, "material": cost.material,
        "cutting teeth": cost.cutting, "heads": cost.heads,
    }  # fmt: skip
    shown = ", ".join(f"{name} {value:.2f}" for name, value in parts.items())
    return [wording_wrapped(f"Cost {cost.total:.2f} {prices.currency}".rstrip() + f": {shown}", "")]


def _ring_table(rings: Sequence[JointRing], basis: str) -> str:
    heads = (
        "joint", "part", "module", "teeth", "pitch", "tip", "root", "bore", "rim", "heads", "error",
        "target", "left %", "repeats", "usable bits", "shown bits",
    )  # fmt: skip
    rows = [
        (
            r.label, r.ring_part, f"{r.module_mm:g}", str(r.teeth), f"{r.pitch_diameter_mm:.5g}",
            f"{r.tip_diameter_mm:.5g}", f"{r.root_diameter_mm:.5g}", f"{r.bore_mm:.5g}",
            f"{r.rim_mm:.3f}", str(r.heads), f"{r.error_arcsec:.1f}", f"{r.target_arcsec:g}",
            f"{r.target_left_percent:.1f}", _repeats(r), f"{r.usable_bits:.1f}",
            str(r.displayed_bits),
        )
        for r in rings
    ]  # fmt: skip
    basis = wording_of_basis(basis, rings)
    title = f"Rings (mm; error, and how far readings at one angle scatter, in arcsec, {basis})"
    return f"{title}\n{wording_table(heads, rows)}"


def _repeats(ring: JointRing) -> str:
    """Return a ring's repeatability, and its target where there is one."""
    target = ring.repeatability_target_arcsec
    return f"{ring.repeatability_arcsec:.1f}" + ("" if target is None else f" of {target:g}")


def _mass_table(rings: Sequence[JointRing]) -> str:
    heads = (
        "joint", "tooth depth", "width", "blank g", "finished g", "inertia kg mm2", "gap",
        "housing", "tool point um",
    )  # fmt: skip
    rows = [
        (
            r.label, f"{r.tooth_depth_mm:.4g}", f"{r.face_width_mm:g}", f"{1e3 * r.blank_kg:.1f}",
            f"{1e3 * r.finished_kg:.1f}", f"{1e6 * r.inertia_kg_m2:.4g}", f"{r.gap_mm:g}",
            f"{r.housing_diameter_mm:.5g}",
            f"{r.tool_point_um:.1f}" if r.tool_point_um > 0.0 else "not counted",
        )
        for r in rings
    ]  # fmt: skip
    return "Making and mounting (mm)\n" + wording_table(heads, rows)


def _taken_by_seconds(study: Study, answer: Answer) -> list[str]:
    """Return what second rings take of heads, material and ring parts, over all robots built."""
    if not answer.second_rings:
        return []
    built = {robot.name: robot.count for robot in study.robots}
    heads = sum(built[ring.robot] for ring in answer.second_rings)
    blanks = sum(built[ring.robot] * ring.blank_kg for ring in answer.second_rings)
    own = {r.ring_part for r in answer.second_rings} - {r.ring_part for r in answer.rings}
    taken = f"{count(heads, 'head')}, {blanks:.4g} kg of blanks and {wording_of_count(len(own), 'ring part')}"
    return [f"Of these totals second rings alone take {taken}."]


def _second_table(answer: Answer) -> str:
    heads = (
        "joint", "part", "teeth", "tip", "bore", "rim", "blank g", "finished g", "gap", "tolerated", "error",
        "left",
    )  # fmt: skip
    told = {ring.place: ring.electronics.second_ring for ring in answer.rings}
    rows = []
    for r in answer.second_rings:
        pair = told[r.place]
        tolerance = 0.0 if pair is None else pair.tolerance_arcsec or 0.0
        error = 0.0 if pair is None else pair.relative_error_arcsec or 0.0
        rows.append(
            (
                r.label, r.ring_part, str(r.teeth), f"{r.tip_diameter_mm:.5g}", f"{r.bore_mm:.5g}",
                f"{r.rim_mm:.3f}", f"{1e3 * r.blank_kg:.1f}", f"{1e3 * r.finished_kg:.1f}", f"{r.gap_mm:g}",
                f"{tolerance:.1f}", f"{error:.1f}", f"{tolerance - error:.1f}",
            )
        )  # fmt: skip
    title = "Second rings, one head each (mm; what the errors of both rings may differ by and do, arcsec)"
    return f"{title}\n" + wording_table(heads, rows)


def _part_table(answer: Answer) -> str:
    lines = ["Ring parts and cutters"]
    for part in answer.ring_parts:
        tool = f", cutter {part.cutter}" if part.cutter else ", wire erosion"
        text = (
            f"{part.id}: {wording_of_part(part)}{_face_screws(part)}{tool}{_profile(answer, part)}; "
            f"{part.quantity} off for {', '.join(part.used_on)}"
            + ("; in production" if part.in_production else "")
        )
        lines.append(wording_wrapped(text, "  "))
    for tool_piece in answer.cutters:
        text = (
            f"{tool_piece.id}: {wording_of_cutter(tool_piece)}; cuts {', '.join(tool_piece.ring_parts)}"
            + ("; owned" if tool_piece.owned else "")
        )
        lines.append(wording_wrapped(text, "  "))
    return "\n".join([*lines, *(wording_wrapped(text, "  ") for text in _part_numbers(answer))])


def _part_numbers(answer: Answer) -> list[str]:
    """Return what became of the names of an earlier answer's ring parts."""
    told = answer.part_numbers
    if told is None:
        return []
    standing = [part.id for part in answer.ring_parts if part.in_production]
    new = [part.id for part in answer.ring_parts if part.id not in (*told.kept, *standing)]
    lists = {"kept": told.kept, "new": new, "given up so far": told.retired}
    lists |= {"in production": standing} if standing else {}
    shown = "; ".join(f"{words} {', '.join(names) or 'none'}" for words, names in lists.items())
    return [f"Names of an earlier answer: {shown}"]


def _profile(answer: Answer, part: RingPart) -> str:
    """Tell how far the form of a disc cutter takes the profile off."""
    errors = {ring.profile_error_um for ring in answer.every_ring if ring.ring_part == part.id}
    return "".join(f" (profile off by {e:.1f} um)" for e in errors if e is not None)


def _face_screws(part: RingPart) -> str:
    held = part.screws
    return "" if held is None else f", {held.count} holes for {held.size} on {held.circle_mm:g}"


def _tool_points(answer: Answer) -> str:
    lines = [f"Tool point ({wording_of_basis(answer.basis, answer.rings)})"]
    for point in answer.tool_points:
        target = "no target"
        if point.target_um is not None and point.target_left_percent is not None:
            left = f"{point.target_left_percent:.1f} % of it left"
            target = f"target {point.target_um:g} um, {left}"
        shares = sorted(point.shares.items(), key=lambda item: -item[1])
        shown = ", ".join(
            f"{joint} {100 * share:.0f} %" for joint, share in shares if share >= 0.005
        )
        text = f"{point.robot}: {point.error_um:.4g} um, {target}, joints by {point.rule}"
        text = f"{text}; {shown}" if shown else text
        lines.append(wording_wrapped(f"{text}; repeats within {_steady(point)}", "  "))
    return "\n".join(lines)


def _steady(point: ToolPoint) -> str:
    """Return a robot's repeatability at the tool point with its target; it is the sensors' part alone."""
    text = f"{point.repeatability_um:.4g} um about the mean"
    left = point.repeatability_left_percent
    if point.repeatability_target_um is None or left is None:
        return f"{text} (sensors alone)"
    return f"{text} (sensors alone; target {point.repeatability_target_um:g} um, {left:.1f} % of it left)"


def _closest(ring: JointRing) -> str:
    def tightness(margin: Margin) -> float:
        return margin.margin / max(abs(margin.allowed), 1e-12)

    def telling(margin: Margin) -> bool:
        # modules, tooth counts and parts are there to choose from, not limits to come near to
        steps = ("head.module", "head.teeth", "shop.teeth", "keeps_part")
        return not margin.limit.startswith(steps)

    return "; ".join(
        f"{m.limit} {m.allowed:.4g} {m.unit}, room {m.margin:.3g}"
        for m in sorted(filter(telling, ring.margins), key=tightness)[:3]
    )


def _largest_terms(ring: JointRing) -> str:
    largest = sorted(ring.budget.terms, key=lambda term: -term.standard_arcsec)[:3]
    terms = ", ".join(f"{TERM_WORDS[t.name]} {t.standard_arcsec:.1f}" for t in largest)
    return f"{terms}; all together {ring.budget.combined_arcsec:.1f}"


def _advice(rings: Sequence[JointRing], advice: Advice) -> str:
    """Say for each joint what would lower its error most, and where tooth counts already help."""
    lines = ["What would lower the error most (arcsec; * breaks another limit of the joint)"]
    for ring in rings:
        if (ring.robot, ring.joint) not in advice:
            continue
        found = advice[ring.robot, ring.joint][:3]
        texts = [f"{c.text}{'' if c.within else '*'} {c.error_arcsec:.1f}" for c in found]
        text = f"{ring.label}: now {ring.error_arcsec:.1f}; " + (
            "; ".join(texts) or "nothing simple"
        )
        if ring.heads > 1 and gcd(ring.teeth, ring.heads) == 1:
            text += f" ({ring.teeth} teeth share no factor with {ring.heads} heads: common errors cancel)"
        lines.append(wording_wrapped(text, "  "))
    if len(advice) < len(rings):
        lines.append(f"  (the first {len(advice)} of {len(rings)} joints)")
    return "\n".join(lines)


def _proof(answer: Answer) -> str:
    proof = answer.proof
    lines = [
        "Proof",
        f"  {proof.rings_possible} rings fit somewhere ({proof.rows_possible} ways to place them)"
        + (
            f"; {proof.rows_searched} ways left after exact reduction"
            if proof.rows_searched
            else ""
        ),
    ]
    lines += [wording_wrapped(stage_text(stage), "  ") for stage in proof.stages]
    versions = ", ".join(f"{name} {version}" for name, version in proof.versions.items())
    repeat = "repeatable" if proof.repeatable else "not repeatable (clock or several workers)"
    lines.append(f"  seed {proof.seed}, {count(proof.workers, 'worker')}, {repeat}; {versions}")
    lines.append(f"  study {answer.study_sha256[:16]}")
    return "\n".join(lines)


def ring_text(ring: JointRing, faults: Sequence[str], basis: str) -> str:
    """Return one rated ring as text: the hand calculation, the budget, and every margin."""
    r = ring
    hand = [
        f"{r.label}: module {r.module_mm:g} mm, {r.teeth} teeth, bore {r.bore_mm:g} mm, "
        f"{count(r.heads, 'head')}",
        f"  tip diameter    {r.tip_diameter_mm:.6g} mm",
        f"  pitch diameter  {r.pitch_diameter_mm:.6g} mm",
        f"  root diameter   {r.root_diameter_mm:.6g} mm   (tooth depth {r.tooth_depth_mm:.4g} mm)",
        f"  rim             {r.rim_mm:.5g} mm between root and bore",
        f"  blank {1e3 * r.blank_kg:.4g} g, finished {1e3 * r.finished_kg:.4g} g, "
        f"inertia {1e6 * r.inertia_kg_m2:.4g} kg mm2, width {r.face_width_mm:g} mm",
        f"  housing over the heads {r.housing_diameter_mm:.6g} mm",
    ]
    if r.profile_error_um is not None:
        hand.append(f"  profile off by {r.profile_error_um:.3g} um, the form of its disc cutter")
    terms = [
        (
            TERM_WORDS[t.name], f"{t.amplitude_arcsec:.3f}", f"{t.standard_arcsec:.3f}",
            "yes" if t.repeats else "no",
        )
        for t in r.budget.terms
    ]  # fmt: skip
    k = wording_of_coverage([r])
    budget = [
        "Error budget (arcsec)",
        wording_table(("term", "amplitude", "standard", "repeats with the angle"), terms),
        f"  together {r.budget.combined_arcsec:.2f}, {wording_of_readings(k)} (k = {k:g}) "
        f"{r.budget.expanded_arcsec:.2f}, worst case {r.budget.worst_case_arcsec:.2f}",
        f"  shown {r.displayed_bits} bits (steps of {r.displayed_step_arcsec:.4g} arcsec), usable "
        f"{r.usable_bits:.2f} bits, accuracy {r.error_arcsec:.2f} arcsec ({wording_of_basis(basis, [r])})",
        f"  repeatability {r.repeatability_arcsec:.2f} arcsec about the mean of the readings at one angle, "
        "same basis",
        f"  at the tool point {r.tool_point_um:.2f} um, repeatability "
        f"{r.tool_point_repeatability_um:.2f} um",
    ]
    margins = [
        (m.limit, f"{m.value:.6g}", f"{m.allowed:.6g}", m.unit, f"{m.margin:.4g}")
        for m in r.margins
    ]
    limits = "Limits\n" + wording_table(("limit", "value", "allowed", "unit", "room"), margins)
    verdict = wording_bullets("Broken", faults) if faults else "Keeps every limit of its joint."
    words = joint_text(ring)
    electronics = [f"Reading electronics\n{words}"] if words else []
    place = study_absolute_sentences(
        [Place(r.label, r.absolute_by, r.turns_known, r.electronics.unpowered_speed_max_rpm)]
    )
    budget += [wording_wrapped(text, "  ") for text in place]
    return "\n\n".join(["\n".join(hand), "\n".join(budget), *electronics, limits, verdict]) + "\n"
