"""What heads leave of the cumulative pitch, for spectra that fall otherwise than 1/p, against drawn rings."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from ringset.arrays import Floats
from ringset.physics import head_averaging, pitch_spectrum
from ringset.physics.pitch_spectrum import PitchSpectrum
from tests.physics.simulate_pitch_spectrum import (
    EXPONENTS,
    HEADS,
    RANGE_ORDERS,
    WORST_ORDERS,
    mean_ranges,
    worst_shares,
)
from tests.support.narrow import array

S = (0.5, 0.7, 1.0, 1.5, 2.0)


@cache
def curves(teeth: int, exponent: float, rings: int) -> Floats:
    """Index errors of drawn rings at four places per tooth: cosines and sines summed order by order."""
    rng = np.random.default_rng(teeth)
    turned = 2.0 * np.pi * np.arange(4 * teeth) / (4 * teeth)
    found = np.zeros((rings, 4 * teeth))
    for order in range(1, teeth // 2 + 1):
        a, b = rng.standard_normal((2, rings, 1)) / order**exponent
        found += a * np.cos(order * turned) + b * np.sin(order * turned)
    return found


def left(whole: Floats, angles_deg: tuple[float, ...]) -> Floats:
    """Return the mean of what several heads read."""
    steps = [round(whole.shape[1] * at / 360.0) for at in angles_deg]
    return np.asarray(np.mean([np.roll(whole, -step, axis=1) for step in steps], axis=0))


@pytest.mark.cases(fast=2, slow=3)
@pytest.mark.parametrize("exponent", S)
@pytest.mark.parametrize("teeth", [48, 96, 240])
def test_shares_of_equal_heads_are_those_of_drawn_rings(teeth: int, exponent: float) -> None:
    """Two to eight heads: mean range over mean range, and what 999 of 1000 rings do not pass.

    Of 3000 rings the mean share scatters by 0.003, the far quantile by 0.03.
    """
    whole = curves(teeth, exponent, 3000)
    spectrum = PitchSpectrum(exponent)
    for count in (2, 3, 4, 6, 8):
        at = head_averaging.equal_angles_deg(count)
        kept = np.ptp(left(whole, at), axis=1)
        share = kept.mean() / np.ptp(whole, axis=1).mean()
        assert head_averaging.pitch_share(at, teeth, spectrum) == pytest.approx(share, abs=0.012)
        worst = np.quantile(kept / np.ptp(whole, axis=1), 0.999)
        assert head_averaging.worst_pitch_share(at, teeth, spectrum) == pytest.approx(
            worst, abs=0.06
        )


@pytest.mark.cases(fast=1, slow=3)
@pytest.mark.parametrize("exponent", S)
@pytest.mark.parametrize(
    "at",
    [(0, 90), (0, 150), (0, 90, 180), (0, 45, 90, 135), (0, 105, 210), (0, 100, 200), (0, 165)],
)
def test_shares_of_uneven_heads_are_on_the_safe_side(
    at: tuple[float, ...], exponent: float
) -> None:
    """Mean share and worst share, of spectra from flat to steep; the mean share not half too large.

    Of 3000 rings the mean share scatters by a hundredth of itself.
    """
    whole = curves(144, exponent, 3000)
    spectrum = PitchSpectrum(exponent)
    ranges, kept = np.ptp(whole, axis=1), np.ptp(left(whole, at), axis=1)
    share = kept.mean() / ranges.mean()
    assert 0.99 * share <= head_averaging.pitch_share(at, 144, spectrum) <= min(1.0, 1.5 * share)
    worst = np.quantile(kept / ranges, 0.999)
    assert worst <= head_averaging.worst_pitch_share(at, 144, spectrum) + 0.02


@pytest.mark.parametrize("exponent", [0.7, 1.0, 1.5])
@pytest.mark.parametrize("percent", [95.0, 99.0, 99.5])
def test_other_levels_of_the_worst_share(percent: float, exponent: float) -> None:
    """Normal quantiles beyond the mean share: within 0.05 of the share of drawn rings."""
    whole = curves(96, exponent, 3000)
    for count in (2, 3, 4, 8):
        at = head_averaging.equal_angles_deg(count)
        shares = np.ptp(left(whole, at), axis=1) / np.ptp(whole, axis=1)
        worst = head_averaging.worst_pitch_share(at, 96, PitchSpectrum(exponent, percent))
        assert worst == pytest.approx(np.quantile(shares, percent / 100.0), abs=0.05)


def test_a_higher_level_holds_more() -> None:
    levels = (95.0, 99.0, 99.9, 99.99)
    for at in ((0.0, 180.0), (0.0, 90.0, 180.0), (0.0, 120.0, 240.0)):
        shares = [head_averaging.worst_pitch_share(at, 96, PitchSpectrum(1.0, q)) for q in levels]
        assert np.all(np.diff(np.array(shares)) > 0.0)
        assert shares[-1] <= 1.0


@pytest.mark.parametrize("heads", [2, 3, 5, 8])
def test_a_steeper_spectrum_leaves_less_all_along(heads: int) -> None:
    """Mean share falls with the exponent, without a kink; flat spectra leave at most 1 / sqrt(H)."""
    at = head_averaging.equal_angles_deg(heads)
    steps = np.linspace(0.5, 2.0, 61)
    shares = np.array(
        [head_averaging.pitch_share(at, 96, PitchSpectrum(s)) for s in steps.tolist()]
    )
    assert np.all(np.diff(shares) < 0.0)
    assert np.max(np.abs(np.diff(shares, 2))) < 0.002
    assert shares[0] < heads**-0.5
    worst = [head_averaging.worst_pitch_share(at, 96, PitchSpectrum(s)) for s in steps.tolist()]
    assert np.all(np.array(worst) > shares)


def test_the_middle_spectrum_is_exactly_the_closed_form() -> None:
    """s = 1 takes no simulated factor: answers that state no exponent keep their bytes."""
    orders = np.arange(1, 3000)
    shift = (0.667 / (1.0 - np.sqrt(2.0) / np.pi)) ** 2 - 1.0
    assert np.array_equal(
        pitch_spectrum.mean_pitch_range(orders, 1.0), 1.0 - 0.667 / np.sqrt(orders + shift)
    )
    for heads, first in ((2, 0.910), (5, 0.460), (8, 0.288)):
        assert array(pitch_spectrum.worst_equal_share(heads, np.array([3, 12]))).tolist() == [
            first, first,
        ]  # fmt: skip


def test_one_order_alone_is_alike_in_every_spectrum() -> None:
    for exponent in EXPONENTS:
        assert pitch_spectrum.mean_pitch_range(1, exponent) == pitch_spectrum.mean_pitch_range(1)


@pytest.mark.parametrize("orders", [2, 12, 96, 512])
def test_the_table_of_ranges_is_made_again_at_some_points(orders: int) -> None:
    """Other draws: the quotient over s = 1 within a hundredth."""
    assert orders in RANGE_ORDERS
    found = mean_ranges(orders, max(1000, 40_000 // orders), seed=7)
    middle = found[EXPONENTS.index(1.0)]
    for exponent, mean in zip(EXPONENTS, found, strict=True):
        ratio = pitch_spectrum.mean_pitch_range(orders, exponent) / np.float64(
            pitch_spectrum.mean_pitch_range(orders)
        )
        assert ratio == pytest.approx(mean / middle, rel=0.012)


@pytest.mark.parametrize("orders", WORST_ORDERS[:2])
def test_the_table_of_worst_shares_is_made_again_at_some_points(orders: int) -> None:
    """Other draws, 20,000 rings: the far quantile scatters by 0.03, and so did that of the earlier run."""
    found = worst_shares(orders, 20_000, seed=8)
    for exponent, row in zip(EXPONENTS, found, strict=True):
        for heads, share in zip(HEADS, row, strict=True):
            stated = pitch_spectrum.worst_equal_share(heads, orders, exponent)
            assert stated == pytest.approx(share, abs=0.045)
