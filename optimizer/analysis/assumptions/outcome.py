"""What a study comes to with an input at one end of its range, solved or estimated, and how effects rank."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ringset.rating.rated import Rated
from ringset.rating.robot_sums import rated_tool_point_shares, rated_tool_point_um
from ringset.schema.answer import Answer, Status
from ringset.schema.study import TOOL_POINT_TARGETS, Study, Wish

#: Digits to which relative effects are compared: what differs by less came of rounding.
DIGITS = 9


@dataclass(frozen=True)
class Outcome:
    """A status, what every wish comes to in its own unit, and the least relative margin to a target.

    Without rings `wishes` is empty and `margin` None.
    """

    status: Status
    wishes: dict[Wish, float]
    margin: float | None

    @property
    def possible(self) -> bool | None:
        """Whether there is an answer; None where this is not known."""
        return None if self.status == "undecided" else self.status != "impossible"


def assumption_outcome(study: Study, answer: Answer) -> Outcome:
    """Return what an answer of a study comes to."""
    if answer.totals is None:
        return Outcome(answer.status, {}, None)
    return Outcome(answer.status, answer.totals.by_wish(), assumption_least_margin(study, answer))


def assumption_least_margin(study: Study, answer: Answer) -> float:
    """Return the least of (target - reached) / target over all targets of an answer.

    Errors and repeatabilities have targets, of joints and at tool points.
    """
    asked = [
        *((ring.error_arcsec, ring.target_arcsec) for ring in answer.rings),
        *((ring.repeatability_arcsec, ring.repeatability_target_arcsec) for ring in answer.rings),
        *((point.error_um, point.target_um) for point in answer.tool_points),
        *((point.repeatability_um, point.repeatability_target_um) for point in answer.tool_points),
    ]
    return min(1.0 - reached / target for reached, target in asked if target is not None)


def assumption_margin_of_rows(study: Study, chosen: Rated) -> float:
    """Return the same of rated rows, one of every joint of a canonical study."""
    refs = chosen.catalogue.joints
    targets = chosen.catalogue.per_joint(lambda ref: ref.target_arcsec)
    steady = chosen.catalogue.per_joint(lambda ref: ref.scatter_most_arcsec)
    margins = (1.0 - chosen.error_arcsec / targets).tolist()
    margins += (1.0 - chosen.repeatability_arcsec / steady).tolist()
    for field, robot in itertools.product(TOOL_POINT_TARGETS, study.robots):
        target = getattr(robot, field)
        if target is not None:
            mine = np.array([ref.robot.name == robot.name for ref in refs])[chosen.catalogue.joint]
            total = float(rated_tool_point_shares(chosen, field)[mine].sum())
            margins.append(1.0 - rated_tool_point_um(total, robot.tool_point_rule) / target)
    return float(min(margins))


def assumption_effect_rank(
    order: Sequence[Wish], base: Outcome, ends: Sequence[Outcome | None]
) -> tuple[float, ...]:
    """Return how much the ends of an input change, as numbers to compare from the first to the last.

    First how many ends change whether there is an answer (half of one where this stayed unknown), then per
    wish in the study's order the largest relative change of it, then the largest change of the margin.
    """
    known = [end for end in ends if end is not None]
    status = sum(
        0.5 if end.possible is None else float(end.possible != base.possible) for end in known
    )
    changes = [
        max((_relative(base.wishes.get(wish), end.wishes.get(wish)) for end in known), default=0.0)
        for wish in order
    ]
    margins = [
        abs(end.margin - base.margin)
        for end in known
        if end.margin is not None and base.margin is not None
    ]
    return tuple(round(number, DIGITS) for number in (status, *changes, max(margins, default=0.0)))


def _relative(before: float | None, after: float | None) -> float:
    if before is None or after is None:
        return 0.0
    return abs(after - before) / max(abs(before), 1e-12)
