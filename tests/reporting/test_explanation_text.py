"""Why a study is impossible, and what its limits cost, in words: lists that are cut say what is left."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from ringset.analysis.explanation.models import (
    Collision,
    Explanation,
    Member,
    NewValue,
    Price,
    Room,
    Way,
)
from ringset.reporting.explanation_text import COLLISIONS, PRICES, ROOMS, explanation_text


def explanation(**fields: object) -> Explanation:
    return Explanation.model_validate(
        {
            "title": "", "study_sha256": "0" * 64, "status": "possible", "blockers": [], "complete": True,
            "margin": 0.5, "singles": [], "fronts": [], "together": None, "order": ["material"], "prices": [],
            "rooms": [],
        } | fields
    )  # fmt: skip


def blocker(joint: str | None, *members: Member) -> Collision:
    return Collision(joint=joint, members=list(members), text="x")


def way(field: str, asks: float) -> Way:
    changed = NewValue(path=field, given=50.0, value=52.0, text=f"{field} 50 to 52")
    return Way(changes=[changed], asks=asks)


def price(number: int, **fields: object) -> Price:
    return Price.model_validate(
        {
            "path": f"f{number}", "text": f"f{number} 10 mm", "given": 10.0, "loosened": 10.5,
            "tightened": 9.5, "gain": {"material": -0.25}, "loss": {"material": 0.5},
            "tightened_impossible": False, "solved": True,
        } | fields
    )  # fmt: skip


def room(number: int, **fields: object) -> Room:
    return Room.model_validate(
        {
            "path": f"f{number}", "given": 10.0, "direction": "up", "holds_to": 12.5, "room": 2.5,
            "first": "arm/wrist", "limit": "angle_target_arcsec",
        } | fields
    )  # fmt: skip


def row(text: str, first: str) -> list[str]:
    """Return the cells, as words, of the line of a table that begins with a word."""
    return next(line.split() for line in text.splitlines() if line.split()[:1] == [first])


def one_line(text: str) -> str:
    return " ".join(text.split())


def test_undecided_says_nothing_else() -> None:
    text = explanation_text(explanation(status="undecided", title="Arm", rooms=[room(1)]))
    assert text == "Arm\n\nUndecided: the search ended before it knew.\n"


@pytest.mark.parametrize(
    ("more", "complete", "words"),
    [
        (3, True, "3 more"),
        (3, False, "3 more"),
        (0, False, "perhaps more; the list may go on"),
        (0, True, None),
    ],
)
def test_blockers_that_are_not_shown_are_counted(
    more: int, complete: bool, words: str | None
) -> None:
    blockers = [
        blocker(f"arm/{number}", Member(path="p", text=f"limit {number}"))
        for number in range(COLLISIONS + more)
    ]
    why = explanation(status="impossible", blockers=blockers, complete=complete)
    lines = [line[4:] for line in explanation_text(why).splitlines() if line.startswith("  - ")]
    assert len(lines) == COLLISIONS + (words is not None)
    assert lines[COLLISIONS:] == ([] if words is None else [words])


def test_reliefs_are_told_by_how_many_changes_they_take() -> None:
    stuck = [blocker("arm/wrist", Member(path="p", text="bore_min_mm 50", note="no ring"))]
    both = Way(changes=[*way("bore", 0.1).changes, *way("tip", 0.1).changes], asks=0.2)
    three = explanation(
        status="impossible", blockers=stuck, singles=[way("tip_max_mm", 0.041)], fronts=[[both]]
    )
    text = explanation_text(three)
    assert "arm/wrist: bore_min_mm 50 (no ring)" in text
    assert (
        "Least changes that free it, any one of them will do\n  - tip_max_mm 50 to 52 (4.1 %)"
        in text
    )
    assert "Or two at once\n  - bore 50 to 52 and tip 50 to 52 (20 %)" in text
    assert "one step less is impossible again" in text
    two = explanation_text(three.model_copy(update={"singles": []}))
    assert "Least changes that free it, two at once\n" in two
    all_ = explanation_text(explanation(status="impossible", blockers=stuck, together=both))
    assert "Changes that free it, all of them\n  - bore 50 to 52 and tip" in all_
    none = one_line(explanation_text(explanation(status="impossible", blockers=stuck)))
    assert (
        "No change of a number was found that frees it: no limit alone, widened up to 50 %" in none
    )


def test_prices_tell_what_is_impossible_untried_still_and_left_out() -> None:
    prices = [
        price(1, tightened_impossible=True, loss={}),
        price(2, loosened=None, gain={}),
        *[price(number) for number in range(3, PRICES + 5)],
        price(90, gain={}, loss={}),
        price(91, solved=False, gain={}, loss={}),
    ]
    text = explanation_text(explanation(prices=prices))
    assert row(text, "f1") == ["f1", "10", "mm", "10.5", "-0.25", "9.5", "impossible"]
    assert row(text, "f2") == ["f2", "10", "mm", "-", "9.5", "+0.5"]
    assert "\n  4 more in --json\n" in text
    assert "1 limit could move either way without any change" in text
    assert "open for 1 limit: the search ended before it knew" in text
    nothing = explanation_text(explanation(prices=[price(1, gain={}, loss={"material": 1e-12})]))
    assert one_line(nothing).count("nothing for any of 1 limit.") == 1
    open_ = explanation_text(explanation(prices=prices, open=["prices: no time"]))
    assert "Open: prices: no time." in open_
    assert "Prices of limits" not in open_


def rooms_told(rooms: Sequence[Room]) -> str:
    return explanation_text(explanation(rooms=rooms))


def test_room_of_a_target_with_reserve_tells_where_the_target_itself_breaks() -> None:
    eaten = room(1, target_holds_to=14.25, target_limit="angle_target_arcsec")
    other = room(2, target_holds_to=13.0, target_limit="head.gap_left_min_mm")
    text = rooms_told(
        [eaten, other, room(3, direction="down", holds_to=9.0, first=None, limit=None)]
    )
    assert row(text, "f1")[1:4] == ["10", "12.5", "+2.5"]
    assert row(text, "f1")[-1] == "14.25"
    assert row(text, "f2")[-2:] == ["13", "(head.gap_left_min_mm)"]
    assert row(text, "f3") == ["f3", "10", "9", "-1", "-"]
    assert "the input eats the reserve from `holds to` on" in one_line(text)


def test_rooms_beyond_the_first_are_counted_and_none_is_said() -> None:
    text = rooms_told([room(number) for number in range(ROOMS + 2)])
    assert text.endswith("\n  2 more in --json\n")
    assert f"f{ROOMS - 1} " in text
    assert f"f{ROOMS} " not in text
    assert "breaks the target at" not in text
    assert rooms_told([]).endswith("Room to move: no input of the answer is bounded.\n")
