"""The words of a comparison: where answers are not like for like, and what changed in one sentence."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from ringset.analysis.comparison.models import Change, ComparedTotal, Comparison
from ringset.schema.answer import WITH_RINGS, Answer, JointRing
from ringset.schema.study import Study
from ringset.wording import (
    BASES,
    PIECES,
    count,
    wording_of_basis,
    wording_of_count,
    wording_of_count_change,
    wording_of_mass,
    wording_of_mass_change,
)

#: Joints named one by one; more are counted.
JOINTS_NAMED = 3

Joint = tuple[str, str]

#: Sums over the rings of one robot, with their units.
RING_SUMS_IN_WORDS = {
    "rings_mass_kg": ("mass of the rings", "kg"),
    "rings_inertia_kg_m2": ("inertia of the rings", "kg m2"),
}

_SETTINGS = {
    "profile_error_um": "profile error",
    "gap_mm": "gap",
    "second_teeth": "second ring",
    "absolute_by": "place after power loss",
    "head_angles_deg": "placement of heads",
    "target_arcsec": "target",
    "expanded_arcsec": "error",
    "worst_case_arcsec": "error in the worst case",
    "repeatability_target_arcsec": "repeatability target",
    "repeatability_expanded_arcsec": "repeatability",
    "repeatability_worst_case_arcsec": "repeatability in the worst case",
}


def comparison_notes(
    names: Sequence[str], answers: Sequence[Answer], reference: int | None,
    studies: Sequence[Study | None],
) -> list[str]:  # fmt: skip
    """Return every way in which the answers are not like for like; nothing of it is passed over."""
    if reference is None:
        return ["No answer holds rings: there is nothing to compare."]
    found = list(_basis_notes(names, answers))
    first = answers[reference]
    if reference > 0:
        found.append(
            f"{names[0]} holds no rings ({answers[0].status}); differences are against "
            f"{names[reference]}."
        )
    found += _counting_notes(names, answers)
    for name, answer in zip(names, answers, strict=True):
        if answer is not first and answer.rings:
            found += [f"{name}: {text}." for text in _unlike(first, answer)]
    return [*found, *_study_notes(names, answers, studies)]


def _counting_notes(names: Sequence[str], answers: Sequence[Answer]) -> Iterator[str]:
    """Yield which answers count only new cutters and ring parts, where others count all of theirs."""
    told = [(name, a.totals.counted) for name, a in zip(names, answers, strict=True) if a.totals]
    only = [name for name, counted in told if counted == "new"]
    if only and len(only) < len(told):
        yield (
            f"Cutters and ring parts of {', '.join(only)} are only new ones (wishes.count new); the others "
            "count all of theirs."
        )


def _study_notes(
    names: Sequence[str], answers: Sequence[Answer], studies: Sequence[Study | None]
) -> Iterator[str]:
    """Yield which inputs may differ unseen: those of answers to several studies, not all given."""
    unknown = [name for name, study in zip(names, studies, strict=True) if study is None]
    if unknown and len({answer.study_sha256 for answer in answers}) > 1:
        yield (
            f"The answers belong to different studies, and without {_its(unknown)} it is not known in "
            "which inputs (heads, seats, shop, wishes) those differ."
        )


def _its(unknown: Sequence[str]) -> str:
    return f"the {'study' if len(unknown) == 1 else 'studies'} of {', '.join(unknown)}"


def _basis_notes(names: Sequence[str], answers: Sequence[Answer]) -> Iterator[str]:
    if len({answer.basis for answer in answers}) < 2:
        return
    users: dict[str, list[str]] = {}
    for name, answer in zip(names, answers, strict=True):
        users.setdefault(wording_of_basis(answer.basis, answer.rings), []).append(name)
    stated = "; ".join(f"{basis}: {', '.join(mine)}" for basis, mine in users.items())
    text = f"The bases of the targets differ ({stated}). Each answer has its targets on its own basis only"
    if len({answer.basis for answer in answers if answer.rings}) > 1:
        text += "; errors are shown on both"
    yield f"{text}."


def _unlike(first: Answer, answer: Answer) -> Iterator[str]:
    """Yield what is asked or counted otherwise in an answer than in the reference."""
    targets = {(r.robot, r.joint): r for r in first.rings}
    mine = {(r.robot, r.joint): r for r in answer.rings}
    for words, field in (
        ("angle", "target_arcsec"),
        ("repeatability", "repeatability_target_arcsec"),
    ):
        yield from _moved_targets(targets, mine, words, field)
    if answer.reserve_percent != first.reserve_percent:
        kept = f"{answer.reserve_percent:g} instead of {first.reserve_percent:g} %"
        yield f"a reserve of {kept} kept below every accuracy target"
    points = {point.robot: point for point in first.tool_points}
    for point in answer.tool_points:
        before = points.get(point.robot)
        if before is None:
            continue
        for words, asked, was in (
            ("target", point.target_um, before.target_um),
            (
                "repeatability target",
                point.repeatability_target_um,
                before.repeatability_target_um,
            ),
        ):
            if was != asked:
                move = f"{_target(asked)} instead of {_target(was)}"
                yield f"tool-point {words} of {point.robot} {move}"
        if before.rule != point.rule:
            yield f"tool point of {point.robot} combined by {point.rule} instead of {before.rule}"
        if before.count != point.count:
            yield f"{point.count} of {point.robot} built instead of {before.count}; totals count all"
    moved_joints = [
        f"{_whole_robots(joints, others)} {word}"
        for joints, others, word in (
            ([j for j in mine if j not in targets], targets, "added"),
            ([j for j in targets if j not in mine], mine, "missing"),
        )
        if joints
    ]
    if moved_joints:
        yield f"{' and '.join(moved_joints)}, so its totals are not of the same joints"


def _moved_targets(
    first: Mapping[Joint, JointRing], mine: Mapping[Joint, JointRing], words: str, field: str
) -> Iterator[str]:
    """Yield by how much the targets in one field of the joints that both answers have are others."""
    shared = [joint for joint in mine if joint in first]
    moves: dict[str, list[str]] = {}
    for joint in shared:
        asked, was = getattr(mine[joint], field), getattr(first[joint], field)
        if asked != was:
            now = "none" if asked is None else f"{asked:g}"
            move = f"{now} instead of {was:g} arcsec" if was else f"{now} arcsec instead of none"
            moves.setdefault(move, []).append("/".join(joint))
    for move, joints in moves.items():
        where = "every joint" if len(joints) == len(shared) > 1 else compared_joint_names(joints)
        yield f"{words} target {move} at {where}"


def _target(target_um: float | None) -> str:
    return "none" if target_um is None else f"{target_um:g} um"


def _whole_robots(joints: Sequence[Joint], others: Iterable[Joint]) -> str:
    """Return the joints by name; a robot that has none among the others is named as a whole."""
    robots = {robot for robot, _ in others}
    texts = [f"{robot}/{joint}" if robot in robots else f"robot {robot}" for robot, joint in joints]
    return compared_joint_names(list(dict.fromkeys(texts)))


def compared_joint_names(joints: Sequence[str]) -> str:
    """Return joints by name, and how many more there are."""
    more = len(joints) - JOINTS_NAMED
    if more < 1:
        return ", ".join(joints)
    return f"{', '.join(joints[:JOINTS_NAMED])} and {more} more"


def comparison_summary(comparison: Comparison, change: Change, place: int) -> str:
    """Return what the answer at `place` changes against the reference, in one sentence."""
    clauses = [
        ", ".join(_total_changes(comparison, change, place)),
        *_error_changes(comparison, place),
        *_ring_changes(change),
        *_joint_changes(comparison, place),
        *_status_change(comparison, place),
    ]
    return "; ".join(filter(None, clauses)) or "no change"


def _total_changes(comparison: Comparison, change: Change, place: int) -> Iterator[str]:
    added = {"cutters": len(change.cutters_added), "ring_parts": len(change.parts_added)}
    for total in comparison.totals:
        difference = total.differences[place]
        if total.name in PIECES and difference:
            yield wording_of_count_change(int(difference), PIECES[total.name])
        elif number := added.get(total.name):
            yield f"{wording_of_count(number, PIECES[total.name])} exchanged"
        elif total.name == "cost" and compared_total_differs(total, place):
            yield f"cost {'+' if (difference or 0.0) > 0.0 else '-'}{abs(difference or 0.0):.2f}"
        elif total.name == "material_kg" and compared_total_differs(total, place):
            yield f"{wording_of_mass_change(difference or 0.0)} material"
        elif total.name in RING_SUMS_IN_WORDS and compared_total_differs(total, place):
            before = total.values[comparison.reference or 0]
            numbers = compared_numbers(before, total.values[place])
            words, unit = RING_SUMS_IN_WORDS[total.name]
            yield f"{words} of {total.robot} {' to '.join(numbers)} {unit}"
        elif total.name == "finished_kg" and compared_total_differs(total, place):
            yield f"rings {wording_of_mass(difference or 0.0)} {_direction(difference, 'heavier', 'lighter')}"


def compared_total_differs(total: ComparedTotal, place: int) -> bool:
    """Say whether a total differs from the reference beyond what two builds may differ."""
    value, difference = total.values[place], total.differences[place]
    return bool(value is not None and difference and abs(difference) > 1e-9 * abs(value))


def _direction(difference: float | None, up: str, down: str) -> str:
    return up if (difference or 0.0) > 0.0 else down


def _error_changes(comparison: Comparison, place: int) -> Iterator[str]:
    """Yield how tool points and the largest error moved, on the basis of the reference.

    Repeatabilities too, where some answer has a target for them.
    """
    basis = comparison.bases[0]
    words = f" ({BASES[basis]})" if len(comparison.bases) > 1 else ""
    scatter = _scatter_asked(comparison)
    for total in comparison.totals:
        if (
            total.basis != basis
            or not compared_total_differs(total, place)
            or comparison.reference is None
            or ("repeatability" in total.name and not scatter)
        ):
            continue
        before, after = compared_numbers(total.values[comparison.reference], total.values[place])
        what, unit = {
            "tool_point_um": (f"tool point of {total.robot}", "um"),
            "tool_point_repeatability_um": (f"tool-point repeatability of {total.robot}", "um"),
            "largest_error_arcsec": ("largest error", "arcsec"),
        }.get(total.name, ("largest repeatability", "arcsec"))
        yield f"{what} {before} to {after} {unit}{words}"


def _scatter_asked(comparison: Comparison) -> bool:
    """Say whether some answer has a target for its repeatability: else the tables tell enough of it."""
    rings = [ring for joint in comparison.joints for ring in joint.rings if ring is not None]
    points = [total for total in comparison.totals if total.name == "tool_point_repeatability_um"]
    return any(ring.repeatability_target_arcsec is not None for ring in rings) or any(
        any(total.targets_um or []) for total in points
    )


def _perhaps(value: float | None) -> str:
    return "none" if value is None else f"{value:.3g}"


def compared_numbers(before: float | None, after: float | None) -> tuple[str, str]:
    """Return two numbers that differ with the decimals it takes to see it, three digits at least."""
    if before is None or after is None:
        return _perhaps(before), _perhaps(after)
    largest = max(abs(before), abs(after))
    decimals = max(0, 2 - math.floor(math.log10(largest))) if largest > 0.0 else 0
    while f"{before:.{decimals}f}" == f"{after:.{decimals}f}" and decimals < 12:
        decimals += 1
    return f"{before:.{decimals}f}", f"{after:.{decimals}f}"


def _ring_changes(change: Change) -> Iterator[str]:
    rings, shared = len(change.other_ring), change.joints_shared
    if rings and rings == shared:
        yield "every joint has another ring" if rings > 1 else "the joint has another ring"
    elif rings:
        yield f"{rings} of {count(shared, 'joint')} {_have(rings)} another ring"
    heads = len(change.other_heads)
    if heads:
        yield f"{count(heads, 'joint')} {_have(heads)} another number of heads"
    settings = [
        f"another {_SETTINGS[name]} on {count(len(joints), 'joint')}"
        for name, joints in change.other_settings.items()
    ]
    if settings:
        yield f"{' and '.join(settings)} with the same ring"


def _joint_changes(comparison: Comparison, place: int) -> Iterator[str]:
    """Yield which joints or whole robots only one of the two has."""
    here, there = (
        [(joint.robot, joint.joint) for joint in comparison.joints if joint.rings[i] is not None]
        for i in (place, comparison.reference or 0)
    )
    for joints, others, word in ((here, there, "added"), (there, here, "missing")):
        known = set(others)
        only = [joint for joint in joints if joint not in known]
        if only:
            yield f"{_whole_robots(only, others)} {word}"


def _have(number: int) -> str:
    return "has" if number == 1 else "have"


def _status_change(comparison: Comparison, place: int) -> Iterator[str]:
    before, after = comparison.answers[comparison.reference or 0], comparison.answers[place]
    if not {before.status, after.status} <= set(WITH_RINGS) or before.status == after.status:
        return
    if after.status == "agreed":
        yield "now best as the search engines agree, not proven"
    elif before.status == "proven":
        yield "no longer proven best"
    elif after.status == "proven":
        yield "now proven best"
    else:
        yield "no longer agreed to be best"
