"""Stiffness of the rim as a ring: clamping while cutting, and an oval seat.

The rim is taken as a ring of mean radius R and rectangular section b x t (face width x rim); teeth
do not stiffen it. What is said of jaws and seats is reckoned as a curved beam with shear and hoop force
(`curved_beam`), for thick rims too. The functions of a thin ring, where bending alone counts, are its limit
and the form that textbooks print: too stiff by 3 % at R / t = 8 and by 17 % at 3.6 for three jaws.
"""

from __future__ import annotations

import numpy as np

from ringset.physics import curved_beam
from ringset.physics.quantity import Quantity

#: The lobes of `clamping_lobe_mm` are too large by at most this share over (half the arc between two jaws /
#: rim)^2: measured in the tests against plane-stress rings of R / t from 1.5 to 12 in 2 to 6 jaws.
EXCESS = 0.46
#: Least R / t for which that was measured.
LEAST_RADIUS_OVER_RIM = 1.5
#: Share from which an answer tells of it. Assumed: forces are known to no tenth.
EXCESS_TOLD = 0.1


def bending_stiffness_n_mm2(
    face_width_mm: Quantity, rim_mm: Quantity, youngs_modulus_gpa: Quantity
) -> Quantity:
    """E I of the rim section for bending in its own plane: E b t^3 / 12 in N mm^2 (beam theory)."""
    return youngs_modulus_gpa * 1e3 * face_width_mm * np.asarray(rim_mm) ** 3 / 12.0


def n_force_deflection_mm(
    forces: int, force_n: Quantity, radius_mm: Quantity, stiffness_n_mm2: Quantity
) -> tuple[Quantity, Quantity]:
    """Radial deflections of a thin ring under n equal, equally spaced radial forces.

    Returns (towards each force, away midway between two forces), both positive, in mm. With
    h = pi/n: W R^3/(E I) (1/2) [(h + sin h cos h)/(2 sin^2 h) - 1/h] at a force and
    W R^3/(E I) (1/4) [2/h - (1/sin h)(1 + h cot h)] midway. forces >= 2, else ValueError.
    Source: W. C. Young, Roark's Formulas for Stress and Strain, 1989 (from memory), confirmed by
    Fourier sum in the tests; n = 2 gives the textbook 0.0744 and 0.0683 (half diameters).

    A ring pinched by 10 N on a radius of 100 mm, section 10 x 5 mm (an unnamed verification page prints
    3.57e-5 m):

    >>> stiffness = bending_stiffness_n_mm2(10.0, 5.0, 200.0)
    >>> at_force, midway = n_force_deflection_mm(2, 10.0, 100.0, stiffness)
    >>> print(f"{at_force:.4f}")
    0.0357
    """
    if forces < 2:
        raise ValueError(f"forces: given {forces}, allowed 2 or more")
    half = np.pi / forces
    sin, cos = np.sin(half), np.cos(half)
    common = np.asarray(force_n) * np.asarray(radius_mm) ** 3 / stiffness_n_mm2
    at_force = common / 2.0 * ((half + sin * cos) / (2.0 * sin**2) - 1.0 / half)
    midway = common / 4.0 * (2.0 / half - (1.0 + half * cos / sin) / sin)
    return at_force, midway


def n_force_moments_n_mm(
    forces: int, force_n: Quantity, radius_mm: Quantity
) -> tuple[Quantity, Quantity]:
    """Bending moments of the same ring (at each force, midway between two), positive both, in N mm.

    With h = pi/n: (W R/2) (1/h - cot h) at a force, (W R/2) (1/sin h - 1/h) midway; n = 2 gives
    W R / pi = 0.31831 W R and 0.18169 W R (textbook). They bend the ring in opposite senses. forces >= 2,
    else ValueError.
    """
    if forces < 2:
        raise ValueError(f"forces: given {forces}, allowed 2 or more")
    half = np.pi / forces
    common = np.asarray(force_n) * np.asarray(radius_mm) / 2.0
    return common * (1.0 / half - 1.0 / np.tan(half)), common * (1.0 / np.sin(half) - 1.0 / half)


def clamping_stress_mpa(
    jaws: int,
    jaw_force_n: Quantity,
    bore_mm: Quantity,
    rim_mm: Quantity,
    face_width_mm: Quantity,
) -> Quantity:
    """Largest hoop stress of a rim in the jaws in MPa, as a curved beam: `curved_beam.n_force_stress_mpa`.

    Below yield the ring springs back; above it the jaws leave it bent. jaws >= 2, else ValueError; all other
    arguments above 0, here and below.
    """
    rim = curved_beam.Rim(bore_mm, rim_mm, face_width_mm, 1.0, 0.0)  # no stress hangs on E and nu
    return curved_beam.n_force_stress_mpa(jaws, jaw_force_n, rim)


def ring_frequency_hz(
    order: int,
    bore_mm: Quantity,
    rim_mm: Quantity,
    youngs_modulus_gpa: Quantity,
    density_kg_per_m3: Quantity,
) -> Quantity:
    """Frequency at which a free ring rings in its own plane with `order` >= 2 lobes, in Hz, else ValueError.

    omega^2 = E I k^2 (k^2 - 1)^2 / (rho A R^4 (k^2 + 1)) (S. Timoshenko, Vibration
    Problems in Engineering, 1955, from memory); the width
    cancels, I / A = t^2 / 12. Of a thin ring: for two lobes 3 % too high at R / t = 3.6 and 7 % at 2.5, by
    the stiffness of `curved_beam`. A cutter that strikes at this rate makes the rim chatter.
    """
    if order < 2:
        raise ValueError(f"order: given {order}, allowed 2 or more")
    radius = (np.asarray(bore_mm) + rim_mm) / 2e3
    wave = np.asarray(youngs_modulus_gpa) * 1e9 / density_kg_per_m3
    square = order**2 * (order**2 - 1.0) ** 2 / (order**2 + 1.0)
    turning = np.sqrt(wave * square / 12.0) * np.asarray(rim_mm) / 1e3 / radius**2
    return np.asarray(turning / (2.0 * np.pi))[()]


def clamping_lobe_mm(
    jaws: int,
    jaw_force_n: Quantity,
    bore_mm: Quantity,
    rim_mm: Quantity,
    face_width_mm: Quantity,
    youngs_modulus_gpa: Quantity,
    poisson: Quantity,
) -> Quantity:
    """Radial amplitude (half of peak to valley) in mm of the lobes that clamping leaves.

    A ring held by n jaws while it is cut springs back to n lobes as high as the jaws had bent it:
    half the sum of the deflections at and between the jaws. Falls as t^-3 where the rim is thin. Force in N
    per jaw; jaws >= 2, else ValueError. From `curved_beam.n_force_deflection_mm`; `clamping_excess` tells by
    how much it may be too large.
    """
    rim = curved_beam.Rim(bore_mm, rim_mm, face_width_mm, youngs_modulus_gpa, poisson)
    at_force, midway = curved_beam.n_force_deflection_mm(jaws, jaw_force_n, rim)
    return (at_force + midway) / 2.0


def clamping_excess(jaws: int, bore_mm: Quantity, rim_mm: Quantity) -> Quantity:
    """Share by which `clamping_lobe_mm` may be too large at most: 0.46 / (pi R / (n t))^2.

    The nearer two jaws stand for the thickness between them, the less the rim bends as a beam. For three jaws
    at R / t = 3.6 it is 0.03, for six 0.13. Measured down to R / t = 1.5; below that nothing is known.

    >>> print(f"{clamping_excess(3, 62.0, 10.0):.3f}, {clamping_excess(6, 62.0, 10.0):.3f}")
    0.032, 0.129
    """
    radius = (np.asarray(bore_mm) + rim_mm) / 2.0
    return np.asarray(EXCESS * (jaws * np.asarray(rim_mm) / (np.pi * radius)) ** 2)[()]


def lobes_outside_range(jaws: int, bore_mm: float, rim_mm: float) -> list[str]:
    """Return why the lobes of a ring in the jaws are not closely known, in words; empty where they are.

    >>> lobes_outside_range(3, 62.0, 10.0)
    []
    >>> lobes_outside_range(6, 42.0, 10.0)[0]
    'rim 10 mm, mean radius 2.6 rims, 6 jaws: lobes from clamping may be up to 25 % less than stated'
    """
    over = (bore_mm + rim_mm) / 2.0 / rim_mm
    excess = float(clamping_excess(jaws, bore_mm, rim_mm))
    ring = f"rim {rim_mm:g} mm, mean radius {over:.2g} rims"
    if over < LEAST_RADIUS_OVER_RIM:
        known = f"from {LEAST_RADIUS_OVER_RIM:g} rims up"
        return [f"{ring}: how far jaws bend it was only checked {known}"]
    if excess > EXCESS_TOLD:
        less = f"up to {100.0 * excess:.0f} % less than stated"
        return [f"{ring}, {jaws} jaws: lobes from clamping may be {less}"]
    return []


def lobe_stiffness_n_per_mm2(
    order: int, radius_mm: Quantity, stiffness_n_mm2: Quantity
) -> Quantity:
    """Radial line load per radial displacement for `order` >= 2 lobes on a thin ring, else ValueError.

    w = q R^4 / (E I (k^2 - 1)^2), so q / w = E I (k^2 - 1)^2 / R^4 in N/mm per mm (bending without stretch).
    """
    if order < 2:
        raise ValueError(f"order: given {order}, allowed 2 or more")
    return stiffness_n_mm2 * (order**2 - 1.0) ** 2 / np.asarray(radius_mm) ** 4


def transmitted_ovality(
    seat_stiffness_n_per_mm2: Quantity,
    bore_mm: Quantity,
    rim_mm: Quantity,
    face_width_mm: Quantity,
    youngs_modulus_gpa: Quantity,
    poisson: Quantity,
) -> Quantity:
    """Share (0 to 1) of the seat's ovality that the ring takes over.

    Seat and ring are springs in series for two lobes: k_seat / (k_seat + k_ring), the ring's from
    `curved_beam.lobe_stiffness_n_per_mm2`. A thin rim follows its seat; a stiff one resists, and its share
    falls as t^-3 where it is not too thick.
    """
    rim = curved_beam.Rim(bore_mm, rim_mm, face_width_mm, youngs_modulus_gpa, poisson)
    ring = curved_beam.lobe_stiffness_n_per_mm2(2, rim)
    return seat_stiffness_n_per_mm2 / (seat_stiffness_n_per_mm2 + ring)


def rim_factor_external(rim_mm: Quantity, whole_depth_mm: Quantity) -> Quantity:
    """Factor on the tooth root stress of a loaded gear with a thin rim: 1 from 1.2 depths up.

    AGMA 2001 K_B and ISO 6336-3:2006 Y_B for external teeth (unnamed transcriptions): 1.6 ln(2.242 h/s)
    below 1.2. ISO 6336-3 does not hold below 0.5. A target ring carries no load: a guide only.

    >>> print(f"{rim_factor_external(2.25, 2.25):.3f}, {rim_factor_external(2.7, 2.25):.3f}")
    1.292, 1.000
    """
    ratio = np.asarray(rim_mm) / whole_depth_mm
    return np.where(ratio < 1.2, 1.6 * np.log(2.242 / ratio), 1.0)[()]


def rim_factor_internal(rim_mm: Quantity, module_mm: Quantity) -> Quantity:
    """Return the same for internal teeth by ISO 6336-3: 1.15 ln(8.324 m/s) below 3.5 modules, else 1.

    Does not hold below 1.75 modules.
    """
    ratio = np.asarray(rim_mm) / module_mm
    return np.where(ratio < 3.5, 1.15 * np.log(8.324 / ratio), 1.0)[()]
