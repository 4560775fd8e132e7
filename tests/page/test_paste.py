"""Pasted numbers: one decimal sign for a whole table, commas that part columns, and what is asked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.page.browsing import cell, study_of
from tests.page.test_whole_path import paste

Opener = Callable[..., Page]
FIELDS = ("name", "bore_min_mm", "bore_max_mm", "tip_max_mm", "reach_mm", "speed_max_rpm")


def joints(page: Page) -> list[list[Any]]:
    given = study_of(page)["robots"][0]["joints"]
    return [[joint[name] for name in FIELDS if name in joint] for joint in given]


def pasted(open_page: Opener, locale: str, text: str) -> tuple[Page, list[list[Any]]]:
    page = open_page(locale=locale)
    cell(page, 0, "name").focus()
    paste(page, text)
    return page, joints(page)


#: A table that says itself, somewhere, which sign stands before its decimals.
TOLD = {
    "base\t61.500\t70.25\t92\t0\t15.000\n": [["base", 61.5, 70.25, 92, 0, 15]],
    "base\t61,500\t70,25\t92\t0\t15,000\n": [["base", 61.5, 70.25, 92, 0, 15]],
    "base\t61.500\t70\t92\t1,250.0\t15\n": [["base", 61.5, 70, 92, 1250, 15]],
    "base\t61,500\t70\t92\t1.250,0\t15\n": [["base", 61.5, 70, 92, 1250, 15]],
    "base\t61\t70\t92\t1,250,000\t15.125\n": [["base", 61, 70, 92, 1250000, 15.125]],
    "base\t61,500\t70\t92\t0,8\t15\nelbow\t50,125\t60\t80\t2.000\t9\n": [
        ["base", 61.5, 70, 92, 0.8, 15],
        ["elbow", 50.125, 60, 80, 2000, 9],
    ],
}  # fmt: skip


@pytest.mark.parametrize("locale", ["en-GB", "de-DE"])
def test_a_table_has_one_decimal_sign_whatever_the_readers_is(
    open_page: Opener, locale: str
) -> None:
    page = open_page(locale=locale)
    for text, rows in TOLD.items():
        cell(page, 0, "name").focus()
        paste(page, text)
        assert joints(page)[: len(rows)] == rows, text
        expect(page.locator(".pasted")).to_contain_text("ecimal" if locale == "en-GB" else "ezimal")


@pytest.mark.parametrize("locale", ["en-GB", "de-DE"])
def test_what_no_cell_decides_is_left_as_text_and_asked(open_page: Opener, locale: str) -> None:
    page, rows = pasted(open_page, locale, "base\t61.500\t70.000\t92\t920\t15.000\n")
    assert rows == [["base", "61.500", "70.000", 92, 920, "15.000"]]
    asked = page.locator(".pasted button")
    expect(asked).to_have_count(2)
    expect(page.locator(".pasted")).to_contain_text("3")
    asked.nth(0).click()
    assert joints(page) == [["base", 61.5, 70, 92, 920, 15]]
    expect(asked).to_have_count(0)
    cell(page, 0, "name").focus()
    paste(page, "base\t61\t70\t92\t1,250\t15\n")
    asked.nth(0).click()  # the point stands before decimals, so that the comma parts thousands
    assert joints(page) == [["base", 61, 70, 92, 1250, 15]]
    page.keyboard.press("Control+z")
    assert joints(page)[0][4] == "1,250"


@pytest.mark.parametrize(("locale", "readings"), [("en-GB", "61.5 61500"), ("de-DE", "61,5 61500")])
def test_the_two_readings_differ_where_a_unit_stands_behind_the_number(
    open_page: Opener, locale: str, readings: str
) -> None:
    page, rows = pasted(open_page, locale, "base\t61.500 mm\t70.000 mm\t92 mm\t920\t15.000 rpm\n")
    assert rows == [["base", "61.500 mm", "70.000 mm", 92, 920, "15.000 rpm"]]
    asked = page.locator(".pasted button")
    for button, reading in zip(asked.all(), readings.split(), strict=True):
        assert button.inner_text().split()[-1] == reading
    asked.nth(0).click()
    assert joints(page) == [["base", 61.5, 70, 92, 920, 15]]


@pytest.mark.parametrize("locale", ["en-GB", "de-DE"])
def test_commas_part_columns(open_page: Opener, locale: str) -> None:
    head = "Joint,Bore from,Bore to,Tip limit\n"
    page, rows = pasted(open_page, locale, f"{head}base,126.5,140,172\nelbow,84,96,124\n")
    assert rows == [["base", 126.5, 140, 172], ["elbow", 84, 96, 124]]
    cell(page, 0, "name").focus()
    paste(page, 'base,126,140,172\n"wrist, inner","50,5",60,88\n')
    assert joints(page) == [["base", 126, 140, 172], ["wrist, inner", 50.5, 60, 88]]
    cell(page, 0, "name").focus()
    paste(page, "elbow,84.5,96,124")  # one row
    assert joints(page)[0] == ["elbow", 84.5, 96, 124]
    cell(page, 0, "tip_max_mm").focus()
    paste(page, "130,5\n90,25")  # one column of decimals
    assert [row[3] for row in joints(page)] == [130.5, 90.25]
    before = joints(page)
    cell(page, 0, "name").focus()
    paste(page, "base,126,5,140\nelbow,84,96\n")
    assert joints(page) == before
    words = "Nothing pasted" if locale == "en-GB" else "Nichts eingefügt"
    expect(page.locator(".pasted")).to_contain_text(words)


@pytest.mark.cases(fast=0, slow=2)
@pytest.mark.parametrize("text", ["1,2,4", "1.2.3", "12 5", "1,23,456.7"])
def test_what_is_no_number_stays_a_text(open_page: Opener, text: str) -> None:
    page = open_page()
    reach = cell(page, 0, "reach_mm")
    reach.fill(text)
    reach.press("Tab")
    assert study_of(page)["robots"][0]["joints"][0]["reach_mm"] == text
