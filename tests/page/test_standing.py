"""Cutters owned and ring parts in production on the page: stated in fields, told beside the totals."""

from __future__ import annotations

import json
from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.page.browsing import answered, scenario, study_of, take

Opener = Callable[..., Page]
ELBOW = {"name": "RX-17", "module": 1, "teeth": 120, "bore_mm": 84, "face_width_mm": 8}

#: Opens what holds an element.
OPEN = """(selector) => {
  for (let one = document.querySelector(selector); one; one = one.parentElement)
    if (one.tagName === "DETAILS") one.open = true;
}"""


def test_what_is_there_already_is_stated_counted_and_named(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "six_joint_arm")
    study = study_of(page)
    study["shop"] = {"modules": [1, 1.25], "parts_in_production": [ELBOW]}
    take(page, study)
    answered(page)
    expect(page.locator("#absolute")).to_contain_text("0 owned, 1 in production")
    expect(page.locator("#arm")).to_contain_text("RX-17")
    field = page.locator('[data-pointer="/shop/owned_cutters"]')
    assert json.loads(page.locator('[data-pointer="/shop/parts_in_production"]').input_value()) == [
        ELBOW
    ]
    for pointer in ("/shop/owned_cutters", "/wishes/count"):
        page.evaluate(OPEN, f'[data-pointer="{pointer}"]')
    field.fill('[{"module": 1}]')
    field.blur()
    answered(page)
    expect(page.locator("#absolute")).to_contain_text("1 owned, 1 in production")
    page.locator('[data-pointer="/wishes/count"]').select_option("all")
    answered(page)
    expect(page.locator("#absolute")).to_contain_text("count too")
    assert study_of(page)["wishes"]["count"] == "all"
