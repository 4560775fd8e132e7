"""The page tells how closely joints and tool points repeat, and takes targets for it."""

from __future__ import annotations

import json
from collections.abc import Callable

from playwright.sync_api import Page, expect

from ringset import load_study, solve
from tests.page.browsing import answered, scenario, study_of, take

Opener = Callable[..., Page]


def test_repeatability_is_asked_for_in_the_form_and_told_beside_the_error(
    open_page: Opener,
) -> None:
    page = open_page()
    scenario(page, "six_joint_arm")
    data = study_of(page)
    point = solve(load_study(json.dumps(data))).tool_points[0]
    totals = page.locator("#totals")
    expect(totals).to_contain_text(f"repeats within ±{point.repeatability_um:.3g} µm")
    field = page.get_by_label("Tool-point repeatability target").first
    field.fill("32")
    field.press("Enter")
    answered(page)
    asked = study_of(page)
    assert asked["robots"][0]["tool_point_repeatability_target_um"] == 32
    answer = solve(load_study(json.dumps(asked)))
    expect(totals).to_contain_text("of 32 µm")
    first = answer.rings[0]
    ring = page.locator("#ring")
    expect(ring.locator(".facts")).to_contain_text("Repeats within")
    expect(ring.locator(".facts")).to_contain_text(f"±{first.repeatability_arcsec:.3g}")
    words = ring.locator(".budget")
    expect(words).to_contain_text("Repeatability, on the same basis")
    expect(words).to_contain_text(f"±{first.repeatability_arcsec:.4g} arcsec about their mean")
    for term in ("noise", "displayed step", "bearing shift", "stray field", "wobble"):
        expect(words.locator("p").last).to_contain_text(term)
    expect(words.locator("p").last).not_to_contain_text("cumulative pitch")
    expect(ring).to_contain_text("repeats within")


def test_a_target_that_no_ring_keeps_is_told_with_its_name(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    data = study_of(page)
    data["target"]["repeatability_target_arcsec"] = 1
    take(page, data)
    answered(page, "impossible")
    expect(page.locator("#reasons")).to_contain_text("repeatability_target_arcsec 1: the best")
