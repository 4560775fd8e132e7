"""A ring of rectangular section as a curved beam with shear and hoop force: right for thick rims too.

Winkler and Bach's curved beam (S. Timoshenko, Strength of Materials, Part II, 1956, from memory): with mean
radius R, section A = b t and neutral radius r_n = t / ln(r_o / r_i) = R - e, an element of length R dphi
with moment M (that opens it), hoop force N and shear V stores

    dU = (M^2 / (2 A E e) + N^2 R / (2 A E) - M N / (A E) + 1.2 R V^2 / (2 A G)) dphi,  G = E / (2 (1 + nu)),

1.2 for a rectangular section. Forces and displacements by Castigliano's theorem, in closed form below.
They tend to those of a thin ring (`rim_bending`) for t -> 0. The section stays plane and does not change
its height, so what a jaw squashes locally is left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.physics.quantity import Quantity

#: Energy of the shear stress over that of its mean, rectangular section (Timoshenko as above).
SHEAR_FACTOR = 1.2


@dataclass(frozen=True)
class Rim:
    """A rim: bore, thickness and width in mm, Young's modulus in GPa, Poisson's ratio; all above 0."""

    bore_mm: Quantity
    rim_mm: Quantity
    face_width_mm: Quantity
    youngs_modulus_gpa: Quantity
    poisson: Quantity

    @property
    def radius_mm(self) -> Quantity:
        """Radius R of the middle of the section."""
        return (np.asarray(self.bore_mm) + self.rim_mm) / 2.0

    @property
    def neutral_mm(self) -> Quantity:
        """Radius r_n at which pure bending stretches nothing: t / (2 artanh(t / 2R))."""
        half = np.asarray(self.rim_mm) / 2.0
        return half / np.arctanh(half / self.radius_mm)

    @property
    def stretch_n(self) -> Quantity:
        """A E in N."""
        return np.asarray(self.youngs_modulus_gpa) * 1e3 * self.face_width_mm * self.rim_mm

    @property
    def bending(self) -> Quantity:
        """How much softer the section is in bending than in stretch: r_n / e, about 12 (R/t)^2."""
        return self.neutral_mm / (self.radius_mm - self.neutral_mm)

    @property
    def shear(self) -> Quantity:
        """How much softer it is in shear than in stretch: 1.2 E / G."""
        return SHEAR_FACTOR * 2.0 * (1.0 + np.asarray(self.poisson))


def n_force_deflection_mm(forces: int, force_n: Quantity, rim: Rim) -> tuple[Quantity, Quantity]:
    """Radial deflections of the middle of the rim under n equal, equally spaced radial forces W.

    Returns (towards each force, away midway between two forces) in mm; forces >= 2, else ValueError. With
    h = pi/n, s = sin h, c = cos h, the hoop force midway is W / (2 s), its moment follows from no
    rotation, and

        at a force  W / (2 A E s^2) [(r_n/e) (R (h + s c)/2 - r_n s^2/h) + 1.2 (E/G) R (h - s c)/2],
        midway      W / (2 A E s^2) [(r_n/e) (r_n s^2/h - R (h c + s)/2) + 1.2 (E/G) R (s - h c)/2].

    Against plane-stress rings (finite elements in the tests, R/t from 1.5 to 12) half the sum of both is
    right or too large: by at most 0.46 (n t / (pi R))^2, see `rim_bending.clamping_excess`.

    >>> thin, thick = Rim(199.0, 1.0, 10.0, 200.0, 0.3), Rim(26.0, 10.0, 10.0, 200.0, 0.3)
    >>> for rim in (thin, thick):  # over W R^3 / (E I), 0.0744 for a thin ring
    ...     one = np.asarray(rim.radius_mm) ** 3 / (rim.stretch_n * rim.rim_mm**2 / 12.0)
    ...     print(f"{n_force_deflection_mm(2, 1.0, rim)[0] / one:.4f}")
    0.0744
    0.1104
    """
    half, sin, cos = _half_spacing(forces)
    radius, neutral = np.asarray(rim.radius_mm), np.asarray(rim.neutral_mm)
    mean = neutral * sin**2 / half
    common = np.asarray(force_n) / (2.0 * rim.stretch_n * sin**2)
    shear = rim.shear * radius / 2.0
    at_force = rim.bending * (radius * (half + sin * cos) / 2.0 - mean)
    midway = rim.bending * (mean - radius * (half * cos + sin) / 2.0)
    return (
        common * (at_force + shear * (half - sin * cos)),
        common * (midway + shear * (sin - half * cos)),
    )


def n_force_stress_mpa(forces: int, force_n: Quantity, rim: Rim) -> Quantity:
    """Largest hoop stress in MPa, by its size, that the same forces make: at a force or midway, in or out.

    M = W (r_n s/h - R cos a) / (2 s) with a from midway, N = -W cos a / (2 s), and at radius r the
    stress N / A + M (r_n - r) / (A e r). What presses right below a jaw is left out. Against plane-stress
    rings (the tests) 3 % less at most than the bore of R/t >= 2 has, and more by up to 9 % in two jaws, 14
    % in three and 47 % in six, for the bore feels the jaws from afar.
    """
    half, sin, cos = _half_spacing(forces)
    radius, neutral = np.asarray(rim.radius_mm), np.asarray(rim.neutral_mm)
    section = np.asarray(rim.face_width_mm) * rim.rim_mm
    hoop = np.asarray(force_n) / (2.0 * sin)
    found = []
    for turned in (1.0, cos):
        moment = hoop * (neutral * sin / half - radius * turned)
        for edge in (radius - np.asarray(rim.rim_mm) / 2.0, radius + np.asarray(rim.rim_mm) / 2.0):
            bent = moment * (neutral - edge) / ((radius - neutral) * edge)
            found.append(np.abs(bent - hoop * turned) / section)
    return np.asarray(np.max(np.broadcast_arrays(*found), axis=0))[()]


def lobe_stiffness_n_per_mm2(order: int, rim: Rim) -> Quantity:
    """Radial line load per radial displacement for `order` >= 2 lobes, in N/mm per mm, else ValueError.

    A load q cos(k phi) per length of the middle of the rim makes N = -q R / (k^2 - 1), V = k N and M = R
    N, so q / w = A E (k^2 - 1)^2 / (R^2 (r_n/e + 1.2 (E/G) k^2)). Within 1 % of the exact plane-stress
    solution (Michell) for two lobes and R/t from 2 up, loaded and measured at the bore; 4 % for three.

    >>> thin, thick = Rim(199.0, 1.0, 10.0, 200.0, 0.3), Rim(26.0, 10.0, 10.0, 200.0, 0.3)
    >>> for rim in (thin, thick):  # over E I / R^4, 9 for a thin ring
    ...     one = rim.stretch_n * rim.rim_mm**2 / 12.0 / np.asarray(rim.radius_mm) ** 4
    ...     print(f"{lobe_stiffness_n_per_mm2(2, rim) / one:.3f}")
    8.999
    7.063
    """
    if order < 2:
        raise ValueError(f"order: given {order}, allowed 2 or more")
    radius = np.asarray(rim.radius_mm)
    soft = rim.bending + rim.shear * order**2
    return rim.stretch_n * (order**2 - 1.0) ** 2 / (radius**2 * soft)


def _half_spacing(forces: int) -> tuple[float, float, float]:
    """Return half the angle between two forces in rad, its sine and its cosine."""
    if forces < 2:
        raise ValueError(f"forces: given {forces}, allowed 2 or more")
    half = np.pi / forces
    return half, float(np.sin(half)), float(np.cos(half))
