"""Expanded is told in one way everywhere: as 95 % of readings, never of joints, rings or turns."""

from __future__ import annotations

import json
import re

import pytest

from ringset import study_fields
from ringset.drawing.frame import Release
from ringset.drawing.part import drawn_parts
from ringset.drawing.ring_sheet import ring_sheet
from ringset.drawing.robot_sheet import robot_sheets
from ringset.reporting.answer_text import answer_text
from ringset.wording import BASES
from tests.drawing.cases import answered
from tests.support.places import ROOT


def test_the_fields_that_state_a_target_speak_of_readings() -> None:
    told = {fact.name: fact.description for fact in study_fields()}
    for name in ("basis", "angle_target_arcsec", "tool_point_target_um"):
        assert "95 % of readings" in told[name], name
    for name, text in told.items():
        assert not re.search("[Ll]argest error at the tool|95 % of joints", text), name


def test_report_and_sheets_speak_of_readings() -> None:
    study, answer = answered("six_joint_arm")
    known = drawn_parts(study, answer)
    drawn = [
        ring_sheet(known[0], Release()),
        *robot_sheets(study.robots[0], answer, known, Release()),
    ]
    shown = [" ".join(label.text for label in sheet.labels()) for sheet in drawn]
    for text in (BASES["expanded"], answer_text(study, answer, {}), *shown):
        assert "95 % of" in text
        assert "readings, k = 2" in text


@pytest.mark.parametrize(
    ("code", "words"), [("en", "95 % of readings"), ("de", "95 % der Ablesungen")]
)
def test_the_page_speaks_of_readings(code: str, words: str) -> None:
    texts = json.loads((ROOT / "api" / "page" / "texts" / f"{code}.json").read_text())
    for key in (
        "budget.sum",
        "budget.expanded",
        "choice.expanded",
        "compare.differs.expanded_arcsec",
    ):
        assert words in texts[key], key
