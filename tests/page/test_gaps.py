"""What a study lacks is told by name and marked at once; an answer of another state says so."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import Page, expect

from tests.page.browsing import answered, cell, scenario, take

Opener = Callable[..., Page]
JOINT = {"name": "base", "bore_min_mm": 60, "bore_max_mm": 72, "tip_max_mm": 100}


def test_an_untouched_study_is_told_what_it_needs_but_not_blamed(open_page: Opener) -> None:
    page = open_page()
    expect(page.locator("#verdict-work")).to_have_text(
        "Still needed: joint 1: Name, Bore from, Bore to, Tip limit; Angle target."
    )
    expect(page.locator("#study [aria-invalid]")).to_have_count(0)


def test_only_what_is_missing_or_wrong_is_told_and_marked(open_page: Opener) -> None:
    page = open_page()
    nameless = {name: value for name, value in JOINT.items() if name != "name"}
    joints = [JOINT, nameless | {"bore_min_mm": "abc"}, nameless | {"bore_min_mm": 1e99}]
    take(
        page, {"robots": [{"name": "arm", "joints": joints}], "target": {"angle_target_arcsec": 60}}
    )
    expect(page.locator("#verdict-work")).to_have_text(
        "Still needed: joint 2: Name; joint 3: Name. "
        "Not a number: joint 2: Bore from. Out of range: joint 3: Bore from."
    )
    marked = page.locator("#study [aria-invalid]")
    expect(marked).to_have_count(4)
    expect(cell(page, 1, "bore_min_mm")).to_have_attribute("data-gap", "number")
    expect(cell(page, 2, "bore_min_mm")).to_have_attribute(
        "title", "Bore from: 0 to 5,000 is possible"
    )
    page.uncheck("#by-itself")
    expect(marked).to_have_count(0)
    page.check("#by-itself")
    expect(marked).to_have_count(4)
    for joint, name in ((1, "elbow"), (2, "wrist")):
        cell(page, joint, "name").fill(name)
        cell(page, joint, "name").press("Tab")
        cell(page, joint, "bore_min_mm").fill("61")
        cell(page, joint, "bore_min_mm").press("Tab")
    answered(page)
    expect(marked).to_have_count(0)


def test_a_cell_emptied_after_an_answer_is_marked_and_the_answer_is_an_earlier_one(
    open_page: Opener,
) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    bore = cell(page, 1, "bore_min_mm")
    was = bore.input_value()
    for spoil in ("", "sixty"):  # and after a fault that the API has told, too
        if spoil:
            bore.fill(spoil)
            bore.press("Tab")
            expect(page.locator("#faults")).to_be_visible()
        bore.fill("")
        bore.press("Tab")
        expect(page.locator("#verdict-words")).to_contain_text("Of an earlier state")
        expect(page.locator('#verdict[data-state="earlier"]')).to_be_attached()
        expect(page.locator("#verdict-work")).to_contain_text("Still needed:")
        expect(page.locator("#verdict-work")).to_contain_text("Bore from")
        expect(bore).to_have_attribute("data-gap", "missing")
        expect(page.locator("#faults")).to_be_hidden()
        bore.fill(was)
        bore.press("Tab")
        answered(page)
        expect(page.locator("#verdict-words")).to_have_text(
            "Proven: nothing better exists for the wishes in this order: "
            "Cutters, Ring parts, Heads, Material."
        )
        assert bore.get_attribute("aria-invalid") is None


def test_a_name_used_twice_is_told_and_marked_at_each_place(open_page: Opener) -> None:
    page = open_page()
    joints = [JOINT, JOINT | {"name": "elbow"}, JOINT]
    take(
        page, {"robots": [{"name": "arm", "joints": joints}], "target": {"angle_target_arcsec": 60}}
    )
    expect(page.locator("#faults li")).to_have_text(
        "arm, Joints: each name once, but more than once: base"
    )
    for joint, wrong in ((0, True), (1, False), (2, True)):
        assert (cell(page, joint, "name").get_attribute("aria-invalid") == "true") is wrong
    expect(page.locator("tr.fault")).to_have_count(2)
    cell(page, 2, "name").fill("wrist")
    cell(page, 2, "name").press("Tab")
    answered(page)


def test_faults_have_the_labels_of_the_page(open_page: Opener) -> None:
    page = open_page(locale="de-DE")
    joint = {name: value for name, value in JOINT.items() if name != "bore_min_mm"}
    take(
        page, {"robots": [{"name": "arm", "joints": [joint]}], "target": {"angle_target_arcsec": 6}}
    )
    page.click("#solve")  # what the page would not ask by itself
    expect(page.locator("#faults li")).to_have_text("base, Bohrung ab: bitte ausfüllen")
    expect(page.locator("tr.fault")).to_have_text("Bohrung ab: bitte ausfüllen")
    cell(page, 0, "bore_min_mm").fill("99")
    cell(page, 0, "bore_min_mm").press("Tab")
    expect(page.locator("#faults li").first).to_have_text(
        "base, Bohrung bis: mindestens 99 (Bohrung ab)"
    )


def test_every_limit_says_whether_it_is_a_least_or_a_most(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "six_joint_arm")
    rows = page.locator("#ring .margins tbody tr")
    texts = {
        row.locator("th").inner_text(): row.locator("td").nth(1).inner_text() for row in rows.all()
    }
    assert texts["Head width"] == "≥ 12"
    assert texts["Bore from"] == "≥ 126"
    assert texts["Bore to"] == "≤ 140"
    assert texts["Finest module"] == "≥ 0.8"  # the ring has just that: the name tells
    assert texts["Angle target"] == "≤ 110"
    assert all(text.startswith(("≥ ", "≤ ")) for text in texts.values())


def test_the_tool_point_is_offered_where_it_has_a_target(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "six_joint_arm")
    measure = page.locator("#front-measure")
    tool = measure.locator("option").first
    expect(measure).to_have_value("tool")
    expect(tool).to_be_enabled()
    target = page.locator('[data-pointer="/robots/0/tool_point_target_um"]')
    was = target.input_value()
    target.fill("")
    target.press("Tab")
    expect(tool).to_be_disabled()
    expect(tool).to_have_text("below: tool-point error (needs a tool-point target)")
    expect(measure).to_have_value("error")
    target.fill(was)
    target.press("Tab")
    expect(measure).to_have_value("tool")


def test_a_single_answer_trades_nothing(open_page: Opener) -> None:
    page = open_page()
    take(
        page,
        {
            "robots": [{"name": "arm", "joints": [JOINT]}],
            "target": {"angle_target_arcsec": 90},
            "shop": {"modules": [1]},
            "head": {"module_max_mm": 1},
        },
    )
    answered(page)
    page.click("#front-go")
    expect(page.locator("#front-said")).to_contain_text("1 point; none is missing")
    page.locator("#front-list tbody tr").hover()
    expect(page.locator("#front-step")).to_contain_text("1: the only answer that counts")


def test_keys_stay_at_the_verdict_when_a_relief_is_pressed(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "impossible_wrist", "impossible")
    expect(page.locator("#why-said")).to_contain_text("In each set, relax any one of these limits.")
    relief = page.locator("#why-said .relief").first
    expect(relief.locator("xpath=..")).to_contain_text("changes limits by")
    relief.focus()
    page.keyboard.press("Enter")
    answered(page)
    assert page.evaluate("document.activeElement.id") == "verdict"


def test_no_figure_is_half_below_the_names_of_a_narrow_table(open_page: Opener) -> None:
    page = open_page(viewport={"width": 390, "height": 844})
    scenario(page, "six_joint_arm")
    for joint, name in ((1, "shoulder lift"), (0, "shoulder pan")):
        cell(page, joint, "name").fill(name)
        cell(page, joint, "name").press("Enter")
        cut = cell(page, joint, "name").evaluate("node => node.scrollWidth - node.clientWidth")
        assert cut <= 0, name
    box = page.locator(".robot > .scroll")
    stops = set()
    for asked in (0, 40, 90, 150, 210, 9999):
        box.evaluate("(node, left) => { node.scrollLeft = left; }", asked)
        page.wait_for_timeout(300)  # the browser moves on to where a column begins
        half = page.locator("tr.joint").first.evaluate(
            """row => {
              const edge = row.cells[0].getBoundingClientRect().right;
              return [...row.cells].slice(1).map(cell => cell.getBoundingClientRect())
                .filter(box => box.left < edge - 1 && box.right > edge + 1).length;
            }"""
        )
        assert half == 0, asked
        stops.add(round(box.evaluate("node => node.scrollLeft")))
    assert len(stops) >= 4
    colour = page.locator("tr.joint th").first.evaluate("n => getComputedStyle(n).backgroundColor")
    assert colour.startswith("rgb(")  # not rgba: nothing shows through
