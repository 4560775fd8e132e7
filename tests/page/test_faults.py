"""Faults that the API finds, in the reader's language where what it says has a fixed form."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.page.browsing import take

Opener = Callable[..., Page]
JOINT: dict[str, Any] = {"name": "turn", "bore_min_mm": 60, "bore_max_mm": 72, "tip_max_mm": 100}
WRONG: dict[str, tuple[dict[str, Any], dict[str, Any], str]] = {
    "number": ({"reach_mm": "weit"}, {}, "eine Zahl ist nötig"),
    "least": ({"face_width_mm": 0}, {}, "mehr als 0"),
    "most": ({"reach_mm": 1e9}, {}, "höchstens 100.000"),
    "choice": ({"fastening": "glue"}, {}, "eines von: durch die Passung, durch Schrauben"),
    "between": ({"bore_max_mm": 55.5}, {}, "mindestens 60 (Bohrung ab)"),
    "above": ({"bore_min_mm": 71.5, "tip_max_mm": 70}, {}, "mehr als 71,5 (Bohrung ab)"),
    "unknown": ({"colour": "red"}, {}, "dieses Feld gibt es in einer Studie nicht"),
    "below": ({}, {"head": {"gap_tolerance_mm": 0.5}}, "weniger als 0,4 (Luftspalt)"),
    "items": ({}, {"shop": {"modules": []}}, "mindestens 1 ist nötig"),
    "integer": ({}, {"shop": {"flank_class": 6.5}}, "eine ganze Zahl ist nötig"),
}


@pytest.mark.cases(fast=0, slow=4)
@pytest.mark.parametrize("kind", WRONG)
def test_faults_are_german_on_the_german_page(open_page: Opener, kind: str) -> None:
    page = open_page(locale="de-DE")
    changes, whole, words = WRONG[kind]
    study = {"robots": [{"name": "arm", "joints": [JOINT | changes]}], **whole}
    take(page, study | {"target": {"angle_target_arcsec": 90}})
    faults = page.locator("#faults")
    expect(faults).to_contain_text(words)
    expect(faults).to_contain_text("1 Feld ist zu berichtigen.")
    assert faults.locator("[lang]").count() == 0


def test_what_only_the_api_can_say_is_marked_english(open_page: Opener) -> None:
    page = open_page(locale="de-DE")
    study = {"robots": [{"name": "arm", "joints": [JOINT | {"seat_fit": "Q9/z1"}]}]}
    take(page, study | {"target": {"angle_target_arcsec": 90}})
    expect(page.locator("#faults li [lang=en]")).to_be_visible()
