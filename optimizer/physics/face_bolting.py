"""A ring held by screws through its face: where they fit, and the torque that friction carries.

The screws stand on a circle in the middle of the rim, in clearance holes; the ring is held by friction
under their preload, not by their shanks. Lengths in mm, forces in N.
"""

from __future__ import annotations

import numpy as np

from ringset.physics.arguments import physics_above_zero, physics_zero_or_more
from ringset.physics.geometry import Section
from ringset.physics.quantity import Quantity

#: Fewest screws of a face: three define a plane.
FEWEST = 3
#: Least spacing of screws in thread diameters, room for a key. Common practice, no source.
SPACING_DIAMETERS = 3.0


def stress_area_mm2(thread_mm: Quantity, pitch_mm: Quantity) -> Quantity:
    """Tensile stress area A_s = pi/4 (d - 0.9382 P)^2 of a metric thread of diameter d and pitch P.

    Both in mm, above 0. Source: ISO 898-1, as a public sheet of fastener properties gives its values.

    >>> print(f"M3: {stress_area_mm2(3.0, 0.5):.2f}, M6: {stress_area_mm2(6.0, 1.0):.1f}")
    M3: 5.03, M6: 20.1
    """
    return np.asarray(np.pi / 4.0 * (np.asarray(thread_mm) - 0.9382 * np.asarray(pitch_mm)) ** 2)[
        ()
    ]


def preload_n(area_mm2: Quantity, proof_mpa: Quantity, share: Quantity) -> Quantity:
    """Preload in N of a screw tightened to `share` of its proof load: share S_p A_s.

    `share` above 0, else ValueError; 1 is the proof load itself. `proof_mpa` is the proof stress.
    """
    physics_above_zero(share=share)
    return np.asarray(share * np.asarray(proof_mpa) * area_mm2)[()]


def bolt_circle_mm(bore_mm: Quantity, root_mm: Quantity) -> Quantity:
    """Diameter in mm of the bolt circle in the middle between bore and root circle."""
    return (np.asarray(bore_mm) + root_mm) / 2.0


def hole_walls_mm(
    bore_mm: Quantity, root_mm: Quantity, circle: Quantity, hole_mm: Quantity
) -> tuple[Quantity, Quantity]:
    """Steel in mm left between hole and bore, and between hole and root circle; negative where cut open.

    All arguments are diameters in mm; `circle` is that of the bolt circle.

    >>> print(*hole_walls_mm(100.0, 120.0, 110.0, hole_mm=4.5))
    2.75 2.75
    """
    hole = np.asarray(hole_mm)
    return (circle - bore_mm - hole) / 2.0, (root_mm - np.asarray(circle) - hole) / 2.0


def rim_needed_for_screw_mm(hole_mm: Quantity, head_mm: Quantity, wall_mm: Quantity) -> Quantity:
    """Thinnest rim in mm that a screw suits: its hole with a wall on both sides, and its head on the face.

    wall_mm >= 0, else ValueError.
    """
    physics_zero_or_more(wall_mm=wall_mm)
    return np.maximum(np.asarray(hole_mm) + 2.0 * np.asarray(wall_mm), head_mm)[()]


def most_screws_on_circle(circle: Quantity, thread_mm: Quantity, head_mm: Quantity) -> Quantity:
    """Most screws on a circle: `SPACING_DIAMETERS` thread diameters apart (chord), heads not touching.

    All in mm; a whole number, 2 where the circle is too small for more. n screws need a chord
    D sin(pi/n): a hexagon of side 12 stands on a circle of 24.

    >>> print(f"{most_screws_on_circle(24.0, thread_mm=4.0, head_mm=7.0):.0f}")
    6
    """
    apart = np.maximum(SPACING_DIAMETERS * np.asarray(thread_mm), head_mm)
    half_angle = np.arcsin(np.minimum(1.0, apart / np.asarray(circle)))
    return np.asarray(np.floor(np.pi / half_angle * (1.0 + 1e-12)))[()]


def friction_torque_nm(
    screws: Quantity, preload: Quantity, friction: Quantity, circle: Quantity
) -> Quantity:
    """Torque that the face carries by friction: T = n F mu D / 2, in N m (textbook friction joint).

    `preload` F of each screw in N, `circle` D in mm; `friction` mu >= 0, else ValueError.
    """
    physics_zero_or_more(friction=friction)
    return np.asarray(np.asarray(screws) * preload * friction * circle / 2e3)[()]


def holes_section(count: int, hole_mm: Quantity, circle: Quantity) -> Section:
    """Section that `count` through holes on a circle take away: area, and polar moment about the axis.

    n A and n A (d^2/8 + D^2/4) with A = pi d^2/4, hole d and circle D in mm: a disc about its own centre,
    moved (Steiner).
    """
    hole = np.asarray(hole_mm, dtype=float)
    area = count * np.pi / 4.0 * hole**2
    return Section(area, area * (hole**2 / 8.0 + np.asarray(circle) ** 2 / 4.0))


def tightening_torque_nm(preload: Quantity, thread_mm: Quantity, factor: float = 0.2) -> Quantity:
    """Torque T = k F d in N m that gives a preload in N; k = 0.2 for dry threads as delivered (unnamed).

    Friction scatters by a quarter and more: a guide, not a rule.
    """
    return np.asarray(factor * np.asarray(preload) * thread_mm / 1e3)[()]
