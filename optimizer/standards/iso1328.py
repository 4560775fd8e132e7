"""Flank tolerances of ISO 1328-1, edition 2013.

The 2013 and 1995 editions differ by -22 % to +34 % at the same number, in both directions: a
class of 2013 must not be read as a grade of 1995.

Source: ISO 1328-1:2013, formulas (5) to (12), from two independent unnamed transcriptions that
agree; the runout of its informative annex from one unnamed transcription (which calls it
provisional in one place) and from memory.

In the formulas A is the flank tolerance class, s = sqrt(2)^(A - 5), d, m_n and b are in mm and
the results in um, unrounded; `iso1328_round_um` rounds as the standard does. Every function takes numbers
or arrays (broadcast together) and returns a number for numbers, an array otherwise.

The standard allows no extrapolation. It covers 5 <= d <= 15000 mm, 0.5 <= m_n <= 70 mm,
5 <= z <= 1000 (here z = d / m_n, straight teeth), 4 <= b <= 1200 mm and classes 1..11. Every
function raises `OutsideStandard` beyond them, unless told `extrapolate=True` (the class is never
extrapolated), and ValueError for a length that is not finite and above zero.
"""

from typing import overload

import numpy as np

from ringset.standards import _iso1328_scope as scope
from ringset.standards._iso1328_scope import OutsideStandard as OutsideStandard
from ringset.standards._iso1328_scope import iso1328_outside_scope as iso1328_outside_scope
from ringset.standards._numeric import (
    FloatArray,
    Floats,
    Ints,
    require_positive_table_input,
    standard_value_as_given,
)

# Each function has two signatures: numbers to number, arrays to array. A number fits the second
# one too, which mypy reports as an overlap although the first wins; hence the ignore on each.


def _scale(flank_class: Ints) -> FloatArray:
    """Return s = sqrt(2)^(A - 5) of a checked class."""
    return np.asarray(np.sqrt(2.0) ** (scope.iso1328_checked_class(flank_class) - 5.0))


def _gear(d_mm: Floats, module_mm: Floats, extrapolate: bool) -> tuple[FloatArray, FloatArray]:
    """Return diameter and module as arrays, checked, with the tooth count they imply."""
    d = scope.iso1328_checked_values(scope.DIAMETER, d_mm, extrapolate=extrapolate)
    m = scope.iso1328_checked_values(scope.MODULE, module_mm, extrapolate=extrapolate)
    scope.iso1328_checked_values(scope.TEETH, d / m, extrapolate=extrapolate)
    return d, m


def _flank(d_mm: Floats, width_mm: Floats, extrapolate: bool) -> tuple[FloatArray, FloatArray]:
    """Return diameter and face width as arrays, checked."""
    d = scope.iso1328_checked_values(scope.DIAMETER, d_mm, extrapolate=extrapolate)
    return d, scope.iso1328_checked_values(scope.WIDTH, width_mm, extrapolate=extrapolate)


@overload
def iso1328_single_pitch_um(  # type: ignore[overload-overlap]
    d_mm: float, module_mm: float, flank_class: int, *, extrapolate: bool = False
) -> float: ...
@overload
def iso1328_single_pitch_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> FloatArray: ...
def iso1328_single_pitch_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> Floats:
    """Return the single pitch tolerance [um] at pitch diameter d [mm], module [mm] and class.

    f_pT = (0.001 d + 0.4 m_n + 5) s, ISO 1328-1:2013.

    Valid for 5 <= d <= 15000 mm, 0.5 <= m_n <= 70 mm, 5 <= d / m_n <= 1000 and classes 1..11.
    Raises OutsideStandard outside of that, unless told to extrapolate (never the class), and
    ValueError for a length that is not finite and above zero.

    8.94 is also a test value of an unnamed transcription:

    >>> print(f"{iso1328_single_pitch_um(120.0, 3.0, 6):.2f}")
    8.94
    """
    d, m = _gear(d_mm, module_mm, extrapolate)
    return standard_value_as_given((0.001 * d + 0.4 * m + 5.0) * _scale(flank_class))


@overload
def iso1328_cumulative_pitch_um(  # type: ignore[overload-overlap]
    d_mm: float, module_mm: float, flank_class: int, *, extrapolate: bool = False
) -> float: ...
@overload
def iso1328_cumulative_pitch_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> FloatArray: ...
def iso1328_cumulative_pitch_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> Floats:
    """Return the total cumulative pitch (index) tolerance [um] at d [mm], module [mm], class.

    F_pT = (0.002 d + 0.55 sqrt(d) + 0.7 m_n + 12) s, ISO 1328-1:2013: the span
    from the lowest to the highest index error.

    Valid for 5 <= d <= 15000 mm, 0.5 <= m_n <= 70 mm, 5 <= d / m_n <= 1000 and classes 1..11.
    Raises OutsideStandard outside of that, unless told to extrapolate (never the class), and
    ValueError for a length that is not finite and above zero.

    28.80 is also a test value of an unnamed transcription:

    >>> print(f"{iso1328_cumulative_pitch_um(120.0, 3.0, 6):.2f}")
    28.80
    """
    d, m = _gear(d_mm, module_mm, extrapolate)
    return standard_value_as_given(
        (0.002 * d + 0.55 * np.sqrt(d) + 0.7 * m + 12.0) * _scale(flank_class)
    )


@overload
def iso1328_runout_um(  # type: ignore[overload-overlap]
    d_mm: float, module_mm: float, flank_class: int, *, extrapolate: bool = False
) -> float: ...
@overload
def iso1328_runout_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> FloatArray: ...
def iso1328_runout_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> Floats:
    """Return the runout tolerance [um] at pitch diameter d [mm], module [mm] and class.

    F_rT = 0.9 F_pT, informative annex of ISO 1328-1:2013 (one unnamed transcription, which calls it
    provisional in one place, and memory).

    Valid for 5 <= d <= 15000 mm, 0.5 <= m_n <= 70 mm, 5 <= d / m_n <= 1000 and classes 1..11.
    Raises OutsideStandard outside of that, unless told to extrapolate (never the class), and
    ValueError for a length that is not finite and above zero.
    """
    cumulative = iso1328_cumulative_pitch_um(d_mm, module_mm, flank_class, extrapolate=extrapolate)
    return standard_value_as_given(0.9 * np.asarray(cumulative))


@overload
def iso1328_profile_slope_um(  # type: ignore[overload-overlap]
    d_mm: float, module_mm: float, flank_class: int, *, extrapolate: bool = False
) -> float: ...
@overload
def iso1328_profile_slope_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> FloatArray: ...
def iso1328_profile_slope_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> Floats:
    """Return the profile slope tolerance [um] at pitch diameter d [mm], module [mm] and class.

    f_HalphaT = (0.4 m_n + 0.001 d + 4) s, ISO 1328-1:2013.

    Valid for 5 <= d <= 15000 mm, 0.5 <= m_n <= 70 mm, 5 <= d / m_n <= 1000 and classes 1..11.
    Raises OutsideStandard outside of that, unless told to extrapolate (never the class), and
    ValueError for a length that is not finite and above zero.
    """
    d, m = _gear(d_mm, module_mm, extrapolate)
    return standard_value_as_given((0.4 * m + 0.001 * d + 4.0) * _scale(flank_class))


@overload
def iso1328_profile_form_um(  # type: ignore[overload-overlap]
    d_mm: float, module_mm: float, flank_class: int, *, extrapolate: bool = False
) -> float: ...
@overload
def iso1328_profile_form_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> FloatArray: ...
def iso1328_profile_form_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> Floats:
    """Return the profile form tolerance [um] at pitch diameter d [mm], module [mm] and class.

    f_falphaT = (0.55 m_n + 5) s, ISO 1328-1:2013.
    It does not depend on d, which only decides the range and the shape of the result.

    Valid for 5 <= d <= 15000 mm, 0.5 <= m_n <= 70 mm, 5 <= d / m_n <= 1000 and classes 1..11.
    Raises OutsideStandard outside of that, unless told to extrapolate (never the class), and
    ValueError for a length that is not finite and above zero.
    """
    d, m = _gear(d_mm, module_mm, extrapolate)
    return standard_value_as_given((0.55 * m + 5.0 + 0.0 * d) * _scale(flank_class))


@overload
def iso1328_profile_total_um(  # type: ignore[overload-overlap]
    d_mm: float, module_mm: float, flank_class: int, *, extrapolate: bool = False
) -> float: ...
@overload
def iso1328_profile_total_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> FloatArray: ...
def iso1328_profile_total_um(
    d_mm: Floats, module_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> Floats:
    """Return the total profile tolerance [um] at pitch diameter d [mm], module [mm] and class.

    F_alphaT = sqrt(f_HalphaT^2 + f_falphaT^2) from the unrounded parts, ISO 1328-1:2013.

    Valid for 5 <= d <= 15000 mm, 0.5 <= m_n <= 70 mm, 5 <= d / m_n <= 1000 and classes 1..11.
    Raises OutsideStandard outside of that, unless told to extrapolate (never the class), and
    ValueError for a length that is not finite and above zero.
    """
    slope = iso1328_profile_slope_um(d_mm, module_mm, flank_class, extrapolate=extrapolate)
    form = iso1328_profile_form_um(d_mm, module_mm, flank_class, extrapolate=extrapolate)
    return standard_value_as_given(np.hypot(slope, form))


@overload
def iso1328_helix_slope_um(  # type: ignore[overload-overlap]
    d_mm: float, face_width_mm: float, flank_class: int, *, extrapolate: bool = False
) -> float: ...
@overload
def iso1328_helix_slope_um(
    d_mm: Floats, face_width_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> FloatArray: ...
def iso1328_helix_slope_um(
    d_mm: Floats, face_width_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> Floats:
    """Return the helix slope tolerance [um] at pitch diameter d [mm], face width b [mm] and class.

    f_HbetaT = (0.05 sqrt(d) + 0.35 sqrt(b) + 4) s, ISO 1328-1:2013.

    Valid for 5 <= d <= 15000 mm, 4 <= b <= 1200 mm and classes 1..11.
    Raises OutsideStandard outside of that, unless told to extrapolate (never the class), and
    ValueError for a length that is not finite and above zero.
    """
    d, b = _flank(d_mm, face_width_mm, extrapolate)
    return standard_value_as_given(
        (0.05 * np.sqrt(d) + 0.35 * np.sqrt(b) + 4.0) * _scale(flank_class)
    )


@overload
def iso1328_helix_form_um(  # type: ignore[overload-overlap]
    d_mm: float, face_width_mm: float, flank_class: int, *, extrapolate: bool = False
) -> float: ...
@overload
def iso1328_helix_form_um(
    d_mm: Floats, face_width_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> FloatArray: ...
def iso1328_helix_form_um(
    d_mm: Floats, face_width_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> Floats:
    """Return the helix form tolerance [um] at pitch diameter d [mm], face width b [mm] and class.

    f_fbetaT = (0.07 sqrt(d) + 0.45 sqrt(b) + 4) s, ISO 1328-1:2013.

    Valid for 5 <= d <= 15000 mm, 4 <= b <= 1200 mm and classes 1..11.
    Raises OutsideStandard outside of that, unless told to extrapolate (never the class), and
    ValueError for a length that is not finite and above zero.
    """
    d, b = _flank(d_mm, face_width_mm, extrapolate)
    return standard_value_as_given(
        (0.07 * np.sqrt(d) + 0.45 * np.sqrt(b) + 4.0) * _scale(flank_class)
    )


@overload
def iso1328_helix_total_um(  # type: ignore[overload-overlap]
    d_mm: float, face_width_mm: float, flank_class: int, *, extrapolate: bool = False
) -> float: ...
@overload
def iso1328_helix_total_um(
    d_mm: Floats, face_width_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> FloatArray: ...
def iso1328_helix_total_um(
    d_mm: Floats, face_width_mm: Floats, flank_class: Ints, *, extrapolate: bool = False
) -> Floats:
    """Return the total helix tolerance [um] at pitch diameter d [mm], face width b [mm] and class.

    F_betaT = sqrt(f_HbetaT^2 + f_fbetaT^2) from the unrounded parts, ISO 1328-1:2013.

    Valid for 5 <= d <= 15000 mm, 4 <= b <= 1200 mm and classes 1..11.
    Raises OutsideStandard outside of that, unless told to extrapolate (never the class), and
    ValueError for a length that is not finite and above zero.
    """
    slope = iso1328_helix_slope_um(d_mm, face_width_mm, flank_class, extrapolate=extrapolate)
    form = iso1328_helix_form_um(d_mm, face_width_mm, flank_class, extrapolate=extrapolate)
    return standard_value_as_given(np.hypot(slope, form))


@overload
def iso1328_round_um(value: float) -> float: ...
@overload
def iso1328_round_um(value: FloatArray) -> FloatArray: ...
def iso1328_round_um(value: Floats) -> Floats:
    """Return a tolerance [um] rounded as the standard rounds it, from the unrounded value.

    ISO 1328-1:2013 clause 5.2.3: above 10 um to the nearest 1 um, from 5 to 10 um to the nearest
    0.5 um, below 5 um to the nearest 0.1 um. What happens at an exact half is not known from the
    transcriptions; here it goes up, so 7.25 gives 7.5. ValueError unless finite and above zero.

    >>> iso1328_round_um(28.80), iso1328_round_um(8.94), iso1328_round_um(3.14)
    (29.0, 9.0, 3.1)
    """
    numbers = np.asarray(value, dtype=np.float64)
    require_positive_table_input("tolerance [um]", numbers)
    steps_per_um = np.where(numbers > 10.0, 1.0, np.where(numbers >= 5.0, 2.0, 10.0))
    # The inner rounding removes binary dust: 0.3 + 0.35 is 0.6499999999999999, a decimal half.
    halves_up = np.floor(np.round(numbers * steps_per_um, 9) + 0.5)
    return standard_value_as_given(np.asarray(halves_up / steps_per_um))
