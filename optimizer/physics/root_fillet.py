"""How sharp the roots of rack-generated teeth are: what a wire that cuts them must get into.

A rack with round corners rolls on the pitch circle of radius r. The centre of a corner, h below the pitch
line, draws a path on the ring; the root fillet runs alongside it, the corner's own radius away.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ringset.physics.quantity import Array, Quantity


def least_fillet_radius_mm(
    module_mm: ArrayLike, teeth: ArrayLike, dedendum: ArrayLike, fillet: ArrayLike, shift: float
) -> Array:
    """Return the least radius of curvature of the root fillets of a ring, in mm; arrays broadcast.

    Parameters
    ----------
    module_mm, teeth
        Module [mm] and tooth count, both above 0.
    dedendum, fillet
        h_f* and corner radius rho_f* of the rack [modules].
    shift
        Profile shift factor x, positive outwards.

    Notes
    -----
    In polar axes of the ring the centre of the corner is at (r - h) e_r - r phi e_t while the rack has rolled
    by the angle phi, with r = m z / 2 and h = (h_f* - x - rho_f*) m. Its first two derivatives by phi are
    (r phi, -h) and (r + h, r phi), so that the radius of curvature of its path is::

        (u + h^2)^1.5 / (u + h (r + h)),  u = (r phi)^2

    which is least at phi = 0, the deepest point of the fillet: h^2 / (r + h). The fillet lies rho_f* m
    further from the centre of curvature. It is never sharper than the corner that makes it::

        rho = rho_f* m + h^2 / (r + h)

    >>> print(f"{float(least_fillet_radius_mm(1.0, 100, 1.25, 0.38, 0.0)):.5f}")
    0.39488
    """
    module, count = np.asarray(module_mm, dtype=np.float64), np.asarray(teeth, dtype=np.float64)
    corner = np.asarray(fillet, dtype=np.float64)
    below = np.asarray(dedendum, dtype=np.float64) - shift - corner
    return np.asarray(module * (corner + below**2 / (count / 2.0 + below)))


def finest_wire_radius_mm(wire_mm: Quantity, spark_gap_mm: float) -> Quantity:
    """Return the least concave radius in mm that a wire of a diameter leaves with a spark gap all round."""
    return wire_mm / 2.0 + spark_gap_mm
