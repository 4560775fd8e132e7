"""What the mean over several reading heads leaves of an error of a given order per turn."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ringset.physics.quantity import Quantity

#: Share of the cumulative pitch range left by equally spaced heads when the pitch orders fall as
#: 1/p with Rayleigh amplitudes and random phases: mean range left over mean range, orders to 48 (96
#: teeth). An assumption about the spectrum: a real wheel may leave 0.3 to 0.8 with two heads. The
#: tests repeat the simulation behind the numbers.
PITCH_SHARE_EQUAL = {1: 1.0, 2: 0.47, 3: 0.31, 4: 0.22}


#: The same share that 999 of 1000 simulated rings do not pass, for a worst case.
WORST_PITCH_SHARE_EQUAL = {1: 1.0, 2: 0.89, 3: 0.68, 4: 0.55}
#: What is added to the rms share for a worst case of any other placement.
WORST_PITCH_EXTRA = 0.45


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


def pitch_share(angles_deg: Sequence[float]) -> float:
    """Share of the cumulative pitch range that the mean over these heads keeps, 0 to 1.

    Equally spaced heads: the simulated `PITCH_SHARE_EQUAL`. Any other placement: 1.15 times the rms of
    orders falling as 1/p, sqrt(sum (G_p/p)^2 / sum 1/p^2) over the first 360 orders. The factor covers
    layouts whose range falls less than their rms does; the tests simulate some. An assumption about the
    spectrum, no source.

    >>> pitch_share((0.0, 180.0))
    0.47
    """
    if _tabulated(angles_deg):
        return PITCH_SHARE_EQUAL[len(angles_deg)]
    return min(1.0, 1.15 * _rms_share(angles_deg))


def worst_pitch_share(angles_deg: Sequence[float]) -> float:
    """Share of the cumulative pitch range that the mean over these heads may keep at worst, 0 to 1.

    What 999 of 1000 rings of the assumed spectrum do not pass: rings differ, and one whose error is
    mostly of order 2 loses little by two heads.
    """
    if _tabulated(angles_deg):
        return WORST_PITCH_SHARE_EQUAL[len(angles_deg)]
    return min(1.0, WORST_PITCH_EXTRA + _rms_share(angles_deg))


def _tabulated(angles_deg: Sequence[float]) -> bool:
    """Say whether the heads are equally spaced and few enough to be in the tables."""
    heads = len(angles_deg)
    first = np.sort((np.asarray(angles_deg, dtype=float) - angles_deg[0]) % 360.0)
    equal = equal_angles_deg(heads)
    return heads in PITCH_SHARE_EQUAL and np.allclose(first, equal, rtol=0.0, atol=1e-6)


def _rms_share(angles_deg: Sequence[float]) -> float:
    orders = np.arange(1, 361)
    gains = np.asarray(head_gain(orders, angles_deg))
    return float(np.sqrt(np.sum((gains / orders) ** 2) / np.sum(1.0 / orders**2)))
