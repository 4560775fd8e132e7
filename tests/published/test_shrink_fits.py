"""Shrink fits: worked cases of thick cylinders (Lame, plane stress).

Sources beside each case: a teaching page on shrink-fit stress (case 1), question pages with a
textbook problem (2 to 4); "computed" means Lame's closed form evaluated beforehand by another program.
"""

import numpy as np
import pytest

from ringset.physics import interference_fit
from ringset.physics.interference_fit import Elastic
from ringset.standards.iso286 import iso286_fit_clearance_um
from ringset.standards.materials import standard_material
from tests.published.tables import printed
from tests.support.narrow import array

STEEL = interference_fit.Elastic(210.0, 0.3, 11.55e-6)
ALUMINIUM = interference_fit.Elastic(70.0, 0.33, 23.3e-6)


def test_same_material_on_a_solid_shaft() -> None:
    """d 100, D_o 150, 0.1 mm, 210 GPa: the page prints 58.3 and 151.7 MPa, 6.87 kN m (L 50, mu 0.15)."""
    seat = interference_fit.Seat(100.0, 150.0, 0.0, STEEL, STEEL)
    pressure = interference_fit.pressure_mpa(seat, 0.1)
    assert pressure == printed("58.3")
    assert pressure == printed("58.33")  # computed
    assert interference_fit.stresses_mpa(seat, pressure).ring_bore_mpa == printed("151.7")
    assert interference_fit.slip_torque_nm(pressure, 100.0, 50.0, 0.15) / 1e3 == printed("6.87")
    # The simple form for one material and a solid shaft: E Delta (D^2 - d^2) / (2 d D^2).
    assert pressure == pytest.approx(210e3 * 0.1 * (150**2 - 100**2) / (2 * 100 * 150**2))


def test_large_disc_on_a_shaft() -> None:
    """d 80, D_o 750, 0.05 mm, 207 GPa, nu 0.3: the page prints p = 63.95 MPa.

    Its bore hoop of -63.9 has the wrong sign: it is tension, 65.42 computed.
    """
    steel = interference_fit.Elastic(207.0, 0.3, 0.0)
    seat = interference_fit.Seat(80.0, 750.0, 0.0, steel, steel)
    pressure = interference_fit.pressure_mpa(seat, 0.05)
    assert pressure == printed("63.95")
    assert interference_fit.stresses_mpa(seat, pressure).ring_bore_mpa == printed("65.42")


def test_steel_on_a_brass_tube() -> None:
    """Steel 101.6/127.0 (206.7 GPa, 0.29) on brass 50.8/101.651 (103.4 GPa, 0.32): computed."""
    seat = interference_fit.Seat(
        101.6,
        127.0,
        50.8,
        interference_fit.Elastic(206.7, 0.29, 0.0),
        interference_fit.Elastic(103.4, 0.32, 0.0),
    )
    pressure = interference_fit.pressure_mpa(seat, 0.051)
    assert pressure == printed("13.765")
    found = interference_fit.stresses_mpa(seat, pressure)
    assert found.ring_bore_mpa == printed("62.71")
    assert found.ring_outer_mpa == printed("48.94")
    assert found.hub_outer_mpa == printed("-22.94")
    assert found.hub_bore_mpa == printed("-36.71")


def test_sleeve_whose_bore_grows_by_a_fifth_of_a_millimetre() -> None:
    """Sleeve 200/350 (200 GPa, 0.28) on a shaft 100/200 (80 GPa, 0.33): problem page; computed."""
    seat = interference_fit.Seat(
        200.0,
        350.0,
        100.0,
        interference_fit.Elastic(200.0, 0.28, 0.0),
        interference_fit.Elastic(80.0, 0.33, 0.0),
    )
    total = interference_fit.interference_at_growth_mm(seat, 0.2)
    assert total == printed("0.4971")
    pressure = interference_fit.pressure_mpa(seat, total)
    assert pressure == printed("88.90")
    found = interference_fit.stresses_mpa(seat, pressure)
    assert found.ring_bore_mpa == printed("175.11")
    assert found.ring_outer_mpa == printed("86.21")
    assert found.hub_outer_mpa == printed("-148.17")
    assert found.hub_bore_mpa == printed("-237.07")


# Ring 100/112 of steel with 0.05 mm; p, bore hoop in MPa, growth of the outer radius in um; computed.
@pytest.mark.parametrize(
    ("hub_bore", "hub", "pressure", "hoop", "growth", "hub_hoop"),
    [
        (0.0, STEEL, "10.647", "94.35", "22.32", None),
        (80.0, STEEL, "7.826", "69.35", "16.41", "-43.48"),
        (80.0, ALUMINIUM, "4.808", "42.61", "10.08", "-26.71"),
    ],
)
def test_thin_ring(
    hub_bore: float, hub: Elastic, pressure: str, hoop: str, growth: str, hub_hoop: str | None
) -> None:
    seat = interference_fit.Seat(100.0, 112.0, hub_bore, STEEL, hub)
    found = interference_fit.pressure_mpa(seat, 0.05)
    assert found == printed(pressure)
    stresses = interference_fit.stresses_mpa(seat, found)
    assert stresses.ring_bore_mpa == printed(hoop)
    assert 1e3 * interference_fit.outer_growth_mm(seat, found) == printed(growth)
    if hub_hoop is not None:
        assert stresses.hub_bore_mpa == printed(hub_hoop)


def test_the_tolerance_of_a_fit_moves_the_teeth() -> None:
    """100 H7/p6 on a 6 mm rim: 0.426..12.564 and 3.77..111.34 MPa, 0.9..26.3 um (computed)."""
    smallest, largest = iso286_fit_clearance_um(100.0, "H7/p6")
    interference = -np.array([largest, smallest]) / 1e3
    assert interference.tolist() == [0.002, 0.059]
    seat = interference_fit.Seat(100.0, 112.0, 0.0, STEEL, STEEL)
    pressure = interference_fit.pressure_mpa(seat, interference)
    growth = 1e3 * interference_fit.outer_growth_mm(seat, pressure)
    hoop = interference_fit.stresses_mpa(seat, pressure).ring_bore_mpa
    for found, texts in (
        (pressure, ("0.426", "12.564")),
        (hoop, ("3.77", "111.34")),
        (growth, ("0.9", "26.3")),
    ):
        assert [
            value == printed(text) for value, text in zip(array(found), texts, strict=True)
        ] == [True, True]


def test_an_aluminium_hub_tightens_a_steel_ring_when_warm() -> None:
    """d 100, +40 K: 47.6 um (computed from a difference of 11.9e-6/K)."""
    hub = interference_fit.Elastic(70.0, 0.33, 23.4e-6)
    seat = interference_fit.Seat(
        100.0, 112.0, 0.0, interference_fit.Elastic(210.0, 0.3, 11.5e-6), hub
    )
    assert 1e3 * interference_fit.interference_warmed_mm(seat, 0.0, 40.0) == printed("47.6")
    # With the tables' own values, which are middles of ranges: within the 2.2 um of these.
    own = (
        standard_material("en_aw_6082_t6").expansion_per_k
        - standard_material("c45").expansion_per_k
    )
    assert own * 100.0 * 40.0 * 1e3 == pytest.approx(47.6, abs=2.2)
