"""Names in letters beyond Latin: a wider font draws them, or they are refused by name; none is replaced."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ringset import StudyError, load_study, make_sheets, sheet_faults, solve
from ringset.cli.main import main
from ringset.drawing.frame import Release
from ringset.drawing.lettering import (
    lettering_composed,
    lettering_runs,
    lettering_width,
    undrawable_letters,
)
from ringset.drawing.part import drawn_parts
from ringset.drawing.pdf import sheets_as_pdf
from ringset.drawing.ring_sheet import ring_sheet
from ringset.drawing.robot_sheet import robot_sheets
from ringset.drawing.sheet import Sheet
from ringset.drawing.svg import sheet_as_svg
from ringset.schema.study import Study
from tests.support.places import SCENARIOS

SCENARIO = SCENARIOS / "two_joint_table.json"


def named(robot: str, joint: str) -> Study:
    data = json.loads(SCENARIO.read_text())
    data["robots"][0]["name"] = robot
    data["robots"][0]["joints"][0]["name"] = joint
    return load_study(json.dumps(data))


@pytest.mark.parametrize(
    ("name", "lacking"),
    [
        ("arm \U0001f9be", "\U0001f9be"),
        ("\U0001f469\u200d\U0001f527", "\U0001f469\U0001f527"),  # a joined picture
        ("\u2699\ufe0f gear", ""),
        ("\U0001f44d\U0001f3fd", "\U0001f44d\U0001f3fd"),  # a picture with its tint
        ("e\u0301", ""),  # a letter and its accent are one letter
        ("x\u0301", "\u0301"),  # there is no such letter: its accent would be lost
        ("Gelenk ü", ""),
        ("Робот Ж, ζ, Şaft, žč, Հոդ, რობოტი", ""),
        ("\U0001d5a0xis", ""),  # DejaVu Sans has it, its bold does not
        ("机器人", "机器人"),
        ("זרוע", "זרוע"),  # DejaVu holds these letters, but not the way they are written
    ],
)
def test_letters_that_no_font_of_the_sheets_draws_are_known(name: str, lacking: str) -> None:
    assert undrawable_letters(name) == lacking
    for bold in (False, True):
        if lacking:
            with pytest.raises(ValueError, match="no letter"):
                lettering_width(name, 3.0, bold)
        else:
            assert "".join(run.text for run in lettering_runs(name, bold)) == lettering_composed(
                name
            )
            assert lettering_width(name, 3.0, bold) > 0.0


def test_letters_of_a_wider_font_are_in_the_pdf_and_the_svg() -> None:
    """The glyphs that the PDF embeds are those of the letters: widths are as DejaVu states them."""
    sheet = Sheet(100.0, 50.0, "Робот")
    label = sheet.label(5.0, 20.0, "Робот", 3.5)
    assert "Робот" in sheet_as_svg(sheet)
    document = sheets_as_pdf([sheet])
    assert b"DejaVuSans" in document
    assert document == sheets_as_pdf([sheet])
    plain = Sheet(100.0, 50.0, "Robot")
    plain.label(5.0, 20.0, "Robot", 3.5)
    assert b"DejaVuSans" not in sheets_as_pdf([plain])
    # advance widths of DejaVu Sans in 1/2048 em (hmtx table): Р 1235, о 1253, б 1264, о 1253, т 1194
    assert label.width == pytest.approx(
        label.font_size * (1235 + 1253 + 1264 + 1253 + 1194) / 2048, rel=1e-3
    )


def test_names_that_cannot_be_drawn_are_refused_before_anything_is_drawn(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = named("机器人", "arm \U0001f9be")
    answer = solve(study)
    paths = ["robots[0].name", "robots[0].joints[0].name"]
    assert [fault.path for fault in sheet_faults(study)] == paths
    for only in ([], ["rings"], ["robots", "tables"]):
        with pytest.raises(StudyError) as refused:
            make_sheets(study, answer, only)  # type: ignore[arg-type]
        assert [fault.path for fault in refused.value.faults] == paths
    made = make_sheets(study, answer, ["report", "dxf", "tables", "inertial"])
    assert {file.kind for file in made.files} == {"report", "dxf", "tables", "inertial"}
    (tmp_path / "study.json").write_text(study.model_dump_json(exclude_unset=True))
    (tmp_path / "answer.json").write_text(answer.model_dump_json())
    out = tmp_path / "out"
    command = ["sheet", str(tmp_path / "study.json"), str(tmp_path / "answer.json")]
    assert main([*command, "--out", str(out)]) == 2
    told = capsys.readouterr().err
    assert (
        "robots[0].name: given '机器人', whose 机, 器, 人 cannot be drawn; allowed: letters" in told
    )
    assert not out.exists()
    assert main([*command, "--out", str(out), "--only", "tables", "dxf"]) == 0


def test_a_robot_in_cyrillic_letters_has_its_sheets() -> None:
    study = named("Робот", "Локоть")
    made = make_sheets(study, solve(study), ["rings", "robots"])
    assert {file.name.rsplit(".")[-1] for file in made.files} == {"svg", "pdf"}
    assert made.reasons == []


@pytest.mark.parametrize("name", ["a_{1}", "\U0001d5a0xis"])
def test_every_sheet_shows_a_name_as_it_is_written(name: str) -> None:
    """No part of a name becomes a subscript, and a letter without a bold one is drawn all the same."""
    study = named("arm", name)
    answer = solve(study)
    known = drawn_parts(study, answer)
    sheets = [ring_sheet(part, Release()) for part in known]
    sheets += robot_sheets(study.robots[0], answer, known, Release())
    for sheet in sheets:
        drawn = "\n".join(
            "".join(run.text for run in lettering_runs(one.text, one.bold, one.markup))
            for one in sheet.labels()
        )
        assert name in drawn
    assert sheets_as_pdf(sheets).startswith(b"%PDF")
