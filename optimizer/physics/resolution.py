"""Counts and degrees, displayed and usable bits, tooth rate.

Displayed bits are not usable bits, and accuracy is a third number: the count of displayed steps is
chosen by the electronics and does not depend on the tooth count; usable (noise-free) bits do.
"""

from __future__ import annotations

import numpy as np

from ringset.physics.quantity import ARCSEC_PER_RAD, ARCSEC_PER_TURN, Quantity

#: Peak to peak over rms of white noise: 99.9 % of a normal distribution lie within 3.29 sigma either way,
#: 6.6 in all (converter test practice, from memory).
NOISE_FREE_SIGMAS = 6.6


def counts_per_turn(bits: int) -> int:
    """Number of displayed steps of one turn, 2^bits; bits 1 to 32, else ValueError."""
    _check_bits(bits)
    return 1 << bits


def counts_to_deg(counts: Quantity, bits: int) -> Quantity:
    """Angle in degrees of a displayed count: counts / 2^bits x 360; bits 1 to 32, else ValueError.

    >>> print(counts_to_deg(1 << 23, bits=24))
    180.0
    """
    return np.asarray(counts) * (360.0 / counts_per_turn(bits))


def deg_to_counts(angle_deg: Quantity, bits: int) -> int | np.ndarray:
    """Displayed count of an angle in degrees: whole steps below it, within one turn; bits 1 to 32.

    >>> deg_to_counts(2.649, bits=24), deg_to_counts(362.649, bits=24)
    (123452, 123452)
    """
    total = counts_per_turn(bits)
    # a count turned into degrees and back must come out the same, whatever its last binary digit
    steps = np.floor(np.asarray(angle_deg) / 360.0 * total + 1e-6).astype(np.int64) % total
    return int(steps) if steps.ndim == 0 else steps


def step_arcsec(bits: Quantity) -> Quantity:
    """Size of one displayed step in arcsec: 1296000 / 2^bits."""
    return ARCSEC_PER_TURN / np.exp2(bits)


def noise_arcsec(
    noise_ratio: Quantity, amplitude_ratio: Quantity, teeth: Quantity, heads: Quantity
) -> Quantity:
    """Standard deviation of the angle in arcsec from white noise in both channels.

    sigma / (A z sqrt(H)); `noise_ratio` is sigma / A where the head's data hold, `amplitude_ratio`
    the amplitude on this ring over that one; all but the noise above 0. Small noise, closed form.

    60 dB of signal on 32 teeth have 14.9 noise-free bits:

    >>> noise = noise_arcsec(1e-3, amplitude_ratio=1.0, teeth=32, heads=1)
    >>> print(f"{noise:.3f} arcsec, {usable_bits(noise):.1f} bits")
    6.446 arcsec, 14.9 bits
    """
    return noise_ratio / (np.asarray(amplitude_ratio) * teeth * np.sqrt(heads)) * ARCSEC_PER_RAD


def usable_bits(noise_sigma_arcsec: Quantity, sigmas: float = NOISE_FREE_SIGMAS) -> Quantity:
    """Noise-free bits of a turn, log2(2 pi / (`sigmas` sigma)); a real number, noise > 0, sigmas > 0."""
    return np.log2(ARCSEC_PER_TURN / (sigmas * np.asarray(noise_sigma_arcsec)))


def tooth_rate_hz(teeth: Quantity, speed_rpm: Quantity) -> Quantity:
    """Teeth passing the head per second: z n / 60 (n in revolutions per minute)."""
    return np.asarray(teeth) * speed_rpm / 60.0


def _check_bits(bits: int) -> None:
    if not 1 <= bits <= 32:
        raise ValueError(f"bits: given {bits}, allowed 1 to 32")
