"""The signal simulation by itself: geometry, channels, correction, decoding."""

import numpy as np
import pytest

from ringset.physics import simulated_signal
from ringset.physics.quantity import ARCSEC_PER_RAD

Z, TIP, RADIUS, SAMPLES = 64, 33.0, 33.4, 4096


def heads(count: int = 1, **errors: object) -> simulated_signal.Heads:
    angles = np.array([[2.0 * np.pi * j / count for j in range(count)]])
    return simulated_signal.Heads(RADIUS, angles, **errors)  # type: ignore[arg-type]


def turn(ring: simulated_signal.Rings, at: simulated_signal.Heads, **fields: object) -> np.ndarray:
    motion = simulated_signal.Motion()
    return simulated_signal.simulated_angle_errors(ring, at, motion, SAMPLES, **fields)  # type: ignore[arg-type]


def test_a_perfect_ring_reads_without_error() -> None:
    for count in (1, 2, 3):
        error = turn(simulated_signal.Rings(Z, TIP), heads(count))
        assert np.abs(error).max() < 1e-15


def test_eccentricity_is_the_exact_series_of_a_circle_seen_off_centre() -> None:
    """(e / r)^k / k in order k; two opposed heads keep the even orders."""
    e = 0.5
    ring = simulated_signal.Rings(Z, TIP, offset_mm=np.array([e + 0j]))
    with pytest.raises(ValueError, match="touches"):
        turn(ring, heads())
    wide = np.array([[0.0]])
    far = simulated_signal.Heads(60.0, wide)
    orders = simulated_signal.error_curve_spectrum(turn(ring, far))[0]
    for k in (1, 2, 3, 4):
        assert orders[k] == pytest.approx((e / 60.0) ** k / k, rel=1e-9)
    opposed = simulated_signal.Heads(60.0, np.array([[0.0, np.pi]]))
    orders = simulated_signal.error_curve_spectrum(turn(ring, opposed))[0]
    assert orders[1] == pytest.approx(0.0, abs=1e-15)
    assert orders[2] == pytest.approx((e / 60.0) ** 2 / 2, rel=1e-9)


def test_the_arctangent_without_unwrapping_is_the_unwrapped_one() -> None:
    """Turning the reading back by the ideal phase equals unwrapping while errors stay below half a pitch."""
    rng = np.random.default_rng(3)
    ring = simulated_signal.Rings(
        Z, TIP, offset_mm=np.array([0.05 + 0.02j]), tooth_rad=rng.normal(0, 2e-5, (1, Z))
    )
    at = heads(offset=np.array([[0.02 + 0.01j]]), gain=np.array([[0.03]]))
    error = turn(ring, at)[0]
    theta = np.arange(SAMPLES) * 2.0 * np.pi / SAMPLES
    phase = np.unwrap(np.angle(np.exp(1j * Z * (-theta - error))))
    assert -(phase - phase[0]) / Z - theta == pytest.approx(error - error[0], abs=1e-12)


def test_whole_turn_correction_takes_out_offset_gain_and_quadrature() -> None:
    """Raw 3 and -2 % offset, 4 % gain, 2 degrees: large before, nothing after, also off centre."""
    at = heads(
        offset=np.array([[0.03 - 0.02j]]), gain=np.array([[0.04]]),
        quadrature_rad=np.radians([[2.0]]),
    )  # fmt: skip
    raw = (
        simulated_signal.error_curve_half_range(turn(simulated_signal.Rings(Z, TIP), at))[0]
        * ARCSEC_PER_RAD
    )
    assert 100.0 < raw < 300.0
    left = simulated_signal.error_curve_half_range(
        turn(simulated_signal.Rings(Z, TIP), at, correct=True)
    )[0]
    assert left * ARCSEC_PER_RAD < 1e-6


def test_interpolation_adds_no_orders_and_keeps_the_teeth() -> None:
    """A wave of few orders per turn is read as that wave, whatever the tooth count's parity."""
    for z in (64, 65):
        places = 2.0 * np.pi * np.arange(z) / z
        ring = simulated_signal.Rings(
            z, TIP, tooth_rad=(1e-5 * np.cos(3 * places + 0.4))[np.newaxis]
        )
        orders = simulated_signal.error_curve_spectrum(turn(ring, heads()))[0]
        assert orders[3] == pytest.approx(1e-5, rel=2e-5)
        orders[3] = 0.0
        assert orders.max() < 1e-9


def test_averaging_over_sensed_teeth_is_the_window_of_that_many() -> None:
    """sin(pi p n / z) / (n sin(pi p / z)): 0.98079 for order 6 of 96 teeth and two teeth sensed."""
    places = 2.0 * np.pi * np.arange(96) / 96
    ring = simulated_signal.Rings(
        96, 49.0, tooth_rad=(1e-5 * np.cos(6 * places))[np.newaxis], teeth_sensed=2
    )
    at = simulated_signal.Heads(49.4, np.array([[0.0]]))
    orders = simulated_signal.error_curve_spectrum(
        simulated_signal.simulated_angle_errors(ring, at, simulated_signal.Motion(), SAMPLES)
    )[0]
    assert orders[6] / 1e-5 == pytest.approx(0.98079, abs=2e-5)


def test_a_low_pass_alike_in_both_channels_is_a_lag() -> None:
    """atan(f / fc) / z, the same at every angle (steady state over the turn)."""
    at = heads(corner_teeth=50.0)
    error = turn(simulated_signal.Rings(Z, TIP), at)[0]
    # the reading lags: the ring has turned on by the time it shows
    assert np.ptp(error) < 1e-12
    assert abs(error.mean()) == pytest.approx(np.arctan(1.0 / 50.0) / Z, rel=1e-9)


def test_noise_falls_with_the_root_of_the_heads_and_needs_a_generator() -> None:
    rng = np.random.default_rng(5)
    ring = simulated_signal.Rings(Z, TIP, offset_mm=np.zeros(40))
    rms = [np.std(turn(ring, heads(n, noise=1e-3), rng=rng)) for n in (1, 4)]
    assert rms[0] == pytest.approx(1e-3 / Z, rel=0.01)
    assert rms[0] / rms[1] == pytest.approx(2.0, rel=0.02)
    with pytest.raises(ValueError, match="rng"):
        turn(ring, heads(noise=1e-3))


def test_pairs_of_normal_numbers_are_normal_and_independent() -> None:
    """Moments, correlation and the share beyond two sigma of 400,000 pairs; five sigma of scatter."""
    rng = np.random.default_rng(11)
    for kind in (np.float32, np.float64):
        a, b = simulated_signal._normal_pair(rng, (400, 1000), kind)
        for x in (a, b):
            assert x.dtype == kind
            assert x.mean() == pytest.approx(0.0, abs=0.008)
            assert x.std() == pytest.approx(1.0, abs=0.006)
            assert np.mean(x**4) == pytest.approx(3.0, abs=0.08)
            assert np.mean(np.abs(x) > 1.959964) == pytest.approx(0.05, abs=0.002)
        assert np.mean(a * b) == pytest.approx(0.0, abs=0.008)


def test_a_coarse_converter_adds_its_step() -> None:
    """Rms of b bits over plus and minus twice the amplitude: 4 / 2^b / sqrt 12 in each channel."""
    ring = simulated_signal.Rings(97, 49.5)
    at = simulated_signal.Heads(50.0, np.array([[0.0]]), bits=10)
    error = simulated_signal.simulated_angle_errors(ring, at, simulated_signal.Motion(), 65536)[0]
    assert error.std() == pytest.approx(4.0 / 2**10 / np.sqrt(12.0) / 97, rel=0.03)


def test_single_precision_is_good_to_a_thousandth_of_an_arcsecond() -> None:
    rng = np.random.default_rng(2)
    ring = simulated_signal.Rings(
        Z, TIP, offset_mm=np.array([0.02 + 0j]), tooth_rad=rng.normal(0, 1e-5, (1, Z)),
        runout_mm=rng.normal(0, 2e-3, (1, Z)), teeth_sensed=2,
    )  # fmt: skip
    at = heads(2, offset=np.array([[0.003]]), third=np.array([[0.005]]))
    exact, fast = turn(ring, at), turn(ring, at, single=True)
    assert np.abs(exact - fast).max() * ARCSEC_PER_RAD < 1e-3


def test_run_out_makes_one_side_line_of_an_offset_and_leaves_correction_exact() -> None:
    """Computed from the field's exponent z: an offset o gives order z - 1 of o e / r,
    and no order z + 1."""
    o, e = 0.01, 0.02
    ring = simulated_signal.Rings(Z, TIP, offset_mm=np.array([e + 0j]))
    orders = simulated_signal.error_curve_spectrum(turn(ring, heads(offset=np.array([[o + 0j]]))))[
        0
    ]
    assert orders[Z] == pytest.approx(o / Z, rel=1e-3)
    assert orders[Z - 1] == pytest.approx(o * e / RADIUS, rel=0.03)
    assert orders[Z + 1] < 0.05 * orders[Z - 1]


def test_a_ring_without_heads_reads_nothing_and_is_refused_by_name() -> None:
    ring = simulated_signal.Rings(Z, TIP)
    none = simulated_signal.Heads(50.0, np.zeros((1, 0)))
    with pytest.raises(ValueError, match="head_angles_deg: given none"):
        simulated_signal.simulated_angle_errors(ring, none, simulated_signal.Motion(), 64)
