"""Pitches, wires and own materials on the sheets: named where they belong, and all of it still fits."""

from __future__ import annotations

import json

import pytest

from ringset.analysis.alternatives.advice import advice_on_answer
from ringset.drawing.frame import Release
from ringset.drawing.part import drawn_parts
from ringset.drawing.ring_sheet import ring_sheet
from ringset.drawing.robot_sheet import robot_sheets
from ringset.drawing.sheet import Sheet
from ringset.drawing.shop_words import sheet_extras
from ringset.export.tables import export_cutter_lines, export_order_lines
from ringset.reporting.answer_text import answer_text
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.drawing.test_sheets import sound, texts
from tests.support.own_materials import as_stated
from tests.support.places import SCENARIOS
from tests.support.studies import Json, load


def table(**shop: object) -> tuple[Study, Answer]:
    """Return the turning table, of a shop with these fields, and its answer."""
    data: Json = json.loads((SCENARIOS / "two_joint_table.json").read_text())
    data["shop"].update(shop)
    study = load(data)
    return study, solve(study)


def sheets(study: Study, answer: Answer) -> list[Sheet]:
    known = drawn_parts(study, answer, sheet_extras(study, answer))
    return [
        *(ring_sheet(part, Release()) for part in known),
        *(
            sheet
            for robot in study.robots
            for sheet in robot_sheets(robot, answer, known, Release())
        ),
    ]


@pytest.mark.parametrize("pitch", ["24 DP", "0.125 in CP", "1/8 in CP"])
def test_a_pitch_stands_wherever_the_cutter_is_named(pitch: str) -> None:
    study, answer = table(modules=[pitch])
    assert [cutter.pitch_name for cutter in answer.cutters] == [pitch]
    assert [part.pitch_name for part in answer.ring_parts] == [pitch]
    number = f"{answer.cutters[0].module_mm:g}"
    assert f"C1: hob, module {number} ({pitch}), all teeth" in answer_text(
        study, answer, advice_on_answer(study, answer)
    )
    for sheet in sheets(study, answer):
        sound(sheet)
        assert any(pitch in text for text in texts(sheet))
    known = drawn_parts(study, answer)
    assert export_cutter_lines(answer)[0]["pitch_name"] == pitch
    assert export_order_lines(known)[0]["pitch_name"] == pitch


def test_a_wire_and_a_material_with_a_long_name_still_fit() -> None:
    name = "Forged steel 7 of the works, melt 1234567"
    study, answer = table(
        cutting="wire",
        wire_diameter_mm="0.01 in",
        materials={name: as_stated("c45")},
        material=name,
    )
    (first, *_) = sheets(study, answer)
    for sheet in sheets(study, answer):
        sound(sheet)
    shown = " ".join(texts(first))
    assert name in shown
    assert "wire Ø0.254 mm or finer, spark gap 0.02 mm" in shown
