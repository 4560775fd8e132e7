"""For everyone: axe finds nothing serious, nothing overflows, nothing jumps, hostile names stay text."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.page.browsing import ANSWER_MS, answered, scenario, study_of, take
from tests.support.places import ROOT

Opener = Callable[..., Page]
AXE = (ROOT / "tests" / "page" / "axe" / "axe.min.js").read_text()
LOOKS: dict[str, dict[str, Any]] = {
    "light": {},
    "dark": {"color_scheme": "dark", "locale": "de-DE"},
    "narrow": {"viewport": {"width": 390, "height": 844}},
    "narrow German": {"viewport": {"width": 390, "height": 844}, "locale": "de-DE"},
}
HOSTILE = [
    "<img src=x onerror=alert(1)>",
    "</script><script>alert(2)</script>",
    '"><svg onload=alert(3)>',
    "{{constructor.constructor('alert(4)')()}}",
    "javascript:alert(5)",
    "\u202ereversed \u2603",
]


def serious(page: Page) -> list[str]:
    """Return what axe-core finds serious or critical, with where."""
    page.evaluate(AXE + "; void 0")
    found: list[str] = page.evaluate(
        """async () => (await axe.run(document)).violations
          .filter(one => ["serious", "critical"].includes(one.impact))
          .flatMap(one => one.nodes.map(node => `${one.id}: ${node.target} ${node.failureSummary}`))"""
    )
    return found


@pytest.mark.cases(fast=0, slow=2)
@pytest.mark.parametrize("look", LOOKS)
def test_axe_finds_nothing_serious(open_page: Opener, look: str) -> None:
    page = open_page(**LOOKS[look])
    assert serious(page) == []
    page.select_option("#scenario", "six_joint_arm")
    expect(page.locator('#verdict[data-state="proven"]')).to_be_attached(timeout=ANSWER_MS)
    expect(page.locator("#ring .advice table")).to_be_visible(timeout=ANSWER_MS)
    page.click("#front-go")
    expect(page.locator("#front-list tbody tr")).to_have_count(2, timeout=ANSWER_MS)
    page.click("#keep")
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    assert serious(page) == []
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= page.viewport_size["width"]  # type: ignore[index]


def test_axe_finds_nothing_serious_where_things_are_wrong(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "impossible_wrist", "impossible")
    expect(page.locator("#why-said .relief").first).to_be_visible(timeout=ANSWER_MS)
    assert serious(page) == []
    study = study_of(page)
    study["robots"][0]["joints"][1]["tip_max_mm"] = "wide"
    take(page, study)
    expect(page.locator("tr.fault")).to_be_visible()
    assert serious(page) == []


def test_nothing_jumps_while_results_arrive(open_page: Opener) -> None:
    """The browser's own layout shifts, but for those after an input, add up to less than 0.02."""
    page = open_page()
    page.evaluate(
        """() => {
          window.shifts = [];
          new PerformanceObserver(list => {
            for (const entry of list.getEntries()) {
              const sources = entry.sources.map(one => one.node?.id || one.node?.className || "");
              shifts.push([entry.value, String(sources), entry.hadRecentInput]);
            }
          }).observe({type: "layout-shift", buffered: false});
        }"""
    )
    scenario(page, "six_joint_arm")
    page.locator("#answer").scroll_into_view_if_needed()
    page.wait_for_timeout(700)  # what follows an input is not counted by the browser
    page.evaluate("shifts.length = 0")
    for text in ("100", "130", "90"):
        page.evaluate(
            """text => {
              const node = document.querySelector("#targets input[type=text]");
              node.value = text;
              node.dispatchEvent(new Event("change"));
            }""",
            text,
        )
        answered_again(page, text)
    page.evaluate("document.getElementById('front-go').click()")
    expect(page.locator("#front-said")).to_contain_text("none is missing", timeout=ANSWER_MS)
    page.wait_for_timeout(200)
    shifts = page.evaluate("shifts")
    assert sum(value for value, _, recent in shifts if not recent) < 0.02, shifts


def answered_again(page: Page, target: str) -> None:
    expect(page.locator("#totals")).to_contain_text(f"of {target} arcsec", timeout=ANSWER_MS)
    answered(page)


def test_hostile_names_stay_text(open_page: Opener) -> None:
    page = open_page(accept_downloads=True)
    joints = [
        {"name": name, "bore_min_mm": 60 + i, "bore_max_mm": 72 + i, "tip_max_mm": 100 + i}
        for i, name in enumerate(HOSTILE)
    ]
    study: dict[str, Any] = {
        "title": HOSTILE[0],
        "robots": [{"name": HOSTILE[1], "joints": joints}],
        "shop": {"modules": [1]},
        "target": {"angle_target_arcsec": 90},
    }
    take(page, study)
    answered(page)
    names = page.locator("#arm .joint .name").all_text_contents()
    assert names == HOSTILE
    for index in range(len(HOSTILE)):
        page.locator("#arm .joint").nth(index).click()
        expect(page.locator("#ring h3")).to_contain_text(HOSTILE[index].strip())
    page.click("#front-go")
    expect(page.locator("#front-said")).to_contain_text("missing", timeout=ANSWER_MS)
    page.click("#keep")
    page.fill("#title", HOSTILE[2])
    page.press("#title", "Enter")
    answered(page)
    page.click("#keep")
    expect(page.locator("#comparison table").first).to_be_visible()
    study["robots"][0]["joints"][0]["tip_max_mm"] = "<b>bold</b>"
    take(page, study)
    expect(page.locator("#faults")).to_be_visible()
    assert page.locator("main img, main script, main b, main [onload], main [onerror]").count() == 0


def test_markup_is_refused_by_the_policy(open_page: Opener) -> None:
    """What a slip in our own code would do: the browser itself says no."""
    page = open_page(expected=("document requires 'Trusted",))
    said = page.evaluate(
        """() => { try { document.body.innerHTML = "<b>x</b>"; return "written"; }
                   catch (error) { return error.name; } }"""
    )
    assert said == "TypeError"
    said = page.evaluate(
        """() => { try { document.body.setAttribute("onclick", "alert(1)"); return "written"; }
                   catch (error) { return error.name; } }"""
    )
    assert said == "TypeError"


def test_print_shows_what_was_stated_and_found(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "six_joint_arm")
    page.emulate_media(media="print")
    for hidden in (".tools", "#solve", "#take", "#front-go"):
        expect(page.locator(hidden)).to_be_hidden()
    for shown in ("#arm", "#totals", ".joints", ".caution", "footer"):
        expect(page.locator(shown).first).to_be_visible()


def test_any_document_that_is_no_study_leaves_the_page_whole(open_page: Opener) -> None:
    page = open_page()
    for part in ("target", "head", "shop", "wishes", "search", "title", "heads", "fixed"):
        for odd in (7, "text", [], None, [[1]]):
            take(page, {"robots": [{"name": "arm", "joints": [{"name": part}]}], part: odd})
    take(page, {"robots": [{"name": {"a": 1}, "joints": [{"name": [HOSTILE[0]]}]}], "target": 5})
    target = page.locator("#targets input[type=text]").first
    target.fill("60")
    target.press("Enter")
    assert study_of(page)["target"] == {"angle_target_arcsec": 60}
    for text in (
        "[]",
        "7",
        '{"robots": {}}',
        '{"robots": [1]}',
        '{"robots": [{"joints": [3]}]}',
        "{",
    ):
        page.fill("#whole", text)
        page.click("#take-whole")
        expect(page.locator("#whole-said")).not_to_be_empty()
    page.click("#new")
    scenario(page, "two_joint_table")
