"""Answers that give some of a wish up: their certificates are verified, forged ones are refused by name.

The judge checks what an answer states of its gives; that a least is least, that somebody reaches it and that
no more is given up than needed are the certificate's to prove.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest

from ringset.schema.answer import Answer
from ringset.schema.loading import load_answer, load_model
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.document import Certificate
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.support.listed_gives import drawn_give
from tests.support.places import SCENARIOS
from tests.support.studies import Json, load, priced_study, random_study

STUDIES, CHUNK = 200, 20
ARM = json.loads((SCENARIOS / "heavy_for_a_head.json").read_text())
GIVES: dict[str, Json] = {
    "amount": {"heads": 1},
    "percent": {"heads": "10 %"},
    "rate": {"heads": "0.15 kg per head"},
}


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, STUDIES, CHUNK))
def test_certificates_of_gives_are_verified(first: int) -> None:
    """All that is not left to the search is verified, and the file reads as it was written."""
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        rng = random.Random(seed + 0.875)
        data = priced_study(seed) if rng.random() < 0.5 else random_study(seed)
        order = data["wishes"]["order"]
        if len(order) < 2:
            continue
        data["wishes"]["give"] = drawn_give(rng, order, ("amount", "percent", "rate"))
        study = load(data)
        answer = solve(study)
        assert judge(study, answer) == [], seed
        if not answer.rings:
            continue
        answer = load_answer(answer.to_json())
        certificate = load_model(Certificate, certify(study, answer).to_json())
        found = verify_certificate(study, answer, certificate)
        assert not found.refused, (seed, found)
        for stage, verdict in zip(certificate.stages, found.stages, strict=True):
            expected = "not verified" if stage.proof == "search" else "verified"
            assert verdict.state == expected, (seed, verdict)
            seen[expected] += 1
            seen["again"] += stage.again
            seen["sum"] += stage.sum is not None
            seen["reached by others"] += bool(stage.reached_by)
    assert seen["verified"] >= 20
    assert seen["verified"] > 5 * seen["not verified"]
    assert seen["sum"] >= 2
    assert seen["reached by others"] >= 1


@pytest.fixture(scope="module", params=GIVES)
def arm(request: pytest.FixtureRequest) -> tuple[Study, Answer, Certificate]:
    study = load(ARM | {"wishes": {"give": GIVES[request.param]}})
    answer = solve(study)
    return study, answer, certify(study, answer)


@pytest.mark.slow
def test_a_head_given_up_is_proven_in_full(arm: tuple[Study, Answer, Certificate]) -> None:
    """13 heads are least and reached by other rings; 14 are taken, and no fewer would do."""
    study, answer, certificate = arm
    found = verify_certificate(study, answer, certificate)
    assert found.complete, found
    assert [(s.wish, s.again) for s in certificate.stages][-1] == ("heads", True)
    heads = next(stage for stage in answer.proof.stages if stage.wish == "heads")
    assert heads.given is not None
    assert (heads.bound, heads.given.least, heads.value) == (13, 13, 14)
    assert any(stage.reached_by for stage in certificate.stages)


# -- forgeries ------------------------------------------------------------------------------------------

Forger = Callable[[Json, Json], None]


def _least(stages: list[Any]) -> Any:
    return next(stage for stage in stages if stage["wish"] == "heads")


def lower_least(answer: Json, certificate: Json) -> None:
    """A least that nobody reaches, and so a tighter hold than the study asks."""
    stage = _least(answer["proof"]["stages"])
    stage["bound"] = stage["given"]["least"] = 12
    told = _least(certificate["stages"])
    told["value"] = told["bound"] = 12
    if stage["given"]["allowed"] is not None:
        stage["given"]["allowed"] -= 1


def no_witness(answer: Json, certificate: Json) -> None:
    """The rings that reach the least are left out."""
    _least(certificate["stages"]).pop("reached_by")


def other_witness(answer: Json, certificate: Json) -> None:
    """The answer's own rings are said to reach the least."""
    own = ("robot", "joint", "module_mm", "teeth", "bore_mm", "heads")
    rings = [{name: ring[name] for name in own} for ring in answer["rings"]]
    _least(certificate["stages"])["reached_by"] = rings


def more_allowed(answer: Json, certificate: Json) -> None:
    """More is allowed than the study gives up."""
    given = _least(answer["proof"]["stages"])["given"]
    given["allowed"] = (given["allowed"] or 14) + 1
    for stage in certificate["stages"]:
        stage["held"] = {name: most + (name == "heads") for name, most in stage["held"].items()}


def not_brought_down(answer: Json, certificate: Json) -> None:
    """The last proof, that no fewer would do, is left out."""
    certificate["stages"].pop()


def told_least(answer: Json, certificate: Json) -> None:
    """The answer states the least as its own value, so that no last proof is asked, and all else to fit."""
    stages = answer["proof"]["stages"]
    heads = _least(stages)
    heads["value"] = heads["given"]["least"]
    certificate["stages"].pop()
    if weighed := stages[-1].get("weighed"):
        left = weighed["bound"] - weighed["weight"] * heads["value"]
        stages[-1]["value"] = stages[-1]["bound"] = left


def nothing_given(answer: Json, certificate: Json) -> None:
    """The answer does not say that something was given up."""
    _least(answer["proof"]["stages"]).pop("given")


def other_weights(answer: Json, certificate: Json) -> None:
    """The sum is of other weights, or is stated where the study asks for none."""
    stage = answer["proof"]["stages"][-1]
    weighed = {"wish": "heads", "weight": 1, "own_weight": 1, "value": stage["value"] + 14}
    stage["weighed"] = weighed | {"bound": weighed["value"]}


FORGERS = (
    lower_least, no_witness, other_witness, more_allowed, not_brought_down, told_least,
    nothing_given, other_weights,
)  # fmt: skip


@pytest.mark.cases(fast=3, slow=4)
@pytest.mark.parametrize("forger", FORGERS, ids=lambda forger: forger.__name__)
def test_forged_gives_are_refused(forger: Forger, arm: tuple[Study, Answer, Certificate]) -> None:
    """Sealed anew, none is complete; what the answer itself states wrongly the judge names too."""
    study, answer, certificate = arm
    told, proof = json.loads(answer.to_json()), json.loads(certificate.to_json())
    before = json.dumps(told)
    forger(told, proof)
    forged = load_answer(json.dumps(told))
    found = verify_certificate(study, forged, load_model(Certificate, json.dumps(proof)).sealed())
    assert not found.complete
    if json.dumps(told) != before and forger is not lower_least:
        assert judge(study, forged), "the judge names it"
    if forger is not no_witness and forger is not other_witness and forger is not lower_least:
        assert found.refused


def test_no_more_is_given_up_than_needed() -> None:
    """Two heads may be given up, but only one more can be placed that saves anything."""
    study = load(ARM | {"wishes": {"give": {"heads": 2}}})
    answer = solve(study)
    assert verify_certificate(study, answer, certify(study, answer)).complete
    heads = next(stage for stage in answer.proof.stages if stage.wish == "heads")
    assert heads.given is not None
    assert (heads.given.allowed, heads.value) == (15, 14)


@pytest.mark.slow
def test_an_answer_that_leaves_the_steel_is_not_certified() -> None:
    """The heavy answer keeps all that a give allows, and the judge finds no fault; it is not the best."""
    study = load(ARM | {"wishes": {"give": {"heads": 1}}})
    told = json.loads(solve(load(ARM)).to_json())
    told["study_sha256"] = study.fingerprint()
    given = {"least": 13, "allowed": 14, "bound": 13, "confirmed_by": "multipliers"}
    _least(told["proof"]["stages"])["given"] = given
    heavy = load_answer(json.dumps(told))
    assert judge(study, heavy) == []
    found = verify_certificate(study, heavy, certify(study, heavy))
    assert [verdict.state for verdict in found.stages] == ["verified"] * 3 + ["not verified"]


def test_more_than_is_allowed_is_told_by_its_number() -> None:
    """An answer above what its give allows is refused with the value, not with what it is allowed."""
    study = load(ARM | {"wishes": {"give": {"heads": 1}}})
    answer = solve(study)
    certificate = certify(study, answer)
    told = json.loads(answer.to_json())
    _least(told["proof"]["stages"])["value"] = 15
    found = verify_certificate(study, load_answer(json.dumps(told)), certificate)
    assert found.faults == ["heads: given 15; allowed: 14, by wishes.give"]
