"""Module series and racks: errors, order, values that must not change by accident."""

import dataclasses
from collections.abc import Callable

import pytest

from ringset.standards.modules import (
    SERIES,
    standard_module_notes,
    standard_series_modules,
    standard_series_title,
)
from ringset.standards.racks import RACKS, standard_largest_fillet


@pytest.mark.parametrize(
    "function", [standard_series_modules, standard_series_title, standard_module_notes]
)
@pytest.mark.parametrize("name", ["iso54", "ISO54_I", "", "din780_ii"])
def test_unknown_series_is_refused_naming_the_allowed_ones(
    function: Callable[[str], object], name: str
) -> None:
    """The message carries what was given and every name that would do."""
    with pytest.raises(ValueError, match="iso54_i, iso54_i_ii, din780_i") as caught:
        function(name)
    assert repr(name) in str(caught.value)


@pytest.mark.parametrize("name", SERIES)
def test_series_ascend_without_repeats(name: str) -> None:
    """Callers may search a series by bisection."""
    modules = standard_series_modules(name)
    assert list(modules) == sorted(set(modules))


def test_titles_name_the_standard_and_the_series() -> None:
    """People see the title, so it must stand alone."""
    assert standard_series_title("iso54_i") == "ISO 54:1996 series I"
    assert standard_series_title("din780_i") == "DIN 780 series I"
    assert standard_series_title("din780_i_ii") == "DIN 780 series I and II"
    assert standard_series_title("jis1701_i_ii") == (
        "JIS B 1701-2 series I and II, its part below 1 mm only"
    )


def test_only_one_series_has_notes() -> None:
    """6.5 is the only member with a remark, and only ISO 54 II holds it."""
    assert {name for name in SERIES if standard_module_notes(name)} == {"iso54_i_ii"}


def test_racks_are_named_by_their_key_and_cannot_be_changed() -> None:
    """A rack is shared by all callers."""
    assert list(RACKS) == ["full", "full_b", "full_c", "full_d", "stub"]
    assert all(rack.name == key and rack.source for key, rack in RACKS.items())
    with pytest.raises(dataclasses.FrozenInstanceError):
        RACKS["full"].addendum = 2.0  # type: ignore[misc]


@pytest.mark.parametrize("clearance", [0.0, -0.1, 0.3961, float("nan")])
def test_fillet_bound_refuses_clearances_it_is_not_printed_for(clearance: float) -> None:
    """The two formulas reach from just above 0 to 0.396."""
    with pytest.raises(ValueError, match=r"up to 0\.396 modules, given"):
        standard_largest_fillet(clearance, 1.25, 20.0)


def test_fillet_bound_includes_its_upper_end() -> None:
    """0.396 is allowed, and uses the second formula."""
    assert standard_largest_fillet(0.396, 1.396, 20.0) < standard_largest_fillet(0.296, 1.296, 20.0)


@pytest.mark.parametrize("angle", [0.0, 90.0, -20.0, float("nan")])
def test_pressure_angle_out_of_range_is_refused(angle: float) -> None:
    """The formula divides by something that vanishes there."""
    with pytest.raises(ValueError, match="between 0 and 90 deg"):
        standard_largest_fillet(0.25, 1.25, angle)
