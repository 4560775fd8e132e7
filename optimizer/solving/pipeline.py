"""The whole line: study -> catalogue -> rate -> reduce -> choose -> answer -> judge."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from ringset.catalogue.enumerate import catalogue_blocks
from ringset.catalogue.rows import too_many_catalogue_rows
from ringset.errors import StudyError
from ringset.infeasibility import reasons as why_not
from ringset.rating.rate import rate, rate_in_full
from ringset.rating.rated import Weighed, joined_ratings
from ringset.rating.robot_sums import rings_possible
from ringset.reduction.from_ratings import table_of
from ringset.reduction.units import Units, units_of
from ringset.schema.answer import Answer, GivenUp, Stage, Status, WeighedStage, stage_unit
from ringset.schema.cross_checks import cross_faults
from ringset.schema.study import Search, Study
from ringset.search.lexicographic import Solver
from ringset.search.state.result import Choice, StageResult
from ringset.search.wishes_in_turn import minimise_with
from ringset.solving.compose import Searched, compose
from ringset.verification.judge.judge import judge


class JudgeRefused(RuntimeError):
    """The judge found a fault in an answer of our own: a defect, never shown as an answer."""


#: Most rows inside their limits that one study may have; a search of them takes some 4 GB.
INSIDE_MAX = 12_000_000
#: Called with the name of a stage and the seconds it took.
Timing = Callable[[str, float], None]
#: Called with (wish, best so far, bound, unit) whenever a long search improves one of them.
Progress = Callable[[str, float | None, float | None, str], None]


@dataclass(frozen=True)
class Solved:
    """A solved study (in canonical order), its judged answer, and what the search knows for more questions.

    `inside` are the rows inside all limits. Without any search (a joint has no ring) there are neither
    `units`, in which material and money are counted, nor solver nor choice. `choosing_s` is how long the
    search took.
    """

    study: Study
    answer: Answer
    inside: Weighed
    units: Units | None = None
    solver: Solver | None = None
    choice: Choice | None = None
    choosing_s: float = 0.0


def solve(study: Study, progress: Progress | None = None, timing: Timing | None = None) -> Answer:
    """Return the judged answer to a study; raises StudyError if the fields do not agree.

    An impossible study is an answer with `status` impossible and its reasons. The same study and
    seed give the same answer, in whatever order robots, joints and modules are listed.
    """
    return solve_in_full(study, progress, timing).answer


def solve_in_full(
    study: Study, progress: Progress | None = None, timing: Timing | None = None
) -> Solved:
    """Return the judged answer to a study as `solve` does, with what the search knows."""
    faults = list(cross_faults(study))
    if faults:
        raise StudyError(faults)
    clock = _Clock(timing)
    started = time.monotonic()
    study = study.canonical()
    inside, reasons = possible_rows(study)
    clock.lap("catalogue and rate")
    if reasons:
        nothing = judge_or_refuse(study, _no_answer(study, inside, "impossible", reasons))
        return Solved(study, nothing, inside)
    table, begun = table_of(study, inside), time.monotonic()
    units = units_of(table)
    solver = Solver(
        table, units, study.wishes.ceilings(), _time_left(study, started),
        _in_real_units(units, progress),
    )  # fmt: skip
    choice = minimise_with(solver, study.wishes.order, study.gives())
    took = time.monotonic() - begun
    clock.lap("choose")
    if choice.status == "impossible":
        reasons = why_not.infeasible_shared_reasons(study, inside)
        clock.lap("reasons")
        answer = _no_answer(study, inside, "impossible", reasons)
    elif choice.status == "undecided":
        answer = _no_answer(study, inside, "undecided", choice.reasons)
    else:
        answer = compose_chosen_answer(study, inside, units, choice)
        clock.lap("compose")
    answer = judge_or_refuse(study, answer)
    if choice.status not in ("impossible", "undecided"):
        clock.lap("judge")
    return Solved(study, answer, inside, units, solver, choice, took)


def possible_rows(study: Study) -> tuple[Weighed, list[str]]:
    """Return the rows inside all limits of their joints, and what arithmetic finds impossible.

    Joints are rated in blocks and most rows dropped, so that a thousand robots fit into memory. Raises
    StudyError where more than INSIDE_MAX rows are left.
    """
    parts: list[Weighed] = []
    alone: list[str] = []
    left = 0
    for joints, rows in catalogue_blocks(study):
        rated = rate(study, rows)
        alone += why_not.infeasible_joint_reasons(study, rated, joints)
        parts.append(rated.take(rated.inside).weighed())
        left += len(parts[-1].catalogue)
        if left > INSIDE_MAX:
            raise too_many_catalogue_rows(study.shop, INSIDE_MAX)
    inside = joined_ratings(parts)
    return inside, why_not.infeasible_polling_reasons(study) + (
        alone
        or why_not.infeasible_tool_point_reasons(study, inside)
        + why_not.infeasible_battery_reasons(study, inside)
        + why_not.infeasible_ring_sum_reasons(study, inside)
    )


def compose_chosen_answer(study: Study, inside: Weighed, units: Units, choice: Choice) -> Answer:
    """Return the answer of a choice of rows, not judged yet."""
    stages = [_stage(stage, units) for stage in choice.stages]
    searched = Searched(
        rings_possible=rings_possible(inside),
        rows_possible=len(inside.catalogue),
        rows_searched=choice.rows_searched,
        material_unit_kg=units.material_kg,
        cost_unit=units.cost,
    )
    repeatable = study.search.workers == 1 and not choice.clock_ended
    status: Status = "proven" if choice.status == "proven" else "found"
    chosen = rate_in_full(study, inside.catalogue.take(choice.rows))
    return compose(study, chosen, status, choice.reasons, stages, searched, repeatable)


def _stage(stage: StageResult, units: Units) -> Stage:
    """Return a stage of the search as the answer states it."""
    given, weighed = stage.given, stage.weighed
    return Stage(
        wish=stage.wish,
        unit=stage_unit(stage.wish, units.material_kg, units.cost),
        value=stage.value,
        bound=stage.bound,
        confirmed_by=stage.confirmed_by,
        given=None if given is None else GivenUp(**vars(given)),
        weighed=None
        if weighed is None
        else WeighedStage(
            wish=weighed.sum.wish,
            weight=weighed.sum.weight,
            own_weight=weighed.sum.later_weight,
            value=weighed.value,
            bound=weighed.bound,
        ),
    )


def _no_answer(study: Study, inside: Weighed, status: Status, reasons: list[str]) -> Answer:
    searched = Searched(
        rings_possible=rings_possible(inside),
        rows_possible=len(inside.catalogue),
        rows_searched=0,
        material_unit_kg=0.0,
        cost_unit=0.0,
    )
    repeatable = status == "impossible" and study.search.workers == 1
    return compose(study, None, status, reasons, [], searched, repeatable)


def judge_or_refuse(study: Study, answer: Answer) -> Answer:
    """Return the answer if the judge finds no fault; raises JudgeRefused otherwise."""
    violations = judge(study, answer)
    if violations:
        raise JudgeRefused("the judge refused the answer:\n" + "\n".join(violations))
    return answer


def _time_left(study: Study, started: float) -> Search:
    """Return the search settings with what the stages before have left of the time."""
    left = study.search.time_limit_s - (time.monotonic() - started)
    return study.search.model_copy(update={"time_limit_s": max(0.5, left)})


def _in_real_units(
    units: Units, progress: Progress | None
) -> Callable[[str, int | None, int | None], None] | None:
    """Turn the search's whole units into the numbers people read."""
    if progress is None:
        return None

    def tell(stage: str, best: int | None, bound: int | None) -> None:
        sizes = {"material": ("kg", units.material_kg), "cost": ("", units.cost)}
        unit, size = sizes.get(stage, ("", 1))
        progress(
            stage.replace("_", " "),
            None if best is None else best * size,
            None if bound is None else bound * size,
            unit,
        )

    return tell


class _Clock:
    """Tells how long each stage took."""

    def __init__(self, timing: Timing | None) -> None:
        self.timing, self.last = timing, time.perf_counter()

    def lap(self, stage: str) -> None:
        now = time.perf_counter()
        if self.timing is not None:
            self.timing(stage, now - self.last)
        self.last = now
