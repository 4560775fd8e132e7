"""The band: the answer with all assumed inputs together at their hopeful ends, and at their careful ends.

Careful is the end that weighs more on the chosen rings, all else as stated. The weight of an end is the sum
over all joints of two shares: by how much the error of the joint's chosen ring grows, relative to it, and how
many of the joint's rings that are looked at (see `screen`) are lost, relative to how many there are; and over
all limits that joints share (tool points, batteries, lines) by how much more of each the chosen rings use,
relative to what they use. Gains count against losses, so where joints disagree the worse in sum is careful.
Where both ends weigh the same, the heavier rings decide, then the dearer ones, and where those are the same
too the input is left as stated. Without an answer the least of any ring stands for that of the chosen one.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import TypeVar

import numpy as np
from pydantic import JsonValue

from ringset.analysis.assumptions.models import Band, BandInput, Same
from ringset.analysis.assumptions.screen import Screen, Screened
from ringset.errors import StudyError
from ringset.infeasibility.oracle import QUESTION_S
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.units import reduction_units
from ringset.schema.answer import Answer, Cutter, JointRing, RingPart
from ringset.schema.assumed_inputs import AssumedInput, assumed_inputs, study_with_inputs
from ringset.schema.cross_checks import cross_faults
from ringset.schema.study import Study
from ringset.search.lexicographic import Solver
from ringset.solving.pipeline import solve, solving_possible_rows

#: Seconds that finding the causes of an impossible careful end may take, unless told otherwise.
CAUSES_S = 10.0
#: Weights that differ by less are the same: what is left came of rounding.
ALIKE = 1e-12

Shown = TypeVar("Shown")
Ends = list[tuple[AssumedInput, JsonValue]]


def find_band(study: Study, answer: Answer | None = None, causes_s: float = CAUSES_S) -> Band:
    """Return the answers of a study at the hopeful and at the careful end of all assumed inputs together.

    `answer` is the study's, solved here if not given. Each answer is judged as every answer is. For an
    impossible careful end the inputs that cause it are looked for during `causes_s` seconds (0 or more).
    Raises StudyError if the fields do not agree.
    """
    faults = list(cross_faults(study))
    if faults:
        raise StudyError(faults)
    answer = answer or solve(study)
    study = study.canonical()
    inputs, weights = _directed(study, answer)
    hopeful, out_hopeful = _allowed(study, [(one.input, one.hopeful) for one in inputs])
    careful, out_careful = _allowed(study, [(one.input, one.careful) for one in inputs])
    answers = {
        "hopeful": solve(study_with_inputs(study, hopeful)),
        "stated": answer,
        "careful": solve(study_with_inputs(study, careful)),
    }
    causes, alone, late = list[str](), list[str](), False
    if answers["careful"].status == "impossible" and answer.rings:
        causes, alone, late = _causes(study, careful, weights, causes_s)
    return Band(
        title=study.title,
        study_sha256=study.fingerprint(),
        inputs=[one.told() for one in inputs],
        left_out=[f"hopeful: {text}" for text in out_hopeful]
        + [f"careful: {text}" for text in out_careful],
        **answers,
        same=_same(answers),
        causes=causes,
        causes_alone=alone,
        causes_open=late,
    )


# -- ends ---------------------------------------------------------------------------------------------------


class _Directed:
    """An input with its hopeful and its careful end."""

    def __init__(self, one: AssumedInput, hopeful: JsonValue, careful: JsonValue, weight: float):
        self.input, self.hopeful, self.careful, self.weight = one, hopeful, careful, weight

    def told(self) -> BandInput:
        return BandInput(
            path=self.input.path, given=self.input.given, hopeful=self.hopeful,
            careful=self.careful, weight=self.weight,
        )  # fmt: skip


def _directed(study: Study, answer: Answer) -> tuple[list[_Directed], dict[str, float]]:
    """Return every input with its ends, and by path how much its careful end weighs."""
    screen = Screen(study, answer)
    found, weights = [], dict[str, float]()
    for one in assumed_inputs(study):
        ends = [_screened(screen, study, one, value) for value in one.ends]
        low, high = weighs = [_weight(screen.base, end) for end in ends]
        if abs(low - high) <= ALIKE:
            low, high = _by_amounts(screen, study, one, ends)
        if abs(low - high) <= ALIKE:
            found.append(_Directed(one, one.given, one.given, 0.0))
            continue
        turned = low > high
        hopeful, careful = (one.high, one.low) if turned else (one.low, one.high)
        weights[one.path] = max(weighs)
        found.append(_Directed(one, hopeful, careful, abs(weighs[0] - weighs[1])))
    return found, weights


def _by_amounts(
    screen: Screen, study: Study, one: AssumedInput, ends: Sequence[Screened | None]
) -> tuple[float, float]:
    """Return how both ends compare by the mass of the chosen rings, or where that is the same by their money.

    An end that cannot be stated counts as the input does as stated.
    """
    low, high = (
        screen.amounts(study if end is None else study_with_inputs(study, [(one, value)]))
        for value, end in zip(one.ends, ends, strict=True)
    )
    for few, many in zip(low, high, strict=True):
        if abs(few - many) > ALIKE * max(few, many):
            return few, many
    return 0.0, 0.0


def _screened(screen: Screen, study: Study, one: AssumedInput, value: JsonValue) -> Screened | None:
    """Return an end by rating alone, None where a study cannot state it or has too many rows there."""
    changed = study_with_inputs(study, [(one, value)])
    if next(cross_faults(changed), None) is not None:
        return None
    try:
        return screen.at(changed, estimated=False)
    except StudyError:
        return None


def _weight(base: Screened, end: Screened | None) -> float:
    """Return the weight of an end: see the top. An end that cannot be stated weighs nothing."""
    if end is None:
        return 0.0
    known = np.isfinite(base.error_arcsec) & np.isfinite(end.error_arcsec)
    grown = end.error_arcsec[known] / base.error_arcsec[known] - 1.0
    before = base.rows > 0
    lost = 1.0 - end.rows[before] / base.rows[before]
    gained = np.count_nonzero(end.rows[~before])  # of joints without any ring before
    told = np.isfinite(base.uses) & np.isfinite(end.uses)
    used, after = base.uses[told], end.uses[told]
    more = (after - used) / np.where(used > 0.0, used, 1.0)
    return float(grown.sum() + lost.sum() + more.sum() - gained)


def _allowed(study: Study, ends: Ends) -> tuple[Ends, list[str]]:
    """Return the ends that a study can state together, taken in turn, and why others were left out."""
    taken: Ends = []
    out: list[str] = []
    for one, value in ends:
        if value == one.given:
            continue
        fault = next(cross_faults(study_with_inputs(study, [*taken, (one, value)])), None)
        if fault is None:
            taken.append((one, value))
        else:
            told = str(fault)
            out.append(told if told.startswith(f"{one.path}:") else f"{one.path}: {told}")
    return taken, out


# -- causes -------------------------------------------------------------------------------------------------


def _causes(
    study: Study, careful: Ends, weights: dict[str, float], seconds: float
) -> tuple[list[str], list[str], bool]:
    """Return the inputs to put back before there is an answer, which of them do alone, and if time ended.

    Inputs are moved to their careful ends as long as there is an answer, the least weight first, half of them
    at once and half of that where it fails. The others stay put back: with any one of them at its careful end
    too there is no answer. When the time ends, those not tried yet are among them.
    """
    ends = time.monotonic() + seconds
    ordered = sorted(careful, key=lambda pair: (weights.get(pair[0].path, 0.0), pair[0].path))
    late = False

    def possible(some: Ends) -> bool:
        nonlocal late
        late = late or time.monotonic() >= ends
        return not late and _possible(study_with_inputs(study, some))

    moved: Ends = []
    back: Ends = []
    waiting = [ordered]
    while waiting:
        some = waiting.pop()
        if possible([*moved, *some]):
            moved += some
        elif len(some) == 1:
            back += some
        else:
            middle = len(some) // 2
            waiting += [some[middle:], some[:middle]]
    back.reverse()  # the most weight first
    alone = [one.path for one, value in back if not possible([(one, value)])]
    return [one.path for one, _ in back], [] if late else alone, late


def _possible(study: Study) -> bool:
    """Say whether a study is known to have an answer; one that cannot be stated has none."""
    if next(cross_faults(study), None) is not None:
        return False
    try:
        inside, reasons = solving_possible_rows(study)
    except StudyError:
        return False
    if reasons:
        return False
    table, ceilings = reduction_table(study, inside), study.wishes.ceilings()
    if not ceilings and not any(len(sums.names) for sums in table.sums):
        return True  # every joint has a row, and nothing is shared
    left = min(QUESTION_S, study.search.time_limit_s)
    search = study.search.model_copy(update={"time_limit_s": left})
    return Solver(table, reduction_units(table), ceilings, search).start().rows is not None


# -- what stays ---------------------------------------------------------------------------------------------


def _same(answers: dict[str, Answer]) -> Same:
    """Return what all answers with rings have alike."""
    with_rings = {name: answer for name, answer in answers.items() if answer.rings}
    every = list(with_rings.values())
    return Same(
        compared=list(with_rings),
        cutters=_in_all([[_cutter(c) for c in answer.cutters] for answer in every]),
        ring_parts=_in_all([[_part(part) for part in answer.ring_parts] for answer in every]),
        sizes=_agreed([{r.label: _ring(r) for r in answer.rings} for answer in every]),
        heads=_agreed([{r.label: r.heads for r in answer.rings} for answer in every]),
    )  # fmt: skip


def _cutter(cutter: Cutter) -> str:
    return f"{cutter.kind}, module {cutter.module_mm:g}, {cutter.tooth_range}"


def _ring(ring: JointRing) -> str:
    return f"module {ring.module_mm:g}, {ring.teeth} teeth, bore {ring.bore_mm:g}"


def _part(part: RingPart) -> str:
    sizes = f"module {part.module_mm:g}, {part.teeth} teeth, bore {part.bore_mm:g} {part.bore_zone}"
    return f"{sizes}, width {part.face_width_mm:g}"


def _in_all(lists: Sequence[Sequence[str]]) -> list[str]:
    """Return what all lists hold, each once, in the order of the first."""
    first = lists[0] if lists else []
    return [one for one in dict.fromkeys(first) if all(one in other for other in lists)]


def _agreed(of_joints: Sequence[dict[str, Shown]]) -> dict[str, Shown]:
    """Return the joints of which all say the same, with what they say."""
    first = of_joints[0] if of_joints else {}
    return {
        joint: value
        for joint, value in first.items()
        if all(other.get(joint) == value for other in of_joints)
    }
