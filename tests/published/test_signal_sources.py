"""The signal simulation against outside numbers on eccentricity and sub-divisional error."""

from typing import Any

import numpy as np
import pytest

from ringset.arrays import Floats
from ringset.physics import simulated_signal
from ringset.physics.quantity import ARCSEC_PER_RAD
from tests.published.tables import printed

SAMPLES = 4096


def turn(
    ring: simulated_signal.Rings, radius: float, angles: tuple[float, ...] = (0.0,), **errors: Any
) -> Floats:
    """Return the error curve of one turn in arcsec."""
    heads = simulated_signal.Heads(radius, np.radians([angles]), **errors)
    errors_rad = simulated_signal.simulated_angle_errors(
        ring, heads, simulated_signal.Motion(), SAMPLES
    )
    return np.asarray(errors_rad[0] * ARCSEC_PER_RAD)


# An unnamed engineering article on encoder eccentricity ("Eccentricity error vs. scale diameter"): radius at
# which the scale is read in mm, eccentricity in um, error in arcsec as printed. Whole arcsec, cut not
# rounded in one row (82.5 is printed 83, 412.5 is printed 412), hence a tolerance of one.
@pytest.mark.parametrize(
    ("radius", "offset_um", "error"),
    [
        (50.0, 10.0, 41), (50.0, 25.0, 103), (50.0, 100.0, 412), (25.0, 10.0, 83),
        (25.0, 25.0, 206), (12.5, 10.0, 165), (12.5, 5.0, 83),
    ],
)  # fmt: skip
def test_eccentricity_against_diameter(radius: float, offset_um: float, error: float) -> None:
    ring = simulated_signal.Rings(64, radius - 0.4, offset_mm=np.array([offset_um * 1e-3 + 0j]))
    assert simulated_signal.error_curve_half_range(turn(ring, radius)) == pytest.approx(
        error, abs=1.0
    )


@pytest.mark.parametrize("offset_um", [5.0, 10.0, 25.0, 100.0])
def test_the_mean_of_two_opposite_readings_is_free_of_eccentricity(offset_um: float) -> None:
    """Surveying practice (a public question bank on theodolites): two opposite verniers differ when the
    circle is off centre, and the mean of both readings gives the true angle. What is left here is of
    second order, (e / r)^2 / 2."""
    ring = simulated_signal.Rings(64, 49.6, offset_mm=np.array([offset_um * 1e-3 + 0j]))
    one, both = turn(ring, 50.0), turn(ring, 50.0, (0.0, 180.0))
    ratio = offset_um * 1e-3 / 50.0
    assert simulated_signal.error_curve_half_range(one) == pytest.approx(
        ratio * ARCSEC_PER_RAD, rel=1e-3
    )
    assert simulated_signal.error_curve_half_range(both) == pytest.approx(
        ratio**2 / 2.0 * ARCSEC_PER_RAD, rel=1e-3
    )


def test_opposed_heads_cancel_it_and_heads_at_120_degrees_leave_every_third_order() -> None:
    """Read-head symmetry averaging: P. G. Cramer, Mathematical tools for analysis, simulation and design of
    robotic angular encoders (proof of the angular encoder theorem): with H even heads only orders that H
    divides are left."""
    phi = 2.0 * np.pi * np.arange(96) / 96
    wave = sum((np.cos(p * phi + p) for p in range(1, 13)), start=np.zeros(96)) * 1e-5
    ring = simulated_signal.Rings(96, 49.0, tooth_rad=wave[np.newaxis])
    # linear reading of the fine table leaves a ten-thousandth of the wave
    for count in (2, 3, 4):
        at = tuple(360.0 * j / count for j in range(count))
        orders = simulated_signal.error_curve_spectrum(turn(ring, 49.4, at)) / ARCSEC_PER_RAD
        for p in range(1, 13):
            left = 1e-5 if p % count == 0 else 0.0
            assert orders[p] == pytest.approx(left, rel=5e-4, abs=1e-9)


def test_amplitude_mismatch_of_a_pair_of_channels() -> None:
    """A public answer on resolver conversion: error = alpha / 2 sin 2 theta, largest at odd multiples of
    45 degrees; a mismatch of 0.3 % is one step of a 12-bit converter (0.088 degrees)."""
    ring = simulated_signal.Rings(64, 33.0)
    error = turn(ring, 33.4, gain=np.array([[0.003]])) / 3600.0 * 64  # electrical degrees
    orders = simulated_signal.error_curve_spectrum(error)
    assert orders[128] == pytest.approx(np.degrees(0.003 / 2.0), rel=0.002)
    assert simulated_signal.error_curve_half_range(error) == pytest.approx(
        360.0 / 2**12, abs=0.0025
    )
    first = np.argmax(np.abs(error[:64])) * 360.0 * 64 / SAMPLES % 90.0
    assert first == pytest.approx(45.0, abs=360.0 * 64 / SAMPLES)


def test_a_quadrature_error_is_asymmetrical_about_the_true_value() -> None:
    """P. Gregorcic, T. Pozar, J. Mozina, Quadrature phase-shift error analysis using a homodyne laser
    interferometer, Optics Express 17 (2009): the error is periodic and lies to one side of the true
    value; with one channel late by psi it runs from 0 to psi."""
    psi = np.radians(5.0)
    ring = simulated_signal.Rings(64, 33.0)
    error = turn(ring, 33.4, quadrature_rad=np.array([[psi]])) / ARCSEC_PER_RAD * 64
    low, high = sorted((abs(error.min()), abs(error.max())))
    assert low == pytest.approx(0.0, abs=2e-5)
    assert high == pytest.approx(psi, rel=1e-3)


def test_order_of_the_error_of_a_signal_harmonic() -> None:
    """S. Kuntz and others, Harmonic analysis of the arctangent function, arXiv:2205.08472: a harmonic of
    order p of the signals makes errors of orders p - 1 and p + 1; a third harmonic turning backwards
    (quarter-pitch channels) makes order 4 of amplitude h3, computed here from the same expansion."""
    ring = simulated_signal.Rings(64, 33.0)
    orders = (
        simulated_signal.error_curve_spectrum(turn(ring, 33.4, third=np.array([[0.01]])))
        / ARCSEC_PER_RAD
        * 64
    )
    assert orders[4 * 64] == pytest.approx(0.01, rel=1e-3)
    assert orders[2 * 64] == pytest.approx(0.0, abs=1e-9)


# From here on: values computed beside the signal model that this one follows, four decimals kept.
@pytest.mark.parametrize(
    ("errors", "values"),
    [
        ({"offset": np.array([[0.01 + 0j]])}, {32: "64.46", 64: "32.23", 180: "11.46"}),
        ({"gain": np.array([[0.01]])}, {32: "32.07", 64: "16.03", 180: "5.70"}),
        ({"quadrature_rad": np.radians([[1.0]])}, {32: "56.25", 64: "28.13", 180: "10.00"}),
        ({"third": np.array([[0.01]])}, {32: "64.46", 64: "32.23", 180: "11.46"}),
    ],
    ids=["offset", "gain", "quadrature", "third harmonic"],
)
def test_one_per_cent_of_each_channel_error(errors: dict[str, Any], values: dict[int, str]) -> None:
    """Computed from the closed forms o, delta / (2 + delta), tan(psi / 2), h3 over z, in arcsec."""
    for teeth, value in values.items():
        radius = teeth / 2.0 + 1.4
        orders = simulated_signal.error_curve_spectrum(
            turn(simulated_signal.Rings(teeth, radius - 0.4), radius, **errors)
        )
        assert max(orders[teeth], orders[2 * teeth], orders[4 * teeth]) == printed(value)


def test_raw_channels_before_and_after_correction() -> None:
    """Computed beside the model: 3 and -2 % offset, 4 % gain, 2 degrees at 64 teeth, 186.7 arcsec peak; after
    correction over the turn less than 1e-6."""
    raw: dict[str, Any] = {
        "offset": np.array([[0.03 - 0.02j]]),
        "gain": np.array([[0.04]]),
        "quadrature_rad": np.radians([[2.0]]),
    }
    error = turn(simulated_signal.Rings(64, 33.0), 33.4, **raw)
    assert np.abs(error - error.mean()).max() == printed("186.7")
    heads = simulated_signal.Heads(33.4, np.zeros((1, 1)), **raw)
    ring = simulated_signal.Rings(64, 33.0)
    left = simulated_signal.simulated_angle_errors(
        ring, heads, simulated_signal.Motion(), SAMPLES, correct=True
    )
    assert simulated_signal.error_curve_half_range(left)[0] * ARCSEC_PER_RAD < 1e-6
