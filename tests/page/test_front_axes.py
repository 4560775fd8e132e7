"""The trade-off over any axes, with both amounts and their step; the reserve beside errors and targets."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.page.browsing import ANSWER_MS, answered, scenario, study_of, take

Opener = Callable[..., Page]
PRICES = {
    "currency": "crowns", "cutter": 90, "set_up_per_ring_part": 35, "material_per_kg": 4, "head": 12,
    "machine_per_hour": 60, "cutting_minutes_per_tooth": {"6": 0.05},
}  # fmt: skip


def priced(page: Page, order: list[str]) -> None:
    """Put a study with prices and an order of wishes on the page, and wait for its answer."""
    scenario(page, "two_joint_table")
    study = study_of(page)
    study["shop"]["prices"] = PRICES
    study["wishes"] = {"order": order}
    take(page, study)
    answered(page)


def found(page: Page) -> None:
    page.click("#front-go")
    expect(page.locator("#front-said")).to_contain_text("none is missing", timeout=ANSWER_MS)


def test_both_amounts_are_traded_with_a_step(open_page: Opener) -> None:
    page = open_page()
    priced(page, ["cost", "material"])
    for wish in ("cost", "material"):
        expect(page.locator(f"#front-over input[value='{wish}']")).to_be_checked()
    expect(page.locator("#front-step-box")).to_be_visible()
    found(page)
    page.fill("#front-percent", "exact")
    found(page)
    page.fill("#front-percent", "0")
    page.click("#front-go")
    expect(page.locator("#front-said")).to_contain_text("step", timeout=ANSWER_MS)
    page.locator("#front-over input[value='cost']").uncheck()
    expect(page.locator("#front-step-box")).to_be_hidden()
    found(page)


def test_any_wish_may_stand_across(open_page: Opener) -> None:
    page = open_page()
    priced(page, ["cost", "material"])
    found(page)
    name = page.locator("#front-plots .axis-name")
    for wish, words in (
        ("ring_parts", "Ring parts"), ("heads", "Heads"), ("cutters", "Cutters"),
        ("material", "Material"), ("cost", "Cost"),
    ):  # fmt: skip
        page.select_option("#front-across", wish)
        expect(name).to_contain_text(f"{words}; the sign tells the cutters")
        points = page.locator("#front-plots svg.plot").first.locator("g.point")
        expect(points).to_have_count(page.locator("#front-list tbody tr").count())
    expect(page.locator("#front-plots figcaption").first).to_contain_text("Material, kg")
    page.select_option("#front-across", "heads")
    heads = page.locator("#front-list tbody tr td:nth-child(4)").first.inner_text()
    ticks = page.locator("#front-plots svg.plot").first.locator("text[text-anchor=middle]")
    assert heads in ticks.all_text_contents()


def test_amounts_stand_across_only_where_there_is_money(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    found(page)
    for wish in ("material", "cost"):
        expect(page.locator(f"#front-across option[value='{wish}']")).to_be_disabled()
    page.select_option("#front-across", "heads")
    expect(page.locator("#front-plots .axis-name")).to_contain_text("Heads")


def test_prices_that_count_nothing_are_said_to(open_page: Opener) -> None:
    page = open_page()
    priced(page, ["heads", "material"])
    expect(page.locator("#warnings")).to_contain_text("shop.prices count nothing here")
    page.locator("#front-over input[value='cost']").uncheck()
    found(page)
    expect(page.locator("#front-open")).to_contain_text("shop.prices count nothing here")


def test_the_reserve_stands_beside_error_and_target(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    expect(page.locator("#totals")).to_contain_text("% left")
    expect(page.locator("#arm .meter .edge")).to_have_count(0)
    study = study_of(page)
    study["target"]["reserve_percent"] = 10
    take(page, study)
    answered(page)
    expect(page.locator("#totals")).to_contain_text("% left (10 % kept)")
    edges = page.locator("#arm .meter .edge")
    expect(edges).to_have_count(2)
    assert float(edges.first.get_attribute("x") or 0.0) == 90.0
