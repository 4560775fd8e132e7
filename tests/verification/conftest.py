"""A study with every limit stated and its answer, which the tests of the judge break."""

from __future__ import annotations

import pytest

from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.support.studies import load, two_robots


@pytest.fixture(scope="module")
def study() -> Study:
    return load(two_robots())


@pytest.fixture(scope="module")
def answer(study: Study) -> Answer:
    good = solve(study)
    assert good.status == "proven"
    assert len(good.ring_parts) == 2
    return good
