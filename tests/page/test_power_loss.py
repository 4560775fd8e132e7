"""The page says what finds its place after a power loss, and shows the second ring of a joint."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.page.browsing import ANSWER_MS, answered, scenario

Opener = Callable[..., Page]


def test_the_first_lines_say_what_finds_its_place(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "power_loss")
    answered(page)
    lines = page.locator("#absolute li")
    expect(lines).to_have_count(4, timeout=ANSWER_MS)
    expect(lines.last).to_contain_text("heads 1, blanks 0.06011 kg, ring parts 0")
    expect(page.locator("#absolute")).to_contain_text("counter and battery")
    expect(page.locator("#absolute")).to_contain_text("must be referenced")
    page.locator('#arm .joint[data-joint$="/bend"]').click()
    facts = page.locator("#ring .facts")
    expect(facts).to_contain_text("Second ring, teeth")
    expect(facts).to_contain_text("42 (R1)")
