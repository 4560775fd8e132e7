"""What it costs to lose a thing of the answer: plain lines on request, gone with their study."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.page.browsing import ANSWER_MS, answered, scenario, study_of, take

Opener = Callable[..., Page]


def test_losses_are_told_on_request_in_both_languages(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    answered(page)
    stocked = study_of(page)
    stocked["shop"]["bars_mm"] = [110, 125.5]
    take(page, stocked)
    answered(page)
    expect(page.locator("#losses-said li")).to_have_count(0)
    page.click("#losses-go")
    lines = page.locator("#losses-said li")
    expect(lines).to_have_count(4, timeout=ANSWER_MS)
    expect(lines.nth(0)).to_have_text("Cutter C1 (table/tilt, table/turn): 23.1 g more material")
    expect(lines.nth(1)).to_contain_text("The shared head (table/tilt, table/turn): without it")
    expect(lines.nth(2)).to_contain_text(
        "Ring part R1 (table/tilt, table/turn): 2.47 g more material"
    )
    expect(lines.nth(3)).to_contain_text(
        "Bar of 110 mm (table/tilt, table/turn): the answer stays, "
    )
    expect(lines.nth(3).locator("small")).to_have_text("R1: bar 125.5, 9 long")
    page.locator("#language").select_option("de")
    answered_in_german(page)
    page.click("#losses-go")
    expect(lines.nth(0)).to_contain_text("Fräser C1", timeout=ANSWER_MS)
    expect(lines.nth(1)).to_contain_text("gar nicht lesen")


def answered_in_german(page: Page) -> None:
    expect(page.locator("html[data-ready]")).to_be_attached()
    expect(page.locator('#verdict[data-state="proven"]')).to_be_attached(timeout=ANSWER_MS)
    expect(page.locator("#losses-go")).to_be_enabled(timeout=ANSWER_MS)


def test_losses_go_with_their_study_and_of_none_there_are_none(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    answered(page)
    page.click("#losses-go")
    expect(page.locator("#losses-said li")).to_have_count(3, timeout=ANSWER_MS)
    scenario(page, "finer_table")
    expect(page.locator("#losses-said li")).to_have_count(0)
    expect(page.locator("#losses")).to_be_visible()
    scenario(page, "impossible_wrist", "impossible")
    expect(page.locator("#losses")).to_be_hidden()


def test_what_makes_a_study_impossible_is_told_with_its_reasons(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    answered(page)
    single = study_of(page)
    single["shop"]["modules"] = [1]
    take(page, single)
    answered(page)
    page.click("#losses-go")
    line = page.locator("#losses-said li").first
    expect(line).to_contain_text("Cutter C1", timeout=ANSWER_MS)
    expect(line).to_contain_text("nothing is possible without it.")
    expect(line.locator("small[lang=en]")).to_contain_text("every ring inside its limits needs C1")
