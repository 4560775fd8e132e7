"""Sizes, section areas, mass and inertia of a toothed ring cut by a basic rack.

Lengths are in mm, areas in mm^2. `addendum`, `dedendum`, `fillet` and `shift` are factors of the
module (ISO 53:1998 calls them h_a*, h_f*, rho_f* and x). Every function takes numbers or arrays.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.physics.quantity import Array, Quantity

# 24 nodes integrate the fillet of every ring with 17 teeth and more to better than 1e-12.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)


def pitch_diameter_mm(module_mm: Quantity, teeth: Quantity) -> Quantity:
    """Pitch diameter d = m z in mm (ISO 21771:2007, reference circle); m > 0, z >= 1.

    >>> pitch_diameter_mm(2.0, 24)
    48.0
    """
    return module_mm * teeth


def tip_diameter_mm(
    module_mm: Quantity, teeth: Quantity, addendum: float = 1.0, shift: float = 0.0
) -> Quantity:
    """Tip diameter d_a = m (z + 2 h_a* + 2 x) in mm (ISO 21771:2007, no tip shortening).

    >>> tip_diameter_mm(2.0, 24)
    52.0
    """
    return module_mm * (teeth + 2.0 * (addendum + shift))


def root_diameter_mm(
    module_mm: Quantity, teeth: Quantity, dedendum: Quantity = 1.25, shift: float = 0.0
) -> Quantity:
    """Root diameter d_f = m (z - 2 h_f* + 2 x) in mm (ISO 21771:2007).

    >>> root_diameter_mm(2.0, 24)
    43.0
    """
    return module_mm * (teeth - 2.0 * (dedendum - shift))


def base_diameter_mm(module_mm: Quantity, teeth: Quantity, pressure_angle_deg: float) -> Quantity:
    """Base diameter d_b = m z cos(alpha) in mm (ISO 21771:2007)."""
    return module_mm * teeth * float(np.cos(np.radians(pressure_angle_deg)))


def whole_depth_mm(
    module_mm: Quantity, addendum: float = 1.0, dedendum: Quantity = 1.25
) -> Quantity:
    """Whole depth h = m (h_a* + h_f*) in mm: 2.25 m for the ISO 53:1998 type A rack."""
    return module_mm * (addendum + dedendum)


def rim_thickness_mm(root_diameter: Quantity, bore: Quantity) -> Quantity:
    """Rim thickness between root circle and bore, (d_f - bore) / 2, in mm; negative where they overlap."""
    return (root_diameter - bore) / 2.0


def least_teeth_without_undercut(
    dedendum: float, fillet: float, shift: float, pressure_angle_deg: float
) -> float:
    """Smallest tooth count (a real number) that a rack cuts without undercut.

    z_min = 2 (h - x) / sin^2(alpha) with h = h_f* - rho_f* (1 - sin alpha), the depth at which the
    straight flank of the rack ends. Textbook condition; 17.10 for ISO 53:1998 type A without shift.

    >>> print(f"{least_teeth_without_undercut(1.25, 0.38, 0.0, 20.0):.2f}")
    17.10
    """
    sin_alpha = np.sin(np.radians(pressure_angle_deg))
    straight = dedendum - fillet * (1.0 - sin_alpha)
    return float(2.0 * (straight - shift) / sin_alpha**2)


@dataclass(frozen=True)
class Section:
    """Face section of a ring: area in mm^2 and polar second moment of area in mm^4."""

    area_mm2: Quantity
    polar_mm4: Quantity


def annulus_section(outer_mm: Quantity, bore_mm: Quantity) -> Section:
    """Section of a plain annulus of diameters `outer_mm` > `bore_mm` >= 0 (closed form)."""
    outer, inner = np.asarray(outer_mm) / 2.0, np.asarray(bore_mm) / 2.0
    return Section(np.pi * (outer**2 - inner**2), np.pi / 2.0 * (outer**4 - inner**4))


def toothed_section(
    module_mm: Quantity,
    teeth: Quantity,
    bore_mm: Quantity,
    *,
    addendum: float,
    dedendum: float,
    fillet: float,
    pressure_angle_deg: float,
    shift: float = 0.0,
) -> Section:
    """Section of the finished ring from its true tooth shape.

    The half pitch runs from the middle of a gap over the root arc, the fillet that the rounded rack
    corner envelops, the involute flank and the tip arc to the middle of a tooth. With polar radius
    r and angle t the area is 1/2 integral r^2 dt and the polar moment 1/4 integral r^4 dt; root arc,
    involute and tip arc are closed forms, the fillet is integrated by 24 Gauss nodes.

    `module_mm`, `teeth` and `bore_mm` broadcast, the factors of the rack are numbers. Valid for teeth cut
    without undercut and not pointed at the tip; raises ValueError otherwise.
    Source: rack generation after ISO 53:1998 and the meshing condition (the common normal passes
    through the pitch point), worked out here; the tests roll the rack over a disc to confirm it.

    Tooth and gap are near half each, so a ring weighs nearly what a plain one to the mean of tip and
    root does (an estimate from university research code on drive trains):

    >>> rack = {"addendum": 1.0, "dedendum": 1.25, "fillet": 0.38, "pressure_angle_deg": 20.0}
    >>> toothed = toothed_section(1.0, 100, 85.5, **rack)
    >>> print(f"{toothed.area_mm2 / annulus_section(99.75, 85.5).area_mm2:.2f}")
    1.01
    """
    least = least_teeth_without_undercut(dedendum, fillet, shift, pressure_angle_deg)
    if np.any(np.asarray(teeth) < least):
        raise ValueError(f"teeth: given {np.min(teeth)}, allowed at least {least:.2f} (undercut)")
    m, z = np.asarray(module_mm, dtype=float), np.asarray(teeth, dtype=float)
    alpha = np.radians(pressure_angle_deg)
    corner_depth = dedendum - fillet
    corner_x = np.pi / 4.0 - corner_depth * np.tan(alpha) - fillet / np.cos(alpha)
    pitch_radius = z / 2.0  # everything below is in modules until the end
    base, tip = pitch_radius * np.cos(alpha), pitch_radius + addendum + shift
    root = pitch_radius - dedendum + shift
    root_angle = corner_x / pitch_radius
    fillet_area, fillet_polar = _fillet_integrals(
        pitch_radius, corner_x, corner_depth, fillet, shift, alpha
    )
    flank_end = dedendum - fillet * (1.0 - np.sin(alpha))
    tan_start = np.tan(alpha) - 4.0 * (flank_end - shift) / (z * np.sin(2.0 * alpha))
    alpha_tip = np.arccos(base / tip)
    tan_tip = np.tan(alpha_tip)
    inv_alpha, inv_tip = np.tan(alpha) - alpha, tan_tip - alpha_tip
    half_tooth = (np.pi / 2.0 + 2.0 * shift * np.tan(alpha)) / z + inv_alpha - inv_tip
    if np.any(half_tooth <= 0.0):
        raise ValueError("profile shift: the teeth would end in a point below the tip circle")
    cubes, fifths = tan_tip**3 - tan_start**3, tan_tip**5 - tan_start**5
    twice_area = root**2 * root_angle + fillet_area + base**2 * cubes / 3.0 + tip**2 * half_tooth
    four_polar = (
        root**4 * root_angle
        + fillet_polar
        + base**4 * (cubes / 3.0 + fifths / 5.0)
        + tip**4 * half_tooth
    )
    bore = np.asarray(bore_mm) / 2.0
    return Section(
        m**2 * z * twice_area - np.pi * bore**2, m**4 * z * four_polar / 2.0 - np.pi / 2 * bore**4
    )


def _fillet_integrals(
    pitch_radius: Array,
    corner_x: float,
    corner_depth: float,
    fillet: float,
    shift: float,
    alpha: float,
) -> tuple[Array, Array]:
    """Integrals of r^2 dt and r^4 dt along the fillet of one half pitch, in modules.

    The rack corner is a circle; its point with normal at angle s touches the gear when the rack has
    moved by u = -eta cot(s) - xi, and the gear has then turned by u / r.
    """
    r = pitch_radius[..., np.newaxis]
    s = alpha + (np.pi / 2.0 - alpha) * (1.0 + _NODES) / 2.0
    weights = _WEIGHTS * (np.pi / 2.0 - alpha) / 2.0
    eta = shift - corner_depth - fillet * np.sin(s)
    d_eta = -fillet * np.cos(s)
    x = -eta / np.tan(s)
    d_x = -d_eta / np.tan(s) + eta / np.sin(s) ** 2
    y = eta + r
    d_turn = (d_x + fillet * np.sin(s)) / r
    radius2 = x**2 + y**2
    # dt runs from the root (s = pi/2) to the flank (s = alpha), hence the sign
    swept = -((y * d_x - x * d_eta) - radius2 * d_turn)
    return np.sum(weights * swept, axis=-1), np.sum(weights * swept * radius2, axis=-1)


def mass_kg(section: Section, face_width_mm: Quantity, density_kg_per_m3: Quantity) -> Quantity:
    """Mass in kg of a section extruded over `face_width_mm`: rho b A.

    >>> print(f"{mass_kg(annulus_section(100.0, 80.0), 10.0, 7850.0):.4f}")
    0.2220
    """
    return density_kg_per_m3 * 1e-9 * face_width_mm * section.area_mm2


def inertia_kg_m2(
    section: Section, face_width_mm: Quantity, density_kg_per_m3: Quantity
) -> Quantity:
    """Moment of inertia in kg m^2 about the ring axis: rho b times the polar moment of area."""
    return density_kg_per_m3 * 1e-15 * face_width_mm * section.polar_mm4
