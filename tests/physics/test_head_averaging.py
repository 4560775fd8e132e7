"""What the mean over several heads leaves of an error of a given order."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringset.arrays import Floats
from ringset.physics import head_averaging
from ringset.physics.pitch_spectrum import mean_pitch_range
from tests.support.narrow import array


@pytest.mark.parametrize("count", range(1, 9))
@pytest.mark.parametrize("order", range(1, 25))
def test_equal_heads_keep_only_multiples_of_their_number(count: int, order: int) -> None:
    """Sum of the roots of unity: 1 if the number of heads divides the order, else 0."""
    gain = head_averaging.head_gain(order, head_averaging.equal_angles_deg(count))
    # Rounding of eight sines.
    assert gain == pytest.approx(1.0 if order % count == 0 else 0.0, abs=1e-13)


def test_equal_angles() -> None:
    assert head_averaging.equal_angles_deg(1) == (0.0,)
    assert head_averaging.equal_angles_deg(4) == (0.0, 90.0, 180.0, 270.0)


def test_two_heads_at_a_right_angle() -> None:
    """Order 2 cancels exactly, order 1 only to 1 / sqrt 2, order 4 stays."""
    at = (0.0, 90.0)
    assert head_averaging.head_gain(1, at) == pytest.approx(np.sqrt(0.5), rel=1e-14)
    assert head_averaging.head_gain(2, at) == pytest.approx(0.0, abs=1e-15)
    assert head_averaging.head_gain(4, at) == pytest.approx(1.0, rel=1e-14)


@given(
    order=st.integers(1, 12),
    angles=st.lists(st.floats(0.0, 360.0), min_size=1, max_size=8),
    turn=st.floats(-360.0, 360.0),
)
def test_gain_is_a_share_that_does_not_care_where_zero_is(
    order: int, angles: list[float], turn: float
) -> None:
    """Between 0 and 1, equal for all heads turned together, and the mean of a wave it stands for."""
    gain = head_averaging.head_gain(order, angles)
    assert 0.0 <= gain <= 1.0 + 1e-12
    turned = head_averaging.head_gain(order, [angle + turn for angle in angles])
    assert turned == pytest.approx(gain, abs=1e-12)
    theta = np.radians(np.arange(0.0, 360.0, 0.5))
    wave = np.mean([np.cos(order * (theta + np.radians(a))) for a in angles], axis=0)
    # rms of a sinusoid over whole periods is its amplitude / sqrt 2.
    assert np.sqrt(2.0 * np.mean(wave**2)) == pytest.approx(gain, abs=1e-9)


@pytest.mark.parametrize("tolerance", [0.01, 0.5, 2.0, 10.0])
def test_two_opposed_heads_leave_the_sine_of_half_the_tolerance(tolerance: float) -> None:
    """Order 1: sin(a), order 3: sin(3 a) with a half the tolerance; the bound is that over cos(a / 2)."""
    at = head_averaging.equal_angles_deg(2)
    for order in (1, 3):
        half = np.radians(order * tolerance / 2.0)
        bound = head_averaging.worst_head_gain(order, at, tolerance)
        assert bound * np.cos(half / 2.0) == pytest.approx(np.sin(half), rel=1e-10)


LAYOUTS = [
    *(
        (head_averaging.equal_angles_deg(count), order)
        for count in (2, 3, 4, 6)
        for order in (1, 2, 3, 4)
    ),
    ((0.0, 90.0), 1),
    ((0.0, 90.0), 2),
    ((0.0, 150.0), 1),
    ((0.0, 100.0, 250.0), 3),
]


@pytest.mark.parametrize(("at", "order"), LAYOUTS)
@pytest.mark.parametrize("tolerance", [0.5, 3.0])
def test_worst_gain_bounds_every_placement_within_the_tolerance(
    at: tuple[float, ...], order: int, tolerance: float
) -> None:
    """Dense random search: nothing above it, and for opposed heads something close below.

    No two heads of a sample stand more than the tolerance wrong to each other.
    """
    rng = np.random.default_rng(20240711)
    off = rng.uniform(-0.5, 0.5, (40000, len(at)))
    off[::2] = 0.5 * np.sign(off[::2])
    off = off * tolerance + rng.uniform(-5.0, 5.0, (40000, 1))
    assert np.ptp(off, axis=1).max() <= tolerance + 1e-12
    samples = np.abs(np.mean(np.exp(1j * order * np.radians(np.array(at) + off)), axis=1))
    worst = head_averaging.worst_head_gain(order, at, tolerance)
    assert samples.max() <= worst + 1e-12
    if at == head_averaging.equal_angles_deg(2) and order % 2:
        # twice a sine of a quarter against the sine of a half: 2 parts in 1000 at order 4 and 3 degrees
        assert samples.max() >= worst * 0.997


@pytest.mark.parametrize(
    ("order", "at", "tolerance", "reached"),
    [
        (9, (0.0, 180.0), 30.0, (0.0, 160.0)),
        (4, (0.0, 120.0, 240.0), 30.0, (0.0, 105.0, 240.0)),
        (2, (0.0, 170.0), 20.0, (0.0, 180.0)),
    ],
)
def test_worst_gain_covers_placements_inside_a_wide_tolerance(
    order: int, at: tuple[float, ...], tolerance: float, reached: tuple[float, ...]
) -> None:
    """Placements inside the box, not at its corners, that line up for the order."""
    assert (
        head_averaging.worst_head_gain(order, at, tolerance)
        >= head_averaging.head_gain(order, reached) - 1e-12
    )


def test_one_head_or_no_tolerance_is_the_plain_gain() -> None:
    """A single head cannot stand wrong to another; without tolerance nothing moves."""
    assert head_averaging.worst_head_gain(1, (30.0,), 2.0) == 1.0
    at = (0.0, 80.0, 200.0)
    assert head_averaging.worst_head_gain(2, at, 0.0) == head_averaging.head_gain(2, at)
    assert head_averaging.worst_head_gain(2, at, 1.0) > head_averaging.head_gain(2, at)


def test_worst_gain_grows_with_the_tolerance() -> None:
    """More room to stand wrong never helps."""
    at = head_averaging.equal_angles_deg(4)
    gains = [
        head_averaging.worst_head_gain(1, at, tolerance) for tolerance in (0.0, 0.1, 0.5, 1.0, 4.0)
    ]
    assert np.all(np.diff(np.array(gains)) > 0.0)


def _random_pitch_curves(rings: int, teeth: int) -> Floats:
    """Index error at every tooth of many rings: orders to half the teeth, falling as 1/p."""
    rng = np.random.default_rng(53)
    orders = np.arange(1, teeth // 2 + 1)
    # Two independent normal parts: a Rayleigh amplitude with a random phase.
    parts = rng.standard_normal((2, rings, len(orders))) / orders
    angle = 2.0 * np.pi * np.outer(orders, np.arange(teeth)) / teeth
    return np.asarray(parts[0] @ np.cos(angle) + parts[1] @ np.sin(angle))


def _range_of(rng: np.random.Generator, rings: int, orders: int, every: int = 1) -> Floats:
    """Ranges of curves of the assumed spectrum by FFT, sixteen places per wave of the highest order."""
    places = 16 * orders
    parts = rng.standard_normal((2, rings, orders)) / np.arange(1, orders + 1)
    waves = np.zeros((rings, places // 2 + 1), dtype=complex)
    waves[:, 1 : orders + 1] = (parts[0] - 1j * parts[1]) * (places / 2.0)
    whole = np.ptp(np.fft.irfft(waves, places, axis=1), axis=1)
    if every == 1:
        return np.asarray(whole)
    kept = np.where(np.arange(waves.shape[1]) % every == 0, waves, 0.0)
    left = np.ptp(np.fft.irfft(kept, places, axis=1), axis=1)
    return np.asarray([left, whole])


@pytest.mark.parametrize("orders", [1, 2, 3, 6, 12, 24, 48, 96, 180])
def test_mean_pitch_range_is_the_simulated_one(orders: int) -> None:
    """Curves of Rayleigh amplitudes falling as 1/p; pi^1.5 is the mean range with endless orders."""
    mean = _range_of(np.random.default_rng(60 + orders), 8000, orders).mean() / np.pi**1.5
    # 8000 rings scatter by 0.0025, orders 1 to 3 by a little more
    assert mean_pitch_range(orders) == pytest.approx(mean, abs=0.008)


def test_mean_pitch_range_at_its_two_ends() -> None:
    """Order 1 alone: twice a Rayleigh mean, sqrt(2 pi). No end: pi sqrt 2 times that of a Brownian bridge.

    The bridge's mean range sqrt(pi / 2) by simulation of random walks tied at both ends; a walk of n
    steps falls short of it by about 2 x 0.5826 / sqrt(n) (S. Asmussen, P. Glynn and J. Pitman,
    Annals of Applied Probability 5, 875, 1995, from memory).
    """
    first = mean_pitch_range(1) * np.pi**1.5
    assert first == pytest.approx(np.sqrt(2.0 * np.pi), rel=1e-12)
    assert mean_pitch_range(10**12) == pytest.approx(1.0, abs=1e-6)
    rng, steps = np.random.default_rng(4), 1024
    walk = np.cumsum(rng.standard_normal((6000, steps)), axis=1) / np.sqrt(steps)
    bridge = walk - walk[:, -1:] * np.arange(1, steps + 1) / steps
    wide = np.ptp(bridge, axis=1).mean() + 2.0 * 0.5826 / np.sqrt(steps)
    assert wide == pytest.approx(np.sqrt(np.pi / 2.0), abs=0.012)


#: Mean range left over mean range by the orders of a ring, two, three and four heads: 20,000 rings, read at
#: their teeth (computed beforehand by another program).
SIMULATED_SHARES = {
    12: (0.4558, 0.2827, 0.1991),
    24: (0.4701, 0.2973, 0.2134),
    48: (0.4770, 0.3079, 0.2240),
    96: (0.4862, 0.3156, 0.2325),
    180: (0.4887, 0.3216, 0.2366),
    256: (0.4911, 0.3218, 0.2391),
}


@pytest.mark.parametrize("orders", SIMULATED_SHARES)
def test_pitch_share_of_equal_heads_follows_the_tooth_count(orders: int) -> None:
    """Within 0.003 of the simulated shares, of which 0.001 is scatter."""
    for count, simulated in zip((2, 3, 4), SIMULATED_SHARES[orders], strict=True):
        at = head_averaging.equal_angles_deg(count)
        assert head_averaging.pitch_share(at, 2 * orders) == pytest.approx(simulated, abs=0.003)


@pytest.mark.cases(fast=5, slow=10)
@pytest.mark.parametrize("teeth", [40, 96, 360])
@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 8])
def test_pitch_share_of_equal_heads_is_the_simulated_one(count: int, teeth: int) -> None:
    """Mean range left over mean range; the spectrum is an assumption, not a finding.

    Pitch orders 1 to half the teeth with Rayleigh amplitudes that fall as 1/p and random phases. A real
    ring may leave 0.3 to 0.8 with two heads.
    """
    rng = np.random.default_rng(count)
    blocks = [_range_of(rng, 1000, teeth // 2, max(count, 2)) for _ in range(6)]
    left, whole = np.concatenate(blocks, axis=1)
    share = 1.0 if count == 1 else left.mean() / whole.mean()
    at = head_averaging.equal_angles_deg(count)
    # The share scatters by 0.13 from ring to ring, so its mean over 6000 by 0.002.
    assert head_averaging.pitch_share(at, teeth) == pytest.approx(share, abs=0.006)


@pytest.mark.parametrize("at", [(7.0, 187.0), (180.0, 0.0), (-90.0, 90.0), (240.0, 0.0, 120.0)])
def test_pitch_share_knows_equal_spacing_in_any_order_and_from_any_zero(
    at: tuple[float, ...],
) -> None:
    """Only the angles between the heads count."""
    equal = head_averaging.equal_angles_deg(len(at))
    for share in (head_averaging.pitch_share, head_averaging.worst_pitch_share):
        assert share(at, 96) == share(equal, 96)


def test_pitch_shares_of_many_tooth_counts_at_once_are_those_of_each() -> None:
    """Vector equals scalar; a count of less than two teeth, which no ring has, is no error."""
    teeth = np.array([0, 18, 19, 96, 360])
    for at in ((0.0,), (0.0, 180.0), (0.0, 90.0), head_averaging.equal_angles_deg(7)):
        for share in (head_averaging.pitch_share, head_averaging.worst_pitch_share):
            each = [float(share(at, int(z))) for z in teeth]
            assert np.array_equal(share(at, teeth), each)
            assert np.all((array(share(at, teeth)) >= 0.0) & (array(share(at, teeth)) <= 1.0))


UNEQUAL = [(0, 100, 200), (0, 45), (0, 90), (0, 150), (0, 90, 180), (0, 45, 90, 135), (0, 105, 210)]


@pytest.mark.parametrize("at", UNEQUAL)
def test_pitch_share_of_unequal_heads_is_near_the_simulated_range(at: tuple[int, ...]) -> None:
    """Rings of the same assumed spectrum, two to four heads not equally spaced."""
    curves = _random_pitch_curves(4000, 96)
    wrapped = np.concatenate([curves, curves], axis=1)
    steps = [round(96 * angle / 360.0) for angle in at]
    left = np.mean([wrapped[:, s : s + 96] for s in steps], axis=0)
    simulated = np.ptp(left, axis=1).mean() / np.ptp(curves, axis=1).mean()
    # The share is on the safe side, yet not wasteful.
    assert simulated <= head_averaging.pitch_share(at, 96) <= min(1.0, 1.35 * simulated)


def test_pitch_share_of_slightly_unequal_heads_is_near_and_above_the_equal_one() -> None:
    """Equal spacing missed by 0.1 degrees: 1.15 / H, up to 31 % above the share of equal heads."""
    for count in (2, 3, 4):
        simulated = head_averaging.pitch_share(head_averaging.equal_angles_deg(count), 96)
        at = [
            angle + 0.1 * (j == 0) for j, angle in enumerate(head_averaging.equal_angles_deg(count))
        ]
        # 0.1 degrees and orders that end at 48 move 1/H by a hundredth of itself and a half.
        share = head_averaging.pitch_share(at, 96)
        assert share == pytest.approx(1.15 / count, rel=0.025)
        assert simulated < share < 1.31 * simulated


@settings(deadline=None)  # 360 orders per example; a busy machine may take its time
@given(at=st.lists(st.floats(0.0, 359.0), min_size=1, max_size=8))
def test_pitch_share_is_a_share(at: list[float]) -> None:
    """Between 0 and 1 wherever the heads stand."""
    assert 0.0 < head_averaging.pitch_share(at, 720) <= 1.0 + 1e-12


def test_heads_at_one_place_share_nothing() -> None:
    """Two heads side by side average no pitch error away."""
    assert head_averaging.pitch_share((10.0, 10.0), 96) == pytest.approx(1.0, rel=1e-12)


def test_gains_of_many_orders_at_once_are_those_of_each() -> None:
    """Vector equals scalar."""
    at, orders = (0.0, 100.0, 250.0), np.array([1.0, 2.0, 7.0, 384.0])
    gains: list[Callable[[Any], Any]] = [
        lambda p: head_averaging.head_gain(p, at),
        lambda p: head_averaging.worst_head_gain(p, at, 0.3),
    ]
    for function in gains:
        assert np.array_equal(function(orders), np.array([function(p) for p in orders]))


@pytest.mark.cases(fast=3)
@pytest.mark.parametrize("at", [(0, 180), (0, 120, 240), (0, 90, 180, 270), (0, 90), (0, 150)])
def test_worst_pitch_share_covers_999_of_1000_simulated_rings(at: tuple[int, ...]) -> None:
    """20,000 rings of the assumed spectrum; 0.02 for the scatter of such a far quantile."""
    curves = _random_pitch_curves(20000, 144)
    wrapped = np.concatenate([curves, curves], axis=1)
    steps = [round(144 * angle / 360.0) for angle in at]
    left = np.mean([wrapped[:, s : s + 144] for s in steps], axis=0)
    shares = np.ptp(left, axis=1) / np.ptp(curves, axis=1)
    assert np.quantile(shares, 0.999) <= head_averaging.worst_pitch_share(at, 144) + 0.02
    assert head_averaging.worst_pitch_share(at, 144) <= 1.0


@pytest.mark.cases(fast=2, slow=6)
@pytest.mark.parametrize("teeth", [24, 96, 360])
@pytest.mark.parametrize("count", [2, 3, 4, 6, 8])
def test_worst_share_of_equal_heads_is_what_999_of_1000_rings_keep(count: int, teeth: int) -> None:
    """20,000 rings by FFT: the table within the scatter of such a far quantile, neither above nor below."""
    rng = np.random.default_rng(100 * count + teeth)
    blocks = [_range_of(rng, 1000, teeth // 2, count) for _ in range(20)]
    left, whole = np.concatenate(blocks, axis=1)
    worst = head_averaging.worst_pitch_share(head_averaging.equal_angles_deg(count), teeth)
    assert worst == pytest.approx(np.quantile(left / whole, 0.999), abs=0.03)
