"""Certificates of studies with second rings: written, read back, and refused where they were changed."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.document import Certificate, Multipliers
from ringset.verification.certificate.verify import verify_certificate
from tests.support.second_rings import paired_study
from tests.support.studies import load

Made = tuple[Study, Answer, Certificate]


@pytest.fixture(scope="module")
def made() -> Made:
    """The first of the small studies whose certificate has multipliers of second rings."""
    for seed in (11, 18, 19, 22):
        study = load(paired_study(seed))
        answer = solve(study)
        if not answer.rings:
            continue
        certificate = certify(study, answer)
        if any(step.seconds for stage in certificate.stages for step in stage.steps):
            return study, answer, certificate
    raise AssertionError("no study asks for multipliers of second rings")


def changed(certificate: Certificate, change: Callable[[Multipliers], Multipliers]) -> Certificate:
    """Return the certificate, sealed anew, with its first step that has second rings changed."""
    stages = list(certificate.stages)
    for place, stage in enumerate(stages):
        for number, step in enumerate(stage.steps):
            if step.seconds:
                steps = [*stage.steps[:number], change(step), *stage.steps[number + 1 :]]
                stages[place] = stage.model_copy(update={"steps": steps})
                return certificate.model_copy(update={"stages": stages}).sealed()
    raise AssertionError("no step has second rings")


def with_seconds(step: Multipliers, seconds: dict[str, dict[str, int]]) -> Multipliers:
    return step.model_copy(update={"seconds": seconds})


def test_it_proves_every_wish_and_reads_back_as_it_was(made: Made) -> None:
    study, answer, certificate = made
    again = Certificate.model_validate_json(certificate.to_json())
    assert again == certificate
    assert verify_certificate(study, answer, again).complete


@pytest.mark.parametrize("way", ["more", "none", "another joint", "another ring"])
def test_changed_multipliers_of_second_rings_are_refused(way: str, made: Made) -> None:
    study, answer, certificate = made

    def change(step: Multipliers) -> Multipliers:
        (ring, by_joint), *rest = step.seconds.items()
        joint, many = next(iter(by_joint.items()))
        other = {
            "more": {ring: {**by_joint, joint: 3 * many + 1}},
            "none": {},
            "another joint": {ring: {"nowhere/joint": many}},
            "another ring": {"9 mm, 9 teeth, bore 9 mm, width 9 mm": by_joint},
        }[way]
        kept = {} if way == "none" else dict(rest)
        return with_seconds(step, {**kept, **other})

    found = verify_certificate(study, answer, changed(certificate, change))
    assert found.refused
    assert not found.complete


def test_another_second_ring_of_the_answer_is_not_proven(made: Made) -> None:
    """The rows hold no ring beside a second one of other teeth, or its totals are not those claimed."""
    study, answer, certificate = made
    ring = next(ring for ring in answer.rings if ring.electronics.second_ring is not None)
    told = ring.electronics.second_ring
    assert told is not None
    assert told.teeth is not None
    other = told.model_copy(update={"teeth": told.teeth + 1})
    electronics = ring.electronics.model_copy(update={"second_ring": other})
    swapped = ring.model_copy(update={"electronics": electronics})
    rings = [swapped if one is ring else one for one in answer.rings]
    found = verify_certificate(study, answer.model_copy(update={"rings": rings}), certificate)
    assert not found.complete
