"""What the judge checks where `wishes.give` gives some of a wish up: allowed values, and weighed sums.

That a least is least is not the judge's to know, as everywhere; that an answer keeps to what its study lets
go is. The rule by which a give is rounded stands in `schema/gives.py`.
"""

from __future__ import annotations

from collections.abc import Iterator

from ringset.schema.answer import Answer, Stage
from ringset.schema.gives import Give, WeighedSum, give_weighed_sum
from ringset.schema.study import Study, Wish


def judge_gives(study: Study, answer: Answer) -> Iterator[str]:
    """Yield where the stages, one per wish in order, are not what the study's gives make of them."""
    gives = study.gives()
    before: Stage | None = None
    for stage in answer.proof.stages:
        yield from _given(stage, gives.get(stage.wish), answer)
        earlier = None if before is None else gives.get(before.wish)
        joined = None
        if before is not None and earlier is not None and earlier.of == stage.wish:
            joined = give_weighed_sum(
                before.wish, earlier, _unit(before.wish, answer), _unit(stage.wish, answer)
            )
        yield from _weighed(stage, joined, before)
        before = stage


def _unit(wish: Wish, answer: Answer) -> float:
    """Return the unit in which the answer counts a wish."""
    return {"material": answer.proof.material_unit_kg, "cost": answer.proof.cost_unit}.get(
        wish, 1.0
    )


def _given(stage: Stage, give: Give | None, answer: Answer) -> Iterator[str]:
    """Check what is stated of a wish that may be given up, or that nothing is."""
    place, given = f"proof.stages.{stage.wish}", stage.given
    if give is None or given is None:
        if (give is None) != (given is None):
            yield f"{place}: given: {'missing' if given is None else 'stated'}, wishes.give says otherwise"
        return
    if _unit(stage.wish, answer) <= 0.0:
        return  # refused elsewhere
    allowed = give.allowed(given.least, _unit(stage.wish, answer))
    if given.allowed != allowed:
        yield f"{place}: allowed {given.allowed} stated, {allowed} by wishes.give"
    if allowed is not None and stage.value > allowed:
        yield f"{place}: {stage.value}: above the {allowed} that wishes.give allows"
    if not stage.bound <= given.least <= stage.value:
        yield (
            f"{place}: bound {stage.bound}, least {given.least} and value {stage.value} are not in order"
        )
    if given.bound > stage.value:
        yield f"{place}: bound {given.bound} above the value {stage.value}"


def _weighed(stage: Stage, joined: WeighedSum | None, before: Stage | None) -> Iterator[str]:
    """Check the sum in which a wish was minimised with the one before it, or that there is none."""
    place, weighed = f"proof.stages.{stage.wish}", stage.weighed
    if joined is None or weighed is None or before is None:
        if (joined is None) != (weighed is None):
            yield (
                f"{place}: weighed: {'missing' if weighed is None else 'stated'}, "
                "wishes.give says otherwise"
            )
        return
    stated = (weighed.wish, weighed.weight, weighed.own_weight)
    wanted = (joined.wish, joined.weight, joined.later_weight)
    if stated != wanted:
        yield f"{place}: weighed: {stated} stated, {wanted} by wishes.give"
        return
    value = joined.weight * before.value + joined.later_weight * stage.value
    if weighed.value != value:
        yield f"{place}: weighed: {weighed.value} stated, {value} recomputed"
    if weighed.bound > weighed.value:
        yield f"{place}: weighed: bound {weighed.bound} above the value {weighed.value}"
    left = weighed.bound - joined.weight * before.value
    if stage.bound != max(0, -(-left // joined.later_weight)):
        yield f"{place}: bound {stage.bound} is not what the sum leaves"
