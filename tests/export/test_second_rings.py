"""A second ring leaves the house as a ring part: ordered, drawn, listed and weighed."""

from __future__ import annotations

import csv
import io

import pytest

from ringset.drawing.frame import Release
from ringset.drawing.part import drawn_parts
from ringset.drawing.ring_sheet import ring_sheet
from ringset.drawing.robot_sheet import robot_sheets
from ringset.drawing.sheet import Sheet
from ringset.export.inertia import export_inertial_xml
from ringset.export.ring_table import export_ring_table_csv
from ringset.export.tables import export_order_lines
from ringset.manufacturing.part_data import shop_data
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from tests.support.places import SCENARIOS
from tests.support.solved import solved_scenario


@pytest.fixture(scope="module")
def study() -> Study:
    return load_study((SCENARIOS / "power_loss.json").read_text())


@pytest.fixture(scope="module")
def answer() -> Answer:
    return solved_scenario("power_loss")


def words(sheet: Sheet) -> str:
    """Return all that stands on a sheet."""
    return " ".join(label.text for label in sheet.labels())


@pytest.mark.slow
def test_pieces_are_those_of_first_and_second_rings(study: Study, answer: Answer) -> None:
    lines = export_order_lines(drawn_parts(study, answer))
    assert [(line["ring_part"], line["pieces"]) for line in lines] == [("R1", 3), ("R2", 1)]
    blanks = sum(line["blanks_kg"] for line in lines)
    assert answer.totals is not None
    assert blanks == pytest.approx(answer.totals.material_kg, rel=1e-12)


def test_shop_data_mount_a_part_on_every_joint_that_has_it(study: Study, answer: Answer) -> None:
    first, second = shop_data(study, answer)
    assert sorted(mount.joint for mount in first.mounting) == ["bend", "swing", "turn"]
    assert [mount.joint for mount in second.mounting] == ["bend"]


def test_sheets_name_the_second_ring(study: Study, answer: Answer) -> None:
    first, second = (words(ring_sheet(part, Release())) for part in drawn_parts(study, answer))
    assert "second ring" in first
    assert "sits on the hub seat of the first" in first
    assert "second ring" not in second
    (robot,) = robot_sheets(study.robots[0], answer, drawn_parts(study, answer), Release())
    assert "bend, second ring" in words(robot)


def test_tables_and_inertia_tell_both_rings(study: Study, answer: Answer) -> None:
    rows = {
        row["joint"]: row
        for row in csv.DictReader(io.StringIO(export_ring_table_csv(study, answer)))
    }
    (second,) = answer.second_rings
    assert rows["bend"]["second_ring_part"] == second.ring_part
    assert rows["bend"]["second_teeth"] == str(second.teeth)
    assert float(rows["bend"]["pair_margin_arcsec"]) > 0.0
    assert rows["turn"]["second_teeth"] == ""
    text = export_inertial_xml(study.robots[0], answer)
    assert text.count("<link ") == 4
    link = text.split('<link name="bend second ring">')[1].split("</link>")[0]
    assert f'<mass value="{second.finished_kg:.9g}"' in link
