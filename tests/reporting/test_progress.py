"""Progress of long work: nothing in the first second, then a line at most once a second."""

from __future__ import annotations

import pytest

from ringset.reporting import progress


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now = 100.0

    def monotonic(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(progress, "time", made)
    return made


def test_a_search_tells_each_wish_once_a_second_and_as_it_ends(
    clock: Clock, capsys: pytest.CaptureFixture[str]
) -> None:
    tell = progress.SearchProgress()
    tell("feasible", None, None, "")
    clock.now += 0.5
    tell("heads", 8.0, 6.0, "heads")
    assert capsys.readouterr().err == ""
    clock.now += 1.0
    tell("heads", 7.0, 6.0, "heads")
    tell("heads", 6.0, 6.0, "heads")  # too soon, but told as the wish ends
    tell("material", None, 0.5, "kg")
    tell("ties", None, None, "")
    assert capsys.readouterr().err.splitlines() == [
        "    1.5 s  heads: best 7 heads, at least 6 heads, gap 14 %",
        "    1.5 s  heads: best 6 heads, at least 6 heads, gap 0 %",
        "    1.5 s  material: best nothing yet, at least 0.5 kg",
    ]


def test_turns_are_told_in_percent(clock: Clock, capsys: pytest.CaptureFixture[str]) -> None:
    tell = progress.TurnsProgress()
    tell(10, 40)
    clock.now += 1.0
    tell(20, 40)
    tell(30, 40)
    assert capsys.readouterr().err == "  50 % of the turns\n"


def test_rows_are_told_with_the_time_that_is_left(
    clock: Clock, capsys: pytest.CaptureFixture[str]
) -> None:
    tell = progress.RowsProgress()
    clock.now += 30.0
    tell(0, 40)  # nothing to judge the rest by
    tell(10, 40)
    tell(11, 40)
    assert capsys.readouterr().err == "10 of 40 studies, about 90 s left\n"
