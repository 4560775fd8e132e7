"""Span over k teeth, dimension over pins, tooth thickness tolerance: rows of worked_examples.csv."""

import pytest

from ringset.physics import inspection
from ringset.standards import tooth_thickness
from ringset.standards.iso286 import iso286_tolerance_um
from tests.published.tables import Row, printed, read_rows

ROWS = read_rows("worked_examples.csv")
#: Half of the last of four decimals, a trailing 0 of which the table leaves away.
HALF_DIGIT = 5e-5


def of(topic: str) -> list[Row]:
    return [row for row in ROWS if row["topic"] == topic]


def inputs(row: Row) -> dict[str, float]:
    parts = (part.split("=") for part in row["inputs"].split("; "))
    return {name: float(value.split()[0]) for name, value in parts}


@pytest.mark.parametrize("row", of("span over k teeth"), ids=lambda row: row["id"])
def test_span(row: Row) -> None:
    given = inputs(row)
    spanned = inspection.involute_teeth_spanned(given["z"], given["x"], given["alpha"])
    if row["id"] != "W13":  # an example of the span alone: its k is smaller than the one to choose
        assert spanned == given["k"]
    found = inspection.involute_span_mm(
        given["m"], given["z"], given["k"], given["x"], given["alpha"]
    )
    assert found == pytest.approx(float(row["value"]), abs=HALF_DIGIT)


def test_the_slip_of_the_drawing_exercise() -> None:
    """It prints k = 3 beside 21.48; k = 3 gives 15.573 (computed), k = 4 the printed value."""
    assert inspection.involute_span_mm(2.0, 29, 3) == printed("15.573")
    assert inspection.involute_span_mm(2.0, 29, 4) == printed("21.48")


@pytest.mark.parametrize("row", of("over two pins"), ids=lambda row: row["id"])
def test_over_pins(row: Row) -> None:
    given = inputs(row)
    found = inspection.involute_over_pins_mm(
        given["m"], given["z"], given["d_pin"], given["x"], given["alpha"]
    )
    assert found == pytest.approx(float(row["value"]), abs=HALF_DIGIT)


def test_both_tables_are_there() -> None:
    assert len(of("span over k teeth")) == 11
    assert len(of("over two pins")) == 17


def test_involute_function() -> None:
    """inv(20 deg) = 0.0149044, printed in every gear handbook."""
    assert inspection.involute_function(0.3490658503988659) == printed("0.0149044")
    assert inspection.involute_angle(0.014904383867336) == pytest.approx(0.3490658504, abs=1e-10)


def test_tooth_thickness_practice() -> None:
    """j_bn 0.109 mm for a = 87, m = 2; T_sn 57.86 um for F_r 29, IT9(58) = 74 um (computed)."""
    assert tooth_thickness.standard_least_backlash_mm(87.0, 2.0) == printed("0.109")
    infeed = tooth_thickness.standard_radial_infeed_um(58.0, 7)
    assert infeed == iso286_tolerance_um(58.0, 9) == 74.0
    assert tooth_thickness.standard_thickness_tolerance_um(29.0, infeed) == printed("57.86")


@pytest.mark.parametrize(
    ("grade", "factor", "it"),
    [(4, 1.26, 7), (5, 1, 8), (6, 1.26, 8), (7, 1, 9), (8, 1.26, 9), (9, 1, 10), (10, 1.26, 10)],
)
def test_radial_infeed_by_grade(grade: int, factor: float, it: int) -> None:
    """b_r by accuracy grade: unnamed transcription of GB/T 10095."""
    wanted = factor * iso286_tolerance_um(100.0, it)
    assert tooth_thickness.standard_radial_infeed_um(100.0, grade) == pytest.approx(
        wanted, rel=1e-12
    )
