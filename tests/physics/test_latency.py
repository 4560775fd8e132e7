"""Lag of a reading behind a turning joint, against limits, a simulated filter and unwrapping."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringset.physics import latency
from ringset.physics.quantity import ARCSEC_PER_RAD


def test_low_pass_at_the_corner_and_at_its_ends() -> None:
    """Half the power and an eighth of a period at the corner; nothing far below; all far above."""
    assert latency.low_pass_gain(1e3, 1e3) == pytest.approx(np.sqrt(0.5), rel=1e-15)
    assert latency.electrical_lag_rad(1e3, 1e3) == pytest.approx(np.pi / 4.0, rel=1e-15)
    assert latency.low_pass_gain(0.0, 1e3) == 1.0
    assert latency.low_pass_loss(0.0, 1e3) == 0.0
    assert latency.electrical_lag_rad(0.0, 1e3) == 0.0
    # 20 dB per decade: gain f_c / f, less (f_c / f)^2 / 2 of itself
    assert latency.low_pass_gain(1e6, 1e3) == pytest.approx(1e-3, rel=1e-6)
    assert latency.electrical_lag_rad(1e9, 1e3) == pytest.approx(np.pi / 2.0, abs=1.1e-6)


def test_tiny_losses_keep_their_digits() -> None:
    """(f / f_c)^2 / 2, which 1 - gain loses to rounding below 1e-8."""
    assert latency.low_pass_loss(1.0, 1e6) == pytest.approx(5e-13, rel=1e-11)
    assert latency.low_pass_loss(500.0, 1e3) == pytest.approx(
        1.0 - latency.low_pass_gain(500.0, 1e3)
    )


@pytest.mark.parametrize("ratio", [0.03, 1.0, 4.0])
def test_gain_and_lag_are_those_of_a_stepped_filter(ratio: float) -> None:
    """RC filter integrated step by step (trapezium), 20 periods settled, fundamental of the last."""
    steps = 20000
    t = np.arange(20 * steps) / steps  # in periods
    wave = np.sin(2.0 * np.pi * t)
    h = 2.0 * np.pi * 1.0 / ratio / steps / 2.0  # half a step over the time constant
    out = np.zeros_like(wave)
    for i in range(1, len(out)):
        out[i] = ((1.0 - h) * out[i - 1] + h * (wave[i] + wave[i - 1])) / (1.0 + h)
    last = slice(-steps, None)
    phasor = 2.0 * np.mean(out[last] * np.exp(-2j * np.pi * t[last])) * 1j
    # the trapezium rule errs by (pi / steps)^2 / 3; the start has died away by exp(-20 * 2 pi / 4)
    assert abs(phasor) == pytest.approx(latency.low_pass_gain(ratio, 1.0), rel=1e-6)
    assert -np.angle(phasor) == pytest.approx(latency.electrical_lag_rad(ratio, 1.0), abs=1e-6)


@given(teeth=st.integers(1, 400), speed=st.floats(0.1, 60.0), corner=st.floats(1e5, 1e7))
def test_slow_joints_lag_by_the_delay_whatever_the_teeth(
    teeth: int, speed: float, corner: float
) -> None:
    """atan(x) = x - x^3 / 3 at most: below omega tau, by less than x^2 / 3 of it."""
    x = teeth * speed / 60.0 / corner
    slow = latency.latency_lag_arcsec(speed, latency.low_pass_delay_us(corner))
    found = latency.low_pass_lag_arcsec(teeth, speed, corner)
    assert slow * (1.0 - x**2 / 3.0 - 1e-12) <= found <= slow * (1.0 + 1e-12)


def test_fast_joints_never_lag_by_more_than_a_quarter_pitch() -> None:
    quarter = np.pi / 2.0 / 50 * ARCSEC_PER_RAD
    assert 0.99 * quarter < latency.low_pass_lag_arcsec(50, 1e6, 1e3) < quarter


def test_turning_the_other_way_turns_the_lag_round() -> None:
    assert latency.low_pass_lag_arcsec(64, -30.0, 500.0) == -latency.low_pass_lag_arcsec(
        64, 30.0, 500.0
    )
    assert latency.low_pass_gain(-32.0, 500.0) == latency.low_pass_gain(32.0, 500.0)
    assert latency.latency_lag_arcsec(-30.0, 10.0) == -latency.latency_lag_arcsec(30.0, 10.0)
    assert latency.least_sampling_hz(-32.0, 4.0) == 128.0


def test_latency_of_a_whole_turn() -> None:
    """One turn per minute, a minute late: 1296000 arcsec."""
    assert latency.latency_lag_arcsec(1.0, 60e6) == pytest.approx(1296000.0, rel=1e-15)
    assert latency.jitter_error_arcsec(1.0, 60e6) == pytest.approx(1296000.0, rel=1e-15)
    assert latency.latency_lag_arcsec(100.0, 0.0) == 0.0


@pytest.mark.parametrize("samples", [2.01, 4.0, 8.0])
def test_enough_samples_are_unwrapped_right(samples: float) -> None:
    """The phase of a tooth track, sampled so often, comes out of numpy's unwrap as it went in."""
    rate = latency.least_sampling_hz(180.0, samples)
    phase = 2.0 * np.pi * 180.0 / rate * np.arange(200)
    assert np.allclose(np.unwrap(np.angle(np.exp(1j * phase))), phase, atol=1e-9)


def test_two_samples_per_pitch_or_fewer_are_refused_because_they_fail() -> None:
    phase = 2.0 * np.pi / 1.99 * np.arange(200)
    assert not np.allclose(np.unwrap(np.angle(np.exp(1j * phase))), phase, atol=1.0)
    with pytest.raises(ValueError, match=r"samples_per_pitch: given 2.0, allowed more than 2 "):
        latency.least_sampling_hz(180.0, 2.0)
    assert latency.least_sampling_hz(180.0) == 180.0 * latency.RECOMMENDED_SAMPLES_PER_PITCH


def test_arrays_give_what_numbers_give() -> None:
    speeds = np.array([1.0, 30.0, 3000.0])
    corners = np.array([100.0, 1e3, 1e4])
    for function in (
        latency.low_pass_gain,
        latency.low_pass_loss,
        latency.electrical_lag_rad,
        lambda a, b: latency.low_pass_lag_arcsec(64, a, b),
        latency.latency_lag_arcsec,
        latency.jitter_error_arcsec,
        latency.least_sampling_hz,
    ):
        found = function(speeds, corners)
        each = [function(a, b) for a, b in zip(speeds, corners, strict=True)]
        assert np.array_equal(found, np.array(each))
    assert np.array_equal(
        latency.low_pass_delay_us(corners),
        np.array([latency.low_pass_delay_us(c) for c in corners]),
    )


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: latency.low_pass_gain(1.0, 0.0), "corner_hz: given 0.0, allowed above 0"),
        (lambda: latency.low_pass_loss(1.0, -5.0), "corner_hz: given -5.0, allowed above 0"),
        (lambda: latency.electrical_lag_rad(1.0, np.nan), "corner_hz: given nan, allowed above 0"),
        (
            lambda: latency.low_pass_delay_us(np.array([1.0, 0.0])),
            "corner_hz: given 0.0, allowed above 0",
        ),
        (lambda: latency.low_pass_lag_arcsec(0, 1.0, 1.0), "teeth: given 0, allowed above 0"),
        (lambda: latency.low_pass_lag_arcsec(9, 1.0, 0), "corner_hz: given 0, allowed above 0"),
        (
            lambda: latency.latency_lag_arcsec(1.0, -1.0),
            "latency_us: given -1.0, allowed 0 or more",
        ),
        (
            lambda: latency.jitter_error_arcsec(1.0, -1.0),
            "jitter_us: given -1.0, allowed 0 or more",
        ),
    ],
)
def test_impossible_inputs_are_named(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=f"^{words}"):
        call()
