"""What an answer misstates of a wish that is given up is named by the judge, and refused by the certificate.

The studies are so small that every misstatement takes a few milliseconds; `test_give_certificates.py` forges
the certificates of a larger one.
"""

from __future__ import annotations

from typing import Any

import pytest

from ringset.schema.answer import Answer
from ringset.schema.proof import Stage
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.support.narrow import present
from tests.support.studies import load, small
from tests.verification.conftest import Proven


def proven(give: dict[str, float | str]) -> Proven:
    study = load(small() | {"wishes": {"give": give}})
    answer = solve(study)
    return study, answer, certify(study, answer)


@pytest.fixture(scope="module", name="amount")
def _amount() -> Proven:
    """Two ring parts are least, three may be used, and are."""
    return proven({"ring_parts": 1})


@pytest.fixture(scope="module", name="rate")
def _rate() -> Proven:
    """A head more must save 0.15 kg; material is minimised with heads."""
    return proven({"heads": "0.15 kg per head"})


def stages(answer: Answer) -> dict[str, Stage]:
    return {stage.wish: stage for stage in answer.proof.stages}


def misstated(answer: Answer, wish: str, **fields: Any) -> Answer:
    """Return the answer with fields of a wish's stage changed."""
    every = [
        stage.model_copy(update=fields) if stage.wish == wish else stage
        for stage in answer.proof.stages
    ]
    proof = answer.proof.model_copy(update={"stages": every})
    return answer.model_copy(update={"proof": proof})


def named(made: Proven, wrong: Answer) -> tuple[list[str], list[str]]:
    """Return the violations that the judge names, and the faults for which the certificate is refused."""
    study, _, certificate = made
    return judge(study, wrong), verify_certificate(study, wrong, certificate).faults


def test_the_studies_give_up_what_they_say(amount: Proven, rate: Proven) -> None:
    told = stages(amount[1])["ring_parts"]
    assert (told.value, present(told.given).least, present(told.given).allowed) == (3, 2, 3)
    assert present(stages(rate[1])["material"].weighed).weight == 150_000
    for study, answer, certificate in (amount, rate):
        assert judge(study, answer) == []
        assert verify_certificate(study, answer, certificate).complete


@pytest.mark.parametrize(
    ("stage", "given", "violation", "fault"),
    [
        ({}, {"allowed": 4}, "allowed 4 stated, 3 by wishes.give", "given 4 to be allowed; allowed: 3"),
        ({"value": 4}, {}, "4: above the 3 that wishes.give allows", "given 4; allowed: 3, by wishes.give"),
        (
            {},
            {"least": 4, "allowed": 5},
            "bound 2, least 4 and value 3 are not in order",
            "given 3, less than its least 4",
        ),
        ({}, {"bound": 4}, "bound 4 above the value 3", "given others than the answer's"),
    ],
)  # fmt: skip
def test_numbers_of_a_give_that_do_not_follow_from_the_study_are_named(
    stage: dict[str, int], given: dict[str, int], violation: str, fault: str, amount: Proven
) -> None:
    told = present(stages(amount[1])["ring_parts"].given).model_copy(update=given)
    violations, faults = named(amount, misstated(amount[1], "ring_parts", given=told, **stage))
    assert f"proof.stages.ring_parts: {violation}" in violations
    assert any(fault in one for one in faults), faults


def test_a_give_that_is_left_out_or_made_up_is_named(amount: Proven) -> None:
    answer = amount[1]
    told = stages(answer)["ring_parts"].given
    for wish, given, word in (("ring_parts", None, "missing"), ("heads", told, "stated")):
        violations, faults = named(amount, misstated(answer, wish, given=given))
        assert f"proof.stages.{wish}: given: {word}, wishes.give says otherwise" in violations
        assert f"{wish}: what is given up is not what wishes.give says" in faults


def test_a_least_that_is_stated_as_the_value_is_not_what_the_rings_come_to(amount: Proven) -> None:
    """With no last proof asked all else fits: only the rings themselves tell that there are three parts."""
    study, answer, certificate = amount
    told = present(stages(answer)["ring_parts"].given).model_copy(update={"bound": 2})
    wrong = misstated(answer, "ring_parts", value=2, given=told)
    shorter = certificate.model_copy(update={"stages": certificate.stages[:-1]}).sealed()
    faults = verify_certificate(study, wrong, shorter).faults
    assert faults == ["ring_parts: given 2; the answer comes to 3"]


@pytest.mark.parametrize(
    ("bound_more", "sum_more", "violation", "fault"),
    [
        (0, {"weight": -149_999}, "weighed: ('heads', 1, 1) stated, ('heads', 150000, 1) by wishes.give",
         "given other weights than wishes.give asks"),
        (0, {"value": 1}, "weighed: {sum_and_1} stated, {sum} recomputed", "given others than the answer's"),
        (0, {"bound": 1}, "weighed: bound {sum_and_1} above the value {sum}",
         "given a bound of {bound}, not what the sum leaves"),
        (-1, {}, "bound {bound} is not what the sum leaves",
         "given a bound of {bound}, not what the sum leaves"),
    ],
)  # fmt: skip
def test_numbers_of_a_sum_that_do_not_follow_from_the_rate_are_named(
    bound_more: int, sum_more: dict[str, int], violation: str, fault: str, rate: Proven
) -> None:
    stage = stages(rate[1])["material"]
    told, bound = present(stage.weighed), stage.bound + bound_more
    other = told.model_copy(update={n: getattr(told, n) + more for n, more in sum_more.items()})
    violations, faults = named(rate, misstated(rate[1], "material", weighed=other, bound=bound))
    words = {"sum": told.value, "sum_and_1": told.value + 1, "bound": bound}
    assert f"proof.stages.material: {violation.format(**words)}" in violations
    assert any(fault.format(**words) in one for one in faults), faults


def test_a_sum_that_is_left_out_or_made_up_is_named(rate: Proven) -> None:
    answer = rate[1]
    told = stages(answer)["material"].weighed
    for wish, weighed, word in (("material", None, "missing"), ("heads", told, "stated")):
        violations, faults = named(rate, misstated(answer, wish, weighed=weighed))
        assert f"proof.stages.{wish}: weighed: {word}, wishes.give says otherwise" in violations
        assert f"{wish}: what is given up is not what wishes.give says" in faults


def test_no_certificate_is_made_of_an_answer_that_misstates_a_give(amount: Proven) -> None:
    study, answer, _ = amount
    with pytest.raises(ValueError, match=r"^ring_parts: given 4; allowed: 3, by wishes\.give$"):
        certify(study, misstated(answer, "ring_parts", value=4))
