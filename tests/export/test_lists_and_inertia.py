"""Order list, ring table and inertia: read back, and summed against the answer and closed forms."""

import csv
import io
import math
from xml.etree import ElementTree

import openpyxl
import pytest

from ringset.drawing.part import drawn_parts, drawn_transverse_kg_m2
from ringset.drawing.shop_words import sheet_extras
from ringset.export.inertia import export_inertial_xml
from ringset.export.tables import (
    export_csv_text,
    export_cutter_lines,
    export_joint_lines,
    export_order_lines,
    export_workbook,
)
from tests.drawing.cases import answered
from tests.support.narrow import present


def test_csv_and_workbook_hold_the_same_and_add_up_to_the_answer() -> None:
    study, answer = answered("family_three_arms")
    tables = {
        "Order": export_order_lines(drawn_parts(study, answer, sheet_extras(study, answer))),
        "Cutters": export_cutter_lines(answer),
        "Joints": export_joint_lines(study, answer),
    }
    book = openpyxl.load_workbook(io.BytesIO(export_workbook(tables)))
    assert book.sheetnames == list(tables)
    for name, lines in tables.items():
        rows = list(csv.DictReader(io.StringIO(export_csv_text(lines))))
        cells = list(book[name].iter_rows(values_only=True))
        assert list(rows[0]) == list(cells[0])
        assert len(rows) == len(cells) - 1 == len(lines)
        for row, values in zip(rows, cells[1:], strict=True):
            for text, value in zip(row.values(), values, strict=True):
                if isinstance(value, int | float):
                    # a workbook keeps 16 digits
                    assert float(text) == pytest.approx(value, rel=1e-15)
                else:
                    assert text == (value or "")
    orders = tables["Order"]
    counts = {robot.name: robot.count for robot in study.robots}
    assert sum(line["pieces"] for line in orders) == sum(counts[r.robot] for r in answer.rings)
    blanks = sum(line["blanks_kg"] for line in orders)
    assert blanks == pytest.approx(present(answer.totals).material_kg, rel=1e-12)
    assert [line["cutter"] for line in tables["Cutters"]] == [c.id for c in answer.cutters]
    assert len(tables["Joints"]) == sum(len(robot.joints) for robot in study.robots)
    assert tables["Joints"][0]["joint"] == study.robots[0].joints[0].name


def test_no_lines_are_an_empty_text_and_a_page_that_says_so() -> None:
    assert export_csv_text([]) == ""
    book = openpyxl.load_workbook(io.BytesIO(export_workbook({"Cutters": []})))
    assert [[c.value for c in row] for row in book["Cutters"]] == [["none"]]


def test_inertial_of_every_joint_in_si_units() -> None:
    study, answer = answered("six_joint_arm")
    robot = study.robots[0]
    root = ElementTree.fromstring(export_inertial_xml(robot, answer))
    assert root.get("name") == "arm"
    assert [link.get("name") for link in root] == [f"{j.name} ring" for j in robot.joints]
    rings = {ring.joint: ring for ring in answer.rings}
    for joint, link in zip(robot.joints, root, strict=True):
        ring, inertial = rings[joint.name], present(link.find("inertial"))
        inertia = {key: float(value) for key, value in present(inertial.find("inertia")).items()}
        assert float(present(inertial.find("mass")).attrib["value"]) == pytest.approx(
            ring.finished_kg, rel=1e-8
        )
        assert inertia["izz"] == pytest.approx(ring.inertia_kg_m2, rel=1e-8)
        assert (
            inertia["ixx"]
            == inertia["iyy"]
            == pytest.approx(drawn_transverse_kg_m2(ring), rel=1e-8)
        )
        assert inertia["ixy"] == inertia["ixz"] == inertia["iyz"] == 0.0
        # a body's moments obey the triangle inequality; a flat ring nearly reaches it
        assert inertia["izz"] < 2.0 * inertia["ixx"] < 1.1 * inertia["izz"]
        # between annuli from the bore to the root and to the tip (textbook: m (R^2 + r^2) / 2)
        inner, outer = (
            _annulus(d / 2e3, ring.bore_mm / 2e3, ring.face_width_mm / 1e3)
            for d in (ring.root_diameter_mm, ring.tip_diameter_mm)
        )
        for value, low, high in zip(
            (ring.finished_kg, inertia["izz"], inertia["ixx"]), inner, outer, strict=True
        ):
            assert low < value < high


def _annulus(outer: float, inner: float, width: float) -> tuple[float, float, float]:
    """Mass, J about the axis and about a diameter of a C45 annulus (7850 kg/m3), SI."""
    mass = 7850.0 * math.pi * (outer**2 - inner**2) * width
    squares = outer**2 + inner**2
    return mass, mass * squares / 2.0, mass * (3.0 * squares + width**2) / 12.0


def test_across_the_axis_a_plain_ring_is_as_the_textbook_says() -> None:
    _, answer = answered("two_joint_table")
    mass, axial, across = _annulus(0.05, 0.04, 0.01)
    plain = answer.rings[0].model_copy(
        update={"finished_kg": mass, "inertia_kg_m2": axial, "face_width_mm": 10.0}
    )
    assert drawn_transverse_kg_m2(plain) == pytest.approx(across, rel=1e-12)
    # standards handbook check of the annulus itself: 0.221954 kg, 4.55005e-4 kg m2
    assert (mass, axial) == pytest.approx((0.221954, 4.55005e-4), abs=5e-7)
