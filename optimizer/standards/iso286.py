"""Tolerances, deviations and fits of ISO 286-1:2010, sizes above 0 up to 500 mm.

Everything comes from the tables, never from the formulas of the standard: its rounding is not
plain rounding (IT7 up to 3 mm is 10 um where the formula gives 8.67). Sources: Table 1 and Tables
4 and 5 from unnamed transcriptions compared with each other; see the rows of `data/iso286_it.csv`
and `data/iso286_deviations.csv`.

The upper limit of a range of sizes belongs to the range: 50 mm is in "over 30 up to 50". Sizes
are compared on a grid of 1 nm, so 50.00000000000001 counts as 50.

Held here: grades IT3 to IT12; shafts d e f g h js k m n p r s; holes D E F G H JS in all those
grades, K M N in IT4 to IT8 and P R S in IT4 to IT7.
"""

import re
from functools import cache
from typing import overload

import numpy as np

from ringset.standards._numeric import (
    FloatArray,
    Floats,
    first_outside_table,
    on_standard_grid,
    require_positive_table_input,
    standard_value_as_given,
    unknown_standard_name,
)
from ringset.standards._tables import read_standard_table

GRADES: tuple[int, ...] = tuple(range(3, 13))
"""Standard tolerance grades held here, IT3 to IT12."""
LARGEST_SIZE_MM = 500.0
"""Upper end of the size ranges held here [mm]."""
SHAFTS: tuple[str, ...] = ("d", "e", "f", "g", "h", "js", "k", "m", "n", "p", "r", "s")
"""Letters of shaft zones."""
HOLES: tuple[str, ...] = tuple(letter.upper() for letter in SHAFTS)
"""Letters of hole zones."""

_DELTA_GRADES = {**dict.fromkeys("KMN", range(4, 9)), **dict.fromkeys("PRS", range(4, 8))}
"""Holes by the rule ES = -ei + Delta, and the grades the rule is for (IT3 would need IT2)."""


@overload
def iso286_tolerance_um(size_mm: float, grade: int) -> float: ...
@overload
def iso286_tolerance_um(size_mm: FloatArray, grade: int) -> FloatArray: ...
def iso286_tolerance_um(size_mm: Floats, grade: int) -> Floats:
    """Return the standard tolerance IT of a size and grade.

    Parameters
    ----------
    size_mm : float or array of float
        Nominal size [mm], above 0 up to 500.
    grade : int
        3 to 12, for IT3 to IT12.

    Returns
    -------
    float or array of float
        Width of the tolerance interval [um].

    Raises
    ------
    ValueError
        If the size or the grade is outside its range.

    Notes
    -----
    Source: ISO 286-1:2010 Table 1 (three unnamed transcriptions agree; two for IT3 and IT4).
    """
    if grade not in GRADES:
        raise ValueError(unknown_standard_name("tolerance grade", grade, GRADES))
    return standard_value_as_given(_look_up(_tolerances()[grade], size_mm))


@overload
def iso286_deviations_um(size_mm: float, zone: str) -> tuple[float, float]: ...
@overload
def iso286_deviations_um(size_mm: FloatArray, zone: str) -> tuple[FloatArray, FloatArray]: ...
def iso286_deviations_um(size_mm: Floats, zone: str) -> tuple[Floats, Floats]:
    """Return the limit deviations of a tolerance zone.

    Parameters
    ----------
    size_mm : float or array of float
        Nominal size [mm], above 0 up to 500.
    zone : str
        Letter and grade: holes such as "H7", "JS6", "K7", shafts such as "g6", "js6", "p6".

    Returns
    -------
    (lower, upper)
        Deviations from the nominal size [um], signed.

    Raises
    ------
    ValueError
        If the zone is not one held here, or the size is outside its range.

    Notes
    -----
    ISO 286-1:2010. Shafts from Tables 4 and 5: d to h give the upper deviation es, k to s the
    lower one ei; k is 0 outside IT4 to IT7. Holes: D to H have EI = -es of the same letter; K to S
    have ES = -ei + Delta, Delta = IT(n) - IT(n-1) above 3 mm and 0 up to 3 mm; M6 over 250 up to
    315 mm is -9 and not -11, an exception the standard prints. js and JS are +-IT/2, not rounded.
    """
    letter, grade = _parse_zone(zone)
    width = np.asarray(iso286_tolerance_um(size_mm, grade))
    if letter in ("js", "JS"):
        lower, upper = -width / 2.0, width / 2.0
    elif letter in _DELTA_GRADES:
        upper = _hole_upper(letter, grade, size_mm)
        lower = upper - width
    else:
        basic = _shaft_basic(letter.lower(), grade, size_mm)
        # d to h lie below the nominal size with `basic` on top; holes D to H mirror them.
        if letter in HOLES:
            lower = 0.0 - basic
            upper = lower + width
        elif letter <= "h":
            lower, upper = basic - width, basic
        else:
            lower, upper = basic, basic + width
    return standard_value_as_given(lower), standard_value_as_given(upper)


@overload
def iso286_fit_clearance_um(size_mm: float, fit: str) -> tuple[float, float]: ...
@overload
def iso286_fit_clearance_um(size_mm: FloatArray, fit: str) -> tuple[FloatArray, FloatArray]: ...
def iso286_fit_clearance_um(size_mm: Floats, fit: str) -> tuple[Floats, Floats]:
    """Return the diametral clearance of a fit, hole minus shaft.

    Parameters
    ----------
    size_mm : float or array of float
        Nominal size [mm], above 0 up to 500.
    fit : str
        Hole and shaft zone, such as "H7/g6".

    Returns
    -------
    (smallest, largest)
        Clearance on the diameter [um]; negative is interference.

    Raises
    ------
    ValueError
        As `iso286_parse_fit` and `iso286_deviations_um`.

    Examples
    --------
    Two unnamed transcriptions of ISO 286-1:2010 agree on both fits.

    >>> iso286_fit_clearance_um(50.0, "H7/g6")
    (9.0, 50.0)
    >>> iso286_fit_clearance_um(100.0, "H7/p6")
    (-59.0, -2.0)
    """
    hole, shaft = iso286_parse_fit(fit)
    # Arrays throughout: the arithmetic is the same, and one overload of the callee is enough.
    size = np.asarray(size_mm, dtype=np.float64)
    hole_lower, hole_upper = iso286_deviations_um(size, hole)
    shaft_lower, shaft_upper = iso286_deviations_um(size, shaft)
    return (
        standard_value_as_given(np.asarray(hole_lower - shaft_upper)),
        standard_value_as_given(np.asarray(hole_upper - shaft_lower)),
    )


def iso286_parse_fit(fit: str) -> tuple[str, str]:
    """Return the hole and the shaft zone of a fit, "H7/g6" as ("H7", "g6").

    Raises ValueError unless it is a hole zone, a slash and a shaft zone, both held here.
    """
    hole, slash, shaft = fit.partition("/")
    if not slash or not hole[:1].isupper() or not shaft[:1].islower():
        raise ValueError(f'fit must be hole/shaft, such as "H7/g6", given {fit!r}')
    _parse_zone(hole)
    _parse_zone(shaft)
    return hole, shaft


def _parse_zone(zone: str) -> tuple[str, int]:
    """Return letter and grade of a zone held here, or raise ValueError."""
    match = re.fullmatch(r"([A-Za-z]{1,2})([0-9]{1,2})", zone)
    if match is None:
        raise ValueError(f'tolerance zone must be a letter and a grade, "H7", given {zone!r}')
    letter, grade = match[1], int(match[2])
    if letter not in SHAFTS + HOLES:
        raise ValueError(unknown_standard_name(f"letter of {zone!r}", letter, SHAFTS + HOLES))
    allowed = _DELTA_GRADES.get(letter, GRADES)
    if grade not in allowed:
        raise ValueError(unknown_standard_name(f"grade of {zone!r}", grade, allowed))
    return letter, grade


def _hole_upper(letter: str, grade: int, size_mm: Floats) -> FloatArray:
    """Return ES of holes K to S by the Delta rule."""
    # Where k is 0 (IT8) the hole K still starts from the value of k, as K8 in the tables.
    ei = _shaft_basic(letter.lower(), min(grade, 7), size_mm)
    step = np.asarray(iso286_tolerance_um(size_mm, grade)) - np.asarray(
        iso286_tolerance_um(size_mm, grade - 1)
    )
    size = on_standard_grid(size_mm)
    upper = np.where(size > 3.0, step - ei, 0.0 - ei)
    if (letter, grade) == ("M", 6):
        upper = np.where((size > 250.0) & (size <= 315.0), -9.0, upper)
    return upper


def _shaft_basic(letter: str, grade: int, size_mm: Floats) -> FloatArray:
    """Return the fundamental deviation of a shaft: es of d to h, ei of k to s."""
    basic = _look_up(_fundamentals()[letter], size_mm)
    return np.zeros_like(basic) if letter == "k" and grade not in range(4, 8) else basic


_Steps = tuple[FloatArray, FloatArray]
"""Upper limits of the size ranges [mm], ascending, and the value of each range [um]."""


def _look_up(steps: _Steps, size_mm: Floats) -> FloatArray:
    """Return the table value of each size; the upper limit of a range belongs to it."""
    upto, values = steps
    size = on_standard_grid(size_mm)
    require_positive_table_input("size [mm]", size)
    large = size > LARGEST_SIZE_MM
    if np.any(large):
        raise ValueError(
            f"size must be above 0 up to {LARGEST_SIZE_MM:g} mm, given {first_outside_table(size, large)}"
        )
    return np.asarray(values[np.searchsorted(upto, size, side="left")])


@cache
def _tolerances() -> dict[int, _Steps]:
    rows = read_standard_table("iso286_it.csv")
    return {
        grade: _steps([row for row in rows if row["grade"] == str(grade)], "tolerance_um")
        for grade in GRADES
    }


@cache
def _fundamentals() -> dict[str, _Steps]:
    # r and s have finer ranges above 50 mm than the other letters, so each letter has its own.
    rows = read_standard_table("iso286_deviations.csv")
    letters = dict.fromkeys(row["letter"] for row in rows)
    return {
        letter: _steps([row for row in rows if row["letter"] == letter], "value_um")
        for letter in letters
    }


def _steps(rows: list[dict[str, str]], column: str) -> _Steps:
    ordered = sorted(rows, key=lambda row: float(row["upto_mm"]))
    return (
        np.array([float(row["upto_mm"]) for row in ordered]),
        np.array([float(row[column]) for row in ordered]),
    )
