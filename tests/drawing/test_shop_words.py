"""Shop data on the sheets: span and pins, seats, screws, blanks, jaws; and all of it still fits."""

import json

import pytest

from ringset.drawing.frame import Release
from ringset.drawing.part import drawn_figures, drawn_length, drawn_parts
from ringset.drawing.ring_sheet import ring_sheet
from ringset.drawing.sheet import Sheet
from ringset.drawing.shop_words import sheet_extras
from ringset.manufacturing.part_data import shop_data
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.drawing.cases import answered
from tests.drawing.test_sheets import sound, texts
from tests.rating.test_mounting import one
from tests.support.narrow import present
from tests.support.places import SCENARIOS
from tests.support.studies import load


def sheets_of(study: Study, answer: Answer) -> list[Sheet]:
    known = drawn_parts(study, answer, sheet_extras(study, answer))
    return [ring_sheet(part, Release()) for part in known]


@pytest.fixture(scope="module")
def pressed() -> tuple[Study, Answer]:
    """The turning table with press fits on hollow aluminium hubs and screws on the other axis."""
    data = json.loads((SCENARIOS / "two_joint_table.json").read_text())
    turn, tilt = data["robots"][0]["joints"]
    turn |= {
        "seat_fit": "H7/s6",
        "hub_bore_mm": 40,
        "hub_material": "en_aw_6082_t6",
        "acceleration_max_rad_s2": 200,
    }
    tilt |= {"fastening": "screws", "acceleration_max_rad_s2": 200, "bore_max_mm": 70}
    data["shop"] |= {"bars_mm": [100, 130, 140], "rim_min_mm": 12}
    study = load_study(json.dumps(data).encode())
    return study, solve(study)


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize(
    "name", ["two_joint_table", "six_joint_arm", "seven_joint_arm", "family_three_arms"]
)
def test_every_sheet_of_a_scenario_is_sound_with_the_shop_data(name: str) -> None:
    for sheet in sheets_of(*answered(name)):
        sound(sheet)
        assert not [text for text in texts(sheet) if "…" in text]


def test_span_and_pins_stand_with_their_limits() -> None:
    study, answer = answered("two_joint_table")
    (data,) = shop_data(study, answer)
    shown = texts(sheets_of(study, answer)[0])
    # m 1, z 101, k 12: cos(20) (pi 11.5 + 101 inv 20) = 35.3641
    at = shown.index("W_{12}")
    assert shown[at + 1] == "35.3641"
    limits = present(data.inspection.span)
    assert shown[at + 2] == f"0/-{limits.upper_mm - limits.lower_mm:.3f} mm"
    at = shown.index("M_{dK}")
    assert float(shown[at + 1]) == pytest.approx(data.inspection.over_pins_mm, abs=5e-5)
    assert any("8 ±0.2" in text for text in shown)  # ISO 2768-1 m, 6 to 30 mm
    assert "Ø90.5 H7 (+0.035/0)" in shown  # no fit: never below nominal


def test_press_fit_screws_and_blank_are_told(pressed: tuple[Study, Answer]) -> None:
    """Sheets say what the shop data hold of seat, blank and screws, and draw the holes of these screws."""
    study, answer = pressed
    assert answer.rings
    told, holes = [], []
    for sheet, part in zip(
        sheets_of(study, answer),
        drawn_parts(study, answer, sheet_extras(study, answer)),
        strict=True,
    ):
        sound(sheet)
        told.append(" ".join(texts(sheet)))
        holes.append(part.shape.holes)
    whole = " ".join(told)
    for words in (
        "seat H7/s6, interference",
        "MPa",
        "press on with",
        "or heat the ring to",
        "Blank: bar",
        "of it stay in the ring",
        "keeps grip and yield from",
        "yields through at",
        "tightened with about",
        "each axis within Ø",
    ):
        assert words in whole, words
    screws = [
        m.screws
        for data in shop_data(study, answer)
        for m in data.mounting
        if m.fastening == "screws"
    ]
    assert screws[0] is not None
    length = f"{screws[0].size} x {screws[0].length_mm:g}"
    assert f"{screws[0].count} screws {length} (ISO 4762, 8.8)" in whole
    drawn = next(hole for hole in holes if hole is not None)
    assert (drawn.count, drawn.hole_mm) == (screws[0].count, screws[0].hole_mm)
    assert f"{drawn.count} × Ø{drawn.hole_mm:g} on Ø{drawn_length(drawn.circle_mm)}" in whole


def test_a_seat_that_would_yield_is_said_first() -> None:
    """S6 on a ring of 20 mm strains a hub of normalised C45 beyond its 305 MPa; nothing was asked."""
    data = one(seat_fit="H7/s6", hub_bore_mm=16.0)
    data["robots"][0]["joints"][0] |= {"bore_min_mm": 20, "bore_max_mm": 20, "tip_max_mm": 60}
    data["target"]["angle_target_arcsec"] = 5e3
    study = load_study(json.dumps(data).encode())
    answer = solve(study)
    (shop,) = shop_data(study, answer)
    check = next(c for c in shop.checks if c.name.endswith("against yield"))
    assert not check.kept
    assert not check.stated
    mounting = sheet_extras(study, answer)["R1"].mounting
    assert mounting[0].startswith(f"NOT AS IT SHOULD BE: {check.name} is ")
    sound(sheets_of(study, answer)[0])


@pytest.mark.parametrize(
    ("value", "text"),
    [(11800.4, "11800"), (5901.0, "5901"), (763.06, "763.1"), (6.5151, "6.515"), (0.000375, "0.000375"),
     (0.0, "0"), (100.0, "100"), (2.0, "2")],
)  # fmt: skip
def test_figures_have_no_exponent(value: float, text: str) -> None:
    assert drawn_figures(value) == text


@pytest.mark.parametrize(
    ("fit", "told"),
    [
        # R7 at 40 mm -50/-25, h7 -25/0: the loosest ring neither grips nor has play
        ("R7/h7", "interference 0 to 50 µm"),
        ("H7/h6", "clearance 0 to 41 µm"),
        # JS7 +-12.5, h6 -16/0
        ("JS7/h6", "from 28.5 µm clearance to 12.5 µm interference"),
    ],
)
def test_a_seat_is_told_with_its_halves_and_without_a_minus_before_nothing(
    fit: str, told: str
) -> None:
    data = one(seat_fit=fit)
    data["robots"][0]["joints"][0] |= {"bore_min_mm": 40.0, "bore_max_mm": 40.0}
    study = load(data)
    answer = solve(study)
    (extra,) = sheet_extras(study, answer).values()
    (seat,) = [text for text in extra.mounting if f"seat {fit}" in text]
    assert told in seat
    assert "-0" not in seat
