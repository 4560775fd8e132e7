"""The front while it is proven, targets that are dragged, reliefs, stopping, a service that goes away."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, expect

from ringset.api.store.api_keys import make_api_key
from ringset.api.store.studies import Store
from tests.api.running import Running, study
from tests.page.browsing import (
    ANSWER_MS,
    AWAY,
    answered,
    arm_with_three_points,
    opened,
    scenario,
    study_of,
    take,
)

Opener = Callable[..., Page]


def test_the_front_fills_and_its_points_can_be_shown(open_page: Opener) -> None:
    page = open_page()
    arm_with_three_points(page)
    page.click("#front-go")
    expect(page.locator("#front-said")).to_contain_text("none is missing", timeout=ANSWER_MS)
    rows = page.locator("#front-list tbody tr")
    expect(rows).to_have_count(3)
    rows.nth(1).hover()
    expect(page.locator("#front-step")).to_contain_text("1 ring part more; 2.67 g less material")
    expect(page.locator("#front-plots g.point.seen")).to_have_count(2)  # one in each plot
    rows.nth(2).locator("button").focus()
    expect(page.locator("#front-step")).to_contain_text("From 2 to 3")
    page.keyboard.press("Enter")
    expect(page.locator("#verdict-words")).to_contain_text("Point 3", timeout=ANSWER_MS)
    expect(page.locator("#totals dd").nth(1)).to_have_text("6")
    assert study_of(page)["title"] == "Six-joint arm, bores from 20 to 140 mm"


def test_a_target_is_dragged_and_everything_follows(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "six_joint_arm")
    line = page.locator("#front-target .grip")
    line.scroll_into_view_if_needed()
    box = line.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 4, box["y"] + 4)
    page.mouse.down()
    page.mouse.move(box["x"] + 4, box["y"] - 30, steps=5)
    page.mouse.up()
    moved = study_of(page)["robots"][0]["tool_point_target_um"]
    assert moved > 250
    expect(page.locator("#front-said")).to_contain_text("none is missing", timeout=ANSWER_MS)
    answered(page)
    page.locator("#front-target").focus()
    page.keyboard.press("ArrowDown")
    assert study_of(page)["robots"][0]["tool_point_target_um"] < moved
    assert page.evaluate("document.activeElement.id") == "front-target"


def test_an_impossible_study_is_relieved_by_a_click(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "impossible_wrist", "impossible")
    expect(page.locator("#why-said")).to_contain_text("3 sets of limits", timeout=ANSWER_MS)
    expect(page.locator("#why-said")).to_contain_text("Rim at least 3 mm")
    expect(page.locator(".joints .collides")).to_have_count(2)  # tip and bore of the wrist
    expect(page.locator("#arm .joint.blocked")).to_have_text("wrist⚠ blocked\xa0\xa0")
    page.get_by_role("button", name="wrist: Tip limit 60 mm instead of 58 mm", exact=True).click()
    answered(page)
    assert study_of(page)["robots"][0]["joints"][2]["tip_max_mm"] == 60
    expect(page.locator("#why")).to_be_hidden()
    expect(page.locator("#arm .joint .part")).to_have_count(3)


def test_long_work_is_stopped(open_page: Opener) -> None:
    page = open_page()
    take(page, study("sleep 60"))
    stop = page.locator("#stop")
    expect(stop).to_be_visible()
    stop.click()
    expect(page.locator("#verdict-work")).to_contain_text("Stopped.")
    page.click("#front-go")
    expect(page.locator("#front-stop")).to_be_enabled()
    page.click("#front-stop")
    expect(page.locator("#front-said")).to_contain_text("Stopped with 0 points")


def test_a_later_change_takes_the_place_of_work_under_way(
    open_page: Opener, service: Running
) -> None:
    page = open_page()
    take(page, study("sleep 61"))
    expect(page.locator("#stop")).to_be_visible()
    page.fill("#title", "quick")
    page.press("#title", "Enter")
    answered(page)
    expect(
        page.locator("#steps li").first
    ).to_be_visible()  # what the page asks by itself is answered too
    states = {row["state"] for row in service.http.get("/v1/studies?limit=3").json()["studies"]}
    assert not states & {"queued", "running"}


def test_the_service_is_restarted_under_the_page(
    browser: Browser, own_service: Callable[..., Running]
) -> None:
    first = own_service()
    with opened(browser, first.url, AWAY) as page:
        take(page, study("sleep 1.5", joints=2))
        expect(page.locator("#stop")).to_be_visible()
        first.kill()
        expect(page.locator("#connection-said")).to_contain_text("does not answer")
        own_service()
        expect(page.locator("#connection-said")).to_contain_text("is back", timeout=ANSWER_MS)
        answered(page)
        assert study_of(page)["title"] == "sleep 1.5"


def test_a_store_that_was_lost_is_asked_again(
    browser: Browser, own_service: Callable[..., Running]
) -> None:
    first = own_service()
    with opened(browser, first.url, AWAY) as page:
        scenario(page, "two_joint_table")
        page.click("#keep")
        scenario(page, "finer_table")
        assert first.stop() == 0
        own_service("another.db")
        page.click("#keep")  # answers kept here are compared although the service forgot them
        expect(page.locator("#comparison table").first).to_contain_text("+0.315")


def test_a_key_is_asked_for_and_used(
    browser: Browser, own_service: Callable[..., Running], tmp_path: Path
) -> None:
    key = make_api_key(Store(f"sqlite:///{tmp_path / 'ringset.db'}"), "page")
    keyed = own_service(require_key="true")
    context = browser.new_context(locale="en-GB")
    page = context.new_page()
    page.goto(keyed.url)
    expect(page.locator("#connection-said")).to_have_text("This service asks for a key.")
    page.fill("#key", key)
    page.press("#key", "Enter")
    expect(page.locator("html[data-ready]")).to_be_attached()
    scenario(page, "two_joint_table")
    context.close()


def test_two_tabs_do_not_disturb_each_other(open_page: Opener) -> None:
    one = open_page()
    scenario(one, "two_joint_table")
    other = one.context.new_page()
    other.goto(one.url)
    expect(other.locator("html[data-ready]")).to_be_attached()
    assert study_of(other)["robots"] == [{"name": "arm", "joints": [{}]}]
    scenario(other, "finer_table")
    assert study_of(one)["target"]["angle_target_arcsec"] == 60
    # the same long question in both: one stops it, the other has it asked again
    long = study("sleep 2.5", joints=2)
    take(one, long)
    take(other, long)
    expect(one.locator("#stop")).to_be_visible()
    expect(other.locator("#stop")).to_be_visible()
    one.locator("#stop").click()
    expect(one.locator("#verdict-work")).to_contain_text("Stopped.")
    answered(other)
    assert study_of(other) == long


def test_a_point_told_early_is_the_point_of_the_whole_front(
    open_page: Opener, service: Running
) -> None:
    """Events hold no rings: what the page asks for instead must lead to the same answer."""
    page = open_page()
    scenario(page, "six_joint_arm")
    asked = study_of(page)
    over = ["cutters", "ring_parts", "heads", "material"]
    query: dict[str, Any] = {"find": "front", "over": over, "targets_arcsec": [110, 90]}
    made = service.http.post(
        "/v1/studies", params=query, json=asked, headers={"Prefer": "wait=60"}
    ).json()
    lines = service.http.get(made["links"]["events"]).text.splitlines()
    data = [json.loads(line[6:]) for line in lines if line.startswith("data: ")]
    points = [one for one in data if "largest_error_arcsec" in one]
    assert len(points) >= len(made["front"]["points"]) > 3
    answers = {json.dumps(point["answer"]["rings"]) for point in made["front"]["points"]}
    for point in points:
        told = {"totals": point["totals"], "targets": [point["target_arcsec"]]}
        alone = page.evaluate(
            """async ([point, study, over]) =>
              (await import("/page/analysis/points.js")).studyOf(point, {study, options: {over}})""",
            [told, asked, over],
        )
        again = service.submit(alone, wait=60).json()["answer"]
        assert json.dumps(again["rings"]) in answers
