"""The whole line: study -> catalogue -> rate -> reduce -> choose -> answer -> judge."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

from ringset.catalogue.enumerate import catalogue_blocks
from ringset.catalogue.rows import too_many_catalogue_rows
from ringset.errors import StudyError
from ringset.infeasibility import reasons as why_not
from ringset.rating.rate import rate, rate_in_full
from ringset.rating.rated import Weighed, joined_ratings
from ringset.rating.robot_sums import rated_ring_count
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.units import Units, reduction_units
from ringset.schema.answer import Answer, GivenUp, Stage, Status, WeighedStage, stage_unit
from ringset.schema.cross_checks import cross_faults
from ringset.schema.earlier_names import (
    EarlierNames,
    earlier_part_names,
    standing_name_faults,
)
from ringset.schema.study import Search, Study
from ringset.search.lexicographic import Solver
from ringset.search.state.result import Choice, StageResult
from ringset.search.wishes_in_turn import minimise_with
from ringset.solving.compose import Searched, compose
from ringset.solving.proving import solved_answer_agreed, solved_answer_proven
from ringset.solving.solved import Solved
from ringset.verification.certificate.document import Certificate
from ringset.verification.judge.judge import judge


class _TimeOver(Exception):
    """The time of a study was over before all its joints were rated; the first `joints` of them were."""

    def __init__(self, joints: int, inside: Weighed) -> None:
        super().__init__(joints)
        self.joints, self.inside = joints, inside


class JudgeRefused(RuntimeError):
    """The judge found a fault in an answer of our own: a defect, never shown as an answer."""


#: Most rows inside their limits that one study may have; a search of them takes some 4 GB.
INSIDE_MAX = 12_000_000
#: What it takes to compose and to judge the answer of one joint; kept back from the search.
ANSWER_S = 0.008
#: Least time of a search, however long the stages before it took: an answer is worth half a second.
SEARCH_LEAST_S = 0.5
#: Called with the name of a stage and the seconds it took.
Timing = Callable[[str, float], None]
#: Called with (wish, best so far, bound, unit) whenever a long search improves one of them.
Progress = Callable[[str, float | None, float | None, str], None]


def solve(
    study: Study, progress: Progress | None = None, timing: Timing | None = None,
    begun: float | None = None, certified: bool = True, previous: Answer | None = None,
) -> Answer:  # fmt: skip
    """Return the judged answer to a study; raises StudyError if the fields do not agree.

    Every ring that the answer `previous` to an earlier revision of the study has keeps its name there, and
    no number that was ever used is used again; raises StudyError where its names cannot be kept.

    `search.time_limit_s` counts from `begun`, a time of `time.monotonic` (by default now): whoever has read
    the study, or taken it from a queue, says when that began.

    An answer is proven only where a certificate of it was verified (`solving/proving.py`); with `certified`
    false none is made, and what the search settles is called agreed.
    An impossible study is an answer with `status` impossible and its reasons. The same study and
    seed give the same answer, in whatever order robots, joints and modules are listed.
    """
    return solve_in_full(study, progress, timing, begun, certified, previous).answer


def solve_in_full(
    study: Study, progress: Progress | None = None, timing: Timing | None = None,
    begun: float | None = None, certified: bool = True, previous: Answer | None = None,
) -> Solved:  # fmt: skip
    """Return the judged answer to a study as `solve` does, with what the search knows."""
    faults = list(cross_faults(study))
    if faults:
        raise StudyError(faults)
    if previous is not None:
        # names that cannot be kept are refused before anything is searched
        earlier_part_names(previous)
        if clashing := standing_name_faults(study, previous):
            raise StudyError(clashing)
    clock = _Clock(timing)
    ends = solving_end_time(study, begun)
    study = study.canonical()
    try:
        inside, reasons = solving_possible_rows(study, ends)
    except _TimeOver as over:
        return _out_of_time(study, over)
    clock.lap("catalogue and rate")
    return solved_from_rows(study, inside, reasons, ends, progress, timing, certified, previous)


def solved_from_rows(
    study: Study, inside: Weighed, reasons: list[str], ends: float,
    progress: Progress | None = None, timing: Timing | None = None, certified: bool = True,
    previous: Answer | None = None,
) -> Solved:  # fmt: skip
    """Return the best answer of a canonical study that is made of some rows inside all limits, judged.

    `inside` are all of them or some, `reasons` why there can be no answer, where that is known already;
    `ends` is a time of `time.monotonic`. All that the answer states of its proof speaks of these rows.
    """
    clock = _Clock(timing)
    if reasons:
        nothing = solved_or_refused(study, _no_answer(study, inside, "impossible", reasons))
        return Solved(study, nothing, inside)
    table, choosing = reduction_table(study, inside), time.monotonic()
    units = reduction_units(table)
    solver = Solver(
        table, units, study.wishes.ceilings(), _time_left(study, ends),
        _in_real_units(units, progress),
    )  # fmt: skip
    choice = minimise_with(solver, study.wishes.order, study.gives())
    took = time.monotonic() - choosing
    clock.lap("choose")
    certificate: Certificate | None = None
    if choice.status == "impossible":
        reasons = why_not.infeasible_shared_reasons(study, inside)
        clock.lap("reasons")
        answer = _no_answer(study, inside, "impossible", reasons)
    elif choice.status == "undecided":
        answer = _no_answer(study, inside, "undecided", choice.reasons)
    else:
        earlier = None if previous is None else earlier_part_names(previous)
        answer = compose_chosen_answer(study, inside, units, choice, earlier)
        clock.lap("compose")
        if certified:
            answer, certificate = solved_answer_proven(study, answer, inside, solver, ends)
            clock.lap("certify and verify")
        else:
            answer = solved_answer_agreed(answer)
    answer = solved_or_refused(study, answer, previous)
    if choice.status not in ("impossible", "undecided"):
        clock.lap("judge")
    return Solved(study, answer, inside, units, solver, choice, took, certificate)


def solving_end_time(study: Study, begun: float | None) -> float:
    """Return when a study's time is over, by `time.monotonic`, if work on it began then or begins now."""
    return (time.monotonic() if begun is None else begun) + study.search.time_limit_s


def solving_possible_rows(study: Study, ends: float = math.inf) -> tuple[Weighed, list[str]]:
    """Return the rows inside all limits of their joints, and what arithmetic finds impossible.

    Joints are rated in blocks and most rows dropped, so that a thousand robots fit into memory. Raises
    StudyError where more than INSIDE_MAX rows are left, and `_TimeOver` where a block is left at `ends`, a
    time of `time.monotonic`.
    """
    parts: list[Weighed] = []
    alone: list[str] = []
    left = 0
    for joints, rows in catalogue_blocks(study):
        if joints.start and time.monotonic() >= ends:
            raise _TimeOver(joints.start, joined_ratings(parts))
        rated = rate(study, rows)
        alone += why_not.infeasible_joint_reasons(study, rated, joints)
        parts.append(rated.take(rated.inside).weighed())
        left += len(parts[-1].catalogue)
        if left > INSIDE_MAX:
            raise too_many_catalogue_rows(study.shop, INSIDE_MAX)
    inside = joined_ratings(parts)
    polling = why_not.infeasible_polling_reasons(study)
    return inside, polling + (alone or solving_sum_reasons(study, inside))


def solving_sum_reasons(study: Study, inside: Weighed) -> list[str]:
    """Return which sums of a robot are out of reach even with the best row of every joint; each has some."""
    return (
        why_not.infeasible_tool_point_reasons(study, inside)
        + why_not.infeasible_battery_reasons(study, inside)
        + why_not.infeasible_ring_sum_reasons(study, inside)
    )


def compose_chosen_answer(
    study: Study, inside: Weighed, units: Units, choice: Choice, earlier: EarlierNames | None = None
) -> Answer:
    """Return the answer of a choice of rows, not judged yet and nothing of it proven (`proving`).

    Rings that an `earlier` answer had keep its names.
    """
    stages = [_stage(stage, units) for stage in choice.stages]
    searched = Searched(
        rings_possible=rated_ring_count(inside),
        rows_possible=len(inside.catalogue),
        rows_searched=choice.rows_searched,
        material_unit_kg=units.material_kg,
        cost_unit=units.cost,
    )
    repeatable = study.search.workers == 1 and not choice.clock_ended
    status: Status = "agreed" if choice.status == "proven" else "found"
    chosen = rate_in_full(study, inside.catalogue.take(choice.rows))
    return compose(study, chosen, status, choice.reasons, stages, searched, repeatable, earlier)


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


def _out_of_time(study: Study, over: _TimeOver) -> Solved:
    """Return that nothing is known, with the rows of the joints that had been rated."""
    reason = (
        f"search.time_limit_s: given {study.search.time_limit_s:g}, over when {over.joints} of "
        f"{sum(len(robot.joints) for robot in study.robots)} joints had been rated; allowed: more"
    )
    nothing = _no_answer(study, over.inside, "undecided", [reason])
    return Solved(study, solved_or_refused(study, nothing), over.inside)


def _no_answer(study: Study, inside: Weighed, status: Status, reasons: list[str]) -> Answer:
    searched = Searched(
        rings_possible=rated_ring_count(inside),
        rows_possible=len(inside.catalogue),
        rows_searched=0,
        material_unit_kg=0.0,
        cost_unit=0.0,
    )
    repeatable = status == "impossible" and study.search.workers == 1
    return compose(study, None, status, reasons, [], searched, repeatable)


def solved_or_refused(study: Study, answer: Answer, previous: Answer | None = None) -> Answer:
    """Return the answer if the judge finds no fault; raises JudgeRefused otherwise.

    `previous` is the earlier answer whose names it keeps, if one was given.
    """
    violations = judge(study, answer, previous)
    if violations:
        raise JudgeRefused("the judge refused the answer:\n" + "\n".join(violations))
    return answer


def _time_left(study: Study, ends: float) -> Search:
    """Return the search settings with what is left until `ends` beside composing and judging."""
    joints = sum(len(robot.joints) for robot in study.robots)
    left = max(SEARCH_LEAST_S, ends - time.monotonic() - ANSWER_S * joints)
    return study.search.model_copy(update={"time_limit_s": left})


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
