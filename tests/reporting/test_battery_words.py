"""A life of a battery is told rounded down: it never reads longer than it is."""

from __future__ import annotations

import re

import numpy as np
import pytest

from ringset.reporting.electronics_text import electronics_text
from ringset.schema.answer import Answer
from ringset.solving.pipeline import solve
from tests.support.electronic_studies import stated
from tests.support.studies import load


@pytest.fixture(scope="module")
def answer() -> Answer:
    return solve(load(stated()))


def told(answer: Answer, years: float) -> str:
    pieces = [
        piece.model_copy(update={"battery_life_years": years})
        if piece.battery_life_years is not None
        else piece
        for piece in answer.electronics
    ]
    text = electronics_text(answer.model_copy(update={"electronics": pieces}))
    (found,) = re.findall(r"battery lasts (\S+)\s+years", " ".join(text.split()))
    return str(found)


@pytest.mark.parametrize(
    ("years", "words"),
    [
        (2.096, "2.09"), (2.1, "2.1"), (2.1 - 1e-12, "2.1"), (9.999, "9.99"), (0.01999, "0.0199"),
        (99.96, "99.9"), (0.0, "0"),
    ],
)  # fmt: skip
def test_a_life_is_rounded_down_to_three_digits(answer: Answer, years: float, words: str) -> None:
    assert told(answer, years) == words


def test_no_life_reads_longer_or_is_a_percent_short(answer: Answer) -> None:
    rng = np.random.default_rng(7)
    for years in np.exp(rng.uniform(np.log(1e-3), np.log(1e5), 200)).tolist():
        read = float(told(answer, years))
        assert 0.99 * years < read <= years * (1.0 + 2e-9)
