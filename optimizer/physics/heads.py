"""What the mean over several reading heads leaves of an error of a given order per turn."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

#: Share of the cumulative pitch range left by equally spaced heads when the pitch orders fall as
#: 1/p with Rayleigh amplitudes and random phases. An assumption about the spectrum: a real wheel
#: may leave 0.3 to 0.8 with two heads. The tests repeat the simulation behind the numbers.
PITCH_SHARE_EQUAL = {1: 1.0, 2: 0.47, 3: 0.31, 4: 0.22}


def equal_angles_deg(heads: int) -> tuple[float, ...]:
    """Angles in degrees of `heads` >= 1 equally spaced heads, the first at 0."""
    return tuple(360.0 * j / heads for j in range(heads))


def head_gain(order: float, angles_deg: Sequence[float]) -> float:
    """Share of an error of `order` per turn that the mean over heads keeps, 0 to 1.

    G_p = |(1/H) sum exp(i p alpha_j)|; for H equally spaced heads 1 if H divides p, else 0.
    Source: angular encoder theorem (Cramer); equal-division averaged method (Watanabe, Fujimoto,
    Masuda 2005, from memory).
    """
    angles = np.radians(np.asarray(angles_deg, dtype=float))
    return float(np.abs(np.mean(np.exp(1j * order * angles))))


def worst_head_gain(
    order: float, angles_deg: Sequence[float], placement_tolerance_deg: float
) -> float:
    """Largest gain when any two heads may stand `placement_tolerance_deg` wrong to each other.

    Each head may be half the tolerance off to either side; the gain grows outwards, so the corners
    of that box hold its largest value. Two opposed heads, order 1: sin(tolerance / 2).
    At most eight heads (256 corners).
    """
    if len(angles_deg) < 2 or placement_tolerance_deg == 0.0:
        return head_gain(order, angles_deg)
    signs = np.array(list(product((-0.5, 0.5), repeat=len(angles_deg))))
    angles = np.radians(np.asarray(angles_deg, dtype=float) + signs * placement_tolerance_deg)
    return float(np.max(np.abs(np.mean(np.exp(1j * order * angles), axis=1))))


def pitch_share(angles_deg: Sequence[float]) -> float:
    """Share of the cumulative pitch range that the mean over these heads keeps, 0 to 1.

    Equally spaced heads: the simulated `PITCH_SHARE_EQUAL`. Any other placement: the rms of orders
    falling as 1/p, sqrt(sum (G_p/p)^2 / sum 1/p^2) over the first 360 orders, which lies up to 14 %
    above the simulated range for equal spacing, so on the safe side.
    """
    heads = len(angles_deg)
    first = np.sort((np.asarray(angles_deg, dtype=float) - angles_deg[0]) % 360.0)
    if heads in PITCH_SHARE_EQUAL and np.allclose(first, equal_angles_deg(heads), atol=1e-9):
        return PITCH_SHARE_EQUAL[heads]
    orders = np.arange(1, 361)
    gains = np.array([head_gain(float(p), angles_deg) for p in orders])
    return float(np.sqrt(np.sum((gains / orders) ** 2) / np.sum(1.0 / orders**2)))
