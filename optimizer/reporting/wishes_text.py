"""For people: the order of the wishes, what is given up of them, how each is proven, and what a step buys."""

from __future__ import annotations

from collections.abc import Iterator

from ringset.analysis.next_steps.models import WishSteps
from ringset.schema.answer import Answer, Stage
from ringset.schema.proof import GivenUp
from ringset.schema.study import Study
from ringset.wording import wording_bullets, wording_wrapped

_CONFIRMED = {
    "multipliers": "by multipliers checked in exact arithmetic",
    "listing": "by multipliers and a list of all that could still be better",
    "halves": "by multipliers of every part into which the rest was split",
    "second engine": "by two engines that agree",
    "nothing": "by nothing",
}


def proven_text(study: Study) -> str:
    """Return that nothing better exists, and for which wishes in which order."""
    return wording_wrapped(
        f"Proven. Nothing better exists for the wishes in this order{_order(study)}", ""
    )


def agreed_text(study: Study) -> str:
    """Return what the engines agree on and that it is not proven, and for which wishes in which order."""
    text = "Agreed, not proven. The search engines agree that nothing better exists for the wishes in this "
    text += f"order{_order(study)} No certificate of all of them was verified."
    return wording_wrapped(text, "")


def _order(study: Study) -> str:
    order = ", ".join(wish.replace("_", " ") for wish in study.wishes.order)
    given = " and what wishes.give allows" if study.wishes.give else ""
    return f"{given}: {order}."


def given_up_texts(study: Study, answer: Answer) -> Iterator[str]:
    """Yield what the study's gives did to the answer, a line for each."""
    for stage in answer.proof.stages:
        if stage.given is None:
            continue
        name, stated = stage.wish.replace("_", " "), study.wishes.give[stage.wish]
        least, value = _amount(stage, stage.given.least), _amount(stage, stage.value)
        if stage.given.allowed is None:
            allowed = f"at a rate of {stated}"
        else:
            more = stated if isinstance(stated, str) else f"{stated:g}"
            allowed = f"up to {_amount(stage, stage.given.allowed)} allowed by wishes.give {more}"
        taken = "nothing is given up" if stage.value == stage.given.least else f"{value} taken"
        yield f"{name}: at least {least}, {allowed}, {taken}"


def steps_text(steps: WishSteps) -> str:
    """Return what one step more of every wish but the last would buy."""
    texts = [step.text for step in steps.steps] + [f"{text}" for text in steps.open]
    proven = ""
    if all(step.proven for step in steps.steps):
        proven = "; proven"
    elif all(step.settled for step in steps.steps):
        proven = "; agreed, not proven"
    title = (
        f"What one step more would buy (wishes before it held, those after it solved anew{proven})"
    )
    return wording_bullets(title, texts)


def _amount(stage: Stage, value: int) -> str:
    """Return a number of whole units of a stage as people read it."""
    if stage.unit.endswith(" money"):
        return f"{value * float(stage.unit.removesuffix(' money')):.9g}"
    if stage.unit.endswith(" kg"):
        return f"{value * float(stage.unit.removesuffix(' kg')):.9g} kg"
    return f"{value}"


def stage_text(stage: Stage) -> str:
    """Return one wish of the proof: its value, its bound, and what confirms it."""
    name = stage.wish.replace("_", " ")
    value, bound = _amount(stage, stage.value), _amount(stage, stage.bound)
    if stage.unit.endswith(" money"):
        value += f" counted in {float(stage.unit.removesuffix(' money')):g}"
    if stage.unit.endswith(" kg"):
        value += f" counted in {stage.unit}"
    if stage.given is not None:
        return f"{name}: {value}, {_given(stage, stage.given)}"
    how = _CONFIRMED[stage.confirmed_by]
    if stage.weighed is not None:
        joined = f"{stage.weighed.weight} x {stage.weighed.wish.replace('_', ' ')}"
        joined += f" + {stage.weighed.own_weight} x {name}"
        least = (
            f"least of the sum {joined} {how}{_agreed(stage)}" if stage.settled else "not proven"
        )
        return f"{name}: {value}, {least}"
    if stage.settled:
        sure = "proven least" if stage.proven else "least"
        return f"{name}: {value}, {sure} {how}{_agreed(stage)}"
    return f"{name}: {value}, bound {bound}, confirmed by {stage.confirmed_by}: not proven"


def _given(stage: Stage, given: GivenUp) -> str:
    """Return how the least of a wish that may be given up, and its value, are proven."""
    least = f"at least {_amount(stage, stage.bound)} {_CONFIRMED[stage.confirmed_by]}"
    if given.allowed is not None:
        least += f", held at {_amount(stage, given.allowed)}"
    if not stage.settled:
        return f"{least}: not proven"
    return f"{least}, brought down {_CONFIRMED[given.confirmed_by]}{_agreed(stage)}"


def _agreed(stage: Stage) -> str:
    """Return what is missing from a proof of a wish that the search engines agree on."""
    return ": agreed, not proven" if stage.agreed else ""
