"""What the mean over several reading heads leaves of an error of a given order per turn."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ringset.physics.quantity import Array, Quantity

#: What the mean range of an index curve with orders 1 to P falls short of that of endless orders, times
#: the root of P where P is large: simulated, 0.667 within 0.01; the tests repeat it.
RANGE_SHORTFALL = 0.667
#: The same range where there is order 1 alone, sqrt(2) / pi: twice the mean of a Rayleigh amplitude,
#: sqrt(2 pi) s, over pi times the root of 2 s^2 times the mean range sqrt(pi / 2) of a Brownian bridge.
RANGE_OF_ONE_ORDER = np.sqrt(2.0) / np.pi

#: Share of the cumulative pitch range that 999 of 1000 simulated rings do not pass, by the number of equally
#: spaced heads, for rings with these orders per turn; it hardly depends on them.
WORST_PITCH_ORDERS = (12, 48, 256)
WORST_PITCH_SHARE = {
    2: (0.910, 0.892, 0.876),
    3: (0.705, 0.689, 0.680),
    4: (0.560, 0.552, 0.549),
    5: (0.460, 0.455, 0.452),
    6: (0.387, 0.385, 0.390),
    7: (0.327, 0.325, 0.331),
    8: (0.288, 0.288, 0.290),
}
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


def mean_pitch_range(orders: Quantity) -> Quantity:
    """Mean range of index curves with the orders 1 to `orders`, over that of endless orders; 0 without any.

    The assumed spectrum: amplitudes of a Rayleigh distribution that fall as 1/p, and random phases, so that
    each curve is a sum of (a cos + b sin) / p with normal a and b. With endless orders that is a
    Brownian bridge less its mean (its Karhunen-Loeve series), whose mean range is known: sqrt(pi / 2) of
    the bridge (Feller 1951, from memory), pi^1.5 = 5.568 of the curve. Order 1 alone has sqrt(2 pi). The
    form between, 1 - `RANGE_SHORTFALL` / sqrt(P + b), has b so that P = 1 is exact; it follows simulated
    curves within 0.005. An assumption about the spectrum: a real wheel may differ.

    >>> print(np.round(mean_pitch_range(np.array([0, 1, 48, 180])), 4))
    [0.     0.4502 0.9042 0.9503]
    """
    order = np.asarray(orders, dtype=float)
    shift = (RANGE_SHORTFALL / (1.0 - RANGE_OF_ONE_ORDER)) ** 2 - 1.0
    return np.where(order < 1.0, 0.0, 1.0 - RANGE_SHORTFALL / np.sqrt(order + shift))[()]


def pitch_share(angles_deg: Sequence[float], teeth: Quantity) -> Quantity:
    """Share of the cumulative pitch range that the mean over these heads keeps, 0 to 1.

    A ring has the orders 1 to P, half of its teeth. H equally spaced heads keep orders H, 2 H, 3 H and so
    on: H waves round the turn, each a curve like the whole one with P / H orders and 1/H as high. So the
    share is R(P // H) / (H R(P)) with R of `mean_pitch_range`, mean range over mean range: 0.478 for two
    heads and 96 teeth, 0.489 for 360, 1/H for endless teeth. Any other placement: 1.15 times the rms of these
    orders, sqrt(sum (G_p/p)^2 / sum 1/p^2), for layouts whose range falls less than their rms does; the
    tests simulate some. `teeth` >= 2 is a whole number or an array of them, and so is the result.

    >>> print(np.round(pitch_share((0.0, 180.0), np.array([24, 96, 360])), 4))
    [0.4548 0.4784 0.4892]
    """
    orders = _orders(teeth)
    if _equal(angles_deg):
        heads = len(angles_deg)
        return np.asarray(mean_pitch_range(orders // heads) / (heads * mean_pitch_range(orders)))[
            ()
        ]
    return np.minimum(1.0, 1.15 * _rms_share(angles_deg, orders))


def worst_pitch_share(angles_deg: Sequence[float], teeth: Quantity) -> Quantity:
    """Share of the cumulative pitch range that the mean over these heads may keep at worst, 0 to 1.

    What 999 of 1000 rings of the assumed spectrum do not pass: rings differ, and one whose error is
    mostly of order 2 loses little by two heads. `WORST_PITCH_SHARE` between its orders, linear in their
    logarithm; any other placement adds `WORST_PITCH_EXTRA` to the rms share. Shapes as in `pitch_share`.
    """
    orders = _orders(teeth)
    heads = len(angles_deg)
    if heads == 1:
        return np.ones(orders.shape)[()]
    if heads in WORST_PITCH_SHARE and _equal(angles_deg):
        known = np.log(np.array(WORST_PITCH_ORDERS, dtype=float))
        return np.interp(np.log(orders), known, WORST_PITCH_SHARE[heads])
    return np.minimum(1.0, WORST_PITCH_EXTRA + _rms_share(angles_deg, orders))


def _orders(teeth: Quantity) -> NDArray[np.int64]:
    """Return the orders per turn that a ring's index curve has, at least one."""
    return np.maximum(np.asarray(teeth, dtype=np.int64) // 2, 1)


def _equal(angles_deg: Sequence[float]) -> bool:
    """Say whether the heads are equally spaced."""
    first = np.sort((np.asarray(angles_deg, dtype=float) - angles_deg[0]) % 360.0)
    return np.allclose(first, equal_angles_deg(len(angles_deg)), rtol=0.0, atol=1e-6)


def _rms_share(angles_deg: Sequence[float], orders: NDArray[np.int64]) -> Array:
    """Return the rms of orders 1 to `orders` that is left, over all of it."""
    p = np.arange(1, int(np.max(orders)) + 1)
    kept = np.cumsum((np.asarray(head_gain(p, angles_deg)) / p) ** 2)
    share = np.sqrt(kept / np.cumsum(1.0 / p**2))
    return np.asarray(share[orders - 1])
