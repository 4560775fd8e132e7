"""Counts and degrees, displayed and usable bits, tooth rate."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringset.physics import resolution
from tests.support.narrow import array


@st.composite
def _count_and_bits(draw: st.DrawFn) -> tuple[int, int]:
    bits = draw(st.integers(1, 32))
    return draw(st.integers(0, 2**bits - 1)), bits


@given(_count_and_bits())
def test_counts_to_degrees_and_back_is_the_same_count(given_count: tuple[int, int]) -> None:
    """No count of any turn from 1 to 32 bits is lost to binary rounding."""
    count, bits = given_count
    assert resolution.deg_to_counts(resolution.counts_to_deg(count, bits), bits) == count


@pytest.mark.parametrize("bits", range(1, 33))
def test_first_and_last_counts_of_a_turn_come_back(bits: int) -> None:
    """The ends of the turn, where the last binary digit weighs most, as one array."""
    total = 2**bits
    counts = np.unique(np.clip([0, 1, total // 3, total // 2, total - 2, total - 1], 0, None))
    back = array(resolution.deg_to_counts(resolution.counts_to_deg(counts, bits), bits))
    assert back.dtype == np.int64
    assert back.tolist() == counts.tolist()


@given(angle=st.floats(0.0, 359.999), bits=st.integers(1, 32))
def test_degrees_to_counts_and_back_loses_less_than_a_step(angle: float, bits: int) -> None:
    """The count is the whole step below the angle."""
    back = resolution.counts_to_deg(resolution.deg_to_counts(angle, bits), bits)
    step = 360.0 / 2**bits
    # A millionth of a step counts as reached.
    assert -1.01e-6 * step <= angle - back < step


@pytest.mark.parametrize("bits", range(2, 33))
def test_an_angle_one_binary_digit_below_a_count_is_that_count(bits: int) -> None:
    """Sums of decimals end a digit low: 89.99999999999999 degrees are a quarter turn."""
    assert resolution.deg_to_counts(np.nextafter(90.0, 0.0), bits) == 2**bits // 4
    assert resolution.deg_to_counts(np.nextafter(360.0, 0.0), bits) == 0
    # A hundredth of a step below is below.
    assert resolution.deg_to_counts(90.0 - 3.6 / 2**bits, bits) == 2**bits // 4 - 1


def test_counts_stay_within_one_turn() -> None:
    """A whole turn is count 0 again, and a negative angle counts from the top."""
    assert resolution.deg_to_counts(360.0, 16) == 0
    assert resolution.deg_to_counts(725.0, 16) == resolution.deg_to_counts(5.0, 16)
    assert resolution.deg_to_counts(-90.0, 2) == 3
    assert type(resolution.deg_to_counts(90.0, 16)) is int


@pytest.mark.parametrize("bits", range(1, 33))
def test_counts_per_turn_double_with_every_bit(bits: int) -> None:
    assert resolution.counts_per_turn(bits) == 2**bits
    assert resolution.counts_to_deg(2 ** (bits - 1), bits) == 180.0


@pytest.mark.parametrize("bits", [0, -1, 33, 64])
def test_bits_outside_1_to_32_are_refused(bits: int) -> None:
    for function in (
        resolution.counts_per_turn,
        lambda b: resolution.counts_to_deg(0, b),
        lambda b: resolution.deg_to_counts(0.0, b),
    ):
        with pytest.raises(ValueError, match=f"bits: given {bits}, allowed 1 to 32"):
            function(bits)


def test_step_times_counts_is_one_turn() -> None:
    """1296000 arcsec, for one number of bits and for many."""
    bits = np.arange(1, 33)
    assert np.all(resolution.step_arcsec(bits) * 2.0**bits == 1296000.0)
    assert resolution.step_arcsec(20) == 1296000.0 / 2**20


def test_noise_of_two_channels_seen_through_the_arctangent() -> None:
    """Seeded white noise in sine and cosine of 2 of 64 teeth, mean of four heads."""
    rng = np.random.default_rng(11)
    ratio, amplitude, teeth, count = 1e-3, 0.7, 64, 4
    phi = rng.uniform(0.0, 2.0 * np.pi, (count, 200000))
    noise = ratio * (rng.standard_normal(phi.shape) + 1j * rng.standard_normal(phi.shape))
    error = np.angle((amplitude * np.exp(1j * phi) + noise) * np.exp(-1j * phi)) / teeth
    simulated = np.std(error.mean(axis=0)) * 648000.0 / np.pi
    # 200,000 samples: the standard deviation scatters by 1 / sqrt(400,000) = 1.6e-3.
    assert resolution.noise_arcsec(ratio, amplitude, teeth, count) == pytest.approx(
        simulated, rel=5e-3
    )


def test_usable_bits_count_steps_of_six_point_six_sigma() -> None:
    """Half the noise is one bit more; a step of 6.6 sigma fills the turn 2^bits times."""
    sigma = np.array([0.5, 1.0, 2.0, 50.0])
    bits = array(resolution.usable_bits(sigma))
    assert bits[0] - bits[1] == pytest.approx(1.0, abs=1e-12)
    assert 2.0**bits * 6.6 * sigma == pytest.approx(np.full(4, 1296000.0), rel=1e-12)


def test_usable_bits_grow_by_half_a_bit_per_doubling_of_heads_and_one_per_doubling_of_teeth() -> (
    None
):
    base = resolution.usable_bits(resolution.noise_arcsec(1e-3, 1.0, 32, 1))
    teeth = resolution.usable_bits(resolution.noise_arcsec(1e-3, 1.0, 64, 1))
    heads = resolution.usable_bits(resolution.noise_arcsec(1e-3, 1.0, 32, 2))
    weak = resolution.usable_bits(resolution.noise_arcsec(1e-3, 0.5, 32, 1))
    assert teeth - base == pytest.approx(1.0, abs=1e-12)
    assert heads - base == pytest.approx(0.5, abs=1e-12)
    assert weak - base == pytest.approx(-1.0, abs=1e-12)


def test_tooth_rate_is_teeth_per_second() -> None:
    """One turn per second passes every tooth once."""
    assert resolution.tooth_rate_hz(96, 60.0) == 96.0
    assert array(resolution.tooth_rate_hz(np.array([96, 178]), 30.0)).tolist() == [48.0, 89.0]
