"""Screws are ordered for the joints that have them, long enough for ring and hub; sheets agree with that."""

import pytest

from ringset.drawing.frame import Release
from ringset.drawing.part import Part, drawn_parts
from ringset.drawing.ring_sheet import ring_sheet
from ringset.drawing.robot_sheet import robot_sheets
from ringset.drawing.sheet import Sheet
from ringset.drawing.shop_words import sheet_extras
from ringset.export.tables import export_order_lines, export_screw_lines
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.standards.screws import (
    LENGTHS_MM,
    SCREWS,
    standard_engagement_mm,
    standard_screw_length_mm,
)
from tests.support.studies import Json, joint, load


def arm(**held: object) -> Json:
    """Return an arm built three times: one ring part on a joint with screws, one with a fit."""
    screwed = {"fastening": "screws", "acceleration_max_rad_s2": 100.0} | held
    return {
        "robots": [
            {
                "name": "arm",
                "count": 3,
                "joints": [
                    joint("a", 40.0, **screwed),
                    joint("b", 40.0, seat_fit="H7/h6"),
                ],
            }
        ],
        "shop": {
            "modules": [1.0],
            "material": "42crmo4",
            "material_treatment": "+QT",
            "general_tolerance": "f",
        },
        "target": {"angle_target_arcsec": 300.0},
        "wishes": {"ring_parts_max": 1},
    }


def drawn(data: Json) -> tuple[Study, Answer, list[Part]]:
    study = load(data)
    answer = solve(study)
    assert answer.status == "proven", answer.reasons
    return study, answer, drawn_parts(study, answer, sheet_extras(study, answer))


def texts(sheet: Sheet) -> list[str]:
    return [label.text for label in sheet.labels()]


@pytest.mark.parametrize(("hub", "factor"), [("c45", 1.0), ("en_aw_6082_t6", 2.0)])
def test_screws_are_ordered_for_joints_that_have_them(hub: str, factor: float) -> None:
    _, answer, (part,) = drawn(arm(hub_material=hub))
    (ring_part,) = answer.ring_parts
    assert ring_part.screws is not None
    size, count = ring_part.screws.size, ring_part.screws.count
    (line,) = export_screw_lines([part])
    assert (line["robot"], line["joint"], line["ring_part"]) == ("arm", "a", "R1")
    # joint b has the holes too, but a fit: three robots, one screwed ring each
    assert (line["a_ring"], line["rings"], line["screws"]) == (count, 3, 3 * count)
    asked = 8.0 + factor * SCREWS[size].thread_mm
    assert line["engaged_in_hub_min_mm"] == factor * SCREWS[size].thread_mm
    assert line["length_mm"] == min(mm for mm in LENGTHS_MM if mm >= asked)
    assert line["heads"] == "on the face away from the hub"
    (order,) = export_order_lines([part])
    assert order["pieces"] == 6
    assert order["screws"] == f"{3 * count} {size} x {line['length_mm']:g} ISO 4762-8.8"
    assert order["material"] == "42CrMo4 (1.7225) +QT"


@pytest.mark.parametrize(("width", "least"), [(8.0, 7.9), (8.5, 8.4), (6.0, 5.95), (14.5, 14.4)])
def test_the_thread_goes_as_deep_as_the_screws_come(width: float, least: float) -> None:
    """A screw that is longer than asked must not meet the end of its thread before it clamps.

    `least` is the narrowest ring that ISO 2768-1 f allows: 0.05 mm less up to 6 mm, 0.1 mm up to 30.
    """
    data = arm(face_width_mm=width, hub_material="en_aw_6082_t6")
    data["robots"][0]["joints"][1]["face_width_mm"] = width
    _, _, (part,) = drawn(data)
    (line,) = export_screw_lines([part])
    assert line["thread_in_hub_min_mm"] == pytest.approx(line["length_mm"] - least)
    assert line["thread_in_hub_min_mm"] >= line["engaged_in_hub_min_mm"]
    told = " ".join(part.extra.mounting)
    assert f"thread in the hub at least {line['thread_in_hub_min_mm']:g} mm deep" in told


def test_no_screws_are_ordered_where_no_joint_has_them() -> None:
    _, _, (part,) = drawn(arm(fastening="fit"))
    assert export_screw_lines([part]) == []
    assert export_order_lines([part])[0]["screws"] == ""


def test_a_ring_wider_than_any_screw_is_said() -> None:
    data = arm(face_width_mm=120.0, hub_material="c45")
    data["robots"][0]["joints"].pop()
    _, _, (part,) = drawn(data)
    assert export_screw_lines([part])[0]["length_mm"] is None
    assert "longer than listed" in export_order_lines([part])[0]["screws"]


def test_every_size_has_lengths_and_every_hub_an_engagement() -> None:
    for size, one in SCREWS.items():
        assert standard_screw_length_mm(size, 0.1) in LENGTHS_MM
        assert standard_screw_length_mm(size, 121.0) is None
        # the longest is ten times the thread at the least, so that no rim of the usual 8 mm is without
        assert standard_screw_length_mm(size, 10.0 * one.thread_mm) is not None
        assert standard_engagement_mm(size, "x5crni18_10") == one.thread_mm
    with pytest.raises(ValueError, match="hub material 'brass'"):
        standard_engagement_mm("M3", "brass")


def test_all_sheets_name_the_tolerances_and_the_robot_sheet_what_to_order() -> None:
    study, answer, (part,) = drawn(arm())
    ring, (robot,) = (
        ring_sheet(part, Release()),
        robot_sheets(study.robots[0], answer, [part], Release()),
    )
    for shown in (texts(ring), texts(robot)):
        assert "ISO 2768-fK" in shown
        assert "ISO 2768-mK" not in shown
    assert "42CrMo4 (1.7225) +QT" in texts(robot)
    screws = answer.ring_parts[0].screws
    assert screws is not None
    (line,) = export_screw_lines([part])
    held = f"{screws.count} {screws.size} x {line['length_mm']:g} ISO 4762-8.8"
    assert any(held in text for text in texts(robot))


@pytest.mark.parametrize(
    ("roughness", "other", "printed"), [(None, None, "4"), (8.0, 8.0, "8"), (8.0, 2.5, "2.5")]
)
def test_the_sheet_asks_the_roughness_that_the_grip_was_reckoned_with(
    roughness: float | None, other: float | None, printed: str
) -> None:
    """Of joints that share a part the smoothest counts: no seat then holds less than reckoned."""
    data = arm()
    for row, value in zip(data["robots"][0]["joints"], (roughness, other), strict=True):
        if value is not None:
            row["seat_roughness_um"] = value
    _, _, (part,) = drawn(data)
    shown = " ".join(texts(ring_sheet(part, Release())))
    assert f"Bore Rz {printed} µm at most" in shown
    assert "bore and faces Ra" not in shown
