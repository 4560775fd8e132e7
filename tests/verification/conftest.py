"""A study with every limit stated and its answer, which the tests break; an arm with its proofs."""

from __future__ import annotations

import pytest

from ringset.schema.answer import Answer
from ringset.schema.loading import load_model, load_study
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.document import Certificate
from ringset.verification.certificate.verify import verify_certificate
from tests.support.places import SCENARIOS
from tests.support.studies import load, two_robots

#: A study, its answer and the certificate of that answer.
Proven = tuple[Study, Answer, Certificate]


@pytest.fixture(scope="module")
def study() -> Study:
    return load(two_robots())


@pytest.fixture(scope="module")
def answer(study: Study) -> Answer:
    good = solve(study)
    assert good.status == "proven"
    assert len(good.ring_parts) == 2
    return good


def as_read(certificate: Certificate) -> Certificate:
    """Return a certificate as it comes back from its file."""
    return load_model(Certificate, certificate.to_json())


@pytest.fixture(scope="module")
def arm() -> Proven:
    study = load_study((SCENARIOS / "six_joint_arm.json").read_text())
    best = solve(study)
    certificate = as_read(certify(study, best))
    assert verify_certificate(study, best, certificate).complete
    return study, best, certificate
