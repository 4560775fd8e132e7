"""ISO 286-1: errors, boundaries of size ranges, arrays, relations between zones."""

import numpy as np
import pytest

from ringset.standards.iso286 import (
    GRADES,
    SHAFTS,
    iso286_deviations_um,
    iso286_fit_clearance_um,
    iso286_parse_fit,
    iso286_tolerance_um,
)

SIZES = np.array([0.5, 3.0, 3.1, 50.0, 50.1, 112.0, 315.0, 500.0])
HELD = [
    *(f"{letter}{grade}" for letter in SHAFTS for grade in GRADES),
    *(f"{letter}{grade}" for letter in ("D", "E", "F", "G", "H", "JS") for grade in GRADES),
    *(f"{letter}{grade}" for letter in "KMN" for grade in range(4, 9)),
    *(f"{letter}{grade}" for letter in "PRS" for grade in range(4, 8)),
]


@pytest.mark.parametrize("zone", HELD)
def test_array_equals_scalars(zone: str) -> None:
    """One call for many sizes gives what many calls give."""
    lower, upper = iso286_deviations_um(SIZES, zone)
    pairs = [iso286_deviations_um(float(size), zone) for size in SIZES]
    assert all(type(value) is float for pair in pairs for value in pair)
    assert list(zip(lower.tolist(), upper.tolist(), strict=True)) == pairs


def test_fits_and_tolerances_of_arrays_equal_scalars() -> None:
    """The same for the two other functions."""
    smallest, largest = iso286_fit_clearance_um(SIZES, "H7/p6")
    pairs = [iso286_fit_clearance_um(float(size), "H7/p6") for size in SIZES]
    assert list(zip(smallest.tolist(), largest.tolist(), strict=True)) == pairs
    assert iso286_tolerance_um(SIZES, 7).tolist() == [
        iso286_tolerance_um(float(size), 7) for size in SIZES
    ]
    assert type(pairs[0][0]) is float
    assert type(iso286_tolerance_um(50.0, 7)) is float


def test_integers_are_sizes_too() -> None:
    """A JSON file writes 50 mm as 50."""
    assert iso286_tolerance_um(50, 7) == 25.0
    assert iso286_deviations_um(np.array([50, 100]), "H7")[1].tolist() == [25.0, 35.0]


@pytest.mark.parametrize("zone", HELD)
def test_every_zone_is_as_wide_as_its_grade(zone: str) -> None:
    """Upper minus lower is the standard tolerance, everywhere."""
    lower, upper = iso286_deviations_um(SIZES, zone)
    grade = int(zone.lstrip("JSjsDEFGHKMNPRdefghkmnpr"))
    assert (upper - lower).tolist() == iso286_tolerance_um(SIZES, grade).tolist()


@pytest.mark.parametrize("letter", ["d", "e", "f", "g", "h"])
@pytest.mark.parametrize("grade", GRADES)
def test_clearance_holes_mirror_their_shafts(letter: str, grade: int) -> None:
    """EI = -es, the general rule of ISO 286-1:2010."""
    lower, upper = iso286_deviations_um(SIZES, f"{letter}{grade}")
    hole_lower, hole_upper = iso286_deviations_um(SIZES, f"{letter.upper()}{grade}")
    assert (hole_lower.tolist(), hole_upper.tolist()) == ((-upper).tolist(), (-lower).tolist())


@pytest.mark.parametrize("letter", ["k", "m", "n", "p", "r", "s"])
def test_the_delta_rule_makes_equal_fits_in_both_systems(letter: str) -> None:
    """H7/x6 and X7/h6 have the same clearances above 3 mm: what the rule is for."""
    for size in (3.1, 50.0, 112.0, 315.0, 500.0):
        assert iso286_fit_clearance_um(size, f"H7/{letter}6") == iso286_fit_clearance_um(
            size, f"{letter.upper()}7/h6"
        )


def test_no_delta_up_to_3_mm() -> None:
    """ES = -ei there: K7, M7, N7, P7 of 3 mm from ei 0, 2, 4, 6."""
    assert [iso286_deviations_um(3.0, f"{letter}7")[1] for letter in "KMNP"] == [0, -2, -4, -6]


def test_hole_k8_starts_from_the_value_of_k() -> None:
    """K8 of 22 mm: -2 + (33 - 21) = 10, although k8 itself is 0."""
    assert iso286_deviations_um(22.0, "K8") == (-23.0, 10.0)
    assert iso286_deviations_um(22.0, "k8") == (0.0, 33.0)
    assert iso286_deviations_um(22.0, "k3") == (0.0, 4.0)


@pytest.mark.parametrize("upto", [3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400])
def test_upper_limits_belong_to_the_range(upto: int) -> None:
    """At the limit, and a binary hair above it, the finer range holds; 1 um above, the next."""
    below, above = iso286_tolerance_um(upto - 0.01, 7), iso286_tolerance_um(upto + 0.001, 7)
    assert below < above
    assert iso286_tolerance_um(float(upto), 7) == below
    assert iso286_tolerance_um(np.nextafter(float(upto), np.inf), 7) == below


def test_fifty_and_a_hair_counts_as_fifty() -> None:
    """The sum 0.1 + 0.2 kind of error must not change a fit."""
    assert iso286_deviations_um(50.00000000000001, "g6") == iso286_deviations_um(50.0, "g6")
    assert iso286_tolerance_um(500.0000000001, 7) == 63.0


@pytest.mark.parametrize("size", [0.0, -5.0, 1e-9, float("nan"), float("inf")])
def test_sizes_that_are_none_are_refused(size: float) -> None:
    """Zero, negative and NaN name the size."""
    with pytest.raises(ValueError, match="size"):
        iso286_tolerance_um(size, 7)


def test_sizes_above_500_mm_are_refused_with_the_first_one() -> None:
    """The tables end at 500 mm."""
    with pytest.raises(ValueError, match=r"above 0 up to 500 mm, given 500\.1 \(and 1 more\)"):
        iso286_deviations_um(np.array([50.0, 500.1, 800.0]), "H7")


@pytest.mark.parametrize("grade", [2, 13, 0, 7.5])
def test_unknown_grades_are_refused(grade: float) -> None:
    """The message lists the grades held."""
    with pytest.raises(ValueError, match=rf"{grade} is not known; allowed: 3, 4, .*, 12"):
        iso286_tolerance_um(50.0, grade)  # type: ignore[call-overload]


@pytest.mark.parametrize(
    ("zone", "message"),
    [
        ("7H", "must be a letter and a grade"),
        ("H", "must be a letter and a grade"),
        ("", "must be a letter and a grade"),
        ("H7 ", "must be a letter and a grade"),
        ("zc7", "'zc' is not known; allowed: d, e, f"),
        ("Js7", "'Js' is not known"),
        ("H13", "13 is not known; allowed: 3, 4"),
        ("K9", "9 is not known; allowed: 4, 5, 6, 7, 8$"),
        ("P8", "8 is not known; allowed: 4, 5, 6, 7$"),
        ("N3", "3 is not known; allowed: 4"),
    ],
)
def test_zones_that_are_not_held_are_refused(zone: str, message: str) -> None:
    """What was given, and what would do."""
    with pytest.raises(ValueError, match=message):
        iso286_deviations_um(50.0, zone)


def test_parse_fit() -> None:
    """Hole first, shaft second."""
    assert iso286_parse_fit("H7/g6") == ("H7", "g6")
    assert iso286_parse_fit("JS6/js5") == ("JS6", "js5")


@pytest.mark.parametrize("fit", ["H7", "g6/H7", "H7-g6", "H7/H7", "/g6", "H7/", "", "H7/g6/h6"])
def test_fits_that_are_none_are_refused(fit: str) -> None:
    """Every one raises; two holes or the wrong order too."""
    with pytest.raises(ValueError, match=r"fit must be hole/shaft|tolerance zone must be"):
        iso286_parse_fit(fit)


def test_interference_is_negative_clearance() -> None:
    """100 H7/p6: 2 to 59 um of interference."""
    assert iso286_fit_clearance_um(100.0, "H7/p6") == (-59.0, -2.0)
