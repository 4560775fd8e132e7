"""How fast the page is: first view, redraw after a knob is turned, frames with a hundred joints.

    python -m tests.bench.bench_page

Needs Chromium and the extra `test-all`. Times are those of the browser on loopback, medians of several runs.
"""

from __future__ import annotations

import json
import statistics
import tempfile
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.api.running import Running
from tests.page.browsing import CHROMIUM, answered, scenario, take

RUNS = 7
#: Marks when an answer has arrived, and when the frame that shows it has been painted.
WATCH = """() => {
  window.redraws = [];
  const before = window.fetch;
  window.fetch = async (...given) => {
    const response = await before(...given);
    const asked = String(given[0]).startsWith("/v1/studies");
    if (asked) window.arrived = performance.now();
    return response;
  };
  const seen = new MutationObserver(() => {
    const arrived = window.arrived;
    requestAnimationFrame(() => setTimeout(() => redraws.push(performance.now() - arrived)));
  });
  seen.observe(document.getElementById("totals"), {childList: true});
}"""
FRAMES = """seconds => new Promise(done => {
  const gaps = []; let last = performance.now(); const ends = last + 1000 * seconds;
  const step = now => {
    gaps.push(now - last); last = now;
    window.scrollBy(0, 25);
    if (now < ends) requestAnimationFrame(step); else done(gaps);
  };
  requestAnimationFrame(step);
})"""


def first_view(browser: Browser, home: str) -> tuple[float, float]:
    """Return ms until the empty page is ready, and kB transferred, with nothing cached."""
    context = browser.new_context()
    page = context.new_page()
    page.goto(home)
    expect(page.locator("html[data-ready]")).to_be_attached()
    ready: float = page.evaluate("performance.getEntriesByName('ringset-ready')[0].startTime")
    size: float = page.evaluate(
        """[...performance.getEntriesByType("resource"), ...performance.getEntriesByType("navigation")]
           .reduce((sum, one) => sum + one.transferSize, 0)"""
    )
    context.close()
    return ready, size / 1000.0


def redraw(page: Page) -> list[float]:
    """Return ms from the answer's arrival to the painted frame, for turns of a knob."""
    scenario(page, "six_joint_arm")
    page.evaluate(WATCH)
    found = []
    for target in (120, 100, 95, 105, 115, 98, 112):
        page.locator("#targets input[type=text]").first.fill(str(target))
        page.keyboard.press("Enter")
        expect(page.locator("#totals")).to_contain_text(f"of {target} arcsec", timeout=20_000)
        answered(page)
        page.wait_for_timeout(100)
        found.append(page.evaluate("redraws.at(-1)"))
    return found


def hundred() -> dict[str, Any]:
    """Return a study of a hundred joints on an invented ladder of sizes."""
    joints = [
        {
            "name": f"joint {i + 1}", "bore_min_mm": 30 + i % 10 * 10, "bore_max_mm": 42 + i % 10 * 10,
            "tip_max_mm": 70 + i % 10 * 10,
        }
        for i in range(100)
    ]  # fmt: skip
    return {
        "title": "a hundred joints",
        "robots": [{"name": "line", "joints": joints}],
        "shop": {"modules": [1]},
        "target": {"angle_target_arcsec": 200},
    }


def many(page: Page) -> tuple[list[float], list[float]]:
    """Return frame times while a page of a hundred joints scrolls, and ms a typed value takes to show."""
    take(page, hundred())
    page.click("#solve")
    answered(page)
    frames = page.evaluate(FRAMES, 3)
    page.evaluate("window.scrollTo(0, 0)")
    edits = page.evaluate(
        """() => [3, 40, 77, 12, 55, 90, 21].map((row, turn) => {
          const node = document.querySelector(
            `[data-pointer="/robots/0/joints/${row}/tip_max_mm"]`);
          const began = performance.now();
          node.value = String(150 + turn);
          node.dispatchEvent(new Event("change"));
          document.body.getBoundingClientRect();
          return performance.now() - began;
        })"""
    )
    return frames, edits


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        service = Running(f"sqlite:///{Path(folder) / 'ringset.db'}").ready()
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        views = [first_view(browser, service.url) for _ in range(RUNS)]
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(service.url)
        expect(page.locator("html[data-ready]")).to_be_attached()
        redraws = redraw(page)
        frames, edits = many(page)
        found = {
            "first view ms": statistics.median(ready for ready, _ in views),
            "transferred kB": max(size for _, size in views),
            "redraw ms, six joints, median": statistics.median(redraws),
            "redraw ms, six joints, worst": max(redraws),
            "frame ms, 100 joints, median": statistics.median(frames),
            "frame ms, 100 joints, 95 %": sorted(frames)[int(0.95 * len(frames))],
            "edit ms, 100 joints, median": statistics.median(edits),
            "edit ms, 100 joints, worst": max(edits),
        }
        print(json.dumps({name: round(value, 1) for name, value in found.items()}, indent=1))
        browser.close()
        service.stop()


if __name__ == "__main__":
    main()
