"""Why a study is impossible, and the least changes that would free it, each verified by solving."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ringset.analysis.explanation.feasibility import Feasibility, Values
from ringset.analysis.explanation.gap_reliefs import explained_gap_reliefs
from ringset.analysis.explanation.joint_conflicts import (
    explain_joint_blockers,
    explain_line_blockers,
)
from ringset.analysis.explanation.models import Explanation
from ringset.analysis.explanation.relief_pairs import (
    PAIRS_MAX,
    explained_combined_relief,
    explained_relief_fronts,
)
from ringset.analysis.explanation.reliefs import (
    SINGLES_MAX,
    Relief,
    explained_relief_candidates,
    explained_single_reliefs,
)
from ringset.analysis.explanation.shop_reliefs import explained_shop_reliefs
from ringset.analysis.explanation.widened import ALL_BROKEN, MARGIN, explanation_rows_widened
from ringset.analysis.explanation.words import Words
from ringset.catalogue.enumerate import catalogue
from ringset.catalogue.joints import catalogue_joints
from ringset.errors import StudyError
from ringset.infeasibility.conflicts import infeasible_shared_blockers
from ringset.infeasibility.models import Found, Undecided
from ringset.infeasibility.oracle import ask_if_possible
from ringset.rating.rate import rate
from ringset.rating.stated_limits import Limit, rated_shared_limits
from ringset.reduction.from_ratings import reduction_table
from ringset.schema.answer import SETTLED
from ringset.schema.cross_checks import cross_faults
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import Path, resolve_field_path
from ringset.schema.study import Study
from ringset.solving.pipeline import solve

Status = Literal["possible", "impossible", "undecided"]


@dataclass(frozen=True)
class Blocked:
    """A study's blockers and, if there are any, its rows within reach."""

    found: Found
    feasibility: Feasibility | None = None


def explain_blockers(study: Study) -> Blocked:
    """Return the blockers of a study; none if nothing stands in its way. Raises Undecided, StudyError."""
    study = study.canonical()
    rated = rate(study, catalogue(study))
    inside = rated.take(rated.inside)
    have = np.bincount(inside.catalogue.joint, minlength=len(catalogue_joints(study))) > 0
    summed = any(not limit.polled for limit in rated_shared_limits(study))
    parts = [Found(tuple(explain_line_blockers(study)), True)]
    if summed and have.any():
        parts.append(infeasible_shared_blockers(study, inside))
    feasibility = None
    if not have.all() or any(part.blockers for part in parts):
        # joints without a ring are looked at wherever a ring could be; others only as far as one or
        # two limits go, and not at all where nothing ties joints to each other
        near = 2 if summed else 0
        feasibility = Feasibility(
            explanation_rows_widened(
                study, {i: near if has else ALL_BROKEN for i, has in enumerate(have)}
            )
        )
        stuck = np.flatnonzero(~have).tolist()
        parts = [*(explain_joint_blockers(feasibility.world, index) for index in stuck), *parts]
    blockers = tuple(blocker for part in parts for blocker in part.blockers)
    return Blocked(Found(blockers, all(part.complete for part in parts)), feasibility)


def explain_impossible(study: Study, fixed: Iterable[str] = ()) -> Explanation:
    """Return which limits of a study collide and what would free it; nothing for a possible study.

    `fixed` are paths of limits that must not change, beside those that the study names itself. Raises
    StudyError for a study whose fields disagree or a path that it does not have.
    """
    faults = list(cross_faults(study))
    if faults:
        raise StudyError(faults)
    held = {resolve_field_path(study, path).keys for path in (*study.fixed, *fixed)}
    try:
        state = explain_blockers(study)
    except Undecided:
        return _explained(study, "undecided", None, [], [], None)
    feasibility = state.feasibility
    if feasibility is None or not state.found.blockers:
        status: Status = "possible" if state.found.complete else "undecided"
        return _explained(study, status, state, [], [], None)
    verifier = Verifier(study)
    blockers = list(state.found.blockers)

    def free(limit: Limit) -> bool:
        return verifier.path(limit).keys not in held

    limits = list(filter(free, explained_relief_candidates(feasibility, blockers)))
    inputs = [
        relief
        for relief in (
            *explained_gap_reliefs(feasibility, blockers, verifier.frees),
            *explained_shop_reliefs(feasibility.world, blockers, verifier.frees),
        )
        if free(relief.values[0][0])
    ]
    alone = explained_single_reliefs(feasibility, blockers, limits) + inputs
    alone = verifier.verified(sorted(alone, key=lambda relief: relief.order))
    pairs: list[list[Relief]] = []
    for front in explained_relief_fronts(feasibility, blockers, limits, alone):
        points = verifier.verified(front, PAIRS_MAX - sum(map(len, pairs)))
        pairs += [points] if points else []
    both = None
    if not alone and not pairs:
        # a joint that has a ring again may collide with the others over a limit not met so far
        later = [limit for limit in filter(free, feasibility.shared) if limit not in limits]
        chain = explained_combined_relief(feasibility, blockers, limits + later)
        both = next(iter(verifier.verified([chain] if chain else [])), None)
    found = _explained(study, "impossible", state, alone, pairs, both)
    return found.model_copy(update={"free_without_kept_parts": _free_without_kept_parts(study)})


def _free_without_kept_parts(study: Study) -> bool | None:
    """Say whether a study would have an answer if no joint kept a part; None where none does, or unknown."""
    robots, keeping = [], False
    for robot in study.robots:
        joints = [joint.model_copy(update={"keeps_part": None}) for joint in robot.joints]
        keeping |= joints != robot.joints
        robots.append(robot.model_copy(update={"joints": joints}))
    if not keeping:
        return None
    try:
        return explained_study_is_possible(study.model_copy(update={"robots": robots}))
    except Undecided:
        return None


# -- verifying ------------------------------------------------------------------------------------------


class Verifier:
    """Solves relieved studies, whole and as a user would state them."""

    def __init__(self, study: Study) -> None:
        self.study = study

    def path(self, limit: Limit) -> Path:
        """Return where a limit stands in the study, in its shortest form."""
        return resolve_field_path(self.study, limit.path)

    def relieved(self, values: Iterable[tuple[Limit, float]]) -> Study:
        """Return the study with limits at new values, checked; raises StudyError."""
        return edited_study(
            self.study, {self.path(limit): limit.json_value(v) for limit, v in values}
        )

    def verified(self, reliefs: Iterable[Relief], most: int = SINGLES_MAX) -> list[Relief]:
        """Return the first reliefs that do what they say."""
        good: list[Relief] = []
        for relief in reliefs:
            if len(good) < most and self._good(relief):
                good.append(relief)
        return good

    def _good(self, relief: Relief) -> bool:
        try:
            study = self.relieved(relief.values)
            if solve(_any_answer(study), certified=False).status not in SETTLED:
                return False
            return not any(self._possible(less) for less in relief.one_step_less())
        except (StudyError, Undecided):
            return False

    def frees(self, relief: Relief) -> bool:
        """Say whether the relieved study is possible."""
        try:
            return explained_study_is_possible(self.relieved(relief.values))
        except (StudyError, Undecided):
            return False

    def _possible(self, values: Values) -> bool:
        if all(value == limit.given for limit, value in values.items()):
            return False  # the study itself
        return explained_study_is_possible(self.relieved(values.items()))


def _any_answer(study: Study) -> Study:
    """Return the study that is content with any answer."""
    return study.model_copy(update={"wishes": study.wishes.model_copy(update={"order": []})})


def explained_study_is_possible(study: Study) -> bool:
    """Say whether a study has an answer; raises Undecided where the search does not know."""
    study = study.canonical()
    if explain_line_blockers(study):
        return False
    rated = rate(study, catalogue(study))
    table = reduction_table(study, rated.take(rated.inside))
    return ask_if_possible(study, table, rated_shared_limits(study))


def _explained(
    study: Study, status: Status, state: Blocked | None, alone: list[Relief],
    pairs: list[list[Relief]], both: Relief | None,
) -> Explanation:  # fmt: skip
    words = Words(study)
    blockers = state.found.blockers if state else ()
    world = state.feasibility.world if state and state.feasibility else None
    return Explanation(
        title=study.title,
        study_sha256=study.fingerprint(),
        status=status,
        blockers=[words.collision(world, b) for b in blockers] if world else [],
        complete=state.found.complete if state else False,
        margin=world.margin if world else MARGIN,
        singles=[words.way(relief) for relief in alone],
        fronts=[[words.way(relief) for relief in points] for points in pairs],
        together=words.way(both) if both else None,
        order=[],
        prices=[],
        rooms=[],
    )
