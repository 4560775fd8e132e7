"""Worked numbers of lag, absolute position, back-up battery and serial line.

Sources are named at each block. "Computed from the closed formula" means: a formula of the named
theory, evaluated by a program of its own before this package existed, and printed to the digits
here. Every tolerance is half the last printed digit. 180 degrees per second are 30 rpm.
"""

import numpy as np
import pytest

from ringset.physics import battery_backup, latency, resolution, serial_line, vernier
from ringset.physics.quantity import ARCSEC_PER_RAD
from ringset.physics.serial_line import (
    serial_cycle_rate_hz,
    serial_cycle_time_us,
    serial_joint_time_us,
    serial_reply_bytes,
    serial_skew_arcsec,
)
from ringset.physics.vernier import vernier_unique_turns
from tests.published.tables import printed


def test_low_pass_of_10_khz_on_180_teeth_at_60_rpm() -> None:
    """Computed from the closed formula of a first-order low pass (linear circuit theory)."""
    rate = resolution.tooth_rate_hz(180, 60.0)
    assert rate == 180.0
    assert 1e4 * latency.low_pass_loss(rate, 1e4) == printed("1.62")
    assert 1e3 * latency.electrical_lag_rad(rate, 1e4) == printed("18.00")
    assert latency.low_pass_lag_arcsec(180, 60.0, 1e4) == printed("20.62")
    assert latency.latency_lag_arcsec(60.0, latency.low_pass_delay_us(1e4)) == printed("20.63")


def test_latency_and_jitter() -> None:
    """omega T, computed: 180 deg/s x 62.5 us and 90 deg/s x 1 us."""
    assert latency.latency_lag_arcsec(30.0, 62.5) == printed("40.5")
    assert latency.jitter_error_arcsec(15.0, 1.0) == printed("0.324")


def test_sampling_of_a_tooth_rate() -> None:
    """More than 2 samples per pitch (sampling theorem); 4 to 8 is common practice, from memory."""
    with pytest.raises(ValueError, match="given 2, allowed more than 2"):
        latency.least_sampling_hz(180.0, 2)
    assert [latency.least_sampling_hz(180.0, n) for n in (4, 8)] == [720.0, 1440.0]
    assert 4.0 <= latency.RECOMMENDED_SAMPLES_PER_PITCH <= 8.0


def test_fastest_speed_without_power() -> None:
    """60 / (2 z T) where pitches are counted, 30 / T where the turn is absolute (computed)."""
    assert battery_backup.fastest_unpowered_rpm(1.0, 64) == printed("468.75")
    assert battery_backup.fastest_unpowered_rpm(10.0, 180) == printed("16.67")
    assert battery_backup.fastest_unpowered_rpm(10.0) == printed("3000")


def test_bits_of_a_pitch_counter() -> None:
    """ceil(log2(180 x 4)), two turns either way (computed)."""
    assert battery_backup.counter_bits(180, 4) == 10


# Two rings of coprime tooth counts (Chinese remainders; computed from the closed conditions).
def test_vernier_of_64_and_63() -> None:
    assert vernier_unique_turns(64, 63) == 1.0
    each = vernier.phase_tolerance_rad(64, 63)
    assert 1e3 * each == printed("24.74")
    assert np.degrees(each) == printed("1.417")
    apart = vernier.ring_tolerance_arcsec(64, 63)
    assert apart == printed("160.7")
    # as an offset of one ring against the other, in um on a radius of 32 mm
    assert apart / ARCSEC_PER_RAD * 32e3 == printed("24.9")
    assert 1e3 * vernier.noise_limit_rad(64, 63) == printed("5.83")


def test_vernier_of_other_pairs() -> None:
    """A smaller sum tolerates more than adjacency; 180 / 179 tolerates hardly anything."""
    assert np.degrees(vernier.phase_tolerance_rad(64, 37)) == printed("1.782")
    assert vernier.ring_tolerance_arcsec(180, 179) == printed("20.1")
    assert vernier.best_vernier_partner(64, 37, 63) == 37
    assert vernier_unique_turns(64, 56) == 1.0 / 8.0


# Back-up battery: 2.4 Ah, 0.8 usable (common practice at uA drain, from memory), self-discharge 1 % a
# year (encyclopedia, lithium thionyl chloride). Computed from the closed formula.
def test_current_for_twenty_years() -> None:
    most = battery_backup.largest_current_ua(2.4, 0.8, 20.0, 0.01)
    assert most == printed("8.21")
    assert most / 6.0 == printed("1.37")
    # unpowered 30 % of the time: six heads may draw 27.4 uA together while the power is off
    together = most / 0.3
    assert together == printed("27.4")
    assert battery_backup.average_current_ua(together / 6.0, 6, 0.3) == pytest.approx(
        most, rel=1e-14
    )


def test_life_at_twenty_microamperes() -> None:
    assert battery_backup.battery_life_years(2.4, 0.8, 20.0, 0.01) == printed("9.63")
    assert battery_backup.battery_life_years(2.4, 0.8, 20.0, 0.02) == printed("8.60")


def test_self_discharge_as_a_current() -> None:
    """1 % a year of 2.4 Ah is 2.74 uA: what a current must fall by for the same life without it."""
    without = battery_backup.largest_current_ua(2.4, 0.8, 20.0, 0.0)
    with_it = battery_backup.largest_current_ua(2.4, 0.8, 20.0, 0.01)
    assert without - with_it == printed("2.74")


def test_coin_cell() -> None:
    """0.22 Ah, 1.5 % a year (handbook range 1 to 2 % for lithium manganese dioxide, from memory)."""
    assert battery_backup.battery_life_years(0.22, 0.8, 5.0, 0.015) == printed("3.7")


# Asynchronous line at 2.5 Mbit/s, characters 8N1: computed from the closed formula. Cable 5 ns per
# metre and turn-round 5 us are common practice, from memory.
def test_one_joint_on_the_line() -> None:
    """49 bits in 7 bytes, with address and check sum 10: 40 us; request 12 us; 62.1 us in all."""
    assert serial_reply_bytes(25, 16, 8, 0, 0) == 7
    reply = serial_reply_bytes(25, 16, 8)
    assert reply == 10
    character = serial_line.character_time_us(2.5)
    assert reply * character == printed("40")
    assert 3 * character == printed("12")
    assert serial_joint_time_us(3, reply, 2.5, 5.0, 10.0) == printed("62.1")


def test_six_joints_on_the_line() -> None:
    once = serial_joint_time_us(3, 10, 2.5, 5.0, 10.0)
    assert serial_cycle_time_us(6, once) == printed("372.6")
    assert serial_cycle_rate_hz(6, once) == printed("2684")
    assert serial_skew_arcsec(6, once, 30.0) == printed("201")


def test_corruption_that_a_check_sum_misses() -> None:
    """2^-w (coding theory, random frames): 3.9e-3 for 8 bits, 1.53e-5 for 16."""
    assert 1e3 * serial_line.checksum_undetected_share(8) == printed("3.9")
    assert 1e5 * serial_line.checksum_undetected_share(16) == printed("1.53")
