"""What a dial indicator reads on a ring that turns: on a plain circle, and on tips with gaps between."""

from __future__ import annotations

import numpy as np

from ringset.physics.quantity import Array, Quantity


def full_reading_um(offset_um: Quantity) -> Quantity:
    """Return the full reading (TIR) in um over a turn, largest less smallest: 2 e.

    A circle of radius r whose centre goes round the axis at e (0 or more, below r) meets a plunger that
    points at the axis at sqrt(r^2 - e^2 sin^2 a) + e cos a, which lies between r - e and r + e: exactly 2 e,
    whatever r is. Half of the reading is the radial offset.
    """
    return 2.0 * np.asarray(offset_um)[()]


def flat_anvil_sinks_um(tip_radius_mm: Quantity, half_gap_rad: Quantity) -> Array:
    """Return how far in um a flat anvil sinks between two tips: r_a (1 - cos g).

    r_a above 0 is the radius of the tips and g, from 0 to pi / 2, half the angle of the gap between two
    of them. The anvil lies square to its plunger, which points at the axis. Over a tip it touches at r_a.
    Midway over a gap that it spans it rests on both edges, r_a cos g from the axis. A point or a ball
    smaller than the gap would drop into it.

    >>> print(f"{flat_anvil_sinks_um(56.0, 0.0168):.2f}")  # 138 teeth of module 0.8
    7.90
    """
    return np.asarray(1e3 * np.asarray(tip_radius_mm) * (1.0 - np.cos(half_gap_rad)))
