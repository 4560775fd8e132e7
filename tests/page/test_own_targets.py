"""Where every joint has a target of its own the shared one is no line; tables to take away keep the order."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.page.browsing import ANSWER_MS, answered, scenario, study_of, take

Opener = Callable[..., Page]


def test_a_shared_target_that_bounds_nothing_is_no_line(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    page.click("#front-go")
    expect(page.locator("#front-said")).to_contain_text("missing", timeout=ANSWER_MS)
    expect(page.locator("#front-target")).to_be_attached()
    study = study_of(page)
    for joint in study["robots"][0]["joints"]:
        joint["angle_target_arcsec"] = 70
    take(page, study)
    answered(page)
    page.click("#front-go")
    expect(page.locator("#front-said")).to_contain_text("missing", timeout=ANSWER_MS)
    expect(page.locator("#front-plots svg").nth(1)).to_be_visible()
    expect(page.locator("#front-target")).to_have_count(0)


def test_rings_are_saved_in_the_order_of_the_study(open_page: Opener) -> None:
    page = open_page(accept_downloads=True)
    scenario(page, "six_joint_arm")
    with page.expect_download() as coming:
        page.locator("[data-file='files.joints']").click()
    lines = [line.split(",") for line in Path(coming.value.path()).read_text().splitlines()]
    names = [joint["name"] for joint in study_of(page)["robots"][0]["joints"]]
    assert [line[1] for line in lines[1:]] == names
    assert names != sorted(names)
    error = lines[0].index("error_arcsec")
    assert all(len(line[error]) > 12 for line in lines[1:])
