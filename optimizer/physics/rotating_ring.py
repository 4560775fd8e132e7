"""A rotating ring: its stresses, the speed at which it yields through, and when it lifts off its hub.

Annulus in plane stress, elastic, diameters in mm, density in kg/m^3, speeds in revolutions per
minute, stresses in MPa. Closed forms of the rotating disc (S. Timoshenko and J. N. Goodier, Theory
of Elasticity, 1951, from memory; worked cases in
tests/published/test_rotating_rings.py). A joint of a robot turns far too slowly for any of this to
matter; a motor side or a spindle does not.
"""

from __future__ import annotations

import numpy as np

from ringset.physics.arguments import physics_above_zero
from ringset.physics.interference_fit import Seat
from ringset.physics.quantity import Quantity

_RAD_S_PER_RPM = 2.0 * np.pi / 60.0


def _rho_w2(density_kg_per_m3: Quantity, speed_rpm: Quantity) -> Quantity:
    """Return rho omega^2 in MPa per mm^2 of radius squared."""
    omega = np.asarray(speed_rpm) * _RAD_S_PER_RPM
    return np.asarray(density_kg_per_m3 * omega**2 * 1e-12)


def thin_ring_hoop_mpa(
    density_kg_per_m3: Quantity, speed_rpm: Quantity, radius_mm: Quantity
) -> Quantity:
    """Hoop stress of a thin ring: rho (omega r)^2.

    At a rim speed of 100 m/s, whatever the radius:

    >>> rpm = 100.0 / 0.05 * 60.0 / (2.0 * np.pi)
    >>> print(f"{thin_ring_hoop_mpa(7850.0, rpm, radius_mm=50.0):.1f}")
    78.5
    """
    return np.asarray(_rho_w2(density_kg_per_m3, speed_rpm) * np.asarray(radius_mm) ** 2)[()]


def hoop_mpa(
    density_kg_per_m3: Quantity,
    poisson: Quantity,
    speed_rpm: Quantity,
    bore_mm: Quantity,
    outer_mm: Quantity,
    at_mm: Quantity,
) -> Quantity:
    """Hoop stress of a free annulus at diameter `at_mm`, bore <= at <= outer.

    ((3+nu)/8) rho w^2 [r_i^2 + r_o^2 + r_i^2 r_o^2/r^2 - ((1+3nu)/(3+nu)) r^2].
    """
    inner, outer, r2 = (np.asarray(d) ** 2 / 4.0 for d in (bore_mm, outer_mm, at_mm))
    nu = np.asarray(poisson)
    shape = inner + outer + inner * outer / r2 - (1.0 + 3.0 * nu) / (3.0 + nu) * r2
    return np.asarray((3.0 + nu) / 8.0 * _rho_w2(density_kg_per_m3, speed_rpm) * shape)[()]


def radial_mpa(
    density_kg_per_m3: Quantity,
    poisson: Quantity,
    speed_rpm: Quantity,
    bore_mm: Quantity,
    outer_mm: Quantity,
    at_mm: Quantity,
) -> Quantity:
    """Radial stress of a free annulus: ((3+nu)/8) rho w^2 [r_i^2 + r_o^2 - r_i^2 r_o^2/r^2 - r^2].

    Largest at the geometric mean of both diameters.
    """
    inner, outer, r2 = (np.asarray(d) ** 2 / 4.0 for d in (bore_mm, outer_mm, at_mm))
    shape = inner + outer - inner * outer / r2 - r2
    factor = (3.0 + np.asarray(poisson)) / 8.0
    return np.asarray(factor * _rho_w2(density_kg_per_m3, speed_rpm) * shape)[()]


def solid_centre_mpa(
    density_kg_per_m3: Quantity, poisson: Quantity, speed_rpm: Quantity, outer_mm: Quantity
) -> Quantity:
    """Stress at the centre of a solid disc, hoop and radial: ((3+nu)/8) rho w^2 R^2."""
    factor = (3.0 + np.asarray(poisson)) / 8.0
    r2 = np.asarray(outer_mm) ** 2 / 4.0
    return np.asarray(factor * _rho_w2(density_kg_per_m3, speed_rpm) * r2)[()]


def mean_hoop_mpa(
    density_kg_per_m3: Quantity,
    speed_rpm: Quantity,
    bore_mm: Quantity,
    root_mm: Quantity,
    tip_mm: Quantity,
) -> Quantity:
    """Hoop stress averaged over the wall from bore to root that carries the ring out to its tips.

    Equilibrium of half a ring: rho w^2 (r_t^3 - r_i^3) / (3 (r_f - r_i)). Gaps between teeth are
    taken as full, the safe side; with r_t = r_f it is rho w^2 (r_i^2 + r_i r_o + r_o^2) / 3.
    """
    inner, root, tip = (np.asarray(d) / 2.0 for d in (bore_mm, root_mm, tip_mm))
    shape = (tip**3 - inner**3) / (3.0 * (root - inner))
    return np.asarray(_rho_w2(density_kg_per_m3, speed_rpm) * shape)[()]


def bore_hoop_mpa(
    density_kg_per_m3: Quantity,
    poisson: Quantity,
    speed_rpm: Quantity,
    bore_mm: Quantity,
    root_mm: Quantity,
    tip_mm: Quantity,
) -> Quantity:
    """Hoop stress at the bore of a ring whose teeth pull at its root circle but carry no hoop.

    Annulus from bore to root, plus the Lame stress 2 q r_f^2 / (r_f^2 - r_i^2) of the pull
    q = rho w^2 (r_t^3 - r_f^3) / (3 r_f) of full teeth (the safe side). tip = root: free annulus.

    An annulus 100/500 at 6900 rpm (a question page prints 212 MPa):

    >>> print(f"{bore_hoop_mpa(7800.0, 0.3, 6900.0, 100.0, 500.0, 500.0):.0f}")
    212
    """
    inner, root, tip = (np.asarray(d) / 2.0 for d in (bore_mm, root_mm, tip_mm))
    body = hoop_mpa(density_kg_per_m3, poisson, speed_rpm, bore_mm, root_mm, bore_mm)
    pull = _rho_w2(density_kg_per_m3, speed_rpm) * (tip**3 - root**3) / (3.0 * root)
    return np.asarray(body + 2.0 * pull * root**2 / (root**2 - inner**2))[()]


def yielding_through_rpm(
    density_kg_per_m3: Quantity,
    yield_mpa: Quantity,
    bore_mm: Quantity,
    root_mm: Quantity,
    tip_mm: Quantity,
) -> Quantity:
    """Speed at which the mean hoop stress reaches yield: below it a tough ring does not burst.

    The usual bursting criterion sets the mean hoop stress equal to the tensile strength (from
    memory); with the yield instead the speed is a lower bound of bursting. Brittle material,
    cracks and notches are outside of it. yield_mpa > 0, else ValueError.
    """
    physics_above_zero(yield_mpa=yield_mpa)
    at_one = mean_hoop_mpa(density_kg_per_m3, 1.0, bore_mm, root_mm, tip_mm)
    return np.asarray(np.sqrt(np.asarray(yield_mpa) / at_one))[()]


def opening_mm(
    seat: Seat,
    ring_density_kg_per_m3: Quantity,
    hub_density_kg_per_m3: Quantity,
    speed_rpm: Quantity,
    tip_mm: Quantity | None = None,
) -> Quantity:
    """Interference on the diameter that rotation takes away: free growth of ring less that of hub.

    d (sigma_ring / E_ring - sigma_hub / E_hub) with the hoop stresses at the free faces; the hub's is
    (rho w^2 / 4) [(1 - nu) r_o^2 + (3 + nu) r_i^2]. Negative where the hub grows more.
    """
    tip = seat.outer_mm if tip_mm is None else tip_mm
    ring = bore_hoop_mpa(
        ring_density_kg_per_m3, seat.ring.poisson, speed_rpm, seat.seat_mm, seat.outer_mm, tip
    )
    nu, outer = np.asarray(seat.hub.poisson), np.asarray(seat.seat_mm) ** 2 / 4.0
    shape = (1.0 - nu) * outer + (3.0 + nu) * np.asarray(seat.hub_bore_mm) ** 2 / 4.0
    hub = _rho_w2(hub_density_kg_per_m3, speed_rpm) * shape / 4.0
    strain = ring / np.asarray(seat.ring.youngs_modulus_gpa) - hub / seat.hub.youngs_modulus_gpa
    return np.asarray(seat.seat_mm * strain * 1e-3)[()]


def contact_loss_rpm(
    seat: Seat,
    interference_mm: Quantity,
    ring_density_kg_per_m3: Quantity,
    hub_density_kg_per_m3: Quantity,
    tip_mm: Quantity | None = None,
) -> Quantity:
    """Speed at which rotation has used up the interference; 0 for clearance, inf if it never does.

    `opening_mm` grows with the square of the speed. Interference in mm on the diameter.

    A disc 80/750 with 0.05 mm on its shaft, the problem of a question page, computed beforehand:

    >>> from ringset.physics.interference_fit import Elastic
    >>> steel = Elastic(207.0, 0.3, 0.0)
    >>> print(f"{contact_loss_rpm(Seat(80.0, 750.0, 0.0, steel, steel), 0.05, 7470.0, 7470.0):.0f}")
    3690
    """
    at_one = np.asarray(
        opening_mm(seat, ring_density_kg_per_m3, hub_density_kg_per_m3, 1.0, tip_mm)
    )
    pressed = np.maximum(0.0, np.asarray(interference_mm, dtype=np.float64))
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = np.sqrt(pressed / at_one)
    return np.where(at_one > 0.0, speed, np.inf)[()]
