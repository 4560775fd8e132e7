"""Absolute angle inside one turn from two rings on one shaft with coprime tooth counts.

Ring i shows the electrical phase phi_i = z_i theta mod 2 pi. With z_i theta = 2 pi k_i + phi_i the
combination z2 phi_1 - z1 phi_2 = 2 pi (z1 k2 - z2 k1) is a whole number N of turns, and N mod z1 gives
the pitch number k1 of the first ring, because z2 has an inverse mod z1. Adjacent counts are only one
choice; the whole turn is decoded with the same margin everywhere, and a wrong phase that slips into
the next pitch takes the pitch number with it. (Chinese remainders; worked out here.)

Both heads belong at one angle, so that what is common to both rings, above all an axis off centre,
does not count; see `ring_tolerance_arcsec`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from ringset.physics.quantity import ARCSEC_PER_RAD, Quantity

_TURN = 2.0 * np.pi


def vernier_pitch_number(
    phase1_rad: Quantity, phase2_rad: Quantity, teeth1: int, teeth2: int
) -> int | np.ndarray:
    """Number of the pitch, 0 to z1 - 1, of the first ring in which the joint stands.

    N = round((z2 phi_1 - z1 phi_2) / 2 pi), k1 = -N z2^-1 mod z1. Phases in electrical rad, any whole
    turns in them are dropped; tooth counts are one number each. Right while `vernier_is_unambiguous`; tooth
    counts coprime, else ValueError.
    """
    _coprime(teeth1, teeth2)
    whole = np.rint((teeth2 * _wrapped(phase1_rad) - teeth1 * _wrapped(phase2_rad)) / _TURN)
    pitch = np.asarray(-whole.astype(np.int64) * pow(teeth2, -1, teeth1) % teeth1)
    return int(pitch) if pitch.ndim == 0 else pitch


def vernier_angle_deg(
    phase1_rad: Quantity, phase2_rad: Quantity, teeth1: int, teeth2: int
) -> Quantity:
    """Absolute angle in degrees, 0 to below 360: 360 / z1 (k1 + phi_1 / 2 pi).

    The second ring only picks the pitch; the angle is as good as the first. Conditions and errors as
    `vernier_pitch_number`.

    >>> first, second = (np.radians(123.0) * teeth % (2.0 * np.pi) for teeth in (64, 63))
    >>> print(f"{vernier_angle_deg(first, second, 64, 63):.6f}")
    123.000000
    """
    pitch = vernier_pitch_number(phase1_rad, phase2_rad, teeth1, teeth2)
    return 360.0 / teeth1 * (pitch + _wrapped(phase1_rad) / _TURN) % 360.0


def vernier_is_unambiguous(
    error1_rad: Quantity, error2_rad: Quantity, teeth1: Quantity, teeth2: Quantity
) -> NDArray[np.bool_]:
    """Say where phase errors in electrical rad leave the pitch number right: |z2 d1 - z1 d2| < pi.

    Beyond it the number is wrong, up to errors of (2 z1 - 1) pi, far more than any ring has. Tooth
    counts coprime, else ValueError.
    """
    z1, z2 = _coprime(teeth1, teeth2)
    return np.asarray(np.abs(z2 * np.asarray(error1_rad) - z1 * np.asarray(error2_rad)) < np.pi)


def phase_tolerance_rad(teeth1: Quantity, teeth2: Quantity) -> Quantity:
    """Electrical error in rad below which each ring may be wrong as it likes: pi / (z1 + z2).

    Enough for `vernier_is_unambiguous`, and needed if the errors are opposed. Coprime, else ValueError.
    """
    z1, z2 = _coprime(teeth1, teeth2)
    return np.pi / (z1 + z2)


def ring_tolerance_arcsec(teeth1: Quantity, teeth2: Quantity) -> Quantity:
    """Arcsec below which the mechanical errors of the rings may differ: |e1 - e2| < pi / (z1 z2).

    `vernier_is_unambiguous` with d_i = z_i e_i; an error common to both rings drops out. Coprime counts, else
    ValueError.

    >>> print(f"{ring_tolerance_arcsec(64, 63):.1f}")
    160.7
    """
    z1, z2 = _coprime(teeth1, teeth2)
    return np.pi / (z1 * z2) * ARCSEC_PER_RAD


def noise_limit_rad(teeth1: Quantity, teeth2: Quantity, sigmas: Quantity = 6.0) -> Quantity:
    """Largest standard deviation of either phase in electrical rad: pi / (sigmas sqrt(z1^2 + z2^2)).

    Independent noise, equal in both phases, that reaches pi only at `sigmas` > 0 deviations, nothing
    else wrong. Coprime counts, else ValueError.
    """
    if not np.all(np.asarray(sigmas) > 0.0):
        raise ValueError(f"sigmas: given {np.min(sigmas)}, allowed above 0")
    z1, z2 = _coprime(teeth1, teeth2)
    return np.pi / (np.asarray(sigmas) * np.hypot(z1, z2))


def vernier_unique_turns(teeth1: Quantity, teeth2: Quantity) -> Quantity:
    """Range in turns over which the two phases do not repeat: 1 / gcd(z1, z2).

    Any whole counts from 1 up, else ValueError.
    """
    return 1.0 / np.gcd(_counts("teeth1", teeth1), _counts("teeth2", teeth2))


def best_vernier_partner(teeth: Quantity, least: int, most: int) -> int | np.ndarray:
    """Tooth count from `least` to `most` whose ring beside one of `teeth` tolerates most.

    Both tolerances, pi / (z1 z2) of the rings and pi / (z1 + z2) of the phases, fall as the partner
    grows, so it is the smallest count coprime to `teeth`, not the adjacent one. Space is not its
    concern: at one module a smaller count is a smaller ring. ValueError if there is none.

    >>> best_vernier_partner(64, least=36, most=63)
    37
    """
    counts = _counts("teeth", teeth)
    if not 1 <= least <= most:
        raise ValueError(f"least, most: given {least}, {most}, allowed 1 <= least <= most")
    window = np.arange(least, most + 1)
    coprime = np.gcd(counts[..., np.newaxis], window) == 1
    found = coprime.any(axis=-1)
    if not found.all():
        raise ValueError(
            f"least, most: given {least}, {most}, "
            f"allowed a window with a count coprime to {counts[~found].flat[0]}"
        )
    partner = window[np.argmax(coprime, axis=-1)]
    return int(partner) if counts.ndim == 0 else np.asarray(partner)


def _wrapped(phase_rad: Quantity) -> NDArray[np.float64]:
    return np.asarray(np.mod(np.asarray(phase_rad, dtype=float), _TURN))


def _counts(name: str, given: Quantity) -> NDArray[np.int64]:
    """Return tooth counts as whole numbers; ValueError if they are not whole or below 1."""
    values = np.asarray(given)
    wrong = values[~((values >= 1) & (values == np.floor(values)))]
    if wrong.size:
        raise ValueError(f"{name}: given {wrong[0]}, allowed whole numbers from 1 up")
    return values.astype(np.int64)


def _coprime(teeth1: Quantity, teeth2: Quantity) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return both counts; ValueError where they share a divisor."""
    z1, z2 = np.broadcast_arrays(_counts("teeth1", teeth1), _counts("teeth2", teeth2))
    shared = np.gcd(z1, z2) > 1
    if shared.any():
        a, b = int(z1[shared].flat[0]), int(z2[shared].flat[0])
        raise ValueError(
            f"teeth1, teeth2: given {a}, {b}, allowed coprime counts (these share {math.gcd(a, b)})"
        )
    return z1, z2
