"""Why a ring is not otherwise: told below why it is as it is, in both languages, in places kept for it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, Route, expect

from tests.page.browsing import ANSWER_MS, scenario, study_of, take
from tests.page.test_everyone import serious

Opener = Callable[..., Page]


def told(page: Page) -> Locator:
    """Return the lines of the panel once they are there."""
    panel = page.locator("#ring .otherwise:not([aria-busy])")
    expect(panel).to_be_visible(timeout=ANSWER_MS)
    return panel.locator(".grounds li")


def choose(page: Page, joint: str) -> None:
    page.locator(f'#arm .joint[data-joint$="/{joint}"]').click()
    expect(page.locator("#ring h3")).to_contain_text(joint)


def test_every_question_of_a_shared_ring_is_answered(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "six_joint_arm")
    choose(page, "shoulder")
    lines = told(page)
    expect(lines).to_have_count(5)
    texts = lines.all_text_contents()
    assert texts[0].startswith("Not larger: 181 teeth, bore 131.5 mm: 7.27 g more material;")
    assert "the most that fit" in texts[0]
    assert texts[1].startswith("Not smaller: 178 teeth, bore 126 mm: tool point 235.7 µm")
    assert texts[2].startswith(
        "Not thinner: rim 5.35 mm: the jaws leave waves of 13.45 µm, allowed 12.36"
    )
    assert texts[3].startswith(
        "Not fewer heads: 1 head, bore 126 mm: tool point 416 µm, allowed 235"
    )
    assert texts[4].startswith("Not a part of its own: the lightest has 181 teeth")
    assert "1 ring part more" in texts[4]
    expect(page.locator(".otherwise")).to_contain_text("made on all its joints")
    assert page.locator(".otherwise [lang]").count() == 0


def test_it_stands_right_below_why_the_ring_is_as_it_is(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "priced_arm")
    choose(page, "flange")
    told(page)
    assert (
        page.evaluate("document.querySelector('.otherwise').previousElementSibling.className")
        == "reasons"
    )
    expect(page.locator(".grounds")).to_contain_text("dearer")
    expect(page.locator(".grounds")).to_contain_text("Not another part")
    expect(page.locator(".otherwise")).not_to_contain_text("shared part")


def test_german_is_german_with_the_readers_numbers(open_page: Opener) -> None:
    page = open_page(locale="de-DE")
    page.select_option("#scenario", "six_joint_arm")
    expect(page.locator('#verdict[data-state="proven"]')).to_be_attached(timeout=ANSWER_MS)
    choose(page, "shoulder")
    texts = told(page).all_text_contents()
    assert texts[0].startswith("Nicht größer: 181 Zähne, Bohrung 131,5 mm: 7,27 g mehr Material;")
    assert "Werkzeugpunkt 416 µm, erlaubt 235" in texts[3]
    assert "grounds." not in page.locator("#ring").text_content()  # type: ignore[operator]
    assert serious(page) == []


def test_a_limit_of_another_joint_names_it(open_page: Opener) -> None:
    page = open_page()
    joints = [
        {"name": "free", "bore_min_mm": 50, "bore_max_mm": 100, "tip_max_mm": 130},
        {"name": "wide", "bore_min_mm": 80, "bore_max_mm": 100, "tip_max_mm": 92.5},
    ]
    study: dict[str, Any] = {
        "robots": [{"name": "arm", "joints": joints}],
        "shop": {"modules": [1]},
        "target": {"angle_target_arcsec": 150},
    }
    take(page, study)
    expect(page.locator('#verdict[data-state="proven"]')).to_be_attached(timeout=ANSWER_MS)
    choose(page, "free")
    texts = told(page).all_text_contents()
    assert "wide: tips at 93 mm, allowed 92.5" in texts[0]
    assert not any("free: " in text for text in texts)
    choose(page, "wide")
    texts = told(page).all_text_contents()
    assert not any("wide:" in text for text in texts)


@pytest.mark.cases(fast=0, slow=2)
@pytest.mark.parametrize("width", [1280, 1000, 390])
def test_its_places_are_kept_while_it_arrives(open_page: Opener, width: int) -> None:
    page = open_page(viewport={"width": width, "height": 900})
    waiting: list[Route] = []
    page.route("**/v1/grounds", lambda route: waiting.append(route))
    scenario(page, "six_joint_arm")
    choose(page, "elbow")
    expect(page.locator("#ring .advice table")).to_be_visible()
    expect(page.locator("#ring .face svg").first).to_be_visible()
    page.wait_for_timeout(200)
    # from the top of the panel on: the browser may scroll on its own to keep what is read in its place
    height = "document.querySelector('.otherwise').getBoundingClientRect().height"
    before = page.evaluate(height)
    assert page.locator(".grounds li").count() == 5
    for route in waiting:
        route.continue_()
    told(page)
    assert abs(page.evaluate(height) - before) <= 2
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_joint_alone_with_one_ring_part_has_no_line_for_parts(open_page: Opener) -> None:
    page = open_page()
    joint = {"name": "<b>turn</b>", "bore_min_mm": 60, "bore_max_mm": 72, "tip_max_mm": 100}
    study: dict[str, Any] = {
        "robots": [{"name": "arm", "joints": [joint]}],
        "shop": {"modules": [1]},
        "target": {"angle_target_arcsec": 90},
    }
    take(page, study)
    expect(page.locator('#verdict[data-state="proven"]')).to_be_attached(timeout=ANSWER_MS)
    assert study_of(page)["robots"][0]["joints"][0]["name"] == "<b>turn</b>"
    texts = told(page).all_text_contents()
    assert not any("part" in text.split(":")[0] for text in texts)
    assert page.locator(".otherwise b").count() == 0


def test_a_call_that_fails_leaves_the_rest_of_the_ring(open_page: Opener) -> None:
    page = open_page(expected=("status of 500",))
    page.route(
        "**/v1/grounds",
        lambda route: route.fulfill(
            status=500, content_type="application/problem+json", body='{"detail": "no luck"}'
        ),
    )
    scenario(page, "two_joint_table")
    expect(page.locator("#ring .otherwise")).to_have_text("no luck")
    expect(page.locator("#ring .advice table")).to_be_visible()
    expect(page.locator("#ring .budget")).to_be_visible()


def test_it_is_printed(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "six_joint_arm")
    told(page)
    page.emulate_media(media="print")
    expect(page.locator("#ring .grounds li").first).to_be_visible()
