"""The one rule by which a limit counts as met."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringset.physics.limit_rule import (
    number_at_least,
    number_at_most,
    number_in_whole_units,
    rounding_allowance,
)


def test_module_times_teeth_meets_the_decimal_it_stands_for() -> None:
    """0.8 x 112 is 89.6 on paper and 89.60000000000001 in binary; the limit is inclusive."""
    assert 0.8 * 112 > 89.6
    assert number_at_most(0.8 * 112, 89.6)
    assert number_at_least(89.6, 0.8 * 112)
    assert number_at_least(0.8 * 112, 89.6)


@given(tenths=st.integers(1, 100), teeth=st.integers(1, 1000))
def test_every_module_in_tenths_meets_its_own_pitch_diameter(tenths: int, teeth: int) -> None:
    """As upper and as lower limit, whatever the last binary digit."""
    product, exact = tenths / 10 * teeth, float(Fraction(tenths, 10) * teeth)
    assert number_at_most(product, exact)
    assert number_at_most(exact, product)
    assert number_at_least(product, exact)
    assert number_at_least(exact, product)


@pytest.mark.parametrize("limit", [89.6, -89.6, 1.0, 0.5, 0.0, 1e6])
def test_the_room_is_one_part_in_a_thousand_million(limit: float) -> None:
    """Half the room is met, twice the room is not; below 1 the room is absolute."""
    allowed = 1e-9 * max(1.0, abs(limit))
    assert rounding_allowance(limit) == pytest.approx(allowed, rel=1e-12)
    assert number_at_most(limit, limit)
    assert number_at_most(limit + 0.5 * allowed, limit)
    assert not number_at_most(limit + 2.0 * allowed, limit)
    assert number_at_least(limit, limit)
    assert number_at_least(limit - 0.5 * allowed, limit)
    assert not number_at_least(limit - 2.0 * allowed, limit)


def test_anything_that_can_be_measured_is_told_apart() -> None:
    """A nanometre beyond 100 mm is beyond."""
    assert not number_at_most(100.000001, 100.0)
    assert not number_at_least(99.999999, 100.0)


def test_limits_take_columns() -> None:
    """Values and limits broadcast."""
    values = np.array([1.0, 2.0, 3.0])
    assert number_at_most(values, 2.0).tolist() == [True, True, False]
    assert number_at_least(values, np.array([2.0, 2.0, 2.0])).tolist() == [False, True, True]
    assert rounding_allowance(np.array([0.1, 50.0])) == pytest.approx([1e-9, 5e-8], rel=1e-12)


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        (0.0, 0.1, 0),
        (0.3, 0.1, 3),  # 0.3 / 0.1 is 2.9999999999999996
        (0.6000000000000001, 0.1, 6),
        (0.7, 0.1, 7),  # 0.7 / 0.1 is 6.999999999999999
        (89.60000000000001, 0.8, 112),
        (2.0, 1.0, 2),
        (2.0000005, 1.0, 2),  # half a millionth of a unit is rounding
        (2.000002, 1.0, 3),  # two millionths are not
        (2.01, 1.0, 3),
        (1.999, 1.0, 2),
        (0.00101, 0.001, 2),
        (-0.5, 1.0, 0),
    ],
)
def test_whole_units_round_up_but_not_for_binary_dust(
    value: float, unit: float, expected: int
) -> None:
    assert number_in_whole_units(value, unit) == expected


@given(count=st.integers(0, 10**6), thousandths=st.integers(1, 10**6))
def test_a_whole_number_of_decimal_units_stays_that_number(count: int, thousandths: int) -> None:
    """Any unit of whole thousandths, any multiple of it up to a million."""
    value = float(Fraction(count * thousandths, 1000))
    assert number_in_whole_units(value, thousandths / 1000) == count


@given(value=st.floats(0.0, 1e4), unit=st.sampled_from([0.001, 0.01, 0.1, 1.0]))
def test_whole_units_cover_the_value_and_no_more(value: float, unit: float) -> None:
    """Up to a millionth of a unit less than the value, and never a whole unit more."""
    covered = int(number_in_whole_units(value, unit)) * unit
    # 1.01 leaves room for the rounding of 10^7 units.
    assert value - 1.01e-6 * unit <= covered < value + unit


def test_whole_units_of_a_column_are_whole_numbers() -> None:
    found = number_in_whole_units(np.array([0.3, 0.31, 5.0]), 0.1)
    assert found.dtype == np.int64
    assert found.tolist() == [3, 4, 50]
