"""What one step more of a wish would buy stands under the totals, and a give is stated in the form."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.page.browsing import ANSWER_MS, answered, scenario, study_of

Opener = Callable[..., Page]


def test_steps_stand_under_the_totals_in_both_languages(open_page: Opener) -> None:
    """One head more saves most of the steel of the scenario, and the page says so."""
    page = open_page()
    scenario(page, "heavy_for_a_head")
    answered(page)
    expect(page.locator("#verdict-words")).to_contain_text(
        "in this order: Cutters, Ring parts, Heads"
    )
    expect(page.locator("#steps li")).to_have_count(3, timeout=ANSWER_MS)
    expect(page.locator("#steps li").nth(0)).to_contain_text("1 cutter more: gains nothing (agreed")
    expect(page.locator("#steps li").nth(2)).to_contain_text("1 head more: ")
    expect(page.locator("#steps li").nth(2)).to_contain_text("g less material")
    page.locator("#language").select_option("de")
    expect(page.locator("#steps")).to_contain_text("bringt nichts", timeout=ANSWER_MS)


def test_a_give_is_stated_and_told(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "heavy_for_a_head")
    answered(page)
    page.locator("summary", has_text="May be given up").click()
    field = page.locator("#give input").nth(2)
    field.fill("5 crowns per tooth")
    field.press("Tab")
    expect(field).to_have_attribute("aria-invalid", "true", timeout=ANSWER_MS)
    expect(page.locator("#give")).to_contain_text("0.15 kg per head")
    field.fill("1")
    field.press("Tab")
    expect(page.locator("#totals")).to_contain_text("14", timeout=ANSWER_MS)
    answered(page)
    assert study_of(page)["wishes"] == {"give": {"heads": 1}}
    page.locator("summary", has_text="How sure this is").click()
    expect(page.locator("#proof")).to_contain_text("up to 14 allowed")
