"""Names of ring parts on sheets and as file names: whole wherever they stand, and by their numbers."""

from __future__ import annotations

from pathlib import Path

import pytest

from ringset.drawing.frame import Release
from ringset.drawing.part import drawn_parts
from ringset.drawing.ring_sheet import ring_sheet
from ringset.drawing.robot_sheet import robot_sheets
from ringset.export.bundle import make_sheets
from ringset.export.folder import _part_stems, export_jobs, write_export_folder
from ringset.export.tables import export_cutter_lines, export_order_lines
from ringset.reporting.answer_text import answer_text
from ringset.schema.answer import Answer
from tests.drawing.cases import answered
from tests.drawing.test_sheets import sound, texts
from tests.support.revisions import renamed

#: As long as a prefix may be: of usual, of narrow and of the widest letters.
PREFIXES = ["ROBOT-7_TARGET.RING-ACME", "i.-_" * 6, "W" * 24, "P-"]


def called(answer: Answer, *prefixes: str, first: int = 1) -> Answer:
    """Return an answer whose parts are called by prefixes in turn and by numbers from `first` on."""
    names = {
        part.id: f"{prefixes[place % len(prefixes)]}{first + place}"
        for place, part in enumerate(answer.ring_parts)
    }
    return renamed(answer, names)


@pytest.mark.cases(fast=2, slow=2)
@pytest.mark.parametrize("prefix", PREFIXES)
def test_long_names_stand_whole_on_every_sheet(prefix: str) -> None:
    """No name is cut, no text lies on another, and nothing is drawn beyond the frame."""
    study, answer = answered("family_three_arms")
    answer = called(answer, prefix, "R", first=999_999_996)
    known = drawn_parts(study, answer)
    for part in known:
        sheet = ring_sheet(part, Release())
        sound(sheet)
        assert part.part.id in texts(sheet)
        assert not [text for text in texts(sheet) if "…" in text]
    for robot in study.robots:
        (sheet,) = robot_sheets(robot, answer, known, Release())
        sound(sheet)
        shown = texts(sheet)
        assert not [text for text in shown if "…" in text]
        mine = {ring.ring_part for ring in answer.rings if ring.robot == robot.name}
        assert mine <= set(shown)  # the order list
        cut = " ".join(text for text in shown if ", " in text or text in mine)
        assert all(name in cut for name in mine)


def test_the_tenth_part_stands_after_the_ninth_in_every_list() -> None:
    study, answer = answered("family_three_arms")
    answer = called(answer, "R", first=7)  # R7 to R12
    names = [part.id for part in answer.ring_parts]
    assert names[2:5] == ["R9", "R10", "R11"]
    known = drawn_parts(study, answer)
    assert [line["ring_part"] for line in export_order_lines(known)] == names
    assert [line["cuts"] for line in export_cutter_lines(answer)] == [", ".join(names)]
    report = answer_text(study, answer, {})
    assert [report.index(f"\n  {name}: ") for name in names] == sorted(
        report.index(f"\n  {name}: ") for name in names
    )
    for robot in study.robots:
        (sheet,) = robot_sheets(robot, answer, known, Release())
        mine = [
            name
            for name in names
            if any(r.ring_part == name and r.robot == robot.name for r in answer.rings)
        ]
        assert ", ".join(mine) in texts(sheet)


@pytest.mark.parametrize(
    ("names", "stems"),
    [
        (["R1", "R10"], ["R1", "R10"]),
        (["RX-1", "a.b_2"], ["RX-1", "a_b_2"]),
        (["COM1", "lpt9", "COM10"], ["ring-COM1", "ring-lpt9", "COM10"]),  # devices elsewhere
        (["robot-1", "Robot-2"], ["ring-robot-1", "ring-Robot-2"]),
        (["ring-robot-1", "robot-1"], ["ring-robot-1", "ring-robot-1_2"]),
        (["a.1", "A_1"], ["a_1", "A_1_2"]),
        (["../R1", "R/2", "…"], ["_R1", "R_2", "_"]),  # which the judge refuses anyway
    ],
)
def test_file_names_of_ring_parts(names: list[str], stems: list[str]) -> None:
    assert _part_stems(names) == stems


def test_a_ring_part_takes_no_file_of_a_robot(tmp_path: Path) -> None:
    """A robot called 1 has the file robot-1.svg, whatever ring parts are called."""
    study, answer = answered("two_joint_table")
    robot = study.robots[0].model_copy(update={"name": "1"})
    study = study.model_copy(update={"robots": [robot]})
    rings = [ring.model_copy(update={"robot": "1"}) for ring in answer.rings]
    points = [point.model_copy(update={"robot": "1"}) for point in answer.tool_points]
    answer = called(answer.model_copy(update={"rings": rings, "tool_points": points}), "robot-")
    work = export_jobs(study, answer, ["rings", "robots"])
    names = [name for job in work for name in job.names]
    assert len({name.lower() for name in names}) == len(names)
    assert set(write_export_folder(work, tmp_path / "out")) == {
        "ring-robot-1.svg", "ring-robot-1.pdf", "robot-1.svg", "robot-1.pdf",
    }  # fmt: skip


def test_sheets_as_data_bear_the_names(tmp_path: Path) -> None:
    study, answer = answered("two_joint_table")
    made = make_sheets(study, called(answer, "RX-", first=12), ["rings", "tables", "report"])
    names = [file.name for file in made.files]
    assert names[:3] == ["report.txt", "RX-12.svg", "RX-12.pdf"]
