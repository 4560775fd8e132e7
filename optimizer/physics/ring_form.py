"""Shapes of real rings, for the simulation: bending without stretch, and index curves."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ringset.physics.pitch_spectrum import EXPONENT

Rows = NDArray[Any]


def along_without_stretch(radial: Rows) -> Rows:
    """Return how far a thin ring's teeth move along it when it bends radially without stretching.

    dv/dphi = -w, integrated over the turn (in the orders of the curve; the mean is left out). `radial` is
    (turns, samples) at even angles of the turn, the result alike in shape and unit. Three lobes move
    the teeth by a third of their height:

    >>> phi = np.arange(12) * np.pi / 6.0
    >>> along = along_without_stretch(np.cos(3.0 * phi)[np.newaxis])
    >>> bool(np.allclose(along, -np.sin(3.0 * phi) / 3.0))
    True
    """
    orders = np.fft.rfft(radial, axis=1)
    p = np.arange(orders.shape[1])
    orders[:, 0] = 0.0
    orders[:, 1:] /= -1j * p[1:]
    return np.asarray(np.fft.irfft(orders, radial.shape[1], axis=1))


def pitch_curve(
    teeth: int, turns: int, rng: np.random.Generator, exponent: float = EXPONENT
) -> Rows:
    """Return index curves of range 1: orders to half the teeth, Rayleigh amplitudes falling as 1/p^s.

    s is the `exponent`. The shape is (turns, teeth), a value per tooth. The spectrum is an assumption, the
    one that `pitch_spectrum` describes.
    """
    p = np.arange(1, teeth // 2 + 1)
    orders = np.zeros((turns, len(p) + 1), dtype=complex)
    orders[:, 1:] = (
        rng.standard_normal((turns, len(p))) + 1j * rng.standard_normal((turns, len(p)))
    ) / p**exponent
    curve = np.fft.irfft(orders, teeth, axis=1)
    return np.asarray(curve / np.ptp(curve, axis=1, keepdims=True))
