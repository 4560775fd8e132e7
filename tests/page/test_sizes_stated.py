"""A housing in place of a tip limit is asked, drawn and told like one; sums of a robot's rings are told."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from playwright.sync_api import Page, expect

from tests.page.browsing import answered, cell, take

Opener = Callable[..., Page]


def study(joint: dict[str, Any], **robot: Any) -> dict[str, Any]:
    row = {"name": "base", "bore_min_mm": 60, "bore_max_mm": 72, **joint}
    return {
        "robots": [{"name": "arm", "joints": [row], **robot}],
        "head": {"gap_min_mm": 0.3, "gap_max_mm": 0.5, "height_above_tips_mm": 10},
        "target": {"angle_target_arcsec": 90},
    }


def test_a_housing_stands_for_a_tip_limit(open_page: Opener) -> None:
    page = open_page()
    take(page, study({"tip_max_mm": 100}))
    answered(page)
    drawn = page.locator("#arm .tip-limit").get_attribute("d")
    teeth = page.locator("#arm .part small").inner_text()
    take(page, study({"housing_max_mm": 120.6}))
    answered(page)
    expect(page.locator("#verdict-work")).not_to_contain_text("Still needed")
    expect(page.locator("#study [data-gap]")).to_have_count(0)
    expect(page.locator("#arm .tip-limit")).to_have_attribute("d", drawn or "")
    expect(page.locator("#arm .part small")).to_have_text(teeth)
    expect(cell(page, 0, "housing_max_mm")).to_have_value("120.6")
    cell(page, 0, "housing_max_mm").fill("")
    cell(page, 0, "housing_max_mm").press("Tab")
    expect(page.locator("#verdict-work")).to_have_text("Still needed: base: Tip limit.")


def test_limits_on_a_robots_rings_are_stated_and_told(open_page: Opener) -> None:
    page = open_page()
    take(page, study({"tip_max_mm": 100, "bores_mm": [64, 68]}, rings_mass_max_kg=0.5))
    answered(page)
    expect(page.locator("#totals")).to_contain_text("mass of the rings of arm")
    expect(page.locator("#totals")).to_contain_text("of 0.5 kg")
    expect(cell(page, 0, "bores_mm")).to_have_value("64; 68")
    most = page.locator('[data-pointer="/robots/0/rings_mass_max_kg"]')
    expect(most).to_have_value("0.5")
