"""Sheets measured: no text over text, none crossed by a line, nothing outside the frame."""

import re
from xml.etree import ElementTree

import pytest

from ringset.drawing.blocks import Row, draw_notes
from ringset.drawing.frame import Release
from ringset.drawing.part import Extra, drawn_parts
from ringset.drawing.pdf import sheets_as_pdf
from ringset.drawing.ring_sheet import ring_sheet
from ringset.drawing.robot_sheet import JOINTS_A_SHEET, robot_sheets
from ringset.drawing.sheet import Circle, Label, Sheet
from ringset.drawing.svg import sheet_as_svg
from ringset.drawing.views import Holes
from ringset.export.tables import export_note_lines
from ringset.solving.pipeline import solve
from tests.drawing.cases import Size, answered, resized
from tests.drawing.measure import crossed_labels, outside_frame, overlapping_labels
from tests.solving.test_standing import ELBOW, arm
from tests.support.studies import load

#: Module, teeth, bore, width: smallest and largest ring, thin and thick rims, fine and coarse, wide.
SIZES = [
    (1.0, 17, 8.0, 6.0),
    (1.0, 400, 380.0, 8.0),
    (1.0, 400, 392.0, 4.0),
    (2.0, 400, 700.0, 20.0),
    (0.3, 60, 12.0, 3.0),
    (0.8, 512, 400.0, 120.0),
    (10.0, 20, 40.0, 8.0),
    (5.0, 18, 12.5, 60.0),
    (1.125, 33, 20.125, 7.75),
    (0.1, 40, 2.0, 1.0),
]


def sound(sheet: Sheet) -> None:
    assert overlapping_labels(sheet) == []
    assert outside_frame(sheet) == []
    assert crossed_labels(sheet) == []


def texts(sheet: Sheet) -> list[str]:
    return [label.text for label in sheet.labels()]


def drawn(size: Size, **more: Extra) -> Sheet:
    study, answer = answered("six_joint_arm")
    (part,) = drawn_parts(study, resized(answer, *size), more)
    return ring_sheet(part, Release("Example Works", "A. Person", "B. Person", "2026-01-02", "A"))


@pytest.mark.cases(fast=3, slow=6)
@pytest.mark.parametrize("size", SIZES)
def test_no_text_is_crossed_or_overlapped_on_a_ring_sheet_of_any_size(
    size: Size,
) -> None:
    sheet = drawn(size)
    sound(sheet)
    assert not [text for text in texts(sheet) if "…" in text]


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize(
    ("size", "tolerance"),
    [((1.0, 100, 90.0), "±0.2"), ((0.3, 60, 12.0), ""), ((5.0, 40, 150.0), "(0/-0.1)")],
)
def test_no_line_strikes_through_the_width_of_a_ring(
    size: tuple[float, int, float], tolerance: str
) -> None:
    """Widths whose text is as wide as the rim is drawn, and less, and more."""
    for width in (3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 12.5, 14, 15, 16, 18, 20, 25, 30):
        text = f"{width:g} {tolerance}".strip()
        sheet = drawn((*size, width), R1=Extra(width=text))
        assert text in texts(sheet)
        sound(sheet)


@pytest.mark.cases(fast=2, slow=1)
@pytest.mark.parametrize(
    "name", ["two_joint_table", "six_joint_arm", "seven_joint_arm", "family_three_arms"]
)
def test_every_sheet_of_a_scenario_is_sound(name: str) -> None:
    study, answer = answered(name)
    known = drawn_parts(study, answer)
    for part in known:
        sheet = ring_sheet(part, Release())
        sound(sheet)
        assert not [text for text in texts(sheet) if "…" in text]
    for robot in study.robots:
        for sheet in robot_sheets(robot, answer, known, Release()):
            sound(sheet)
            assert not [text for text in texts(sheet) if "…" in text]


def test_a_machinist_and_a_metrologist_find_what_they_need() -> None:
    study, answer = answered("two_joint_table")
    (part,) = drawn_parts(study, answer)
    shown = texts(ring_sheet(part, Release(date="2026-03-04")))
    # bore and tip with limits (ISO 286: H7 over 80 to 120 mm 35 um, h9 87 um), width, run-outs
    for needed in (
        "Ø90.5 H7 (+0.035/0)", "Ø103 h9 (0/-0.087)", "(Ø101)", "(Ø98.5)", "8", "(2.25)", "(4)", "101",
        "Module", "ISO 1328-1:2013", "C45 (1.0503)", "98.0", "119.3", "225.9", "C1, hob",
        "Cutter C1: hob, module 1, all teeth.",
        "table/turn", "table/tilt", "0°, 180°", "2026-03-04", "ISO 2768-mK", "F_{pT}", "F_{rT}",
    ):  # fmt: skip
        assert needed in shown, needed
    # class 6, m 1, d 101: (0.002 d + 0.55 sqrt d + 0.7 m + 12) sqrt 2 = 26.1, times 0.9 = 23.5 um
    assert shown[shown.index("F_{pT}") + 1] == "26"
    assert shown[shown.index("F_{rT}") + 1] == "23"
    assert "0.023" in shown  # the tip may run out as the teeth may


def test_the_bore_follows_the_fit_of_its_joints() -> None:
    study, _ = answered("two_joint_table")
    joints = study.robots[0].joints
    fitted = [
        joint.model_copy(update={"seat_fit": fit})
        for joint, fit in zip(joints, ["H8/h6", "H6/h5"], strict=True)
    ]
    robot = study.robots[0].model_copy(update={"joints": fitted})
    study = study.model_copy(update={"robots": [robot]})
    sheets = [texts(ring_sheet(part, Release())) for part in drawn_parts(study, solve(study))]
    # a drawing for each bore; ISO 286: IT6 over 50 to 80 mm 19 um, IT8 over 80 to 120 mm 54 um
    bores = [[text for text in shown if " H" in text and text[0] == "Ø"] for shown in sheets]
    assert bores == [["Ø66.5 H6 (+0.019/0)"], ["Ø90.5 H8 (+0.054/0)"]]
    assert not any("No fit is stated" in text for shown in sheets for text in shown)


def test_what_other_parts_add_appears_and_much_of_it_still_fits() -> None:
    extra = Extra(
        inspection=[
            Row("Span over 12 teeth", "W_{12}", "35.350", "-0.02/-0.05"),
            Row("Over pins", "M", "102.529", "-0.06"),
        ],
        mounting=["Press in with at most 4 kN or heat the ring to 90 °C, as is easier. " * 2] * 3,
        making=["Cut in two passes, the second of 0.2 mm, ring clamped on its face. " * 2] * 3,
        width="8 (0/-0.1)",
    )  # fmt: skip
    sheet = drawn((1.0, 100, 90.0, 8.0), R1=extra)
    sound(sheet)
    shown = texts(sheet)
    assert {"W_{12}", "35.350", "8 (0/-0.1)"} <= set(shown)
    assert sum(text.startswith("Press in") for text in shown) == 3


@pytest.mark.cases(fast=2, slow=3)
@pytest.mark.parametrize("count", [3, 4, 6, 8, 24])
@pytest.mark.parametrize(
    ("size", "circle"), [((1.0, 70, 50.0, 8.0), 59.0), ((2.0, 400, 700.0, 9.0), 750.0)]
)
def test_holes_for_screws_are_drawn_and_dimensioned(count: int, size: Size, circle: float) -> None:
    sheet = drawn(size, R1=Extra(holes=Holes(count, 3.4, circle, "M3")))
    sound(sheet)
    assert f"{count} × Ø3.4 on Ø{circle:g}" in texts(sheet)
    plain = drawn(size)
    circles = [sum(isinstance(item, Circle) for item in s.items) for s in (sheet, plain)]
    assert circles[0] - circles[1] == count + 1  # the holes and their circle


@pytest.mark.slow
def test_notes_that_find_no_room_are_counted_and_kept_in_the_tables() -> None:
    long = "A long sentence about making that goes on and on. " * 12
    extra = Extra(making=[long + str(i) for i in range(9)], mounting=[long] * 12)
    sheet = drawn((1.0, 100, 90.0, 8.0), R1=extra)
    sound(sheet)
    left = [re.match(r"(\d+) more notes: see notes.csv", text) for text in texts(sheet)]
    making, mounting = (int(found[1]) for found in left if found)
    assert 0 < making < 9
    assert 0 < mounting < 12
    study, answer = answered("six_joint_arm")
    lines = export_note_lines(
        drawn_parts(study, resized(answer, 1.0, 100, 90.0, 8.0), {"R1": extra})
    )
    on = [line["on"] for line in lines]
    assert (on.count("making"), on.count("mounting")) == (9, 13)  # with that of the dial


def test_notes_of_the_sheet_itself_are_never_cut() -> None:
    with pytest.raises(ValueError, match="notes: given 40"):
        draw_notes(
            Sheet(420.0, 297.0, "full"), 20.0, 20.0, (60.0, 50.0), "Notes", ["words " * 9] * 40
        )


def test_many_joints_and_long_names_stay_inside_their_room() -> None:
    study, answer = answered("six_joint_arm")
    robot, ring = study.robots[0], answer.rings[0]
    names = ["W" * 80, 'Сустав <&> "1"', *(f"joint {i} of a very long arm" for i in range(20))]
    joints = [robot.joints[0].model_copy(update={"name": name}) for name in names]
    rings = [ring.model_copy(update={"joint": name, "ring_part": "R1"}) for name in names]
    study = study.model_copy(update={"robots": [robot.model_copy(update={"joints": joints})]})
    answer = resized(answer.model_copy(update={"rings": rings}), 0.8, 176, 128.0, 8.0)
    known = drawn_parts(study, answer)
    sheets = robot_sheets(study.robots[0], answer, known, Release())
    assert len(sheets) == -(-len(names) // JOINTS_A_SHEET) == 3
    for sheet in [*sheets, ring_sheet(known[0], Release("L" * 99, "M" * 99))]:
        sound(sheet)
        ElementTree.fromstring(sheet_as_svg(sheet))
    assert "and 16 more joints: see the ring table" in texts(ring_sheet(known[0], Release()))
    assert sheets_as_pdf(sheets).count(b"/Type /Page\n") == 3


def test_svg_holds_every_text_to_its_measured_width() -> None:
    sheet = drawn(SIZES[0])
    root = ElementTree.fromstring(sheet_as_svg(sheet))
    assert (root.get("width"), root.get("height")) == ("420mm", "297mm")
    written = root.findall("{http://www.w3.org/2000/svg}text")
    labels = sheet.labels()
    assert len(written) == len(labels)
    for element, label in zip(written, labels, strict=True):
        plain = re.sub(r"_\{([^}]*)\}", r"\1", label.text) if label.markup else label.text
        assert "".join(element.itertext()) == plain
        assert float(element.attrib["textLength"]) == pytest.approx(label.width, abs=1e-3)


def test_pdf_is_the_same_bytes_each_time_and_differs_where_the_ring_does() -> None:
    first, again, other = (sheets_as_pdf([drawn(size)]) for size in (SIZES[0], SIZES[0], SIZES[1]))
    assert first == again
    assert first != other
    assert first.startswith(b"%PDF-")
    assert b"/MediaBox [ 0 0 1190.551 841.8898 ]" in first  # A3


def test_measuring_finds_what_is_wrong() -> None:
    sheet = Sheet(420.0, 297.0, "wrong")
    sheet.items += [Label(100, 100, "one"), Label(102, 101, "two"), Label(405, 50, "outside")]
    sheet.line([(90.0, 99.0), (120.0, 99.0)])
    assert overlapping_labels(sheet) == [("one", "two")]
    assert outside_frame(sheet) == ["outside"]
    assert "one" in crossed_labels(sheet)


@pytest.mark.cases(fast=2, slow=4)
@pytest.mark.parametrize("rack", ["full", "stub"])
@pytest.mark.parametrize("material", ["c45", "42crmo4", "11smn30", "x6cr17", "pure_iron"])
def test_racks_materials_and_wire_erosion_find_room(rack: str, material: str) -> None:
    study, answer = answered("two_joint_table")
    shop = study.shop.model_copy(update={"rack": rack, "material": material, "cutting": "wire"})
    ring_part = answer.ring_parts[0].model_copy(update={"cutter": None})
    answer = answer.model_copy(update={"ring_parts": [ring_part], "cutters": []})
    study = study.model_copy(update={"shop": shop})
    known = drawn_parts(study, answer)
    for sheet in (
        ring_sheet(known[0], Release()),
        *robot_sheets(study.robots[0], answer, known, Release()),
    ):
        sound(sheet)
        assert not [text for text in texts(sheet) if "…" in text]
    assert any(
        text.startswith("Teeth by wire erosion") for text in texts(ring_sheet(known[0], Release()))
    )


def test_a_part_in_production_refers_to_the_drawing_it_is_made_to() -> None:
    study = load(arm(parts_in_production=[ELBOW], owned_cutters=[{"module": 1.0}]))
    answer = solve(study, certified=False)
    for data in drawn_parts(study, answer):
        sheet = ring_sheet(data, Release())
        sound(sheet)
        assert ("is in production" in " ".join(texts(sheet))) == (data.part.id == "RX-17")
