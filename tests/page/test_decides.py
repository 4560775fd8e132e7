"""What decides an answer: ranked on request, the band beside it, both dropped when the study changes."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.page.browsing import ANSWER_MS, answered, scenario

Opener = Callable[..., Page]


def test_the_assumptions_are_ranked_on_request(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    answered(page)
    page.click("#decides-go")
    lines = page.locator("#decides-said ol").first.locator("li")
    expect(lines.first).to_contain_text("is assumed", timeout=ANSWER_MS)
    expect(lines).to_have_count(5)
    page.click("#band-go")
    expect(page.locator("#band-said li")).to_have_count(3, timeout=ANSWER_MS)
    expect(page.locator("#band-said")).to_contain_text("As stated: cutters 1")
    expect(page.locator("#band-said")).to_contain_text("stay as stated")


def test_what_was_ranked_goes_with_its_study(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    answered(page)
    page.click("#decides-go")
    expect(page.locator("#decides-said ol").first).to_be_visible(timeout=ANSWER_MS)
    scenario(page, "finer_table")
    expect(page.locator("#decides-said ol")).to_have_count(0)
