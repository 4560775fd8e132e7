"""Part numbers on the page: a prefix, an earlier answer whose numbers are kept, and where they show."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from ringset import CertifiedAnswer, judge_answer, load_answer, load_model, load_study, solve
from tests.page.browsing import ANSWER_MS, answered, cell, scenario, study_of, take
from tests.support.places import ROOT

Opener = Callable[..., Page]
TABLE = json.loads((ROOT / "scenarios" / "two_joint_table.json").read_text())


def revision(prefix: str = "") -> dict[str, Any]:
    """Return the table with a third joint, whose ring is the smallest."""
    data: dict[str, Any] = json.loads(json.dumps(TABLE))
    small = {"name": "small", "bore_min_mm": 30, "bore_max_mm": 40, "tip_max_mm": 62}
    small["angle_target_arcsec"] = 200
    data["robots"][0]["joints"].append(small)
    data["title"] = f"Revision {prefix}"
    if prefix:
        data["shop"]["part_prefix"] = prefix
    return data


@pytest.fixture(scope="module")
def earlier(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the file of an earlier answer, whose only ring part is R1."""
    file = tmp_path_factory.mktemp("earlier") / "first.json"
    file.write_text(solve(load_study(json.dumps(TABLE))).to_json())
    return file


def named(page: Page, *names: str) -> None:
    """Wait until these are the part numbers of all joints, as they stand below their rings."""
    expect(page.locator("#arm .joint .part .id")).to_have_text(names, timeout=ANSWER_MS)


def choose(page: Page, file: Path | str) -> None:
    """Choose a file as the earlier answer, as a reader does."""
    with page.expect_file_chooser() as coming:
        page.click("#previous-open")
    coming.value.set_files(file)


def test_an_earlier_answer_is_chosen_and_its_numbers_are_kept(
    open_page: Opener, earlier: Path
) -> None:
    """In the rings, in files, in drawings and in the certificate; and taken back by one button."""
    page = open_page(accept_downloads=True)
    take(page, revision())
    answered(page)
    named(page, "R2", "R2", "R1")
    title = page.locator("#ring h3")
    expect(title).to_contain_text("R2")
    choose(page, earlier)
    said = page.locator("#previous-said")
    expect(said).to_contain_text("Rings keep their part numbers from first.json.")
    expect(said).to_contain_text("Kept: R1. New: R2. Given up so far: none.", timeout=ANSWER_MS)
    named(page, "R1", "R1", "R2")
    expect(title).to_contain_text("R1")
    with page.expect_download() as coming:
        page.locator("[data-file='files.answer']").click()
    study, before = load_study(json.dumps(study_of(page))), load_answer(earlier.read_bytes())
    answer = load_answer(Path(coming.value.path()).read_bytes())
    assert judge_answer(study, answer, before) == []
    with page.expect_download() as coming:
        page.locator("[data-file='files.certificate']").click()
    made = load_model(CertifiedAnswer, Path(coming.value.path()).read_bytes())
    assert made.answer == answer
    page.click("#make-sheets")
    link = page.locator("#sheets a", has_text="R2.svg")
    expect(link).to_be_visible(timeout=ANSWER_MS)
    with page.expect_download() as coming:
        link.click()
    small = next(part for part in answer.ring_parts if part.id == "R2")
    assert f"{small.teeth} teeth" in Path(coming.value.path()).read_text()
    page.click("#previous-drop")
    expect(said).to_be_empty()
    named(page, "R2", "R2", "R1")
    expect(page.locator("#sheets")).to_contain_text("the drawings made before are not theirs")


def test_it_stays_for_the_tab_and_leaves_with_its_study(open_page: Opener, earlier: Path) -> None:
    """A change and a page loaded anew keep it; another study is none of its revisions."""
    page = open_page()
    take(page, revision("RX-"))
    answered(page)
    choose(page, earlier)
    said = page.locator("#previous-said")
    expect(said).to_contain_text("Kept: R1. New: RX-2.", timeout=ANSWER_MS)
    cell(page, 2, "tip_max_mm").fill("70")
    cell(page, 2, "tip_max_mm").press("Tab")
    answered(page)
    named(page, "R1", "R1", "RX-2")
    page.reload()
    expect(page.locator("html[data-ready]")).to_be_attached()
    answered(page)
    expect(said).to_contain_text("Kept: R1. New: RX-2.")
    scenario(page, "finer_table")
    expect(said).to_be_empty()
    named(page, "R1", "R1")


def test_what_is_no_answer_or_clashes_is_told(
    open_page: Opener, earlier: Path, tmp_path: Path
) -> None:
    page = open_page()
    scenario(page, "two_joint_table")
    said, faults = page.locator("#previous-said"), page.locator("#faults")
    for name, text in (
        ("study.json", json.dumps(TABLE)),
        ("none.json", "{"),
        ("null.json", "null"),
    ):
        (tmp_path / name).write_text(text)
        choose(page, tmp_path / name)
        expect(said).to_have_text(
            f"{name} is no answer with rings as it is saved here or by the command."
        )
    named(page, "R1", "R1")
    wrong = json.loads(earlier.read_text())
    wrong["ring_parts"][0]["id"] = "../R1"
    (tmp_path / "wrong.json").write_text(json.dumps(wrong))
    choose(page, tmp_path / "wrong.json")
    expect(faults).to_contain_text("Earlier answer, ring_parts, 0, id")
    expect(faults).to_contain_text("a prefix and a number from 1")
    page.click("#previous-drop")
    answered(page)
    expect(faults).to_be_hidden()
    choose(page, earlier)  # with it, faults of the study still lead to their fields
    expect(said).to_contain_text("Kept: R1.", timeout=ANSWER_MS)
    target = page.locator('[data-pointer="/target/angle_target_arcsec"]')
    target.fill("-1")
    target.press("Enter")
    expect(target).to_have_attribute("aria-invalid", "true")
    expect(faults).to_contain_text("1 field has to be put right.")


def test_a_prefix_is_typed_and_numbers_stand_as_they_are_in_german(
    open_page: Opener, earlier: Path
) -> None:
    """A point in a part number is no decimal sign, whatever the reader's language."""
    page = open_page(locale="de-DE")
    take(page, revision())
    named(page, "R2", "R2", "R1")
    page.evaluate("document.getElementById('shop-fields').closest('details').open = true")
    prefix = page.locator('[data-pointer="/shop/part_prefix"]')
    expect(page.locator("#shop-fields")).to_contain_text("Vorsatz der Teilenummern")
    for wrong, words in (
        ("äb-", "höchstens 24 Buchstaben"), ("A9", "keine Ziffer"),
        ("12.", "damit wären Teilenummern als Zahlen zu lesen"),
    ):  # fmt: skip
        prefix.fill(wrong)
        prefix.press("Enter")
        expect(page.locator("#faults")).to_contain_text(words)
        assert page.locator("#faults [lang]").count() == 0
    prefix.fill("A1.5-")
    prefix.press("Enter")
    named(page, "A1.5-2", "A1.5-2", "A1.5-1")
    assert study_of(page)["shop"]["part_prefix"] == "A1.5-"
    expect(page.locator("#ring h3")).to_contain_text("A1.5-2")
    choose(page, earlier)
    expect(page.locator("#previous-said")).to_contain_text(
        "Behalten: R1. Neu: A1.5-2. Bisher aufgegeben: keine.", timeout=ANSWER_MS
    )
    named(page, "R1", "R1", "A1.5-2")


@pytest.mark.parametrize("width", [1280, 400])
def test_a_long_part_number_stands_whole_and_in_its_place(open_page: Opener, width: int) -> None:
    """It is wrapped and not cut, and nothing of it lies on the next ring."""
    page = open_page(viewport={"width": width, "height": 900})
    prefix = "ROBOT-7_TARGET.RING-ACME"
    take(page, revision(prefix))
    answered(page)
    named(page, f"{prefix}2", f"{prefix}2", f"{prefix}1")
    boxes = page.evaluate(
        """() => [...document.querySelectorAll("#arm .joint")].map((joint) => {
          const [whole, id] = [joint, joint.querySelector(".id")].map((one) => one.getBoundingClientRect());
          const cut = joint.querySelector(".id").scrollWidth > Math.ceil(id.width) + 1;
          return [whole.left, id.left, id.right, whole.right, cut];
        })"""
    )
    for left, start, end, right, cut in boxes:
        assert left - 1 <= start < end <= right + 1
        assert not cut


def test_grounds_name_the_part_as_the_answer_does(open_page: Opener, tmp_path: Path) -> None:
    """Of an answer whose numbers are not those of its sizes."""
    page = open_page()
    text = (ROOT / "scenarios" / "six_joint_arm.json").read_text()
    answer = solve(load_study(text)).to_json()
    for number in (4, 3, 2, 1):
        answer = answer.replace(f'"R{number}"', f'"OLD-{50 - number}"')
    (tmp_path / "old.json").write_text(answer)
    scenario(page, "six_joint_arm")
    choose(page, tmp_path / "old.json")
    expect(page.locator("#previous-said")).to_contain_text("Kept: OLD-46", timeout=ANSWER_MS)
    flange = page.locator("#arm .joint", has_text="flange")
    flange.click()
    expect(page.locator("#ring h3")).to_contain_text("OLD-49")
    grounds = page.locator("#ring .otherwise[aria-busy]")
    expect(grounds).to_have_count(0, timeout=ANSWER_MS)
    expect(page.locator("#ring .otherwise")).to_contain_text("OLD-")
