"""When the time of a study is over: it counts from the beginning of a command, rating included."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from ringset.analysis.front.front import find_front
from ringset.catalogue.enumerate import catalogue_blocks
from ringset.catalogue.rows import Catalogue
from ringset.reporting.progress import SearchProgress, progress_gap_percent
from ringset.schema.study import Study
from ringset.solving import pipeline
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.studies import load, small


def joint_by_joint(study: Study) -> Iterator[tuple[range, Catalogue]]:
    """Yield the catalogue in blocks of one joint each."""
    return catalogue_blocks(study, 1)


def test_time_that_is_over_while_joints_are_rated_is_told_as_that(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    study = load(small())
    joints = sum(len(robot.joints) for robot in study.robots)
    assert joints >= 2
    monkeypatch.setattr(pipeline, "catalogue_blocks", joint_by_joint)
    assert solve(study).status == "proven"
    answer = solve(study, begun=time.monotonic() - study.search.time_limit_s)
    assert answer.status == "undecided"
    assert answer.reasons == [
        f"search.time_limit_s: given 120, over when 1 of {joints} joints had been rated; allowed: more"
    ]
    assert answer.proof.repeatable is False
    assert judge(study, answer) == []


def test_a_front_whose_time_was_over_before_it_began_says_what_is_open() -> None:
    study = load(small())
    found = find_front(study, begun=time.monotonic() - study.search.time_limit_s)
    assert found.points == []
    assert any("not searched" in line for line in found.open)


def test_the_gap_is_what_the_bound_is_below_the_value() -> None:
    assert progress_gap_percent(4.0, 3.0) == 25.0
    assert progress_gap_percent(4.0, 4.0) == 0.0
    assert progress_gap_percent(None, 3.0) is None
    assert progress_gap_percent(0.0, 0.0) is None


def test_progress_tells_value_bound_and_gap_of_every_wish(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Once a second while a wish is searched, and once more as it ends."""
    tell = SearchProgress(time.monotonic() - 5.0)
    tell("ring parts", 5, 4, "")
    tell("ring parts", 4, 4, "")
    tell("material", 2.0, 1.5, "kg")
    tell("ties", None, None, "")
    lines = [line.split(" s  ", 1)[1] for line in capsys.readouterr().err.splitlines()]
    assert lines == [
        "ring parts: best 5, at least 4, gap 20 %",
        "ring parts: best 4, at least 4, gap 0 %",
        "material: best 2 kg, at least 1.5 kg, gap 25 %",
    ]


def test_progress_says_in_words_what_is_looked_for_first(
    capsys: pytest.CaptureFixture[str],
) -> None:
    SearchProgress(time.monotonic() - 5.0)("feasible", None, 0.0, "")
    assert capsys.readouterr().err.endswith("a first answer: best nothing yet, at least 0\n")
