"""The whole explanation of a study: what stands in its way, or what its limits cost and leave."""

from __future__ import annotations

from collections.abc import Iterable

from ringset.analysis.explanation.impossible import explain_impossible
from ringset.analysis.explanation.limit_prices import (
    STEP,
    LimitPrice,
    Pricing,
    explained_limit_to_price,
    explained_wishes_to_price,
)
from ringset.analysis.explanation.models import Explanation, Price, Room
from ringset.analysis.explanation.sensitivity import Sensitivities
from ringset.analysis.explanation.words import Words
from ringset.errors import Fault, StudyError
from ringset.infeasibility.models import Undecided
from ringset.rating.stated_limits import Limit
from ringset.schema.answer import Answer
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.study import Study
from ringset.solving.pipeline import solve

#: Least and greatest step by which limits may be loosened and tightened.
STEP_LEAST, STEP_MOST = 0.001, 0.25


def explain_study(study: Study, fixed: Iterable[str] = (), step: float = STEP) -> Explanation:
    """Return blockers and reliefs of an impossible study; of a possible one, prices and room to move.

    Raises StudyError for fields that disagree, a path in `fixed` that the study does not have, and a step
    outside STEP_LEAST to STEP_MOST.
    """
    if not STEP_LEAST <= step <= STEP_MOST:
        raise StudyError([Fault("step", f"{step:g}", f"{STEP_LEAST:g} to {STEP_MOST:g}")])
    explanation = explain_impossible(study, fixed)
    if explanation.status != "possible":
        return explanation
    update: dict[str, object] = {
        "order": explained_wishes_to_price(study),
        "rooms": explain_sensitivity(study, solve(study, certified=False)),
    }
    try:
        update["prices"] = explain_prices(study, step)
    except Undecided as error:
        update["open"] = [f"prices: {error}"]
    return explanation.model_copy(update=update)


def explain_prices(study: Study, step: float = STEP) -> list[Price]:
    """Return the price of every numeric limit of a possible study, the largest gain first.

    Raises Undecided where the answer to the study itself was not proven in time, or has too many rows.
    """
    pricing = Pricing(study, step)
    words = Words(study)
    found = [_price(study, words, pricing, limit) for limit in pricing.limits]
    order = explained_wishes_to_price(study)

    def rank(price: Price) -> tuple[object, ...]:
        gains = [round(price.gain.get(wish, 0.0), 9) for wish in order]
        losses = [-round(price.loss.get(wish, 0.0), 9) for wish in order]
        return gains, not price.tightened_impossible, losses, price.path

    return sorted(found, key=rank)


def _price(study: Study, words: Words, pricing: Pricing, limit: Limit) -> Price:
    """Return one price; a side whose value the field does not allow is left out."""
    down, up = (
        explained_limit_to_price(limit, pricing.step, True),
        explained_limit_to_price(limit, pricing.step, False),
    )
    sides = _allowed(study, limit, down), _allowed(study, limit, up)
    try:
        price, solved = pricing.price(limit, *sides), True
    except Undecided:
        price, solved = LimitPrice(limit, None, None, None, None), False
    assert pricing.base is not None
    return Price(
        path=resolve_field_path(study, limit.path).text,
        text=words.owned(limit),
        given=limit.given,
        loosened=price.loosened,
        tightened=price.tightened,
        gain=pricing.base.change_to(price.looser) if price.looser else {},
        loss=pricing.base.change_to(price.tighter) if price.tighter else {},
        tightened_impossible=price.tightened is not None and price.tighter is None,
        solved=solved,
    )


def _allowed(study: Study, limit: Limit, value: float) -> bool:
    """Say whether the study may state a value."""
    try:
        edited_study(study, {resolve_field_path(study, limit.path): limit.json_value(value)})
    except StudyError:
        return False
    return True


def explain_sensitivity(study: Study, answer: Answer) -> list[Room]:
    """Return the room of every input that some joint's limits bound, the least relative to it first."""
    if not answer.rings:
        return []
    found = [
        Room(
            path=resolve_field_path(study, one.path).text,
            given=one.given,
            direction="up" if one.up else "down",
            holds_to=one.holds_to,
            room=abs(one.holds_to - one.given),
            first=one.first,
            limit=one.limit,
            target_holds_to=one.target_holds_to,
            target_limit=one.target_limit,
        )
        for one in Sensitivities(study, answer).all()
    ]
    return sorted(found, key=lambda r: (r.room / max(abs(r.given), 1e-9), r.path, r.direction))
