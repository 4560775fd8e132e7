"""From an empty page to a downloaded sheet, by keyboard; pasting, undoing, saving, opening."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from ringset import (
    CertifiedAnswer,
    judge_answer,
    load_answer,
    load_model,
    load_study,
    verify_certificate,
)
from tests.page.browsing import ANSWER_MS, answered, cell, scenario, study_of
from tests.support.places import ROOT

Opener = Callable[..., Page]
ROWS = [
    ("base", "126", "140", "172", "920"),
    ("elbow", "84", "96", "124", "510"),
    ("wrist", "50", "60", "88", "120"),
]


def paste(page: Page, text: str) -> None:
    """Paste text as a spreadsheet would leave it on the clipboard, where the focus is."""
    page.evaluate(
        """text => {
          const data = new DataTransfer();
          data.setData("text/plain", text);
          document.activeElement.dispatchEvent(
            new ClipboardEvent("paste", {clipboardData: data, bubbles: true, cancelable: true}));
        }""",
        text,
    )


def test_from_an_empty_page_to_a_sheet_by_keyboard(open_page: Opener, tmp_path: Path) -> None:
    """Three joints typed in are answered; sheets, archive and answer are files; the judge finds no fault."""
    page = open_page(accept_downloads=True)
    expect(page.locator("#verdict-words")).to_have_text("No rings yet.")
    cell(page, 0, "name").focus()
    for number, row in enumerate(ROWS):
        for text in row:
            page.keyboard.type(text)
            page.keyboard.press("Tab")
        cell(page, number, "name").focus()
        if number < len(ROWS) - 1:
            page.keyboard.press("End")
            page.keyboard.press("Enter")  # below the last joint: a new one
    target = page.locator("#targets input[type=text]").first
    target.fill("110")
    target.press("Enter")
    answered(page)
    expect(page.locator("#arm .joint")).to_have_count(3)
    expect(page.locator("#ring h3")).to_contain_text("base")
    expect(page.locator("#ring .face svg.whole path.steel")).to_be_attached()
    expect(page.locator("#ring .budget .matters")).to_have_count(3)
    expect(page.locator("#ring .advice tbody tr").first).to_be_visible()
    wrist = page.locator("#arm .joint").nth(2)
    wrist.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#ring h3")).to_contain_text("wrist")
    page.click("#make-sheets")
    link = page.locator("#sheets a", has_text="R1.pdf")
    expect(link).to_be_visible(timeout=ANSWER_MS)
    with page.expect_download() as coming:
        link.click()
    saved = tmp_path / "sheet.pdf"
    coming.value.save_as(saved)
    assert coming.value.suggested_filename == "R1.pdf"
    assert saved.read_bytes().startswith(b"%PDF-")
    with page.expect_download() as coming:
        page.locator("#sheets a", has_text="archive").click()
    assert coming.value.suggested_filename == "all.zip"
    with page.expect_download() as coming:
        page.locator("[data-file='files.answer']").click()
    answer = load_answer(Path(coming.value.path()).read_bytes())
    assert judge_answer(load_study(json.dumps(study_of(page))), answer) == []


def test_the_certificate_is_taken_away_and_holds(open_page: Opener) -> None:
    """The file is one that `ringset judge` checks, with every digit of its long whole numbers."""
    page = open_page(accept_downloads=True)
    scenario(page, "two_joint_table")
    with page.expect_download() as coming:
        page.locator("[data-file='files.certificate']").click()
    assert coming.value.suggested_filename.endswith(".certified.json")
    made = load_model(CertifiedAnswer, Path(coming.value.path()).read_bytes())
    assert made.certificate is not None
    asked = load_study(json.dumps(study_of(page)))
    assert verify_certificate(asked, made.answer, made.certificate).complete


def test_a_spreadsheet_is_pasted_with_and_without_heads(open_page: Opener) -> None:
    page = open_page()
    cell(page, 0, "name").focus()
    paste(page, "\n".join("\t".join(row) for row in ROWS) + "\n")
    joints = study_of(page)["robots"][0]["joints"]
    assert [joint["name"] for joint in joints] == ["base", "elbow", "wrist"]
    assert joints[1] == {
        "name": "elbow", "bore_min_mm": 84, "bore_max_mm": 96, "tip_max_mm": 124, "reach_mm": 510,
    }  # fmt: skip
    cell(page, 1, "tip_max_mm").focus()
    paste(page, "130,5\n90.25")  # a block fills from where it is pasted, decimals either way
    assert [j["tip_max_mm"] for j in study_of(page)["robots"][0]["joints"]] == [172, 130.5, 90.25]
    cell(page, 0, "name").focus()
    paste(page, "Tip limit (mm)\tname\tseat_fit\n180\tbase\tH7/g6\n131\telbow\t\n")
    joints = study_of(page)["robots"][0]["joints"]
    assert joints[0] | {"tip_max_mm": 180, "seat_fit": "H7/g6"} == joints[0]
    assert "seat_fit" not in joints[1]
    expect(cell(page, 0, "seat_fit")).to_have_value("H7/g6")  # its column has come
    cell(page, 0, "name").focus()
    page.keyboard.press("Control+z")
    assert study_of(page)["robots"][0]["joints"][0]["tip_max_mm"] == 172
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+z")
    assert study_of(page)["robots"][0]["joints"] == [{}]
    page.keyboard.press("Control+y")
    assert len(study_of(page)["robots"][0]["joints"]) == 3


HEADS = {
    "Joint\tBore from\tBore to\tTip limit\tTarget": "",
    "Axis\tmin bore [mm]\tmax bore [mm]\tTip (mm)\tAngle target (arcsec)": "",
    "joint name\tbore_min_mm\tbore_max_mm\ttip_max_mm\tangle_target_arcsec": "",
    "Gelenk\tBohrung ab\tBohrung bis\tKopfkreis\tZiel": "",
    "Achse\tBohrung von\tBohrung bis\tKopfkreis bis\tWinkelziel (Bogensek.)": "",
    "Name\tBore from\tBore to\tTip limit\tMotor": "“Motor”",
    "Axis\tBore from\tBore to\tTip limit\tTarget (deg)": "“Target (deg)”",
}


@pytest.mark.cases(fast=0, slow=3)
@pytest.mark.parametrize("head", HEADS)
def test_headings_of_a_spreadsheet_are_read_or_told(open_page: Opener, head: str) -> None:
    page = open_page()
    cell(page, 0, "name").focus()
    paste(page, f"{head}\nbase\t126\t140\t172\t80\nelbow\t84\t96\t124\t90\n")
    given = study_of(page)["robots"][0]["joints"]
    known: dict[str, object] = {"bore_min_mm": 84, "bore_max_mm": 96, "tip_max_mm": 124}
    target = {} if HEADS[head] else {"angle_target_arcsec": 90}
    assert given[1] == {"name": "elbow", **known, **target}
    assert [joint["name"] for joint in given] == ["base", "elbow"]
    said = page.locator(".pasted")
    expect(said).to_contain_text("2 rows pasted.")
    if HEADS[head]:
        expect(said).to_contain_text(f"Not read: {HEADS[head]};")
    else:
        expect(said).to_have_text("2 rows pasted.")
    cell(page, 0, "bore_max_mm").fill("139")
    cell(page, 0, "bore_max_mm").press("Tab")
    expect(said).to_be_empty()  # it told of that paste alone


def test_headings_that_name_no_field_are_no_joint(open_page: Opener) -> None:
    page = open_page()
    cell(page, 0, "name").focus()
    paste(page, "Alpha\tBeta\tGamma\nbase\t126\t140\n")
    joint = {"name": "base", "bore_min_mm": 126, "bore_max_mm": 140}
    assert study_of(page)["robots"][0]["joints"] == [joint]
    expect(page.locator(".pasted")).to_contain_text("columns were filled in their order")
    paste(page, "base\t126\t140\t172\t920\t20\t80\t7\n")
    expect(page.locator(".pasted")).to_contain_text("1 column beyond the last was not read.")


def test_arrows_move_through_the_table(open_page: Opener) -> None:
    page = open_page()
    scenario(page, "six_joint_arm")
    cell(page, 0, "name").focus()
    where = "document.activeElement.dataset.pointer"
    page.keyboard.press("ArrowDown")
    assert page.evaluate(where) == "/robots/0/joints/1/name"
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert page.evaluate(where) == "/robots/0/joints/1/bore_max_mm"
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Tab")
    assert page.evaluate(where) == "/robots/0/joints/0/tip_max_mm"
    page.keyboard.type("175")
    page.keyboard.press("Enter")
    assert page.evaluate(where) == "/robots/0/joints/1/tip_max_mm"
    assert study_of(page)["robots"][0]["joints"][0]["tip_max_mm"] == 175
    page.keyboard.press("Alt+ArrowUp")
    assert study_of(page)["robots"][0]["joints"][0]["name"] == "shoulder"
    page.keyboard.type("9")
    page.keyboard.press("Escape")
    assert study_of(page)["robots"][0]["joints"][0]["tip_max_mm"] == 166


def test_a_study_is_saved_and_opened_again(open_page: Opener, tmp_path: Path) -> None:
    page = open_page(accept_downloads=True)
    scenario(page, "priced_arm")
    with page.expect_download() as coming:
        page.click("#save")
    coming.value.save_as(tmp_path / "study.json")
    saved = json.loads((tmp_path / "study.json").read_text())
    assert saved == json.loads((ROOT / "scenarios" / "priced_arm.json").read_text())
    page.click("#new")
    expect(page.locator("#arm .joint")).to_have_count(1)
    page.set_input_files("#file", tmp_path / "study.json")
    answered(page)
    assert study_of(page) == saved
    (tmp_path / "bad.json").write_text("[1, 2")
    page.set_input_files("#file", tmp_path / "bad.json")
    expect(page.locator("#open-said")).to_contain_text("bad.json holds no study")
    assert study_of(page) == saved
    page.reload()  # the study is kept for this tab
    answered(page)
    assert study_of(page) == saved


def test_two_answers_stand_side_by_side(open_page: Opener) -> None:
    page = open_page(accept_downloads=True)
    scenario(page, "two_joint_table")
    page.click("#keep")
    scenario(page, "finer_table")
    page.click("#keep")
    expect(page.locator("#comparison")).to_contain_text("angle target 40 instead of 60 arcsec")
    expect(page.locator("#comparison table").first).to_contain_text("+0.315")
    with page.expect_download() as coming:
        page.locator("[data-file='files.comparison']").click()
    assert len(json.loads(Path(coming.value.path()).read_text())["answers"]) == 2


def test_numbers_are_the_readers_on_screen_and_plain_in_files(open_page: Opener) -> None:
    page = open_page(locale="de-DE", accept_downloads=True)
    expect(page.locator("#study-head")).to_have_text("Der Roboter")
    page.select_option("#scenario", "six_joint_arm")
    expect(page.locator("#totals")).to_contain_text("0,6625", timeout=ANSWER_MS)
    cell(page, 0, "bore_min_mm").fill("126,5")
    cell(page, 0, "bore_min_mm").press("Enter")
    assert study_of(page)["robots"][0]["joints"][0]["bore_min_mm"] == 126.5
    with page.expect_download() as coming:
        page.locator("[data-file='files.joints']").click()
    lines = Path(coming.value.path()).read_text().splitlines()
    assert lines[0].startswith("robot,joint,ring_part")
    assert all(len(line.split(",")) == len(lines[0].split(",")) for line in lines)
    assert "0.8" in lines[1].split(",")
