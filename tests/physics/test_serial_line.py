"""Time on a serial line, against bits laid end to end, and check sums against every frame."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringset.physics import latency, serial_line
from ringset.physics.serial_line import (
    serial_cycle_rate_hz,
    serial_cycle_time_us,
    serial_joint_time_us,
    serial_reply_bytes,
    serial_skew_arcsec,
)


@given(
    position=st.integers(1, 32),
    turns=st.integers(0, 24),
    status=st.integers(0, 16),
    address=st.integers(0, 16),
    crc=st.integers(0, 32),
)
def test_reply_is_the_bits_laid_into_bytes(
    position: int, turns: int, status: int, address: int, crc: int
) -> None:
    """Counted by filling bytes bit by bit, a new byte for data, address and check sum each."""
    count = sum(len(range(0, bits, 8)) for bits in (position + turns + status, address, crc))
    assert serial_reply_bytes(position, turns, status, address, crc) == count


def test_reply_at_the_edge_of_a_byte() -> None:
    assert serial_reply_bytes(8, 0, 0, 0, 0) == 1
    assert serial_reply_bytes(9, 0, 0, 0, 0) == 2
    assert serial_reply_bytes(7, 1, 0, 8, 16) == 4
    assert serial_reply_bytes(7, 1, 1, 8, 16) == 5


def _events_us(
    joints: int, request: int, reply: int, rate: float, turn: float, cable: float
) -> tuple[list[float], float]:
    """Walk along the line bit by bit: return when each joint got its request, and the end."""
    now, asked = 0.0, []
    for _ in range(joints):
        now += sum(1.0 / rate for _ in range(10 * request)) + cable
        asked.append(now)
        now += turn
        now += sum(1.0 / rate for _ in range(10 * reply)) + cable
        now += turn
    return asked, now


@pytest.mark.parametrize("joints", [1, 2, 7])
@pytest.mark.parametrize("rate", [0.1152, 2.5, 10.0])
def test_cycle_and_skew_are_those_of_a_line_walked_along(joints: int, rate: float) -> None:
    asked, end = _events_us(joints, 3, 11, rate, 4.0, 0.15)
    once = serial_joint_time_us(3, 11, rate, 4.0, 30.0, 5.0)
    # sums of some thousand bit times
    assert serial_cycle_time_us(joints, once) == pytest.approx(end, rel=1e-12)
    assert serial_cycle_rate_hz(joints, once) == pytest.approx(1e6 / end, rel=1e-12)
    skew = latency.latency_lag_arcsec(20.0, asked[-1] - asked[0])
    assert serial_skew_arcsec(joints, once, 20.0) == pytest.approx(skew, rel=1e-12, abs=1e-9)


def test_limits() -> None:
    """One joint has no skew; a line without length, pauses or delay costs only characters."""
    assert serial_skew_arcsec(1, 62.1, 30.0) == 0.0
    assert serial_line.character_time_us(1.0) == 10.0
    assert serial_joint_time_us(1, 1, 1.0, 0.0, 0.0) == 20.0
    assert serial_joint_time_us(1, 1, 1.0, 0.0, 100.0, 0.0) == 20.0


@pytest.mark.parametrize(
    ("polynomial", "width"), [(0b11, 1), (0b1011, 3), (0b10011, 4), (0x12F, 8), (0x107, 8)]
)
def test_share_of_random_frames_that_pass_a_check_sum(polynomial: int, width: int) -> None:
    """Every frame of 16 bits divided by the polynomial: those without remainder pass."""
    left = np.arange(1 << 16)
    for bit in range(15, width - 1, -1):
        left = np.where(left >> bit & 1, left ^ (polynomial << (bit - width)), left)
    assert np.mean(left == 0) == serial_line.checksum_undetected_share(width)


def test_no_check_sum_finds_nothing() -> None:
    assert serial_line.checksum_undetected_share(0) == 1.0


def test_arrays_give_what_numbers_give() -> None:
    a, b = np.array([1, 6, 40]), np.array([2, 10, 12])
    for function in (
        lambda x, y: serial_reply_bytes(x, y, 8),
        lambda x, y: serial_joint_time_us(x, y, 2.5, 5.0, 10.0),
        serial_cycle_time_us,
        serial_cycle_rate_hz,
        lambda x, y: serial_skew_arcsec(x, y, 30.0),
    ):
        found = function(a, b)
        each = [function(x, y) for x, y in zip(a, b, strict=True)]
        assert np.array_equal(found, np.array(each))
    for of_one in (serial_line.character_time_us, serial_line.checksum_undetected_share):
        assert np.array_equal(of_one(a), np.array([of_one(x) for x in a]))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: serial_reply_bytes(0, 0, 0), "position_bits: given 0, allowed whole numbers"),
        (lambda: serial_reply_bytes(24.5, 0, 0), "position_bits: given 24.5, allowed whole n"),
        (lambda: serial_reply_bytes(24, -1, 0), "turns_bits: given -1, allowed .* from 0 up"),
        (lambda: serial_reply_bytes(24, 0, 0.5), "status_bits: given 0.5, allowed whole"),
        (lambda: serial_reply_bytes(24, 0, 0, -8), "address_bits: given -8, allowed whole"),
        (lambda: serial_reply_bytes(24, 0, 0, 8, -1), "crc_bits: given -1, allowed whole"),
        (lambda: serial_line.character_time_us(0.0), "bit_rate_mbit_per_s: given 0.0, allowed abo"),
        (lambda: serial_joint_time_us(0, 9, 1.0, 0, 0), "request_bytes: given 0, allowed whole"),
        (lambda: serial_joint_time_us(3, 0, 1.0, 0, 0), "reply_bytes: given 0, allowed whole"),
        (lambda: serial_joint_time_us(3, 9, -1.0, 0, 0), "bit_rate_mbit_per_s: given -1.0, al"),
        (lambda: serial_joint_time_us(3, 9, 1.0, -2, 0), "turn_round_us: given -2, allowed 0"),
        (lambda: serial_joint_time_us(3, 9, 1.0, 0, -2), "cable_m: given -2, allowed 0 or"),
        (lambda: serial_joint_time_us(3, 9, 1.0, 0, 1, -5), "cable_delay_ns_per_m: given -5"),
        (lambda: serial_cycle_time_us(0, 60.0), "joints: given 0, allowed whole numbers from 1"),
        (lambda: serial_cycle_time_us(2.5, 60.0), "joints: given 2.5, allowed whole numbers"),
        (lambda: serial_cycle_rate_hz(6, 0.0), "joint_time_us: given 0.0, allowed above 0"),
        (lambda: serial_skew_arcsec(6, -1.0, 9.0), "joint_time_us: given -1.0, allowed above"),
        (lambda: serial_line.checksum_undetected_share(-1), "crc_bits: given -1, allowed whole numbers"),
    ],
)  # fmt: skip
def test_impossible_inputs_are_named(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=f"^{words}"):
        call()
