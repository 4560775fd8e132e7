"""What is left of the air gap when everything that closes it acts at once. Lengths in mm."""

from __future__ import annotations

import numpy as np

from ringset.physics.quantity import Quantity


def thermal_change_mm(
    radius_mm: Quantity,
    ring_expansion_per_k: Quantity,
    housing_expansion_per_k: Quantity,
    warmer_k: Quantity,
) -> Quantity:
    """Change of the gap in mm when ring and housing are `warmer_k` warmer: (alpha_h - alpha_r) r dT.

    `radius_mm` is that of the tips, the expansions are in 1/K, `warmer_k` is negative where it is colder.
    Positive opens the gap: an aluminium housing around a steel ring opens when warm, closes when cold. Ring
    and housing share one temperature, and the tooth angles do not change (similar figures). Linear
    expansion, closed form.

    >>> print(f"{1e3 * thermal_change_mm(50.0, 12e-6, 23e-6, 40.0):.1f} um")
    22.0 um
    """
    difference = np.asarray(housing_expansion_per_k) - ring_expansion_per_k
    return np.asarray(difference * radius_mm * warmer_k)[()]


def tip_growth_mm(interference_mm: Quantity, bore_mm: Quantity, outer_mm: Quantity) -> Quantity:
    """Growth in mm of the outer radius of a ring pressed on its hub: D d / (2 D_o); 0 for clearance.

    `interference_mm` D is diametral and negative for clearance; bore d and outer diameter D_o > d are those
    of the closed wall, so D_o is the root circle of a toothed ring. Thick cylinders (Lame) on a solid hub of
    the same steel, the stiffest hub there is, so an upper bound for hollow or softer hubs:
    `interference_fit.outer_growth_mm` in short.

    >>> print(f"{1e3 * tip_growth_mm(0.05, 100.0, 112.0):.2f} um")
    22.32 um
    """
    pressed = np.maximum(0.0, np.asarray(interference_mm))
    return np.asarray(pressed * bore_mm / (2.0 * np.asarray(outer_mm)))[()]
