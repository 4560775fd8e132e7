"""Ring on hub: against a linear system of the two cylinders, limiting cases, and what is refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringset.physics import interference_fit
from tests.support.narrow import array, number

STEEL = interference_fit.Elastic(210.0, 0.3, 11.5e-6)
ALUMINIUM = interference_fit.Elastic(70.0, 0.33, 23.5e-6)


def solved(seat: interference_fit.Seat, interference_mm: float) -> tuple[float, float, float]:
    """Pressure, bore hoop and outer growth from u = A r + B / r in both bodies, solved as it stands.

    Plane stress: sigma_r = E/(1-nu^2) [A (1+nu) - B (1-nu)/r^2], hoop with +.
    """
    inner, joint = number(seat.hub_bore_mm) / 2, number(seat.seat_mm) / 2
    outer = number(seat.outer_mm) / 2

    def radial(body: interference_fit.Elastic, r: float, sign: float = -1.0) -> list[float]:
        factor = 1e3 * number(body.youngs_modulus_gpa) / (1 - number(body.poisson) ** 2)
        poisson = number(body.poisson)
        return [factor * (1 + poisson), sign * factor * (1 - poisson) / r**2]

    rows = [
        [*radial(seat.ring, outer), 0, 0],
        [0, 0, *(radial(seat.hub, inner) if inner > 0 else [0, 1.0])],
        [*radial(seat.ring, joint), *(-v for v in radial(seat.hub, joint))],
        [joint, 1 / joint, -joint, -1 / joint],
    ]
    a, b, _, _ = np.linalg.solve(np.array(rows), [0, 0, 0, interference_mm / 2])
    at_bore, hoop = radial(seat.ring, joint), radial(seat.ring, joint, +1.0)
    pressure = -(at_bore[0] * a + at_bore[1] * b)
    return pressure, hoop[0] * a + hoop[1] * b, a * outer + b / outer


@given(
    seat_mm=st.floats(20.0, 200.0),
    wall=st.floats(0.02, 1.0),
    hollow=st.one_of(st.just(0.0), st.floats(0.05, 0.95)),
    soft=st.booleans(),
)
def test_pressure_stress_and_growth_are_those_of_the_two_cylinders(
    seat_mm: float, wall: float, hollow: float, soft: bool
) -> None:
    hub = ALUMINIUM if soft else STEEL
    seat = interference_fit.Seat(seat_mm, seat_mm * (1 + wall), hollow * seat_mm, STEEL, hub)
    pressure, hoop, growth = solved(seat, 0.04)
    found = interference_fit.pressure_mpa(seat, 0.04)
    assert found == pytest.approx(pressure, rel=1e-6)
    assert interference_fit.stresses_mpa(seat, found).ring_bore_mpa == pytest.approx(hoop, rel=1e-6)
    assert interference_fit.outer_growth_mm(seat, found) == pytest.approx(growth, rel=1e-6)


def test_clearance_has_no_pressure_and_columns_work() -> None:
    seat = interference_fit.Seat(
        np.array([50.0, 60.0]), np.array([60.0, 66.0]), 0.0, STEEL, ALUMINIUM
    )
    pressure = array(interference_fit.pressure_mpa(seat, np.array([-0.02, 0.02])))
    assert pressure[0] == 0.0
    alone = interference_fit.Seat(60.0, 66.0, 0.0, STEEL, ALUMINIUM)
    assert pressure[1] == interference_fit.pressure_mpa(alone, 0.02)


def test_equivalent_stress_of_known_states() -> None:
    """Uniaxial s gives s, equal biaxial s gives s, pure shear t gives sqrt(3) t."""
    assert interference_fit.equivalent_mpa(100.0, 0.0) == 100.0
    assert interference_fit.equivalent_mpa(-50.0, -50.0) == 50.0
    assert interference_fit.equivalent_mpa(10.0, -10.0) == pytest.approx(10.0 * np.sqrt(3.0))


def test_a_solid_hub_is_under_even_pressure_and_a_hollow_one_worst_at_its_bore() -> None:
    solid = interference_fit.stresses_mpa(
        interference_fit.Seat(50.0, 60.0, 0.0, STEEL, STEEL), 20.0
    )
    assert (solid.hub_outer_mpa, solid.hub_bore_mpa, solid.hub_mpa) == (-20.0, -20.0, 20.0)
    hollow = interference_fit.stresses_mpa(
        interference_fit.Seat(50.0, 60.0, 40.0, STEEL, STEEL), 20.0
    )
    assert hollow.hub_mpa == -hollow.hub_bore_mpa > -hollow.hub_outer_mpa
    # A pin-prick of a bore doubles the hoop stress, the textbook limit.
    pricked = interference_fit.stresses_mpa(
        interference_fit.Seat(50.0, 60.0, 1e-6, STEEL, STEEL), 20.0
    )
    assert pricked.hub_bore_mpa == pytest.approx(-40.0)


def test_temperature_range_ends_where_the_grip_or_the_strength_ends() -> None:
    seat = interference_fit.Seat(100.0, 112.0, 80.0, STEEL, ALUMINIUM)
    low, high = interference_fit.temperature_range_k(seat, 0.012, 0.047, 0.095)
    assert low == pytest.approx(-10.0)  # 1.2 um a kelvin
    assert high == pytest.approx(40.0)
    assert interference_fit.interference_warmed_mm(seat, 0.012, low) == pytest.approx(
        0.0, abs=1e-15
    )
    assert interference_fit.interference_warmed_mm(seat, 0.047, high) == pytest.approx(0.095)


def test_temperature_range_of_a_hub_that_expands_less_is_the_other_way_round() -> None:
    seat = interference_fit.Seat(100.0, 112.0, 80.0, ALUMINIUM, STEEL)
    low, high = interference_fit.temperature_range_k(seat, 0.012, 0.047, 0.095)
    assert [low, high] == [pytest.approx(-40.0), pytest.approx(10.0)]


def test_equal_expansion_never_ends_and_a_loose_fit_has_no_range() -> None:
    seat = interference_fit.Seat(100.0, 112.0, 0.0, STEEL, STEEL)
    assert interference_fit.temperature_range_k(seat, 0.01, 0.02, 0.1) == (-np.inf, np.inf)
    for least, greatest in ((-0.001, 0.02), (0.01, 0.11)):
        both = interference_fit.temperature_range_k(seat, least, greatest, 0.1)
        assert np.isnan(np.array(both)).all()


def test_the_largest_interference_brings_the_weaker_body_to_its_limit() -> None:
    seat = interference_fit.Seat(100.0, 112.0, 90.0, STEEL, ALUMINIUM)
    for ring, hub in ((200.0, 1e9), (1e9, 150.0)):
        most = interference_fit.most_interference_mm(seat, ring, hub)
        found = interference_fit.stresses_mpa(seat, interference_fit.pressure_mpa(seat, most))
        reached = found.ring_mpa if ring < hub else found.hub_mpa
        assert reached == pytest.approx(min(ring, hub))


def test_torque_force_roughness_and_joining() -> None:
    """Torque is force times radius; Rz 4 um on both faces takes 6.4 um; joining opens d / 1000."""
    torque = interference_fit.slip_torque_nm(10.0, 100.0, 8.0, 0.12)
    assert torque == pytest.approx(interference_fit.press_force_n(10.0, 100.0, 8.0, 0.12) * 0.05)
    assert interference_fit.interference_gripping_mm(0.020, 4.0) == pytest.approx(0.0136)
    seat = interference_fit.Seat(100.0, 112.0, 0.0, STEEL, STEEL)
    warmer = interference_fit.joining_warmer_k(seat, 0.059)
    assert STEEL.expansion_per_k * 100.0 * warmer == pytest.approx(0.059 + 0.1)
    assert interference_fit.joining_warmer_k(seat, -0.2) == 0.0
    assert interference_fit.inertia_torque_nm(2e-4, 500.0) == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("sizes", "message"),
    [
        ((100.0, 100.0, 0.0), "seat_mm: given 100, allowed below the ring's outer diameter"),
        ((100.0, 112.0, 100.0), "hub_bore_mm: given 100, allowed below the seat"),
        ((100.0, 112.0, -1.0), "hub_bore_mm: given -1.0, allowed 0 or more"),
        ((100.0, float("nan"), 0.0), "seat_mm: given 100, allowed below"),
    ],
)
def test_bodies_without_a_wall_are_refused(sizes: tuple[float, float, float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        interference_fit.Seat(*sizes, STEEL, STEEL)
