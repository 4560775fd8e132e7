"""Why a ring is as it is: the rings beside it, rated, and what each would break or cost.

Every ground is one neighbour of the ring that stands: more or fewer teeth, a thinner or thicker rim, fewer
or more heads, a part of its own, another part of the answer. All of them are rated like any ring and added
up like any answer; nothing is solved and nothing guessed. A change of a shared ring part is made on every
joint that shares it. Neighbours show why a ring is no other near by; that nothing else at all is better
is what the answer's own proof says.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, cast

import numpy as np
from pydantic import Field, ValidationError

from optimizer.answer import Answer, JointRing, Piece
from optimizer.loading import Fault, StudyError
from optimizer.neighbours import Neighbourhood
from optimizer.ring_changes import changes_of
from optimizer.study import Joint, Robot, Study, Wish
from optimizer.text import count as counted
from optimizer.trials import Broken, Outcome, StandingRing

#: Finest units of material and money, in which all but the largest studies are counted.
FINEST_KG, FINEST_MONEY = 1e-6, 1e-2
#: Most limits told of one neighbour.
BREAKS_MOST = 20
#: What is less is not worth a word.
LEAST_GRAMS, LEAST_MONEY = 5e-4, 5e-3

GroundKind = Literal[
    "larger", "largest", "smaller", "thinner", "thinnest", "thicker",
    "fewer_heads", "more_heads", "own_part", "other_part",
]  # fmt: skip


OutcomeKind = Literal["breaks", "costs", "as good", "better"]


class LimitBroken(Piece):
    """A limit that a neighbour breaks."""

    robot: str | None = Field(description="null for a ceiling over all robots.")
    joint: str | None = Field(description="null for a limit over several joints.")
    limit: str = Field(description="Field of the study that sets the limit.")
    value: float
    allowed: float = Field(description="For head_counts the nearest number that is possible.")
    unit: str


class AddedTotals(Piece):
    """What a neighbour adds to the totals over all robots built; negative where it saves."""

    cutters: int
    ring_parts: int
    heads: int
    material_kg: float = Field(description="Turned blanks.")
    money: float | None = Field(description="null without shop.prices.")


class Ground(Piece):
    """One neighbour of a ring, rated, and why the ring is not that."""

    kind: GroundKind
    joints: list[str] = Field(description="Joints whose ring changes, as robot/joint.")
    module_mm: float
    teeth: int
    bore_mm: float
    rim_mm: float
    heads: int = Field(description="On the joint asked about.")
    ring_part: str | None = Field(description="The part that it would be, of those that stand.")
    error_arcsec: float = Field(
        description="Error of the joint with it, on the basis of the target."
    )
    outcome: OutcomeKind = Field(
        description="breaks: some limit. costs: allowed, and worse by the wishes in their order. as good: "
        "equal by every wish. better: never of an answer that is proven."
    )
    breaks: list[LimitBroken] = Field(
        max_length=BREAKS_MOST, description="At most 20; those of the joint asked about come first."
    )
    adds: AddedTotals
    decided_by: Wish | None = Field(
        description="First wish that is not equal; null where one breaks."
    )
    text: str


def grounds_of(study: Study, answer: Answer, robot: Robot, joint: Joint) -> list[Ground]:
    """Return the grounds of the ring that an answer puts on a joint.

    Raises StudyError if the answer's rings do not keep the study's limits.
    """
    rings = [standing(ring) for ring in answer.rings]
    units = (answer.proof.material_unit_kg, answer.proof.cost_unit or FINEST_MONEY)
    return grounds_among(study, rings, robot, joint, *units)


def standing(ring: JointRing) -> StandingRing:
    """Return what must be known of a ring of an answer."""
    return StandingRing(**{name: getattr(ring, name) for name in StandingRing.model_fields})


def grounds_among(
    study: Study, rings: Sequence[StandingRing], robot: Robot, joint: Joint,
    material_unit_kg: float = FINEST_KG, cost_unit: float = FINEST_MONEY,
) -> list[Ground]:  # fmt: skip
    """Return the grounds of one joint's ring among the rings that stand, in the order of their kinds.

    Material and money are compared in whole units of the given sizes (kg, money), as the search counts
    them. Raises StudyError, with paths below `rings`, unless every joint has one ring and all limits hold.
    """
    try:
        near = Neighbourhood(study, rings, material_unit_kg, cost_unit)
        return _grounds(near, near.place_of(robot, joint))
    except ValidationError:  # what is told holds finite numbers only
        allowed = "inputs at which error and signal are finite numbers"
        raise StudyError([Fault("rings", "inputs beyond all measure", allowed)]) from None


def _grounds(near: Neighbourhood, place: int) -> list[Ground]:
    """Return the grounds of the ring at `place`: of every change the best of its trials."""
    changes = changes_of(near, place)
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
    decided = next((i for i, more in enumerate(best.counted) if more), None)
    ground = Ground(
        kind=cast(GroundKind, best.trial.kind),
        joints=[near.refs[one].label for one in best.trial.rings],
        module_mm=float(near.modules[ring.module]),
        teeth=ring.teeth,
        bore_mm=float(near.rated.catalogue.bore_mm()[row]),
        rim_mm=float(near.rated.rim_mm[row]),
        heads=ring.heads,
        ring_part=None if of is None else near.part_name(of),
        error_arcsec=float(near.rated.error_arcsec[row]),
        outcome=_outcome(bool(breaks), 0 if decided is None else best.counted[decided]),
        breaks=breaks,
        adds=AddedTotals(
            cutters=best.cutters,
            ring_parts=best.ring_parts,
            heads=best.heads,
            material_kg=best.material_kg,
            money=None if prices is None else best.money,
        ),
        decided_by=None if breaks or decided is None else near.study.wishes.order[decided],
        text="",
    )
    return ground.model_copy(update={"text": f"{_tried(ground)}: {_came_of_it(ground)}"})


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


# -- words ----------------------------------------------------------------------------------------------


def _tried(ground: Ground) -> str:
    """Say what was tried."""
    ring = f"{ground.teeth} teeth, bore {ground.bore_mm:g} mm"
    rim = f"{ground.rim_mm:.3g} mm (bore {ground.bore_mm:g} mm)"
    heads = counted(ground.heads, "head")
    return {
        "larger": f"larger ({ring})",
        "largest": f"as many teeth as fit ({ring})",
        "smaller": f"smaller ({ring})",
        "thinner": f"a rim of {rim}",
        "thinnest": f"the thinnest rim, {rim}",
        "thicker": f"a rim of {rim}",
        "fewer_heads": f"{heads} (bore {ground.bore_mm:g} mm)",
        "more_heads": f"{heads} (bore {ground.bore_mm:g} mm)",
        "own_part": f"a ring part of its own ({ring})",
        "other_part": f"{ground.ring_part} ({ring}), {heads}",
    }[ground.kind]


def _came_of_it(ground: Ground) -> str:
    """Say what it would break, cost or save."""
    if ground.breaks:
        first, more = ground.breaks[0], len(ground.breaks) - 1
        whose = "/".join(name for name in (first.robot, first.joint) if name)
        text = f"{first.limit} {first.value:.4g} {first.unit}".rstrip()
        text += f", allowed {first.allowed:.4g}"
        rest = f", and {more} more" if more else ""
        return (f"{whose}: " if whose else "") + text + rest
    parts = _differences(ground.adds)
    if ground.outcome == "as good":
        return "as good by every wish" + (f" ({', '.join(parts)})" if parts else "")
    return ("better by the wishes: " if ground.outcome == "better" else "") + ", ".join(parts)


def _differences(adds: AddedTotals) -> list[str]:
    """Return what is added and saved, as people read it."""
    parts = [
        f"{counted(abs(more), noun)} {'more' if more > 0 else 'fewer'}"
        for more, noun in (
            (adds.cutters, "cutter"), (adds.ring_parts, "ring part"), (adds.heads, "head"),
        )
        if more
    ]  # fmt: skip
    grams = abs(1e3 * adds.material_kg)
    if grams >= LEAST_GRAMS:
        mass = f"{grams / 1e3:.3g} kg" if grams >= 1e3 else f"{grams:.3g} g"
        parts.append(f"{mass} {'more' if adds.material_kg > 0 else 'less'} material")
    if adds.money is not None and abs(adds.money) >= LEAST_MONEY:
        parts.append(f"{abs(adds.money):.2f} {'more' if adds.money > 0 else 'less'} money")
    return parts
