"""ISO 1328-1:2013: limits of validity, arrays, scope masks, rounding."""

import itertools
import pickle
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from ringset.standards.iso1328 import (
    OutsideStandard,
    iso1328_cumulative_pitch_um,
    iso1328_helix_form_um,
    iso1328_helix_slope_um,
    iso1328_helix_total_um,
    iso1328_outside_scope,
    iso1328_profile_form_um,
    iso1328_profile_slope_um,
    iso1328_profile_total_um,
    iso1328_round_um,
    iso1328_runout_um,
    iso1328_single_pitch_um,
)

#: A tolerance of a length, a second length and a flank class: numbers give a number, arrays an array.
Tolerance = Callable[..., Any]

OF_MODULE: list[Tolerance] = [
    *(iso1328_single_pitch_um, iso1328_cumulative_pitch_um, iso1328_runout_um),
    *(iso1328_profile_slope_um, iso1328_profile_form_um, iso1328_profile_total_um),
]
OF_WIDTH: list[Tolerance] = [iso1328_helix_slope_um, iso1328_helix_form_um, iso1328_helix_total_um]
EVERY = OF_MODULE + OF_WIDTH


@pytest.mark.parametrize("function", EVERY)
def test_array_equals_scalars(function: Tolerance) -> None:
    """One call for many rings gives what many calls give, and keeps the shape."""
    d = np.array([[50.0, 100.0], [199.0, 256.0]])
    second = np.array([[4.0, 10.0], [5.0, 8.0]])
    flank_class = np.array([[1, 5], [7, 11]])
    together = function(d, second, flank_class)
    assert isinstance(together, np.ndarray)
    assert together.shape == (2, 2)
    for i, j in itertools.product(range(2), range(2)):
        alone = function(float(d[i, j]), float(second[i, j]), int(flank_class[i, j]))
        assert type(alone) is float
        # Vectorised powers and roots may differ in the last bit.
        assert together[i, j] == pytest.approx(alone, rel=1e-14)


@pytest.mark.parametrize("function", EVERY)
def test_any_input_may_be_the_array(function: Tolerance) -> None:
    """Numbers and arrays broadcast, also where the formula does not contain the input."""
    assert function(np.array([100.0, 120.0]), 5.0, 5).shape == (2,)
    assert function(100.0, np.array([5.0, 6.0]), 5).shape == (2,)
    assert function(100.0, 5.0, np.array([5, 6])).shape == (2,)


@pytest.mark.parametrize("function", EVERY)
def test_two_classes_coarser_doubles_the_tolerance(function: Tolerance) -> None:
    """The step between classes is the root of two, from class 1 to class 11."""
    values = function(100.0, 5.0, np.arange(1, 12))
    assert values[2:] == pytest.approx(2.0 * values[:-2], rel=1e-12)


@pytest.mark.parametrize("function", OF_MODULE)
def test_tolerances_grow_with_the_module(function: Tolerance) -> None:
    """A coarser tooth is allowed more; d fixed."""
    values = function(100.0, np.array([0.5, 1.0, 2.0, 5.0]), 5)
    assert np.all(np.diff(values) > 0)


@pytest.mark.parametrize("function", OF_WIDTH)
def test_helix_tolerances_grow_with_diameter_and_width(function: Tolerance) -> None:
    """Both arguments must reach the formula."""
    assert np.all(np.diff(function(np.array([50.0, 100.0, 200.0]), 10.0, 5)) > 0)
    assert np.all(np.diff(function(100.0, np.array([4.0, 10.0, 20.0]), 5)) > 0)


@pytest.mark.parametrize(
    ("d", "m", "quantity", "given", "allowed"),
    [
        (4.99, 0.5, "pitch diameter [mm]", "4.99", "5..15000"),
        (15000.1, 20.0, "pitch diameter [mm]", "15000.1", "5..15000"),
        (40.0, 0.49, "module [mm]", "0.49", "0.5..70"),
        (1000.0, 70.5, "module [mm]", "70.5", "0.5..70"),
        (100.0, 25.0, "number of teeth", "4", "5..1000"),
        (1002.0, 1.0, "number of teeth", "1002", "5..1000"),
    ],
)
@pytest.mark.parametrize("function", OF_MODULE)
def test_outside_the_standard_is_refused_by_name(
    function: Tolerance, d: float, m: float, quantity: str, given: str, allowed: str
) -> None:
    """The error names the quantity, what was given and what is allowed."""
    with pytest.raises(OutsideStandard) as caught:
        function(d, m, 5)
    error = caught.value
    assert (error.quantity, error.given, error.allowed) == (quantity, given, allowed)
    assert str(error) == f"ISO 1328-1:2013 covers {quantity} {allowed}, given {given}"


@pytest.mark.parametrize(
    ("d", "b", "quantity"),
    [
        (4.0, 10.0, "pitch diameter [mm]"),
        (15001.0, 10.0, "pitch diameter [mm]"),
        (100.0, 3.0, "face width [mm]"),
        (100.0, 1201.0, "face width [mm]"),
    ],
)
@pytest.mark.parametrize("function", OF_WIDTH)
def test_helix_outside_the_standard_is_refused_by_name(
    function: Tolerance, d: float, b: float, quantity: str
) -> None:
    """Helix tolerances depend on the face width, so a thin ring has none."""
    with pytest.raises(OutsideStandard) as caught:
        function(d, b, 5)
    assert caught.value.quantity == quantity


def test_the_first_of_several_values_outside_is_named() -> None:
    """One bad ring among thousands must be findable."""
    with pytest.raises(OutsideStandard, match=r"given 0\.3 \(and 1 more\)"):
        iso1328_single_pitch_um(50.0, np.array([1.0, 0.3, 0.4]), 5)


@pytest.mark.parametrize(
    ("d", "m"),
    [
        (5.0, 0.5),
        (5.0, 1.0),
        (15000.0, 15.0),
        (15000.0, 70.0),
        (500.0, 0.5),
        # 0.55 * 1000 is 550.0000000000001 and 0.7 * 1000 / 0.7 may miss 1000 by a bit.
        (0.55 * 1000, 0.55),
        (0.7 * 1000, 0.7),
        (4.999999999999999, 0.5),
    ],
)
def test_the_limits_belong_to_the_range(d: float, m: float) -> None:
    """Exactly at a limit, and a binary hair beside it, is inside."""
    assert iso1328_cumulative_pitch_um(d, m, 5) > 0


@pytest.mark.parametrize("function", EVERY)
@pytest.mark.parametrize("flank_class", [0, 12, -1, 5.5, float("nan")])
@pytest.mark.parametrize("extrapolate", [False, True])
def test_a_class_outside_1_to_11_is_always_an_error(
    function: Tolerance, flank_class: float, extrapolate: bool
) -> None:
    """There is no meaning to extrapolate to."""
    with pytest.raises(OutsideStandard, match=r"flank tolerance class 1\.\.11, integers"):
        function(100.0, 5.0, flank_class, extrapolate=extrapolate)


def test_extrapolation_continues_the_formulas() -> None:
    """m 0.3, z 20, d 6 and b 3: the closed formulas by hand, s = 1 at class 5."""
    # 0.012 + 0.55 sqrt(6) + 0.21 + 12; sqrt(17.023876 + 26.677225);
    # 0.05 sqrt(6) + 0.35 sqrt(3) + 4
    assert iso1328_single_pitch_um(6.0, 0.3, 5, extrapolate=True) == pytest.approx(5.126)
    assert iso1328_cumulative_pitch_um(6.0, 0.3, 5, extrapolate=True) == pytest.approx(
        13.569219, abs=5e-7
    )
    assert iso1328_runout_um(6.0, 0.3, 5, extrapolate=True) == pytest.approx(12.212297, abs=5e-7)
    assert iso1328_profile_slope_um(6.0, 0.3, 5, extrapolate=True) == pytest.approx(4.126)
    assert iso1328_profile_form_um(6.0, 0.3, 5, extrapolate=True) == pytest.approx(5.165)
    assert iso1328_profile_total_um(6.0, 0.3, 5, extrapolate=True) == pytest.approx(
        6.610681, abs=5e-7
    )
    assert iso1328_helix_slope_um(6.0, 3.0, 5, extrapolate=True) == pytest.approx(
        4.728692, abs=5e-7
    )


@pytest.mark.parametrize("function", EVERY)
@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf")])
def test_lengths_that_are_none_are_refused_even_when_extrapolating(
    function: Tolerance, bad: float
) -> None:
    """Nothing may turn into a silent NaN."""
    with pytest.raises(ValueError, match="finite number above zero"):
        function(bad, 5.0, 5, extrapolate=True)
    with pytest.raises(ValueError, match="finite number above zero"):
        function(100.0, bad, 5, extrapolate=True)


def test_the_error_survives_the_way_back_from_a_worker_process() -> None:
    """Worker processes hand exceptions over by pickling."""
    with pytest.raises(OutsideStandard) as caught:
        iso1328_single_pitch_um(50.0, 0.3, 5)
    copy = pickle.loads(pickle.dumps(caught.value))
    assert type(copy) is OutsideStandard
    assert isinstance(copy, ValueError)
    assert (str(copy), copy.quantity) == (str(caught.value), "module [mm]")


def test_scope_is_empty_when_every_ring_is_inside() -> None:
    """Limits included: nothing to warn about."""
    assert (
        iso1328_outside_scope([0.5, 70.0], [10, 200], [5.0, 14000.0], [4.0, 1200.0], [1, 11]) == {}
    )


def test_scope_masks_tell_which_ring_leaves_which_limit() -> None:
    """Ring by ring; only the limits that some ring leaves are in the answer."""
    masks = iso1328_outside_scope(
        module_mm=np.array([1.0, 0.3, 80.0, 20.0]),
        teeth=np.array([100, 15, 4, 1001]),
        pitch_diameter_mm=np.array([100.0, 4.5, 320.0, 20020.0]),
        face_width_mm=np.array([3.0, 10.0, 1300.0, 10.0]),
        flank_class=5,
    )
    assert {sentence: mask.tolist() for sentence, mask in masks.items()} == {
        "module below 0.5 mm": [False, True, False, False],
        "module above 70 mm": [False, False, True, False],
        "fewer than 5 teeth": [False, False, True, False],
        "more than 1000 teeth": [False, False, False, True],
        "pitch diameter below 5 mm": [False, True, False, False],
        "pitch diameter above 15000 mm": [False, False, False, True],
        "face width below 4 mm": [True, False, False, False],
        "face width above 1200 mm": [False, False, True, False],
    }
    assert all(mask.dtype == np.bool_ for mask in masks.values())


def test_scope_broadcasts_numbers_to_the_shape_of_the_arrays() -> None:
    """A mask has one entry per ring even if the quantity is one number."""
    masks = iso1328_outside_scope(1.0, np.array([60, 80]), np.array([60.0, 80.0]), 3.0, 6)
    assert {name: mask.tolist() for name, mask in masks.items()} == {
        "face width below 4 mm": [True, True]
    }


def test_scope_refuses_a_class_and_lengths_without_meaning() -> None:
    """These are errors, not warnings."""
    with pytest.raises(OutsideStandard, match="flank tolerance class"):
        iso1328_outside_scope(1.0, 60, 60.0, 5.0, 12)
    with pytest.raises(ValueError, match="face width"):
        iso1328_outside_scope(1.0, 60, 60.0, float("nan"), 6)


def test_scope_and_refusal_agree() -> None:
    """What the masks call outside is what the functions refuse, on a grid across all limits."""
    modules = [0.49, 0.5, 1.0, 70.0, 70.1]
    teeth = [4, 5, 100, 214, 215, 1000, 1001]
    for m, z in itertools.product(modules, teeth):
        masks = iso1328_outside_scope(m, z, m * z, 10.0, 5)
        if masks:
            with pytest.raises(OutsideStandard):
                iso1328_single_pitch_um(m * z, m, 5)
        else:
            assert iso1328_single_pitch_um(m * z, m, 5) > 0


@pytest.mark.parametrize(
    ("value", "rounded"),
    [
        # Exact halves go up, and so does 0.3 + 0.35, in binary 0.6499999999999999.
        *((0.35, 0.4), (0.3 + 0.35, 0.7), (4.95, 5.0), (7.25, 7.5), (9.75, 10.0), (12.5, 13.0)),
        # 5 and 10 belong to the half-micrometre step; just below 5 a tenth may round to 5.
        *((5.0, 5.0), (10.0, 10.0), (10.01, 10.0), (5.24, 5.0), (4.999, 5.0)),
        (3.309, 3.3),
    ],
)
def test_rounding_at_halves_and_steps(value: float, rounded: float) -> None:
    """Half up is the choice made here; the transcriptions do not tell."""
    assert iso1328_round_um(value) == rounded


def test_rounding_of_arrays_and_of_nonsense() -> None:
    """Arrays keep their shape; values that are no tolerance are refused."""
    assert iso1328_round_um(np.array([12.49, 7.3, 4.94])).tolist() == [12.0, 7.5, 4.9]
    assert type(iso1328_round_um(12.49)) is float
    with pytest.raises(ValueError, match="finite number above zero"):
        iso1328_round_um(-1.0)
