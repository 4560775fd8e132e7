"""What the page draws and marks: teeth, points over their counts, numbers of points, equal rings."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.page.browsing import (
    ANSWER_MS,
    answered,
    arm_with_three_points,
    cell,
    scenario,
    study_of,
)  # fmt: skip

Opener = Callable[..., Page]


def test_the_strip_draws_as_many_teeth_as_the_ring_has(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "six_joint_arm")
    drawn: list[float] = page.eval_on_selector_all(
        "#arm path.teeth",
        """paths => paths.map(path => {
          const dashes = path.getAttribute("stroke-dasharray").split(" ").map(Number);
          const period = dashes.reduce((a, b) => a + b) / path.getAttribute("pathLength");
          return 2 / period;  // of the whole circle, half of which is drawn
        })""",
    )
    words: list[str] = page.locator("#arm .part small").all_inner_texts()
    teeth = [int(text.split("×")[1]) for text in words]
    assert drawn == pytest.approx(teeth)


def crafted(counts: list[int], number: int = 0) -> list[dict[str, Any]]:
    """Return points as events tell them, one for each count of ring parts; `number` tells fronts apart."""
    return [
        {
            "totals": {
                "cutters": 1 + k % 3, "ring_parts": count, "heads": 9 + k + number,
                "material_kg": 9.0 - 0.1 * k, "cost": None,
            },
            "target_arcsec": 100, "tool_points": {}, "largest_error_arcsec": 40.0 + k,
        }
        for k, count in enumerate(counts)
    ]  # fmt: skip


#: Shows points in the page's own panel and returns what it has drawn.
SHOW = """async ([points, pick, later]) => {
  const { Front } = await import("/page/analysis/front.js");
  let chosen = null;
  const front = new Front((study, point) => { chosen = point; }, () => {});
  const study = {robots: [], target: {angle_target_arcsec: 100}, wishes: {}};
  const job = {study, options: {}, points, open: true};
  front.show(job, study, false);
  const plot = document.querySelector("#front-plots svg.plot:last-child") ??
    document.querySelector("#front-plots svg.plot");
  const places = [...plot.querySelectorAll("g.point")].map(node =>
    Number(/translate\\(([-\\d.]+)/.exec(node.getAttribute("transform"))[1]));
  const ticks = [...plot.querySelectorAll("text[text-anchor=middle]:not(.axis-name)")].map(node =>
    [Number(node.textContent), Number(node.getAttribute("x"))]);
  if (pick === undefined || pick === null) return {places, ticks};
  front.pick(pick);
  const before = front.numberOf(chosen);
  job.points = later;
  front.show(job, study, false);
  const after = front.numberOf(chosen);
  front.show({...job, points: later}, study, false);
  return {before, after, elsewhere: front.numberOf(chosen)};
}"""


def test_every_point_of_a_front_stands_nearest_its_own_count(open_page: Opener) -> None:
    page = open_page()
    counts = [3 + k // 6 for k in range(61)]  # 61 points over eleven counts
    shown = page.evaluate(SHOW, [crafted(counts), None, []])
    (first, x), (other, further) = shown["ticks"][0], shown["ticks"][1]
    unit = (further - x) / (other - first)
    nearest = [round(first + (place - x) / unit) for place in shown["places"]]
    ordered = sorted(crafted(counts), key=lambda one: list(one["totals"].values())[:4])
    assert nearest == [one["totals"]["ring_parts"] for one in ordered]
    assert len(set(shown["places"])) == len(shown["places"])
    assert math.isfinite(unit)


def test_a_point_is_called_by_the_number_that_it_has_now(open_page: Opener) -> None:
    page = open_page()
    told = crafted([5, 6, 7])
    more = crafted([3, 4], number=50)
    # told in the order of cutters: those found later stand before it
    told_numbers = page.evaluate(SHOW, [told, 1, [*told, *more]])
    ordered = sorted([*told, *more], key=lambda one: list(one["totals"].values())[:4])
    picked = sorted(told, key=lambda one: list(one["totals"].values())[:4])[1]
    assert told_numbers["before"] == 2
    assert told_numbers["after"] == ordered.index(picked) + 1 != 2
    assert told_numbers["elsewhere"] == 0  # another front has other points


def test_a_point_of_an_earlier_front_bears_no_number(open_page: Opener) -> None:
    page = open_page()
    arm_with_three_points(page)
    page.click("#front-go")
    expect(page.locator("#front-said")).to_contain_text("none is missing", timeout=ANSWER_MS)
    page.locator("#front-list [data-pick='2']").click()
    verdict = page.locator("#verdict-words")
    expect(verdict).to_contain_text("Point 3 of the trade-off.", timeout=ANSWER_MS)
    page.click("#keep")
    expect(page.locator("#kept")).to_contain_text("point 3")
    page.locator("#front-targets").fill("90")
    page.click("#front-go")
    expect(verdict).not_to_contain_text("Point 3")
    expect(verdict).to_contain_text("A point of an earlier trade-off.")


def test_the_same_ring_is_not_marked_as_another(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    page.click("#keep")
    target = study_of(page)["target"]["angle_target_arcsec"]
    other = cell(page, 0, "angle_target_arcsec")
    other.fill(str(target + 1))
    other.press("Tab")
    expect(page.locator("#verdict-work")).to_contain_text("Answered in", timeout=ANSWER_MS)
    expect(page.locator("#verdict")).not_to_have_class("stale")
    page.click("#keep")
    rings = page.locator("#comparison table", has_text="≠").last
    expect(rings).to_contain_text("same ring; other target", timeout=ANSWER_MS)
    assert "≠" not in "".join(rings.locator("td").all_inner_texts())


def test_names_without_letters_are_told_and_the_other_files_are_made(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    name = cell(page, 0, "name")
    name.fill("关节")
    name.press("Tab")
    answered(page)
    page.click("#make-sheets")
    made = page.locator("#sheets")
    expect(made).to_contain_text("/robots/0/joints/0/name", timeout=ANSWER_MS)
    made.get_by_role("button", name="Make the files without drawings").click()
    expect(made.locator("a", has_text="order.csv")).to_be_visible(timeout=ANSWER_MS)
    assert "pdf" not in made.inner_text()
