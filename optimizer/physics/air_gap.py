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
    """Change of the gap when ring and housing are `warmer_k` warmer: (alpha_h - alpha_r) r dT.

    Positive opens the gap: an aluminium housing around a steel ring opens when warm, closes when cold.
    The tooth angles do not change (similar figures). r = 50 mm, 23 and 12 per million, 40 K: 22 um.
    """
    difference = np.asarray(housing_expansion_per_k) - ring_expansion_per_k
    return np.asarray(difference * radius_mm * warmer_k)[()]


def tip_growth_mm(interference_mm: Quantity, bore_mm: Quantity, outer_mm: Quantity) -> Quantity:
    """Growth of the outer radius of a ring pressed on its hub; 0 for clearance.

    D d / (2 D_o) with the diametral interference D, bore d and outer diameter D_o: thick cylinders
    (Lame) on a solid hub of the same steel, the stiffest hub there is, so an upper bound for hollow
    or softer hubs. 100/112 mm with 0.05 mm: 22.32 um.
    """
    pressed = np.maximum(0.0, np.asarray(interference_mm))
    return np.asarray(pressed * bore_mm / (2.0 * np.asarray(outer_mm)))[()]
