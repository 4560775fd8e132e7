"""Counting on a battery, against counting by hand, a polled wheel and a drained cell."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringset.physics import battery_backup
from tests.support.narrow import array, number


@given(counts=st.integers(1, 2**50))
def test_bits_hold_every_count_and_no_fewer_do(counts: int) -> None:
    """Whole-number arithmetic: 2^bits >= counts > 2^(bits - 1)."""
    bits = battery_backup.counter_bits(counts, 1)
    assert isinstance(bits, int)
    assert 2**bits >= counts
    assert bits == 0 or 2 ** (bits - 1) < counts


@pytest.mark.parametrize("power", range(1, 51))
def test_bits_next_to_a_power_of_two(power: int) -> None:
    assert battery_backup.counter_bits(2**power - 1, 1) == (power if power > 1 else 0)
    assert battery_backup.counter_bits(2**power, 1) == power
    assert battery_backup.counter_bits(2**power + 1, 1) == power + 1


def test_bits_of_parts_of_a_turn() -> None:
    """A third of 96 teeth are 32 counts, however binary writes a third; a bit over needs a bit more."""
    assert battery_backup.counter_bits(96, 1.0 / 3.0) == 5
    assert battery_backup.counter_bits(10, 3.2) == 5
    assert battery_backup.counter_bits(10, 3.21) == 6
    assert battery_backup.counter_bits(1, 1) == 0


def _missed(periods: int, rpm: float, polling_ms: float) -> bool:
    """Say whether a counter that looks only now and then loses a period of a wheel: unwrapped."""
    seconds = np.arange(300) * polling_ms / 1e3
    phase = 2.0 * np.pi * periods * rpm / 60.0 * seconds
    seen = np.unwrap(np.angle(np.exp(1j * phase)))
    return bool(np.max(np.abs(seen - phase)) > 1.0)


@pytest.mark.parametrize("periods", [1, 64, 180])
@pytest.mark.parametrize("polling", [0.1, 1.0, 10.0])
def test_a_polled_counter_fails_just_above_the_fastest_speed(periods: int, polling: float) -> None:
    fastest = number(battery_backup.fastest_unpowered_rpm(polling, periods))
    assert not _missed(periods, 0.999 * fastest, polling)
    assert _missed(periods, 1.001 * fastest, polling)


def test_an_angle_absolute_in_the_turn_may_be_polled_as_rarely_as_turns_allow() -> None:
    assert battery_backup.fastest_unpowered_rpm(10.0) == 64 * battery_backup.fastest_unpowered_rpm(
        10.0, 64
    )


@given(polling=st.floats(1e-3, 1e4), periods=st.integers(1, 400))
def test_polling_and_speed_are_inverse(polling: float, periods: int) -> None:
    speed = battery_backup.fastest_unpowered_rpm(polling, periods)
    assert battery_backup.longest_polling_ms(speed, periods) == pytest.approx(polling, rel=1e-14)


def test_average_current() -> None:
    """All the time: what flows; never: nothing; two heads twice as much."""
    assert battery_backup.average_current_ua(5.0, 1, 1.0) == 5.0
    assert battery_backup.average_current_ua(5.0, 2, 1.0) == 10.0
    assert battery_backup.average_current_ua(5.0, 2, 0.25) == 2.5
    assert battery_backup.average_current_ua(5.0, 2, 0.0) == 0.0


def test_life_without_self_discharge_is_charge_over_current() -> None:
    """1 Ah at 1 A / 8766 is a year; half usable, half the life."""
    assert battery_backup.battery_life_years(1.0, 1.0, 1e6 / 8766.0, 0.0) == pytest.approx(
        1.0, rel=1e-15
    )
    assert battery_backup.battery_life_years(1.0, 0.5, 1e6 / 8766.0, 0.0) == pytest.approx(
        0.5, rel=1e-15
    )


def test_a_battery_on_the_shelf_lasts_usable_share_over_self_discharge() -> None:
    assert battery_backup.battery_life_years(3.0, 0.8, 0.0, 0.02) == pytest.approx(40.0, rel=1e-15)
    assert battery_backup.largest_current_ua(3.0, 0.8, 40.0, 0.02) == pytest.approx(0.0, abs=1e-12)
    # 0.02 x 35 is above 0.7 by binary dust
    assert battery_backup.largest_current_ua(3.0, 0.7, 35.0, 0.02) == 0.0


@pytest.mark.parametrize("rate", [0.01, 0.03, 0.1])
def test_life_is_on_the_safe_side_of_a_cell_that_loses_a_share_of_what_is_left(rate: float) -> None:
    """dq/dt = -I - s q from Q eta down to 0: life ln(1 + s Q eta / I) / s, longer than ours."""
    capacity, usable, current = 2.4, 0.8, 10.0
    per_year = current * 1e-6 * 8766.0
    exact = np.log1p(rate * capacity * usable / per_year) / rate
    ours = battery_backup.battery_life_years(capacity, usable, current, rate)
    assert ours < exact
    # With little self-discharge both tend to the same: s Q / I is their relative distance at most.
    assert ours > exact * (1.0 - rate * capacity / per_year)


@given(
    capacity=st.floats(0.05, 20.0),
    usable=st.floats(0.3, 1.0),
    rate=st.floats(0.0, 0.05),
    current=st.floats(0.1, 1000.0),
)
def test_life_and_current_are_inverse(
    capacity: float, usable: float, rate: float, current: float
) -> None:
    life = battery_backup.battery_life_years(capacity, usable, current, rate)
    found = battery_backup.largest_current_ua(capacity, usable, life, rate)
    # what is left of the usable share is a difference: rounding weighs 8766 I / (s Q) + 1 times more
    lever = 1.0 + rate * capacity / (current * 8766e-6)
    assert found == pytest.approx(current, rel=1e-14 * lever)


def test_arrays_give_what_numbers_give() -> None:
    a, b = np.array([0.5, 2.4, 8.0]), np.array([1.0, 10.0, 100.0])
    for function in (
        battery_backup.counter_bits,
        battery_backup.fastest_unpowered_rpm,
        battery_backup.longest_polling_ms,
        lambda x, y: battery_backup.average_current_ua(x, y, 0.3),
        lambda x, y: battery_backup.battery_life_years(x, 0.8, y, 0.01),
        lambda x, y: battery_backup.largest_current_ua(x, 0.8, y / 10.0, 0.01),
    ):
        found = function(a, b)
        each = [function(x, y) for x, y in zip(a, b, strict=True)]
        assert np.array_equal(found, np.array(each))
    assert array(battery_backup.counter_bits(np.array([180, 64]), 4)).dtype == np.int64


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: battery_backup.counter_bits(0, 4), "counts_per_turn: given 0, allowed above 0"),
        (lambda: battery_backup.counter_bits(180, -2), "turns: given -2, allowed above 0"),
        (lambda: battery_backup.fastest_unpowered_rpm(0.0, 64), "polling_ms: given 0.0, allowed above 0"),
        (lambda: battery_backup.fastest_unpowered_rpm(1.0, 0), "periods_per_turn: given 0, allowed above"),
        (lambda: battery_backup.longest_polling_ms(0.0, 64), "speed_rpm: given 0.0, allowed above 0"),
        (lambda: battery_backup.average_current_ua(-1.0, 1, 1.0), "backup_current_ua: given -1.0, allowed"),
        (lambda: battery_backup.average_current_ua(1.0, -1, 1.0), "heads: given -1, allowed 0 or more"),
        (lambda: battery_backup.average_current_ua(1.0, 1, 30.0), "unpowered_share: given 30.0, allowed 0"),
        (lambda: battery_backup.average_current_ua(1.0, 1, np.nan), "unpowered_share: given nan, allowed 0"),
        (lambda: battery_backup.battery_life_years(0.0, 0.8, 1.0, 0.01), "capacity_ah: given 0.0, allowed"),
        (lambda: battery_backup.battery_life_years(1.0, 80, 1.0, 0.01), "usable_share: given 80, allowed 0"),
        (lambda: battery_backup.battery_life_years(1.0, 0.8, -1.0, 0.01), "current_ua: given -1.0, allowed"),
        (lambda: battery_backup.battery_life_years(1.0, 0.8, 1.0, -1.0), "self_discharge_per_year: given -1"),
        (lambda: battery_backup.battery_life_years(1.0, 0.8, 0.0, 0.0), "current_ua: given 0, allowed above"),
        (lambda: battery_backup.largest_current_ua(1.0, 0.8, 0.0, 0.01), "life_years: given 0.0, allowed ab"),
        (lambda: battery_backup.largest_current_ua(1.0, 0.8, 81.0, 0.01),
         "life_years: given 81.0, allowed at most 80 "),
    ],
)  # fmt: skip
def test_impossible_inputs_are_named(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=f"^{words}"):
        call()
