"""Inches, pitches, wires, tooth counts and own materials on the page: typed, answered, shown."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.page.browsing import answered, cell, scenario, study_of, take
from tests.support.own_materials import as_stated

Opener = Callable[..., Page]


def test_a_length_in_inches_is_answered_and_drawn(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    tip = cell(page, 0, "tip_max_mm")
    tip.fill("5 1/8 in")
    tip.press("Tab")
    answered(page)
    assert study_of(page)["robots"][0]["joints"][0]["tip_max_mm"] == "5 1/8 in"
    expect(page.locator("#study [aria-invalid]")).to_have_count(0)
    for text, kept in (("130 mm", 130), ("5.1 in", "5.1 in")):
        tip.fill(text)
        tip.press("Tab")
        assert study_of(page)["robots"][0]["joints"][0]["tip_max_mm"] == kept
    tip.fill("5.1 ft")
    tip.press("Tab")
    expect(tip).to_have_attribute("aria-invalid", "true")


def test_a_decimal_comma_before_inches_is_read_as_the_reader_means_it(open_page: Opener) -> None:
    page = open_page(locale="de-DE")
    page.select_option("#scenario", "two_joint_table")
    tip = cell(page, 0, "tip_max_mm")
    tip.fill("5,125 in")
    tip.press("Tab")
    assert study_of(page)["robots"][0]["joints"][0]["tip_max_mm"] == "5.125 in"


def test_pitches_and_counts_are_typed_as_lists(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    study = study_of(page)
    study["shop"]["modules"] = ["24 DP", "20 DP"]
    study["shop"]["teeth_allowed"] = [*range(60, 130, 2)]
    take(page, study)
    answered(page)
    expect(page.locator("body")).to_contain_text("DP)")
    study["shop"]["teeth_allowed"] = None
    take(page, study)
    page.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = true))")
    modules = page.locator('[data-pointer="/shop/modules"]')
    modules.fill("1; 16 DP; 0.25 in CP")
    modules.press("Tab")
    assert study_of(page)["shop"]["modules"] == [1, "16 DP", "0.25 in CP"]
    modules.fill("0.8 1")
    modules.press("Tab")
    assert study_of(page)["shop"]["modules"] == [0.8, 1]


def test_own_materials_may_be_chosen_where_they_are_named(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    study = study_of(page)
    study["shop"]["materials"] = {"Steel 7": as_stated("c45")}
    take(page, study)
    page.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = true))")
    page.locator('[data-pointer="/shop/material"]').select_option("Steel 7")
    answered(page)
    assert study_of(page)["shop"]["material"] == "Steel 7"
