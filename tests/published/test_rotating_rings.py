"""Rotating rings and discs: textbook and question-page values, and closed forms.

"Computed" means the closed form evaluated beforehand by another program. Diameters in mm here.
"""

import numpy as np
import pytest

from ringset.physics import interference_fit, rotating_ring
from tests.published.tables import printed

RPM = 60.0 / (2.0 * np.pi)  # of one radian a second


def test_thin_ring() -> None:
    """rho v^2 at 7850 kg/m^3: 78.5 MPa at 100 m/s, 0.785 MPa at 10 m/s (exact)."""
    speed = 100.0 / 0.05 * RPM
    assert rotating_ring.thin_ring_hoop_mpa(7850.0, speed, 50.0) == pytest.approx(78.5, rel=1e-12)
    assert rotating_ring.thin_ring_hoop_mpa(7850.0, speed / 10, 50.0) == pytest.approx(
        0.785, rel=1e-12
    )


def test_annulus_on_a_shaft_that_lets_go_at_6900_rpm() -> None:
    """0.05/0.25 m, E 200 GPa, nu 0.3; the page prints 212 and 109.2 MPa and an allowance of 5.26e-5 m.

    Its density is not printed; 7800 fits. 211.8 and 5.25e-5 computed with it.
    """
    running = rotating_ring.bore_hoop_mpa(7800.0, 0.3, 6900.0, 100.0, 500.0, 500.0)
    assert running == printed("212")
    assert running == printed("211.8")
    steel = interference_fit.Elastic(200.0, 0.3, 0.0)
    seat = interference_fit.Seat(100.0, 500.0, 0.0, steel, steel)
    allowance = rotating_ring.opening_mm(seat, 7800.0, 7800.0, 6900.0)  # on the diameter
    assert 1e2 * allowance / 2.0 == printed("5.25")
    pressure = interference_fit.pressure_mpa(seat, allowance)
    assert interference_fit.stresses_mpa(seat, pressure).ring_bore_mpa == printed("109.2")
    lost = rotating_ring.contact_loss_rpm(seat, allowance, 7800.0, 7800.0)
    assert lost == pytest.approx(6900.0, rel=1e-12)


def test_a_ring_of_eighty_to_a_hundred_millimetres_radius() -> None:
    """0.08/0.10 m at 1000 rad/s, 7850, 0.3 (computed)."""
    given = (7850.0, 0.3, 1000.0 * RPM, 160.0, 200.0)
    assert rotating_ring.hoop_mpa(*given, 160.0) == printed("73.554")
    assert rotating_ring.hoop_mpa(*given, 200.0) == printed("55.185")
    assert rotating_ring.mean_hoop_mpa(7850.0, 1000.0 * RPM, 160.0, 200.0, 200.0) == printed(
        "63.847"
    )
    assert rotating_ring.thin_ring_hoop_mpa(7850.0, 1000.0 * RPM, 90.0) == printed("63.585")
    peak = rotating_ring.radial_mpa(*given, np.sqrt(160.0 * 200.0))
    assert peak == printed("1.295")
    assert rotating_ring.radial_mpa(*given, np.array([160.0, 200.0])) == pytest.approx(
        0.0, abs=1e-12
    )


def test_solid_disc() -> None:
    """R 0.125 m, 14000 rpm, 7850, 0.3: 108.75 MPa (computed)."""
    assert rotating_ring.solid_centre_mpa(7850.0, 0.3, 14000.0, 250.0) == printed("108.75")


def test_ring_that_must_keep_thirty_megapascals() -> None:
    """0.10/0.15 m, 240 MPa allowed at the bore, 7470, 0.3: 9867 rpm (problem from memory, computed)."""
    steel = interference_fit.Elastic(200.0, 0.3, 0.0)
    seat = interference_fit.Seat(200.0, 300.0, 0.0, steel, steel)
    spin = 240.0 - interference_fit.stresses_mpa(seat, 30.0).ring_bore_mpa
    at_one = rotating_ring.bore_hoop_mpa(7470.0, 0.3, 1.0, 200.0, 300.0, 300.0)
    assert np.sqrt(spin / at_one) == pytest.approx(9867.0, abs=0.5)


def test_disc_that_loses_its_shaft() -> None:
    """80/750 with 0.05 mm, 207 GPa, 7470: 3690 rpm, bore hoop 129.7 MPa (question page; computed)."""
    steel = interference_fit.Elastic(207.0, 0.3, 0.0)
    seat = interference_fit.Seat(80.0, 750.0, 0.0, steel, steel)
    lost = rotating_ring.contact_loss_rpm(seat, 0.05, 7470.0, 7470.0)
    assert lost == printed("3690")
    assert rotating_ring.bore_hoop_mpa(7470.0, 0.3, lost, 80.0, 750.0, 750.0) == printed("129.7")


def test_a_robot_joint_hardly_feels_it() -> None:
    """r 53 mm, 6 rad/s: about 800 Pa (computed, one digit)."""
    stress = rotating_ring.thin_ring_hoop_mpa(7850.0, 6.0 * RPM, 53.0)
    assert 1e6 * stress == pytest.approx(800.0, abs=50.0)
