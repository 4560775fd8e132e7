"""Answers that tests of several files look at, solved once in every process of the tests."""

from __future__ import annotations

from functools import cache

from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.solving.pipeline import solve
from tests.support.places import SCENARIOS


@cache
def solved_scenario(name: str) -> Answer:
    """Return the answer to a scenario; answers cannot be changed, so it may be shared."""
    answer = solve(load_study((SCENARIOS / f"{name}.json").read_text()))
    assert answer.status == "proven"
    return answer
