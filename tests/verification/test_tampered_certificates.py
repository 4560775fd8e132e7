"""Certificates that were tampered with: whatever is changed in them, nothing false is taken for proven."""

import json
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import pytest
from pydantic import BaseModel

from ringset.catalogue.enumerate import catalogue
from ringset.rating.rate import rate
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.units import reduction_units
from ringset.schema.answer import Answer
from ringset.schema.loading import load_model
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.claims import certificate_claims
from ringset.verification.certificate.document import Certificate
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.rounds import certified_round_outcome, try_certificate_step
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.support.studies import load, small
from tests.verification.conftest import Proven

#: The way to a number in JSON data: fields and places of lists.
Keys = tuple[str | int, ...]


def numbers(tree: object, path: Keys = ()) -> Iterator[Keys]:
    """Yield the path of every number in JSON data."""
    if isinstance(tree, dict | list):
        pairs: Iterable[tuple[str | int, object]]
        pairs = tree.items() if isinstance(tree, dict) else enumerate(tree)
        for key, value in pairs:
            yield from numbers(value, (*path, key))
    elif isinstance(tree, int | float) and not isinstance(tree, bool):
        yield path


def changed(
    certificate: Certificate, path: Keys, change: Callable[[float], float]
) -> Certificate | None:
    """Return the certificate with one number changed, under its old seal; None if it cannot be read."""
    data = json.loads(certificate.to_json())
    place = data
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = change(place[path[-1]])
    try:
        return load_model(Certificate, json.dumps(data))
    except ValueError:
        return None


def unread(part: Any, path: Keys, change: Callable[[float], float]) -> Any:
    """Return a part of a certificate with one number changed past all ranges, as Python can make it."""
    if not path:
        return change(part)
    first, rest = path[0], path[1:]
    if isinstance(part, BaseModel):
        name = str(first)
        return part.model_copy(update={name: unread(getattr(part, name), rest, change)})
    pairs = part.items() if isinstance(part, dict) else enumerate(part)
    made = {key: unread(one, rest, change) if key == first else one for key, one in pairs}
    return made if isinstance(part, dict) else list(made.values())


CHANGES: dict[str, Callable[[float], float]] = {
    "one more": lambda n: n + 1,
    "one less": lambda n: n - 1,
    "other sign": lambda n: -n if n else 1,
    "tenfold": lambda n: 10 * n if n else 10,
}


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_every_changed_number_is_refused(arm: Proven, change: Callable[[float], float]) -> None:
    study, answer, certificate = arm
    paths = list(numbers(json.loads(certificate.to_json())))
    assert len(paths) >= 58
    for path in paths:
        made = changed(certificate, path, change)
        assert made is None or verify_certificate(study, answer, made).refused, path


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_sealed_again_a_changed_claim_is_refused_and_changed_multipliers_prove_the_same_or_nothing(
    arm: Proven, change: Callable[[float], float]
) -> None:
    """Whoever seals anew may write other multipliers, but can make them prove only what is true.

    A claim outside its range is refused when the certificate is read, and by the verification too where
    Python put it past the reading. The version of the schema is for the reading alone to refuse.
    """
    study, answer, certificate = arm
    proving = ("whole_limits", "real_limits", "joints", "cutters", "heads", "scale")
    claims = refused = 0
    for path in numbers(json.loads(certificate.to_json())):
        made = changed(certificate, path, change)
        if not set(path) & set(proving):
            claims += 1
            if path == ("schema_version",):
                assert made is None
                continue
            forged = unread(certificate, path, change) if made is None else made
            assert verify_certificate(study, answer, forged.sealed()).refused, path
        elif made is not None:
            refused += verify_certificate(study, answer, made.sealed()).refused
            values = [stage.value for stage in made.stages]
            assert values == [stage.value for stage in answer.proof.stages]
    assert claims >= 20
    assert refused >= 20


@pytest.mark.parametrize("change", [1, -1])
@pytest.mark.parametrize("name", ["rings_possible", "rows_possible"])
def test_another_number_of_rings_in_the_answer_is_refused(
    arm: Proven, name: str, change: int
) -> None:
    study, answer, certificate = arm
    made = verify_certificate(
        study, other_proof(answer, name, getattr(answer.proof, name) + change), certificate
    )
    assert len(made.faults) == 1
    assert made.faults[0].startswith(f"answer.proof.{name}: given")


@pytest.mark.parametrize("name", ["rings_possible", "rows_searched"])
def test_the_judge_refuses_more_rings_or_rows_than_there_are_ways(arm: Proven, name: str) -> None:
    study, answer, _ = arm
    (said,) = judge(study, other_proof(answer, name, answer.proof.rows_possible + 1))
    assert said.startswith(f"proof.{name}: ")


def other_proof(answer: Answer, name: str, value: int) -> Answer:
    return answer.model_copy(update={"proof": answer.proof.model_copy(update={name: value})})


def test_steps_removed_are_refused_or_not_needed(arm: Proven) -> None:
    """The last step of multipliers proves the bound; others drop rows, which a longer list may do without."""
    study, answer, certificate = arm
    refused = 0
    for number, stage in enumerate(certificate.stages):
        for step in range(len(stage.steps)):
            data = json.loads(certificate.to_json())
            del data["stages"][number]["steps"][step]
            made = load_model(Certificate, json.dumps(data)).sealed()
            found = verify_certificate(study, answer, made).refused
            last = step == len(stage.steps) - 1
            assert found or not (last and stage.proof == "multipliers")
            refused += found
    assert refused >= 3


def test_a_listing_left_out_or_made_up_is_refused(arm: Proven) -> None:
    study, answer, certificate = arm
    other = {"multipliers": "listing", "listing": "multipliers"}
    for number, stage in enumerate(certificate.stages):
        stages = list(certificate.stages)
        stages[number] = stage.model_copy(update={"proof": other[stage.proof]})
        made = certificate.model_copy(update={"stages": stages}).sealed()
        assert verify_certificate(study, answer, made).refused


def test_a_value_lowered_by_one_in_answer_and_certificate_is_refused(arm: Proven) -> None:
    study, answer, certificate = arm
    for number in range(len(certificate.stages)):
        data, told = json.loads(certificate.to_json()), json.loads(answer.to_json())
        for stages in (data["stages"], told["proof"]["stages"]):
            stages[number]["value"] -= 1
            stages[number]["bound"] -= 1
        for later in data["stages"][number + 1 :]:
            later["held"][data["stages"][number]["wish"]] -= 1
        made = load_model(Certificate, json.dumps(data)).sealed()
        lowered = load_model(type(answer), json.dumps(told))
        found = verify_certificate(study, lowered, made)
        assert any("the answer comes to" in fault for fault in found.faults), found


def test_another_study_is_refused(arm: Proven) -> None:
    _, answer, certificate = arm
    other = load(small())
    found = verify_certificate(other, answer, certificate)
    assert any("study_sha256" in fault for fault in found.faults)
    own = solve(other)
    assert verify_certificate(other, own, certificate).refused
    made = certificate.model_copy(update={"study_sha256": other.fingerprint()}).sealed()
    assert verify_certificate(other, own, made).refused


def test_an_answer_with_another_ring_is_refused(arm: Proven) -> None:
    study, answer, certificate = arm
    data = json.loads(answer.to_json())
    data["rings"][0]["bore_mm"] += study.shop.bore_step_mm
    made = load_model(type(answer), json.dumps(data))
    assert verify_certificate(study, made, certificate).refused


def wasteful() -> tuple[Study, Answer, Answer]:
    """Return a study, its best answer, and one with more material that claims to be the best."""
    study = load(small()).canonical()
    answer = solve(study)
    wishes = study.wishes.model_copy(update={"order": ["material"]})
    lighter = study.model_copy(update={"wishes": wishes})
    best = solve(lighter)
    (stage,) = best.proof.stages
    value = answer.proof.stages[-1].value
    assert stage.value < value, "the wishes must be at odds here"
    stages = [stage.model_copy(update={"value": value, "bound": value})]
    proof = best.proof.model_copy(update={"stages": stages})
    return lighter, best, best.model_copy(update={"rings": answer.rings, "proof": proof})


def test_a_wasteful_answer_cannot_be_certified() -> None:
    study, best, worse = wasteful()
    assert certify(study, worse).stages[0].proof == "search"
    good = certify(study, best)
    claim = {name: getattr(worse.proof.stages[0], name) for name in ("value", "bound")}
    made = good.model_copy(update={"stages": [good.stages[0].model_copy(update=claim)]})
    assert verify_certificate(study, worse, made.sealed()).refused


def test_a_listing_that_hides_a_better_answer_is_refused() -> None:
    """Everything stated is what the verifier itself finds, but the rest holds the better answer."""
    study, best, worse = wasteful()
    good = certify(study, best)
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    table = reduction_table(study, rated)
    (claim,) = certificate_claims(study, worse, reduction_units(table))
    given = good.stages[0].steps[0]
    rest = claim.allowed(table)
    bound, rows = certified_round_outcome(
        try_certificate_step(rest, Names(study.shop, rated).read(given), claim)
    )
    stated = given.model_copy(update={"lower_bound_scaled": bound, "rows_left": rows})
    told = {"value": claim.value, "bound": claim.value, "proof": "listing", "steps": [stated]}
    made = good.model_copy(update={"stages": [good.stages[0].model_copy(update=told)]})
    (verdict,) = verify_certificate(study, worse, made.sealed()).stages
    assert verdict.state == "refused"
    assert "is among those left" in verdict.text


def test_a_value_that_is_not_the_answers_is_refused(arm: Proven) -> None:
    study, answer, certificate = arm
    last = certificate.stages[-1]
    told = last.model_copy(update={"value": last.value + 1, "bound": last.bound + 1})
    made = certificate.model_copy(update={"stages": [*certificate.stages[:-1], told]}).sealed()
    assert any(
        "than the answer's" in fault for fault in verify_certificate(study, answer, made).faults
    )
