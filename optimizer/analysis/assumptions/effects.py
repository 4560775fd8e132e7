"""Which assumed inputs decide an answer: all screened by rating, the strongest solved at both ends."""

from __future__ import annotations

import time

from pydantic import JsonValue

from ringset.analysis.assumptions.ends import EndTask, Known, assumption_end_solved
from ringset.analysis.assumptions.helper import Helper, assumption_shared_work
from ringset.analysis.assumptions.models import AssumedEffect, Assumptions, AtEnd, Figures
from ringset.analysis.assumptions.outcome import Outcome, assumption_effect_rank, assumption_outcome
from ringset.analysis.assumptions.screen import Screen, Screened, screen_assumption_ends
from ringset.errors import StudyError
from ringset.rating.rated import Weighed
from ringset.schema.answer import Answer, Wish
from ringset.schema.assumed_inputs import AssumedInput, assumed_inputs, study_with_inputs
from ringset.schema.cross_checks import cross_faults
from ringset.schema.study import Study
from ringset.solving.pipeline import solve

#: How many inputs are solved at both ends, and the share of the time that the screen may take.
SOLVED_MOST, SCREEN_SHARE = 10, 0.5
#: The one wish whose figure has another name.
_FIGURES: dict[Wish, str] = {"material": "material_kg"}


def rank_assumptions(
    study: Study, answer: Answer | None = None, seconds: float | None = None,
    helper: Helper | None = None, inside: Weighed | None = None,
) -> Assumptions:  # fmt: skip
    """Return the assumed inputs of a study, those that decide its answer first.

    `answer` is the study's, solved here if not given; `inside` are its rows inside all limits, where
    `solve_in_full` left them at hand. Every input is screened, and the SOLVED_MOST strongest are solved at
    both ends within `seconds` (the study's own limit by default); what is not solved by then is told. The
    same study gives the same ranking unless the clock ended something. Raises StudyError if the fields do
    not agree.
    """
    begun = time.monotonic()
    faults = list(cross_faults(study))
    if faults:
        raise StudyError(faults)
    answer = answer or solve(study)
    study = study.canonical()
    seconds = study.search.time_limit_s if seconds is None else seconds
    order, base = study.wishes.order, assumption_outcome(study, answer)
    inputs = _screened(study, answer, SCREEN_SHARE * seconds, helper)
    chosen = [one for one in inputs if any(one.estimated)][:SOLVED_MOST]
    tasks = [
        (one, at) for one in chosen for at in (0, 1) if one.refused[at] is None and one.moves(at)
    ]
    known = Known.of(study, answer, inside)
    outcomes = assumption_shared_work(
        assumption_end_solved, known, [EndTask(one.studies[at], one.margin(at)) for one, at in tasks],
        seconds - (time.monotonic() - begun), helper,
    )  # fmt: skip
    for (one, at), outcome in zip(tasks, outcomes, strict=True):
        one.solved[at] = outcome
    solved = [one for one in chosen if not one.unsolved(base)]
    late = [one for one in chosen if one.unsolved(base)]
    late += [one for one in inputs if not one.estimated]
    ranked = sorted(
        solved, key=lambda one: _most_first(assumption_effect_rank(order, base, one.outcomes(base)))
    )
    rest = [*late, *(one for one in inputs if one not in chosen and one not in late)]
    undecided = any(o is not None and o.status in ("undecided", "found") for o in outcomes)
    return Assumptions(
        title=study.title,
        study_sha256=study.fingerprint(),
        order=list(order),
        answer=_figures(base),
        inputs=[_effect(one, base, one in solved) for one in [*ranked, *rest]],
        open=[one.input.path for one in late],
        repeatable=not late and not undecided and study.search.workers == 1,
    )


class _Candidate:
    """One input with both ends: their studies, what the screen says of them, and what they were solved to."""

    def __init__(self, study: Study, one: AssumedInput) -> None:
        self.input = one
        self.studies = [study_with_inputs(study, [(one, value)]) for value in one.ends]
        self.refused: list[str | None] = [
            None if fault is None else str(fault)
            for fault in (next(cross_faults(changed), None) for changed in self.studies)
        ]
        self.screened: list[Screened | None] = [None, None]
        self.solved: list[Outcome | None] = [None, None]
        self.estimated: tuple[float, ...] = ()

    def moves(self, at: int) -> bool:
        """Say whether an end is another value than the one given."""
        return self.input.ends[at] != self.input.given

    def margin(self, at: int) -> float | None:
        """Return what the answer's rings have left of the nearest target at an end."""
        screened = self.screened[at]
        return None if screened is None else screened.margin

    def outcomes(self, base: Outcome) -> list[Outcome | None]:
        """Return what both ends come to: as solved, or the answer itself where the end is the given value."""
        return [self.solved[at] if self.moves(at) else base for at in (0, 1)]

    def unsolved(self, base: Outcome) -> bool:
        """Say whether an end that a study can state is not solved."""
        pairs = zip(self.outcomes(base), self.refused, strict=True)
        return any(outcome is None and refused is None for outcome, refused in pairs)


def _screened(
    study: Study, answer: Answer, seconds: float, helper: Helper | None
) -> list[_Candidate]:
    """Return all inputs, those screened that were begun within `seconds`, the strongest first."""
    screen = Screen(study, answer)
    found = [_Candidate(study, one) for one in assumed_inputs(study)]
    tasks = [
        [
            each if one.refused[at] is None and one.moves(at) else None
            for at, each in enumerate(one.studies)
        ]
        for one in found
    ]
    assert screen.base.estimate is not None
    for one, ends in zip(
        found,
        assumption_shared_work(screen_assumption_ends, screen, tasks, seconds, helper),
        strict=True,
    ):
        if ends is None:
            continue
        estimates: list[Outcome | None] = []
        for at, end in enumerate(ends):
            if end is not None:
                one.screened[at] = end
                estimates.append(end.estimate)
            elif one.refused[at] is None and one.moves(at):  # too many rows
                estimates.append(Outcome("undecided", {}, None))
            elif one.refused[at] is None:
                one.screened[at] = screen.base
        one.estimated = assumption_effect_rank(study.wishes.order, screen.base.estimate, estimates)
    return sorted(found, key=lambda one: _most_first(one.estimated))


def _most_first(rank: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(-number for number in rank)


# -- models -------------------------------------------------------------------------------------------------


def _effect(one: _Candidate, base: Outcome, solved: bool) -> AssumedEffect:
    ends = [_at_end(one, at, base) for at in (0, 1)]
    return AssumedEffect(
        path=one.input.path, given=one.input.given, because=one.input.because,
        stated=one.input.stated, solved=solved, at_low=ends[0], at_high=ends[1],
    )  # fmt: skip


def _at_end(one: _Candidate, at: int, base: Outcome) -> AtEnd:
    value: JsonValue = one.input.ends[at]
    screened, outcome = one.screened[at], one.outcomes(base)[at]
    return AtEnd(
        value=value,
        refused=one.refused[at],
        rings_keep=None if screened is None else screened.keeps,
        rings_margin=None if screened is None else screened.margin,
        figures=None if outcome is None else _figures(outcome),
        change={} if outcome is None else _change(base, outcome),
    )


def _figures(outcome: Outcome) -> Figures:
    wishes = outcome.wishes
    counts = {
        name: int(wishes[name]) if name in wishes else None
        for name in ("cutters", "ring_parts", "heads")
    }
    return Figures(
        status=outcome.status, **counts, material_kg=wishes.get("material"), cost=wishes.get("cost"),
        margin=outcome.margin,
    )  # fmt: skip


def _change(base: Outcome, outcome: Outcome) -> dict[str, float]:
    """Return what figures differ by, where both have an answer."""
    change = {
        _FIGURES.get(wish, wish): outcome.wishes[wish] - value
        for wish, value in base.wishes.items()
        if wish in outcome.wishes
    }
    if base.margin is not None and outcome.margin is not None:
        change["margin"] = outcome.margin - base.margin
    return change
