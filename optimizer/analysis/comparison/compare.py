"""Answers side by side: which rings changed, and what it did to each total. Knows no solver.

Totals are the answers' own (`Answer.totals`, `tool_points`, the rings' errors), not recomputed: an answer
given without its study cannot be judged, and nothing here judges one. Only where answers stand on
different bases is a tool point worked out anew, on the basis that its answer does not state, from each
joint's own error and budget.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from pydantic import TypeAdapter, ValidationError

from ringset.analysis.comparison.inputs import compared_inputs
from ringset.analysis.comparison.models import (
    RING_FIELDS,
    Basis,
    Change,
    ComparedAnswer,
    ComparedCutter,
    ComparedJoint,
    ComparedPart,
    ComparedRing,
    Comparison,
)
from ringset.analysis.comparison.totals import ERRORS, SCATTERS, compared_totals
from ringset.analysis.comparison.words import comparison_notes, comparison_summary
from ringset.schema.answer import WITH_RINGS, Answer, JointRing
from ringset.schema.equipment import Name
from ringset.schema.study import Study, study_natural_key

ANSWERS_MIN, ANSWERS_MAX = 2, 10
#: Values that agree to this relative tolerance are the same value, computed by two builds.
AGREEMENT = 1e-9
#: Fields of a ring beside RING_FIELDS that are told where they differ.
_SETTINGS = (
    "heads", "profile_error_um", "gap_mm", "head_angles_deg", "target_arcsec",
    "repeatability_target_arcsec", "second_teeth", "absolute_by",
)  # fmt: skip
_BUDGET = (*ERRORS.values(), *SCATTERS.values())

_NAMES = TypeAdapter(Name)

Joint = tuple[str, str]
Number = int | float


@dataclass(frozen=True)
class Entry:
    """One answer to compare, its name, and its study where it was solved for the comparison."""

    name: str
    answer: Answer
    study: Study | None = None


def compare_answers(entries: Sequence[Entry]) -> Comparison:
    """Return 2 to 10 answers side by side; totals are taken from the answers (see the module).

    Differences are against the first answer that holds rings. Raises ValueError for another number of
    answers, for a name given twice, and for an answer that contradicts itself.
    """
    _refuse(entries)
    answers = [entry.answer for entry in entries]
    reference = next((i for i, answer in enumerate(answers) if answer.rings), None)
    order: list[Basis] = [answers[reference].basis] if reference is not None else []
    bases = list(dict.fromkeys(order + [answer.basis for answer in answers if answer.rings]))
    joints = _joints(entries, reference)
    known = {entry.answer.study_sha256: entry.study for entry in entries if entry.study}
    studies = [known.get(answer.study_sha256) for answer in answers]
    draft = Comparison(
        answers=[_compared(entry) for entry in entries],
        reference=reference,
        bases=bases,
        notes=comparison_notes([entry.name for entry in entries], answers, reference, studies),
        inputs=compared_inputs(studies),
        totals=list(compared_totals(answers, bases, reference)),
        joints=joints,
        changes=[],
    )
    if reference is None:
        return draft
    changes = []
    for place, entry in enumerate(entries):
        if entry.answer.rings and place != reference:
            change = _change(entries[reference], entry, joints, reference, place, bases)
            words = comparison_summary(draft, change, place)
            changes.append(change.model_copy(update={"summary": words}))
    return draft.model_copy(update={"changes": changes})


def _refuse(entries: Sequence[Entry]) -> None:
    if not ANSWERS_MIN <= len(entries) <= ANSWERS_MAX:
        allowed = f"{ANSWERS_MIN} to {ANSWERS_MAX}"
        raise ValueError(f"answers: given {len(entries)}; allowed: {allowed}")
    names = [entry.name for entry in entries]
    if len(set(names)) < len(names):
        raise ValueError(f"names: given {', '.join(names)}; allowed: each name once")
    for entry in entries:
        faults = list(_contradictions(entry.answer))
        if faults:
            raise ValueError(f"{entry.name}:\n" + "\n".join(faults))


def _contradictions(answer: Answer) -> Iterator[str]:
    """Yield what keeps an answer, perhaps written by hand, from being compared at all."""
    found = answer.status in WITH_RINGS
    if bool(answer.rings) != found or (answer.totals is not None) != found:
        given = f"{answer.status} with {len(answer.rings)} rings and "
        given += "no totals" if answer.totals is None else "totals"
        yield f"status: given {given}; allowed: rings and totals if proven, agreed or found, else neither"
    named = Counter(ring.label for ring in answer.rings)
    for joint, times in named.items():
        if times > 1:
            yield f"rings: given {times} for {joint}; allowed: one for each joint"
    summed = Counter(one.robot for one in answer.robot_rings)
    for robot, times in summed.items():
        if times > 1:
            yield f"robot_rings: given {times} for {robot}; allowed: one for each robot"
    robots = Counter(point.robot for point in answer.tool_points)
    for robot, times in robots.items():
        if times > 1:
            yield f"tool_points: given {times} for {robot}; allowed: one for each robot"
    for point in answer.tool_points:
        if point.rule not in ("rss", "sum"):
            yield f"tool_points: {point.robot}: rule: given {point.rule!r}; allowed: rss or sum"
    for ring in answer.every_ring:
        yield from _ring_faults(ring)
    listed = sorted({cutter.id for cutter in answer.cutters})
    used = sorted({ring.cutter for ring in answer.every_ring if ring.cutter is not None})
    if listed != used:
        yield f"cutters: given {', '.join(listed)}; allowed: those the rings name: {', '.join(used)}"


def _ring_faults(ring: JointRing) -> Iterator[str]:
    """Yield what no answer to a study can hold and a table or a CSV must not be given."""
    for field in ("robot", "joint", "ring_part", "cutter", "material"):
        name = getattr(ring, field)
        if name is not None:
            try:
                _NAMES.validate_python(name)
            except ValidationError:
                yield f"rings: {field}: given {name[:60]!r}; allowed: a name as studies have them"
    if not ring.module_mm > 0.0:
        yield f"rings: module_mm: given {ring.module_mm:g}; allowed: more than 0"


def _compared(entry: Entry) -> ComparedAnswer:
    answer = entry.answer
    return ComparedAnswer(
        name=entry.name,
        source="answer" if entry.study is None else "study",
        title=answer.title,
        study_sha256=answer.study_sha256,
        status=answer.status,
        basis=answer.basis,
        reasons=answer.reasons,
    )


def compared_ring_key(ring: ComparedRing) -> tuple[Number | str, ...]:
    """Return what makes two rings the same one, alike in answers of different builds."""
    values = (getattr(ring, name) for name in RING_FIELDS)
    return tuple(value if isinstance(value, str) else round(value, 9) for value in values)


def _joints(entries: Sequence[Entry], reference: int | None) -> list[ComparedJoint]:
    """Return every joint of any answer with its rings, base to tool where a study tells the order."""
    tables = [_rings(entry.answer) for entry in entries]
    lines = []
    for joint in _joint_order(entries):
        mine = [table.get(joint) for table in tables]
        first = None if reference is None else mine[reference]
        rings = [
            None if ring is None else ring.model_copy(update={"differs": _differing(ring, first)})
            for ring in mine
        ]
        lines.append(ComparedJoint(robot=joint[0], joint=joint[1], rings=rings))
    return lines


def _joint_order(entries: Sequence[Entry]) -> list[Joint]:
    """Return every joint that has a ring, in the order of the studies, then of the answers.

    An answer lists joints by name; only a study knows them base to tool.
    """
    placed = {(ring.robot, ring.joint) for entry in entries for ring in entry.answer.rings}
    robots: dict[str, dict[Joint, None]] = {}
    for entry in entries:
        for robot in entry.study.robots if entry.study else []:
            for joint in robot.joints:
                robots.setdefault(robot.name, {})[(robot.name, joint.name)] = None
    for entry in entries:
        for ring in entry.answer.rings:
            robots.setdefault(ring.robot, {})[(ring.robot, ring.joint)] = None
    return [joint for joints in robots.values() for joint in joints if joint in placed]


def _rings(answer: Answer) -> dict[Joint, ComparedRing]:
    """Return the ring of every joint of an answer, compared with none yet."""
    return {ring.place: _ring(answer, ring) for ring in answer.rings}


def _ring(answer: Answer, ring: JointRing) -> ComparedRing:
    """Return a ring of an answer, a second one too, compared with none yet."""
    held = next((part.screws for part in answer.ring_parts if part.id == ring.ring_part), None)
    holes = "none" if held is None else f"{held.count} for {held.size} on {held.circle_mm:g} mm"
    told = ring.electronics.second_ring
    names = set(RING_FIELDS) | set(_SETTINGS)
    numbers = {n: getattr(ring, n) for n in names - {"holes", "second_teeth"}}
    errors = {name: getattr(ring.budget, name) for name in _BUDGET}
    return ComparedRing(
        ring_part=ring.ring_part, holes=holes, differs=[],
        second_teeth=None if told is None else told.teeth, **numbers, **errors,
    )  # fmt: skip


def _differing(ring: ComparedRing, first: ComparedRing | None) -> list[str]:
    """Return the fields in which a ring differs from that of the reference, none without one."""
    if first is None:
        return []
    pairs = zip(RING_FIELDS, compared_ring_key(ring), compared_ring_key(first), strict=True)
    differs = [name for name, here, there in pairs if here != there]
    for name in _SETTINGS:
        if name == "head_angles_deg":
            # another number of heads stands elsewhere anyway
            if ring.heads == first.heads and ring.head_angles_deg != first.head_angles_deg:
                differs.append(name)
        elif not _alike(getattr(ring, name), getattr(first, name)):
            differs.append(name)
    for name in _BUDGET:
        if not _alike(getattr(ring, name), getattr(first, name)):
            differs.append(name)
    return differs


def _alike(value: float | str | None, other: float | str | None) -> bool:
    if not isinstance(value, float | int) or not isinstance(other, float | int):
        return value == other
    return math.isclose(value, other, rel_tol=AGREEMENT, abs_tol=1e-12)


def _change(
    first: Entry, entry: Entry, joints: list[ComparedJoint], reference: int, place: int,
    bases: Sequence[Basis],
) -> Change:  # fmt: skip
    """Return what an answer changes against the reference, its summary still empty."""
    shared = [(j.label, j.rings[place]) for j in joints if j.rings[reference] and j.rings[place]]
    differing = {label: set(ring.differs) for label, ring in shared if ring is not None}
    other = {label for label, fields in differing.items() if fields & set(RING_FIELDS)}
    heads = {label for label, fields in differing.items() if "heads" in fields}
    settings: dict[str, list[str]] = {}
    told = other | heads
    angles = [kind[basis] for kind in (ERRORS, SCATTERS) for basis in bases]
    for name in (*_SETTINGS[1:], *angles):
        still = [j for j, fields in differing.items() if name in fields and j not in told]
        settings |= {name: still} if still else {}
    parts, cutters = _parts(entry.answer), _cutters(entry.answer)
    parts_before, cutters_before = _parts(first.answer), _cutters(first.answer)
    return Change(
        name=entry.name,
        joints_shared=len(shared),
        other_ring=[label for label in differing if label in other],
        other_heads=[label for label in differing if label in heads],
        other_settings=settings,
        joints_added=[j.label for j in joints if j.rings[place] and not j.rings[reference]],
        joints_dropped=[j.label for j in joints if j.rings[reference] and not j.rings[place]],
        parts_added=[parts[key] for key in parts if key not in parts_before],
        parts_dropped=[parts_before[key] for key in parts_before if key not in parts],
        cutters_added=[cutters[key] for key in cutters if key not in cutters_before],
        cutters_dropped=[cutters_before[key] for key in cutters_before if key not in cutters],
        summary="",
    )


def _parts(answer: Answer) -> dict[tuple[Number | str, ...], ComparedPart]:
    """Return the ring parts of an answer by what makes them the same part in any answer."""
    users: dict[tuple[Number | str, ...], dict[str, ComparedRing]] = {}
    for made in answer.every_ring:
        ring = _ring(answer, made)
        name = f"{made.label} (second ring)" if made.second else made.label
        users.setdefault(compared_ring_key(ring), {})[name] = ring
    firsts = [(key, next(iter(rings.values()))) for key, rings in users.items()]
    return {
        key: ComparedPart(
            id=first.ring_part,
            used_on=list(users[key]),
            **{name: getattr(first, name) for name in RING_FIELDS},
        )
        for key, first in sorted(firsts, key=lambda item: study_natural_key(item[1].ring_part))
    }


def _cutters(answer: Answer) -> dict[tuple[str | Number, ...], ComparedCutter]:
    """Return the cutters of an answer by what makes them the same tool in any answer."""
    depths = {ring.cutter: ring.tooth_depth_mm for ring in answer.every_ring}
    cutters: dict[tuple[str | Number, ...], ComparedCutter] = {}
    for cutter in answer.cutters:
        depth = depths[cutter.id]
        key = (cutter.kind, cutter.module_mm, cutter.tooth_range, round(depth, 9))
        cutters[key] = ComparedCutter(
            id=cutter.id,
            kind=cutter.kind,
            module_mm=cutter.module_mm,
            pitch_name=cutter.pitch_name,
            tooth_range=cutter.tooth_range,
            tooth_depth_mm=depth,
        )
    return cutters
