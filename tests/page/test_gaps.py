"""What a study lacks is told by name and marked at once; an answer of another state says so."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.page.browsing import answered, cell, scenario, take

Opener = Callable[..., Page]
JOINT = {"name": "base", "bore_min_mm": 60, "bore_max_mm": 72, "tip_max_mm": 100}


def test_an_untouched_study_is_told_what_it_needs_but_not_blamed(open_page: Opener) -> None:
    page = open_page()
    expect(page.locator("#verdict-work")).to_have_text(
        "Still needed: joint 1: Name, Bore from, Bore to, Tip limit; Angle target."
    )
    expect(page.locator("#study [aria-invalid]")).to_have_count(0)


def test_only_what_is_missing_or_wrong_is_told_and_marked(open_page: Opener) -> None:
    page = open_page()
    nameless = {name: value for name, value in JOINT.items() if name != "name"}
    joints = [JOINT, nameless | {"bore_min_mm": "abc"}, nameless | {"bore_min_mm": 1e99}]
    take(
        page, {"robots": [{"name": "arm", "joints": joints}], "target": {"angle_target_arcsec": 60}}
    )
    expect(page.locator("#verdict-work")).to_have_text(
        "Still needed: joint 2: Name; joint 3: Name. "
        "Not a number: joint 2: Bore from. Out of range: joint 3: Bore from."
    )
    marked = page.locator("#study [aria-invalid]")
    expect(marked).to_have_count(4)
    expect(cell(page, 1, "bore_min_mm")).to_have_attribute("data-gap", "number")
    expect(cell(page, 2, "bore_min_mm")).to_have_attribute(
        "title", "Bore from: 0 to 5,000 is possible"
    )
    page.uncheck("#by-itself")
    expect(marked).to_have_count(0)
    page.check("#by-itself")
    expect(marked).to_have_count(4)
    for joint, name in ((1, "elbow"), (2, "wrist")):
        cell(page, joint, "name").fill(name)
        cell(page, joint, "name").press("Tab")
        cell(page, joint, "bore_min_mm").fill("61")
        cell(page, joint, "bore_min_mm").press("Tab")
    answered(page)
    expect(marked).to_have_count(0)


def test_a_cell_emptied_after_an_answer_is_marked_and_the_answer_is_an_earlier_one(
    open_page: Opener,
) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    bore = cell(page, 1, "bore_min_mm")
    was = bore.input_value()
    for spoil in ("", "sixty"):  # and after a fault that the API has told, too
        if spoil:
            bore.fill(spoil)
            bore.press("Tab")
            expect(page.locator("#faults")).to_be_visible()
        bore.fill("")
        bore.press("Tab")
        expect(page.locator("#verdict-words")).to_contain_text("Of an earlier state")
        expect(page.locator('#verdict[data-state="earlier"]')).to_be_attached()
        expect(page.locator("#verdict-work")).to_contain_text("Still needed:")
        expect(page.locator("#verdict-work")).to_contain_text("Bore from")
        expect(bore).to_have_attribute("data-gap", "missing")
        expect(page.locator("#faults")).to_be_hidden()
        bore.fill(was)
        bore.press("Tab")
        answered(page)
        expect(page.locator("#verdict-words")).to_have_text(
            "Proven: nothing better exists under this study."
        )
        assert bore.get_attribute("aria-invalid") is None
