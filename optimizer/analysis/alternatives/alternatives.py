"""Why a ring is as it is: the rings beside it, rated, and what each would break or cost.

Every ground is one neighbour of the ring that stands: more or fewer teeth, a thinner or thicker rim, fewer
or more heads, a part of its own, another part of the answer. All of them are rated like any ring and added
up like any answer; nothing is solved and nothing guessed. A change of a shared ring part is made on every
joint that shares it. Neighbours show why a ring is no other near by; that nothing else at all is better
is what the answer's own proof says.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np
from pydantic import ValidationError

from ringset.analysis.alternatives.models import (
    BREAKS_MOST,
    AddedTotals,
    Broken,
    Ground,
    GroundKind,
    LimitBroken,
    Outcome,
    OutcomeKind,
    StandingRing,
)
from ringset.analysis.alternatives.moves import alternative_ring_moves
from ringset.analysis.alternatives.neighbourhood import Neighbourhood
from ringset.analysis.alternatives.words import alternatives_outcome_words, alternatives_tried_words
from ringset.errors import Fault, StudyError
from ringset.reduction.units import FINEST_KG, FINEST_MONEY
from ringset.schema.answer import Answer, JointRing
from ringset.schema.joint import Joint
from ringset.schema.study import Robot, Study


def alternatives_of(study: Study, answer: Answer, robot: Robot, joint: Joint) -> list[Ground]:
    """Return the grounds of the ring that an answer puts on a joint.

    Raises StudyError if the answer's rings do not keep the study's limits.
    """
    rings = [standing_ring_of_alternatives(ring) for ring in answer.rings]
    units = (answer.proof.material_unit_kg, answer.proof.cost_unit or FINEST_MONEY)
    return alternatives_among(study, rings, robot, joint, *units)


def standing_ring_of_alternatives(ring: JointRing) -> StandingRing:
    """Return what must be known of a ring of an answer."""
    told = ring.electronics.second_ring
    names = set(StandingRing.model_fields) - {"second_teeth"}
    given = {name: getattr(ring, name) for name in names}
    return StandingRing(**given, second_teeth=None if told is None else told.teeth)


def alternatives_among(
    study: Study, rings: Sequence[StandingRing], robot: Robot, joint: Joint,
    material_unit_kg: float = FINEST_KG, cost_unit: float = FINEST_MONEY,
) -> list[Ground]:  # fmt: skip
    """Return the grounds of one joint's ring among the rings that stand, in the order of their kinds.

    Material and money are compared in whole units of the given sizes (kg, money), as the search counts
    them; by default in the finest, in which all but the largest studies are counted. Raises StudyError,
    with paths below `rings`, unless every joint has one ring and all limits hold.
    """
    try:
        near = Neighbourhood(study, rings, material_unit_kg, cost_unit)
        return _grounds(near, near.place_of(robot, joint))
    except ValidationError:  # what is told holds finite numbers only
        allowed = "inputs at which error and signal are finite numbers"
        raise StudyError([Fault("rings", "inputs beyond all measure", allowed)]) from None


def _grounds(near: Neighbourhood, place: int) -> list[Ground]:
    """Return the grounds of the ring at `place`: of every change the best of its trials."""
    changes = alternative_ring_moves(near, place)
    outcomes = near.tried([trial for change in changes for trial in change])
    grounds, first = [], 0
    for change in changes:
        best = min(outcomes[first : first + len(change)], key=lambda one: one.order)
        first += len(change)
        if np.isfinite(best.strain):
            grounds.append(_ground(near, place, best))
    return grounds


def _ground(near: Neighbourhood, place: int, best: Outcome) -> Ground:
    """Return the best trial of a change as a ground."""
    ring, row = best.trial.rings[place], best.rows[0]
    of, prices = best.trial.of, near.study.shop.prices
    breaks = [_limit(near, one) for one in near.broken(best)[:BREAKS_MOST]]
    decided, added = next(((wish, more) for wish, more in best.counted if more), (None, 0))
    ground = Ground(
        kind=cast(GroundKind, best.trial.kind),
        joints=[near.refs[one].label for one in best.trial.rings],
        module_mm=float(near.modules[ring.module]),
        teeth=ring.teeth,
        bore_mm=float(near.rated.catalogue.bore_mm()[row]),
        rim_mm=float(near.rated.rim_mm[row]),
        heads=ring.heads,
        ring_part=None if of is None else _part_name(near, of),
        error_arcsec=float(near.rated.error_arcsec[row]),
        outcome=_outcome(bool(breaks), added),
        breaks=breaks,
        adds=AddedTotals(
            cutters=best.cutters,
            ring_parts=best.ring_parts,
            heads=best.heads,
            material_kg=best.material_kg,
            money=None if prices is None else best.money,
        ),
        decided_by=None if breaks else decided,
        text="",
    )
    return ground.model_copy(
        update={"text": f"{alternatives_tried_words(ground)}: {alternatives_outcome_words(ground)}"}
    )


def _part_name(near: Neighbourhood, place: int) -> str:
    """Return the name of a joint's ring part: as it was told, else numbered by size as a first answer is."""
    told = near.names[place]
    names = near.there.part_names(near.modules.tolist(), near.study.shop.part_prefix)
    return told or names[near.amounts.part[place]]


def _outcome(breaks: bool, more: int) -> OutcomeKind:
    """Return what came of a trial that adds `more` to the first wish that is not equal."""
    if breaks:
        return "breaks"
    if more == 0:
        return "as good"
    return "costs" if more > 0 else "better"


def _limit(near: Neighbourhood, one: Broken) -> LimitBroken:
    ref = None if one.joint is None else near.refs[one.joint]
    return LimitBroken(
        robot=one.robot if ref is None else ref.robot.name,
        joint=None if ref is None else ref.joint.name,
        limit=one.limit,
        value=one.value,
        allowed=one.allowed,
        unit=one.unit,
    )
