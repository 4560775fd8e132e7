"""Ring sizes and the inertia of annuli as the physics computes them.

Sizes: rows of tests/data/worked_examples.csv, each with its source. Inertia: closed formula of the
annulus, computed beforehand.
"""

import math

import pytest

from ringset.physics import geometry
from ringset.standards.racks import RACKS
from tests.published.tables import Row, printed, read_rows
from tests.support.narrow import number


def _size(quantity: str, module: float, teeth: float, shift: float) -> float:
    rack = RACKS["full"]
    if quantity == "d":
        return number(geometry.pitch_diameter_mm(module, teeth))
    if quantity == "d_a":
        return number(geometry.tip_diameter_mm(module, teeth, rack.addendum, shift))
    assert quantity == "d_f"
    return number(geometry.root_diameter_mm(module, teeth, rack.dedendum, shift))


@pytest.mark.parametrize(
    "row",
    [row for row in read_rows("worked_examples.csv") if row["topic"] == "ring sizes"],
    ids=lambda row: f"{row['id']}-{row['quantity']}",
)
def test_ring_sizes(row: Row) -> None:
    """Pitch, tip and root diameter of the standard rack."""
    module, teeth, shift = (float(part.split("=")[1]) for part in row["inputs"].split(";"))
    # The values are exact; 1e-9 mm is binary rounding.
    expected = pytest.approx(float(row["value"]), abs=1e-9)
    assert _size(row["quantity"], module, teeth, shift) == expected


def test_pitch_of_module_two() -> None:
    """6.28 mm, printed in the encyclopedia article de.wikipedia.org/wiki/Modul_(Zahnrad): pi d / z."""
    assert math.pi * geometry.pitch_diameter_mm(2.0, 24) / 24 == printed("6.28")


# Outer and inner radius, width in mm, kg/m^3, mass in kg, J in kg m^2 (computed).
@pytest.mark.parametrize(
    ("outer", "inner", "width", "density", "mass", "inertia"),
    [
        (50.0, 40.0, 10.0, 7850.0, "0.221954", "4.55005"),
        (56.0, 50.0, 8.0, 7850.0, "0.125478", "3.53596"),
    ],
)
def test_annulus(
    outer: float, inner: float, width: float, density: float, mass: str, inertia: str
) -> None:
    section = geometry.annulus_section(2.0 * outer, 2.0 * inner)
    assert geometry.mass_kg(section, width, density) == printed(mass)
    assert 1e4 * geometry.inertia_kg_m2(section, width, density) == printed(inertia)


def test_undercut_limit_and_whole_depth_of_the_standard_rack() -> None:
    """Textbook 17.097 teeth with a straight flank of one module; 2.25 m deep (ISO 53:1998)."""
    # A fillet of 0.25 / (1 - sin 20 deg) ends the straight flank one module deep.
    fillet = 0.25 / (1.0 - 0.3420201433256687)
    assert geometry.least_teeth_without_undercut(1.25, fillet, 0.0, 20.0) == printed("17.097")
    assert geometry.whole_depth_mm(4.0) == 9.0


def test_toothed_mass_is_near_that_of_a_ring_to_the_mean_of_tip_and_root() -> None:
    """An estimate from university research code on drive trains: tooth and gap are near half each.

    The full rack is more steel than gap below the pitch line; 2 % of a ring 6 mm thick covers it.
    """
    rack = RACKS["full"]
    tip, root = 102.0, 97.5
    estimate = geometry.annulus_section((tip + root) / 2.0, root - 12.0)
    section = geometry.toothed_section(
        1.0,
        100,
        root - 12.0,
        addendum=rack.addendum,
        dedendum=rack.dedendum,
        fillet=rack.root_fillet,
        pressure_angle_deg=rack.pressure_angle_deg,
    )
    assert section.area_mm2 == pytest.approx(estimate.area_mm2, rel=0.02)
    assert section.polar_mm4 == pytest.approx(estimate.polar_mm4, rel=0.02)
