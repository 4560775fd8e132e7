"""Wrong input at every field: what is allowed stands at the field that the API names."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from ringset import study_fields
from tests.api.running import study
from tests.page.browsing import answered, cell, scenario, study_of, take
from tests.support.tiers import campaign

Opener = Callable[..., Page]
#: Where a place of the field list stands in a study.
PLACES: dict[str, list[str | int]] = {
    "robots[].": ["robots", 0],
    "robots[].joints[].": ["robots", 0, "joints", 0],
    "robots[].battery.": ["robots", 0, "battery"],
    "robots[].line.": ["robots", 0, "line"],
    "head. or heads.NAME.": ["head"],
    "shop.": ["shop"],
    "shop.prices.": ["shop", "prices"],
    "target.": ["target"],
    "wishes.": ["wishes"],
    "search.": ["search"],
}
#: Fields that the form shows in another way: as tables, groups and lists of their own.
ELSEWHERE = {"robots[].joints", "robots[].battery", "robots[].line", "shop.prices"}
#: What several inputs state together; its faults are told in the list above.
LISTS = ("/wishes/order", "/wishes/give")
WRONG: dict[str, Any] = {
    "number": "seven", "integer": "2.5 or so", "text": 7, "yes_no": "perhaps", "choice": "gold",
    "list": [[]], "other": "seven",
}  # fmt: skip


def fields() -> list[tuple[str, list[str | int], str]]:
    return [
        (f"{fact.place}{fact.name}", [*PLACES[fact.place], fact.name], fact.kind)
        for fact in study_fields()
        if fact.place in PLACES and f"{fact.place}{fact.name}" not in ELSEWHERE
    ]


def spoiled(keys: list[str | int], kind: str) -> dict[str, Any]:
    """Return a study that is right but for one field."""
    document = copy.deepcopy(study("wrong", joints=2))
    here: Any = document
    for key in keys[:-1]:
        if isinstance(key, str) and key not in here:
            here[key] = {}
        here = here[key]
    here[keys[-1]] = WRONG[kind]
    return document


@pytest.mark.parametrize("every", [6, campaign(1)])
def test_wrong_input_is_told_at_every_field(open_page: Opener, every: int) -> None:
    """Each field is spoiled in turn: the API names it, the page marks it, says why and lists it."""
    page = open_page()
    page.evaluate("document.getElementById('by-itself').click()")  # asked for by the button alone
    missed = []
    known = fields()
    assert len(known) > 110
    for name, keys, kind in known[::every]:
        document = spoiled(keys, kind)
        pointer = "".join(f"/{key}" for key in keys)
        take(page, document)
        with page.expect_response("**/v1/studies?*") as given:
            page.click("#solve")
        assert given.value.status == 422, name
        errors = given.value.json()["errors"]
        said = [error["detail"] for error in errors if error["pointer"].startswith(pointer)]
        assert said, (name, errors)
        field = page.locator(f'#study [data-pointer="{pointer}"]')
        try:
            expect(field).to_have_attribute("aria-invalid", "true", timeout=3000)
            # a table cell is told by the row below it, a field of a form right under it
            place = field.locator("xpath=ancestor::*[contains(@class,'field')][1]/p[@class='said']")
            if place.count() == 0 and pointer not in LISTS:
                place = page.locator("tr.fault")
            listed = page.locator("#faults")
            if pointer in LISTS:
                expect(listed).not_to_be_empty(timeout=3000)
                continue
            expect(place).not_to_be_empty(timeout=3000)
            words = (place.text_content() or "").split(": ")[-1]  # behind the label in a table
            expect(listed).to_contain_text(words, timeout=3000)
        except AssertionError as error:
            missed.append(f"{name}: {error}")
    assert not missed, "\n".join(missed[:5])


def test_a_fault_goes_away_when_it_is_put_right(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    bore = cell(page, 1, "bore_min_mm")
    bore.fill("sixty")
    bore.press("Tab")
    expect(page.locator("tr.fault")).to_contain_text("Bore from: a number is needed")
    expect(bore).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#verdict-words")).to_contain_text("Of an earlier state")
    page.locator("#faults button").click()
    assert page.evaluate("document.activeElement.dataset.pointer").endswith("1/bore_min_mm")
    bore.fill("60")
    bore.press("Tab")
    answered(page)
    expect(page.locator("#faults")).to_be_hidden()
    expect(page.locator("tr.fault")).to_have_count(0)
    assert bore.get_attribute("aria-invalid") is None


@pytest.mark.parametrize(("text", "numbers"), [("0.8; 1", [0.8, 1]), ("1.25", [1.25])])
def test_a_list_of_numbers_typed_into_its_field_is_in_the_study(
    text: str, numbers: list[float], open_page: Opener
) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    modules = page.locator('[data-pointer="/shop/modules"]')
    modules.fill(text)
    modules.press("Tab")
    page.wait_for_function("document.getElementById('whole').value.includes('\"modules\"')")
    assert study_of(page)["shop"]["modules"] == numbers


def test_faults_between_fields_are_told_at_one_of_them(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    bore = cell(page, 0, "bore_min_mm")
    bore.fill("120")
    bore.press("Tab")
    expect(page.locator("#study [aria-invalid]")).not_to_have_count(0)
    expect(page.locator("#faults li")).not_to_have_count(0)


NUMBERS: dict[str, dict[str, Any]] = {
    "en-GB": {
        "1,234.5": 1234.5,
        "0,8": 0.8,
        "12,5": 12.5,
        "12 mm": 12,
        "1,234": 1234,
        "12 cm": "12 cm",
        "7m": "7m",
    },
    "de-DE": {
        "1.234,5": 1234.5,
        "12.5": 12.5,
        "1 234": 1234,
        "0.125": 0.125,
        "1.234": 1234,
        "55,5 mm": 55.5,
        "55,5mm": 55.5,
    },
    "fr-FR": {"1e3": 1000, "1 234,5": 1234.5, "-2,5": -2.5},
}


@pytest.mark.parametrize("locale", NUMBERS)
def test_numbers_are_read_as_they_are_written(open_page: Opener, locale: str) -> None:
    page = open_page(locale=locale)
    reach = cell(page, 0, "reach_mm")
    for text, value in NUMBERS[locale].items():
        reach.fill(text)
        reach.press("Tab")
        assert study_of(page)["robots"][0]["joints"][0]["reach_mm"] == value, text
