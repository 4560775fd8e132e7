"""What the mean over several reading heads leaves of an error of a given order per turn."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ringset.physics.pitch_spectrum import (
    MIDDLE,
    WORST_SHARE_HEADS,
    PitchSpectrum,
    level_factor,
    mean_pitch_range,
    worst_equal_share,
)
from ringset.physics.quantity import Array, Quantity


def equal_angles_deg(heads: int) -> tuple[float, ...]:
    """Angles in degrees of `heads` >= 1 equally spaced heads, the first at 0."""
    return tuple(360.0 * j / heads for j in range(heads))


def head_gain(order: Quantity, angles_deg: Sequence[float]) -> Quantity:
    """Share of an error of `order` per turn that the mean over heads keeps, 0 to 1.

    G_p = |(1/H) sum exp(i p alpha_j)|; for H equally spaced heads 1 if H divides p, else 0. `order` is a
    number or an array, and so is the result; at least one angle in degrees.
    Source: angular encoder theorem (Cramer); equal-division averaged method (Watanabe, Fujimoto,
    Masuda 2005, from memory).

    Two opposite heads keep the even orders; half a degree off, they keep 0.44 % of the first:

    >>> print(head_gain([1, 2, 3, 4], (0.0, 180.0)).round(9))
    [0. 1. 0. 1.]
    >>> print(f"{100.0 * head_gain(1, (0.0, 180.5)):.4f} %")
    0.4363 %
    """
    angles = np.radians(np.asarray(angles_deg, dtype=float))
    phase = np.multiply.outer(np.asarray(order, dtype=float), angles)
    return np.asarray(np.abs(np.mean(np.exp(1j * phase), axis=-1)))[()]


def worst_head_gain(
    order: Quantity, angles_deg: Sequence[float], placement_tolerance_deg: float
) -> Quantity:
    """Largest gain, 0 to 1, when any two heads may stand `placement_tolerance_deg` wrong to each other.

    Each head may be half the tolerance T off to either side, which turns its share of order p by at
    most p T / 2 and so moves it by at most 2 sin(p T / 4): G_p + 2 sin(p T / 4), not above 1. Exact for
    two opposed heads and an odd order, where it is sin(p T / 2) to first order; a bound elsewhere. One head
    keeps everything. Shapes as in
    `head_gain`.
    """
    orders = np.asarray(order, dtype=float)
    if len(angles_deg) < 2:
        return np.ones_like(orders)[()]
    quarter = np.radians(orders * placement_tolerance_deg / 4.0)
    moved = 2.0 * np.sin(np.minimum(quarter, np.pi / 2.0))
    return np.minimum(1.0, head_gain(orders, angles_deg) + moved)


def pitch_share(
    angles_deg: Sequence[float], teeth: Quantity, spectrum: PitchSpectrum = MIDDLE
) -> Quantity:
    """Share of the cumulative pitch range that the mean over these heads keeps, 0 to 1.

    A ring has the orders 1 to P, half of its teeth. H equally spaced heads keep orders H, 2 H, 3 H and so
    on: H waves round the turn, each a curve like the whole one with P / H orders and 1/H^s as high. So the
    share is R(P // H) / (H^s R(P)) with R of `pitch_spectrum.mean_pitch_range`, mean range over mean range.
    With s = 1: 0.478 for two heads and 96 teeth, 0.489 for 360, 1/H for endless teeth. Any other
    placement: `uneven_factor` times the rms of these orders, sqrt(sum (G_p/p^s)^2 / sum 1/p^2s), for layouts
    whose range falls less than their rms does; the tests simulate some. `teeth` >= 2 is a whole number or an
    array of them, and so is the result.

    >>> print(np.round(pitch_share((0.0, 180.0), np.array([24, 96, 360])), 4))
    [0.4548 0.4784 0.4892]
    >>> for exponent in (0.5, 1.0, 2.0):
    ...     print(f"{pitch_share((0.0, 180.0), 96, PitchSpectrum(exponent)):.2f}")
    0.60
    0.48
    0.25
    """
    orders = _orders(teeth)
    if _equal(angles_deg):
        heads, s = len(angles_deg), spectrum.exponent
        kept = mean_pitch_range(orders // heads, s)
        return np.asarray(kept / (heads**s * mean_pitch_range(orders, s)))[()]
    factor = spectrum.uneven_factor + spectrum.steeper
    return np.minimum(1.0, factor * _rms_share(angles_deg, orders, spectrum))


def worst_pitch_share(
    angles_deg: Sequence[float], teeth: Quantity, spectrum: PitchSpectrum = MIDDLE
) -> Quantity:
    """Share of the cumulative pitch range that the mean over these heads may keep at worst, 0 to 1.

    What `worst_percent` of the rings of the spectrum do not pass: rings differ, and one whose error is
    mostly of order 2 loses little by two heads. Simulated for two to eight equally spaced heads and 99.9 %
    (`pitch_spectrum.worst_equal_share`); any other placement adds `uneven_extra` to the rms share. Other
    levels move what lies above the mean share (above the rms share) as the quantiles of a normal
    distribution lie. Shapes as in `pitch_share`.
    """
    orders = _orders(teeth)
    heads = len(angles_deg)
    if heads == 1:
        return np.ones(orders.shape)[()]
    if heads in WORST_SHARE_HEADS and _equal(angles_deg):
        worst = worst_equal_share(heads, orders, spectrum.exponent)
        middle = pitch_share(angles_deg, teeth, spectrum)
    else:
        middle = _rms_share(angles_deg, orders, spectrum)
        worst = spectrum.uneven_extra + spectrum.steeper + middle
    beyond = (worst - middle) * (level_factor(spectrum.worst_percent) - 1.0)
    return np.clip(worst + beyond, 0.0, 1.0)


def _orders(teeth: Quantity) -> NDArray[np.int64]:
    """Return the orders per turn that a ring's index curve has, at least one."""
    return np.maximum(np.asarray(teeth, dtype=np.int64) // 2, 1)


def _equal(angles_deg: Sequence[float]) -> bool:
    """Say whether the heads are equally spaced."""
    first = np.sort((np.asarray(angles_deg, dtype=float) - angles_deg[0]) % 360.0)
    return np.allclose(first, equal_angles_deg(len(angles_deg)), rtol=0.0, atol=1e-6)


def _rms_share(
    angles_deg: Sequence[float], orders: NDArray[np.int64], spectrum: PitchSpectrum
) -> Array:
    """Return the rms of orders 1 to `orders` that is left, over all of it."""
    p = np.arange(1, int(np.max(orders)) + 1)
    fallen = p**spectrum.exponent
    kept = np.cumsum((np.asarray(head_gain(p, angles_deg)) / fallen) ** 2)
    share = np.sqrt(kept / np.cumsum(1.0 / fallen**2))
    return np.asarray(share[orders - 1])
