"""The wishes of an answer in words: what is given up, how each is proven, and what a step buys."""

from __future__ import annotations

import pytest

from ringset.analysis.next_steps.models import StepValue, WishStep, WishSteps
from ringset.analysis.next_steps.words import next_step_words
from ringset.reporting.wishes_text import given_up_texts, stage_text, steps_text
from ringset.schema.proof import GivenUp, Stage, WeighedStage
from ringset.schema.study import Wish
from tests.support.solved import solved_scenario
from tests.support.studies import load, small


def stage(wish: Wish, value: int, bound: int, unit: str | None = None, **fields: object) -> Stage:
    told = {"wish": wish, "unit": unit or wish, "value": value, "bound": bound}
    return Stage.model_validate({**told, "confirmed_by": "multipliers", **fields})


def given(least: int, allowed: int | None, bound: int, by: str = "listing") -> GivenUp:
    return GivenUp.model_validate(
        {"least": least, "allowed": allowed, "bound": bound, "confirmed_by": by}
    )


@pytest.mark.parametrize(
    ("one", "text"),
    [
        (
            stage("heads", 6, 6),
            "heads: 6, proven least by multipliers checked in exact arithmetic",
        ),
        (
            stage("heads", 6, 6, confirmed_by="second engine", agreed=True),
            "heads: 6, least by two engines that agree: agreed, not proven",
        ),
        (
            stage("ring_parts", 6, 5, confirmed_by="nothing"),
            "ring parts: 6, bound 5, confirmed by nothing: not proven",
        ),
        (
            stage("material", 656985, 656985, "1e-06 kg"),
            "material: 0.656985 kg counted in 1e-06 kg, proven least by multipliers checked in exact "
            "arithmetic",
        ),
        (
            stage("cost", 12345, 12300, "0.01 money"),
            "cost: 123.45 counted in 0.01, bound 123, confirmed by multipliers: not proven",
        ),
        (
            stage("heads", 7, 6, given=given(6, 7, 7)),
            "heads: 7, at least 6 by multipliers checked in exact arithmetic, held at 7, brought down by "
            "multipliers and a list of all that could still be better",
        ),
        (
            stage("heads", 7, 5, given=given(6, None, 7)),
            "heads: 7, at least 5 by multipliers checked in exact arithmetic: not proven",
        ),
    ],
)  # fmt: skip
def test_a_wish_is_told_with_what_confirms_it(one: Stage, text: str) -> None:
    assert stage_text(one) == text


def test_a_wish_that_is_weighed_is_least_in_its_sum_or_not_proven() -> None:
    weighed = WeighedStage(wish="ring_parts", weight=3, own_weight=2, value=20, bound=20)
    least = stage("heads", 7, 7, weighed=weighed)
    assert stage_text(least) == (
        "heads: 7, least of the sum 3 x ring parts + 2 x heads by multipliers checked in exact arithmetic"
    )
    worse = least.model_copy(update={"weighed": weighed.model_copy(update={"bound": 19})})
    assert stage_text(worse) == "heads: 7, not proven"


def test_what_is_given_up_is_told_beside_what_the_study_allows() -> None:
    """A number, a share and a rate, one wish each; a wish without a give has no line."""
    gives = {"cutters": 1, "ring_parts": "50 %", "heads": "0.15 kg per head"}
    study = load(small() | {"wishes": {"give": gives}})
    answer = solved_scenario("two_joint_table")
    stages = [
        stage("cutters", 1, 1, given=given(1, 2, 1)),
        stage("ring_parts", 3, 2, given=given(2, 3, 3)),
        stage("heads", 7, 6, given=given(6, None, 7)),
        stage("material", 5, 5, "0.5 kg"),
    ]
    proof = answer.proof.model_copy(update={"stages": stages})
    assert list(given_up_texts(study, answer.model_copy(update={"proof": proof}))) == [
        "cutters: at least 1, up to 2 allowed by wishes.give 1, nothing is given up",
        "ring parts: at least 2, up to 3 allowed by wishes.give 50 %, 3 taken",
        "heads: at least 6, at a rate of 0.15 kg per head, 7 taken",
    ]


def value(wish: Wish, before: float, after: float, settled: bool = True) -> StepValue:
    return StepValue(
        wish=wish, before=before, after=after, difference=after - before, proven=False, settled=settled
    )  # fmt: skip


@pytest.mark.parametrize(
    ("wish", "values", "currency", "text"),
    [
        ("heads", [value("heads", 4, 5)], "", "one head more gains nothing"),
        (
            "heads",
            [value("heads", 4, 5), value("ring_parts", 3, 2), value("material", 1.0, 0.75, False)],
            "",
            "one head more: one ring part fewer, 0.25 kg less (not proven)",
        ),
        (
            "material",
            [value("material", 1.0, 1.01), value("cost", 100.0, 90.0), value("heads", 4, 4)],
            "",
            "1 % more material: 10.00 less cost",
        ),
        (
            "material",
            [value("material", 1.0, 1.01), value("heads", 4, 3), value("cost", 100.0, 112.5)],
            "crowns",
            "1 % more material: one head fewer, 12.50 crowns more",
        ),
    ],
)
def test_a_step_tells_what_changes_after_it(
    wish: Wish, values: list[StepValue], currency: str, text: str
) -> None:
    assert next_step_words(wish, 1, values, len(values) > 1, currency) == text


@pytest.mark.parametrize(
    ("proven", "settled", "end"),
    [(True, True, "; proven)"), (False, True, "; agreed, not proven)"), (False, False, "anew)")],
)
def test_the_title_of_the_steps_tells_how_sure_they_are(
    proven: bool, settled: bool, end: str
) -> None:
    step = WishStep(
        wish="heads", allowed=1, text="one head more gains nothing", give={"heads": 1.0}, gains=False,
        proven=proven, settled=settled, values=[],
    )  # fmt: skip
    steps = WishSteps(
        title="t", study_sha256="0" * 64, status="proven", order=["heads"], steps=[step],
        open=["cutters: not solved in the time given"],
    )  # fmt: skip
    title, *lines = steps_text(steps).splitlines()
    assert title.endswith(end)
    assert lines == [
        "  - one head more gains nothing", "  - cutters: not solved in the time given",
    ]  # fmt: skip
