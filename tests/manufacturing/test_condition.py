"""The condition that sheets and lists order is the one whose yield the strength limits counted."""

from __future__ import annotations

from typing import Any

import pytest

from ringset.drawing.frame import Release
from ringset.drawing.part import Part, drawn_parts, sheet_body_rows
from ringset.drawing.ring_sheet import ring_sheet
from ringset.drawing.robot_sheet import robot_sheets
from ringset.drawing.shop_words import sheet_extras
from ringset.export.tables import export_order_lines
from ringset.manufacturing.part_data import shop_data
from ringset.solving.pipeline import solve
from ringset.standards.materials import MATERIALS
from ringset.standards.yield_strength import (
    standard_weakest_yield_row,
    standard_yield_or_zero_mpa,
    standard_yield_rows,
)
from tests.drawing.test_sheets import sound, texts
from tests.support.own_materials import as_stated
from tests.support.studies import Json, joint, load

STRAINED = {
    "seat_fit": "H7/p6",
    "hub_bore_mm": 0.0,
    "hub_material": "c45",
    "stress_safety_min": 1.2,
}
CERTIFICATE = "own 42"


def own(*treatments: str) -> Json:
    """Return 42CrMo4 as a certificate gives it, with yields of these treatments only."""
    stated = as_stated("42crmo4")
    rows = [{"upto_mm": 200.0, "yield_mpa": 650.0 - 50.0 * i} for i in range(len(treatments))]
    stated["yields"] = [
        {**row, "treatment": name} for row, name in zip(rows, treatments, strict=True)
    ]
    return {"material": CERTIFICATE, "materials": {CERTIFICATE: stated}}


def drawn(shop: Json, **held: Any) -> Part:
    """Return the only ring part of a joint, after looking at its sheets: they must name what is ordered."""
    study = load(
        {
            "robots": [{"name": "arm", "joints": [joint("wrist", 40.0, **held)]}],
            "shop": {"modules": [1.0], **shop},
            "target": {"angle_target_arcsec": 300.0},
        }
    )
    answer = solve(study)
    assert answer.status == "proven", answer.reasons
    (part,) = drawn_parts(study, answer, sheet_extras(study, answer))
    (data,) = shop_data(study, answer)
    (line,) = export_order_lines([part])
    assert line["material"] == data.making.material == part.ordered_material
    drawings = [
        ring_sheet(part, Release()),
        *robot_sheets(study.robots[0], answer, [part], Release()),
    ]
    for sheet in drawings:
        sound(sheet)
    # a cell of a table may be too narrow for it, and ends with three dots then
    cells = [text.rstrip("…") for text in texts(drawings[-1])]
    assert any(part.ordered_material.startswith(cell) for cell in cells if len(cell) > 5)
    return part


def condition(part: Part) -> tuple[str, str]:
    (row,) = [row for row in sheet_body_rows(part) if row.name == "Condition"]
    return row.value, row.limit


@pytest.mark.parametrize("limit", [STRAINED, {"burst_safety_min": 2.0, "speed_max_rpm": 100.0}])
def test_the_treatment_whose_yield_was_counted_is_ordered(limit: Json) -> None:
    part = drawn(own("+QT"), **limit)
    assert condition(part) == ("+QT", "its yield counts")
    assert part.ordered_material == f"{CERTIFICATE} +QT"


def test_of_several_treatments_the_weakest_is_the_one_that_counted() -> None:
    part = drawn(own("+QT", "+N"), **STRAINED)
    assert condition(part) == ("+N", "its yield counts")
    part = drawn(own("+QT", ""), **STRAINED)
    assert condition(part) == ("as delivered", "its yield counts")
    assert part.ordered_material == CERTIFICATE


def test_a_material_of_the_table_names_its_weakest_treatment_at_the_size_of_the_blank() -> None:
    part = drawn({"material": "c45"}, **STRAINED)
    blank = part.part.tip_diameter_mm + 3.0
    rows = [row for row in standard_yield_rows("c45") if row.over_mm < blank <= row.upto_mm]
    assert len({row.treatment for row in rows}) > 1
    weakest = min(rows, key=lambda row: row.yield_mpa)
    assert condition(part) == (weakest.treatment, "its yield counts")
    assert part.ordered_material == f"{MATERIALS['c45'].title} {weakest.treatment}"


def test_without_a_strength_limit_nothing_is_asked_and_what_is_stated_stays() -> None:
    free = drawn(own("+QT"))
    assert condition(free) == ("as delivered", "none asked")
    assert "limits on strength" not in " ".join(texts(ring_sheet(free, Release())))
    stated = drawn({**own("+QT", "+N"), "material_treatment": "+QT"}, **STRAINED)
    assert condition(stated) == ("+QT", "")
    assert stated.ordered_material == f"{CERTIFICATE} +QT"


def test_a_long_treatment_fits_the_sheet() -> None:
    name = "quenched and tempered to 900-1100 MPa"
    part = drawn(own(name), **STRAINED)
    assert condition(part)[0] == name
    said = " ".join(" ".join(texts(ring_sheet(part, Release()))).split())
    assert f"Order the steel {name}: limits on strength count its yield of 650 MPa." in said


@pytest.mark.parametrize("key", MATERIALS)
def test_the_weakest_row_is_the_one_whose_yield_counts(key: str) -> None:
    for size in (5.0, 16.0, 16.1, 40.0, 100.0, 101.0, 160.0, 250.0, 400.0, 5000.0):
        row = standard_weakest_yield_row(key, size)
        assert (0.0 if row is None else row.yield_mpa) == standard_yield_or_zero_mpa(key, size)
