"""Tolerance of the tooth thickness, by the practice that goes with ISO 1328.

Source: an unnamed transcription of the formulas of GB/T 10095 and its guide; they belong to
ISO/TR 10064-2 as far as remembered. They go by accuracy grades 4..10 of the 1995 edition; here the
flank class of 2013 stands in for the grade, as shops do (common practice, no source). The tables
of DIN 3967 were not found.
"""

import math

from ringset.standards._numeric import unknown_standard_name
from ringset.standards.iso286 import iso286_tolerance_um

# b_r, the cutter's radial infeed tolerance: factor and ISO 286 grade at the pitch diameter.
_INFEED: dict[int, tuple[float, int]] = {
    4: (1.26, 7), 5: (1.0, 8), 6: (1.26, 8), 7: (1.0, 9), 8: (1.26, 9), 9: (1.0, 10), 10: (1.26, 10)
}  # fmt: skip


def standard_radial_infeed_um(pitch_diameter_mm: float, flank_class: int) -> float:
    """Return the tolerance of the cutter's radial infeed b_r [um].

    1.26 IT7, IT8, 1.26 IT8, IT9, 1.26 IT9, IT10, 1.26 IT10 for classes 4..10 at a pitch diameter
    above 0 up to 500 mm; ValueError outside of these.
    """
    if flank_class not in _INFEED:
        raise ValueError(
            unknown_standard_name("flank class with a tooth thickness", flank_class, _INFEED)
        )
    factor, grade = _INFEED[flank_class]
    return factor * iso286_tolerance_um(pitch_diameter_mm, grade)


def standard_thickness_tolerance_um(
    runout_um: float, infeed_um: float, pressure_angle_deg: float = 20.0
) -> float:
    """Return the tooth thickness tolerance [um]: T_sn = 2 tan(alpha) sqrt(F_r^2 + b_r^2).

    Runout F_r and radial infeed b_r in um, alpha between 0 and 90 deg; z 29, m 2, class 7:

    >>> print(f"{standard_thickness_tolerance_um(29.0, standard_radial_infeed_um(58.0, 7)):.2f}")  # b_r 74 um
    57.86
    """
    return 2.0 * math.tan(math.radians(pressure_angle_deg)) * math.hypot(runout_um, infeed_um)


def standard_least_backlash_mm(centre_distance_mm: float, module_mm: float) -> float:
    """Return the recommended least normal backlash of a pair [mm], for rings that do mesh.

    j_bn = (2/3) (0.06 + 0.0005 a + 0.03 m), centre distance a and module m in mm above 0.
    A target ring has no mate and needs none.

    >>> print(f"{standard_least_backlash_mm(87.0, 2.0):.3f}")
    0.109
    """
    return 2.0 / 3.0 * (0.06 + 0.0005 * centre_distance_mm + 0.03 * module_mm)
