"""Material values against the published values and ranges.

Printed sources per value in optimizer/standards/data/materials.csv: data sheets quoting the EN
standards, the CRC Handbook, a university glossary; "from memory" where it says so below.
"""

import numpy as np
import pytest

from ringset.standards import yield_strength
from ringset.standards._tables import read_standard_table
from ringset.standards.materials import MATERIALS
from tests.published.tables import Row

# key: density kg/m3, E GPa, Poisson, expansion 1e-6/K, each as (lowest, highest) found.
PUBLISHED = {
    # Sheets quoting DIN EN 10083-2; expansion from memory.
    "c45": ((7850, 7850), (190, 210), (0.27, 0.30), (11.1, 12.0)),
    # Sheets quoting EN 10083; Poisson and expansion from memory.
    "42crmo4": ((7840, 7840), (190, 210), (0.28, 0.30), (11.1, 12.3)),
    # All from memory.
    "11smn30": ((7850, 7850), (200, 210), (0.30, 0.30), (11, 12)),
    # Sheets for 1.4016, EN 10088 and US style; Poisson from memory.
    "x6cr17": ((7700, 7750), (200, 220), (0.27, 0.30), (10.0, 10.4)),
    # CRC Handbook, 97th ed., and a Princeton glossary.
    "pure_iron": ((7874, 7874), (208, 208), (0.291, 0.291), (11.8, 11.8)),
    # Sheets quoting EN 755-2; Poisson from memory.
    "en_aw_6082_t6": ((2700, 2700), (69, 70), (0.33, 0.33), (23.2, 23.4)),
    # All from memory.
    "x5crni18_10": ((7900, 7900), (200, 200), (0.30, 0.30), (16.0, 16.0)),
}


@pytest.mark.parametrize("key", PUBLISHED)
def test_values_lie_in_the_published_range(key: str) -> None:
    """Typical values between the lowest and highest value found."""
    steel = MATERIALS[key]
    values = (
        steel.density_kg_per_m3,
        steel.youngs_modulus_gpa,
        steel.poisson,
        # 1e-9 takes the binary dust of the unit conversion from values at the end of a range.
        round(steel.expansion_per_k * 1e6, 9),
    )
    for value, (low, high) in zip(values, PUBLISHED[key], strict=True):
        assert low <= value <= high


def test_every_material_is_compared() -> None:
    """No material escapes the comparison."""
    assert set(MATERIALS) == set(PUBLISHED)


def test_typical_values_are_the_printed_value_or_the_middle_of_the_range() -> None:
    """One value of each kind.

    In turn: printed; range 190..210; range 11.1..12.0; EN 10088 before the US-style sheet.
    """
    assert MATERIALS["42crmo4"].density_kg_per_m3 == 7840.0
    assert MATERIALS["42crmo4"].youngs_modulus_gpa == 200.0
    assert MATERIALS["c45"].expansion_per_k == pytest.approx(11.55e-6, abs=1e-15)
    assert MATERIALS["x6cr17"].density_kg_per_m3 == 7700.0
    # The usual design value of C45, from memory, is preferred to the middle of 190..210.
    assert MATERIALS["c45"].youngs_modulus_gpa == 210.0


def test_ferritic_steels_and_iron_are_magnetic_the_austenitic_steel_and_aluminium_are_not() -> None:
    """What a magnetic sensor sees.

    X6Cr17: sheets for 1.4016 (one prints "no" by a slip). Iron: common knowledge. The rest: from
    memory.
    """
    magnetic = {key for key, value in MATERIALS.items() if value.ferromagnetic}
    assert magnetic == {"c45", "42crmo4", "11smn30", "x6cr17", "pure_iron"}


def test_aluminium_hub_outgrows_a_steel_ring() -> None:
    """Warming a ring on an aluminium hub adds interference.

    d 100 mm, +40 K: about 47.6 um, computed from an expansion difference of 11.9e-6/K. The ranges
    of both materials allow 11.2 to 12.3e-6/K, that is +-2.2 um: the tolerance.
    """
    hub, ring = MATERIALS["en_aw_6082_t6"], MATERIALS["c45"]
    growth_um = (hub.expansion_per_k - ring.expansion_per_k) * 100.0 * 40.0 * 1e3
    assert growth_um == pytest.approx(47.6, abs=2.2)


def _yield_rows() -> list[Row]:
    return [row for row in read_standard_table("materials.csv") if row["property"] == "yield_min"]


# Minimum yield [MPa] in the order of growing section, sheets quoting EN 10083-2, EN 10083,
# EN 10277-3 and EN 755-2; pairs of a size inside each range come from `yield_strength` below.
@pytest.mark.parametrize(
    ("key", "condition", "expected"),
    [
        ("c45", "+QT", (490, 430, 370)),
        ("c45", "+N", (340, 305, 275)),
        ("42crmo4", "+QT", (900, 750, 650, 550, 500)),
        ("11smn30", "+C", (440, 410, 375, 305, 245)),
        ("x6cr17", "annealed", (260, 240)),
        ("en_aw_6082_t6", "extruded", (250, 260, 240)),
    ],
)
def test_yield_rows_of_the_table(key: str, condition: str, expected: tuple[int, ...]) -> None:
    """The rows kept for later use are the printed ones."""
    rows = [r for r in _yield_rows() if r["key"] == key and r["condition"].startswith(condition)]
    assert tuple(int(row["min"]) for row in rows) == expected


# Sizes of bars in mm inside each range, and the yield of the sheets above; X6Cr17 and X5CrNi18-10
# bars and the sizes of pure iron from memory.
@pytest.mark.parametrize(
    ("key", "treatment", "sizes", "expected"),
    [
        ("c45", "+QT", (16, 40, 100), (490, 430, 370)),
        ("c45", "+N", (16, 100, 250), (340, 305, 275)),
        ("42crmo4", "+QT", (16, 40, 100, 160, 250), (900, 750, 650, 550, 500)),
        ("11smn30", "+C", (10, 16, 40, 63, 100), (440, 410, 375, 305, 245)),
        ("en_aw_6082_t6", "T6", (20, 150, 200), (250, 260, 240)),
        ("x6cr17", "annealed", (100,), (240,)),
        ("x5crni18_10", "annealed", (160,), (190,)),
        ("pure_iron", "as delivered", (120,), (120,)),
    ],
)
def test_yields_by_size(
    key: str, treatment: str, sizes: tuple[int, ...], expected: tuple[int, ...]
) -> None:
    """A ring cut from a 120 mm bar does not have the yield of the 16 mm bar."""
    found = yield_strength.standard_yield_mpa(key, np.array(sizes, dtype=float), treatment)
    assert tuple(found.tolist()) == expected
    largest = yield_strength.standard_largest_yield_size_mm(key, treatment)
    assert yield_strength.standard_yield_or_zero_mpa(key, largest + 0.1, treatment) == 0.0


def test_yields_by_thickness_of_plate() -> None:
    """C45: t to 8 / 20 / 60 as d to 16 / 40 / 100 (DIN EN 10083-2 as quoted in two data sheets)."""
    found = yield_strength.standard_yield_mpa(
        "c45", np.array([8.0, 20.0, 60.0]), "+QT", form="plate"
    )
    assert found.tolist() == [490, 430, 370]
