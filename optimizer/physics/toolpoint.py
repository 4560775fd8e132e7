"""Error at the tool point from the angle errors of the joints."""

from __future__ import annotations

import numpy as np

from ringset.physics.quantity import ARCSEC_PER_RAD, Array, Quantity


def lever_error_um(reach_mm: Quantity, error_arcsec: Quantity) -> Quantity:
    """Displacement in um of a point at `reach_mm` from a joint axis that is wrong by an angle in arcsec.

    reach x angle, for small angles.

    >>> print(f"{lever_error_um(1000.0, 1.0):.3f}")
    4.848
    """
    return np.asarray(reach_mm) * error_arcsec * (1000.0 / ARCSEC_PER_RAD)


def combined_lever_error_um(lever_errors_um: Array, rule: str) -> float:
    """Tool-point error in um of one robot: `rss` (root of the sum of squares) or `sum`, else ValueError.

    The norm of column i of the Jacobian is the distance of the tool point from joint axis i, so
    u_p^2 = sum (reach_i u_i)^2 for independent joints, and sum (reach_i e_i) bounds them all. One value per
    joint; closed form.

    >>> [combined_lever_error_um(np.array([3.0, 4.0]), rule) for rule in ("rss", "sum")]
    [5.0, 7.0]
    """
    if rule == "rss":
        return float(np.sqrt(np.sum(np.asarray(lever_errors_um) ** 2)))
    if rule == "sum":
        return float(np.sum(lever_errors_um))
    raise ValueError(f"rule: given {rule!r}, allowed 'rss' or 'sum'")
