"""Decay of the tooth field over the air gap, and what it does to a head's stated errors.

Above the tips the field obeys Laplace's equation, so the k-th harmonic over the tooth pitch pi m
falls with the gap g as exp(-2 k g / m) over a straight rack and as (r_a / (r_a + g))^(k z) over a
ring with z teeth and tip radius r_a. The same law is the spacing loss of magnetic recording, 54.6 dB
per wavelength (R. L. Wallace, The reproduction of magnetically recorded signals, Bell System
Technical Journal 30, 1145, 1951).
"""

from __future__ import annotations

import numpy as np

from ringset.physics.quantity import Quantity


def decay_over_rack(gap_mm: Quantity, module_mm: Quantity, harmonic: int = 1) -> Quantity:
    """Field of a harmonic at the gap over its value at the tips, straight rack: exp(-2 k g / m).

    gap_mm >= 0, module_mm > 0, harmonic k from 1 up. No iron within about a pitch behind the sensing plane,
    no saturation. The spacing loss over one pitch:

    >>> print(f"{-20.0 * np.log10(decay_over_rack(np.pi, 1.0)):.1f} dB")
    54.6 dB
    """
    return np.exp(-2.0 * harmonic * np.asarray(gap_mm) / module_mm)


def decay_over_ring(
    gap_mm: Quantity, tip_diameter_mm: Quantity, teeth: Quantity, harmonic: int = 1
) -> Quantity:
    """Field of a harmonic at the gap over its value at the tips of a ring: (r_a/(r_a+g))^(k z).

    gap_mm >= 0, tip_diameter_mm > 0. Tends to the straight-rack form for many teeth:

    >>> for teeth in (32, 180, 10_000):
    ...     print(f"{decay_over_ring(0.3, teeth + 2.0, teeth):.4f}")
    0.5713
    0.5530
    0.5489
    >>> print(f"{decay_over_rack(0.3, 1.0):.4f}")
    0.5488
    """
    tip_radius = np.asarray(tip_diameter_mm) / 2.0
    return np.asarray(
        np.exp(-harmonic * np.asarray(teeth) * np.log1p(np.asarray(gap_mm) / tip_radius))
    )[()]


def amplitude_ratio(
    gap_mm: Quantity,
    tip_diameter_mm: Quantity,
    teeth: Quantity,
    stated_gap_mm: Quantity,
    stated_module_mm: Quantity,
) -> Quantity:
    """Signal amplitude on this ring over the amplitude at which the head's errors were stated.

    The stated point is a straight rack of `stated_module_mm` at `stated_gap_mm`. Errors that are a
    fixed field or voltage (offset, stray field, noise) weigh 1 / ratio on this ring. Lengths above 0, the
    gaps 0 or more.
    """
    return np.exp(
        _relative_exponent(gap_mm, tip_diameter_mm, teeth, stated_gap_mm, stated_module_mm)
    )


def _relative_exponent(
    gap_mm: Quantity,
    tip_diameter_mm: Quantity,
    teeth: Quantity,
    stated_gap_mm: Quantity,
    stated_module_mm: Quantity,
) -> Quantity:
    """Exponent of the fundamental's decay here less that at the stated point, kept to what a float holds."""
    here = -np.asarray(teeth) * np.log1p(2.0 * np.asarray(gap_mm) / tip_diameter_mm)
    stated = -2.0 * np.asarray(stated_gap_mm) / stated_module_mm
    return np.clip(here - stated, -300.0, 300.0)


def third_harmonic_ratio(
    gap_mm: Quantity,
    tip_diameter_mm: Quantity,
    teeth: Quantity,
    stated_gap_mm: Quantity,
    stated_module_mm: Quantity,
) -> Quantity:
    """Third harmonic over fundamental on this ring, relative to the stated point.

    Over a rack exp(-4 g/m) / exp(-4 g0/m0): a larger gap in modules filters the tooth shape. Arguments as
    `amplitude_ratio`.
    """
    # the third harmonic decays three times as fast, so its share decays twice as fast as the fundamental
    return np.exp(
        2.0 * _relative_exponent(gap_mm, tip_diameter_mm, teeth, stated_gap_mm, stated_module_mm)
    )
