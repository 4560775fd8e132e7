"""Rotating rings: equilibrium, the mean over the wall, teeth as a pull, limits."""

import numpy as np
import pytest

from ringset.arrays import Floats
from ringset.physics import interference_fit, rotating_ring

GIVEN = (7850.0, 0.3, 5000.0)
STEEL = interference_fit.Elastic(210.0, 0.3, 11.5e-6)


def test_the_stresses_are_in_equilibrium_with_the_spin() -> None:
    """d(r sigma_r)/dr - sigma_t + rho w^2 r^2 = 0, by central differences."""
    r, step = np.linspace(41.0, 59.0, 50), 1e-3

    def pulled(radius: Floats) -> Floats:
        return np.asarray(radius * rotating_ring.radial_mpa(*GIVEN, 80.0, 120.0, 2.0 * radius))

    slope = (pulled(r + step) - pulled(r - step)) / (2.0 * step)
    hoop = rotating_ring.hoop_mpa(*GIVEN, 80.0, 120.0, 2.0 * r)
    body = rotating_ring.thin_ring_hoop_mpa(7850.0, 5000.0, r)
    assert slope - hoop + body == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("tip", [120.0, 126.0])
def test_the_hoop_stress_averages_to_what_half_a_ring_needs(tip: float) -> None:
    """Annulus, and the Lame stress q r_f^2 (1 + r_i^2/r^2) / (r_f^2 - r_i^2) of the teeth's pull."""
    nodes, weights = np.polynomial.legendre.leggauss(40)
    inner, root = 40.0, 60.0
    r = (inner + root) / 2.0 + (root - inner) / 2.0 * nodes
    unit = rotating_ring.thin_ring_hoop_mpa(7850.0, 5000.0, 1.0)
    pull = unit * ((tip / 2.0) ** 3 - root**3) / (3.0 * root)
    lame = pull * root**2 / (root**2 - inner**2)
    hoop = rotating_ring.hoop_mpa(*GIVEN, 80.0, 120.0, 2.0 * r) + lame * (1.0 + inner**2 / r**2)
    mean = rotating_ring.mean_hoop_mpa(7850.0, 5000.0, 80.0, 120.0, tip)
    assert np.sum(weights * hoop) / 2.0 == pytest.approx(mean, rel=1e-12)
    bore = rotating_ring.bore_hoop_mpa(*GIVEN, 80.0, 120.0, tip)
    at_bore = rotating_ring.hoop_mpa(*GIVEN, 80.0, 120.0, 80.0) + 2.0 * lame
    assert bore == pytest.approx(at_bore, rel=1e-12)


def test_a_thin_annulus_is_a_thin_ring() -> None:
    mean = rotating_ring.mean_hoop_mpa(7850.0, 5000.0, 99.99, 100.01, 100.01)
    assert mean == pytest.approx(rotating_ring.thin_ring_hoop_mpa(7850.0, 5000.0, 50.0), rel=1e-6)


def test_a_disc_with_a_pinhole_has_twice_the_stress_of_a_solid_one() -> None:
    """The textbook limit."""
    pricked = rotating_ring.hoop_mpa(*GIVEN, 1e-6, 100.0, 1e-6)
    assert pricked == pytest.approx(2.0 * rotating_ring.solid_centre_mpa(*GIVEN, 100.0), rel=1e-9)


def test_at_the_speed_of_yielding_through_the_mean_is_the_yield() -> None:
    speed = rotating_ring.yielding_through_rpm(7850.0, 275.0, 80.0, 92.0, 96.0)
    assert rotating_ring.mean_hoop_mpa(7850.0, speed, 80.0, 92.0, 96.0) == pytest.approx(275.0)
    with pytest.raises(ValueError, match=r"yield_mpa: given 0\.0, allowed above 0"):
        rotating_ring.yielding_through_rpm(7850.0, 0.0, 80.0, 92.0, 96.0)


def test_contact_is_lost_where_the_opening_equals_the_interference() -> None:
    seat = interference_fit.Seat(80.0, 92.0, 60.0, STEEL, STEEL)
    lost = rotating_ring.contact_loss_rpm(seat, 0.03, 7850.0, 7850.0, 96.0)
    assert rotating_ring.opening_mm(seat, 7850.0, 7850.0, lost, 96.0) == pytest.approx(0.03)
    assert rotating_ring.contact_loss_rpm(seat, -0.01, 7850.0, 7850.0) == 0.0
    # A heavy soft hub outgrows a light stiff ring: it never lets go.
    rubber = interference_fit.Elastic(1.0, 0.3, 0.0)
    never = interference_fit.Seat(80.0, 81.0, 0.0, STEEL, rubber)
    assert rotating_ring.contact_loss_rpm(never, 0.03, 7850.0, 7850.0) == np.inf
