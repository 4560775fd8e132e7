"""Time that joints on one asynchronous serial line need to tell where they are.

The joints are polled one after another: a request goes out, the joint turns round and replies. They
are then sampled one after another too, and a moving robot is read askew, unless all of them latch at
one broadcast and are read later. Bits go in characters 8N1: a start bit, eight data bits, a stop bit.
"""

from __future__ import annotations

import numpy as np

from ringset.physics import latency
from ringset.physics.arguments import physics_zero_or_more
from ringset.physics.quantity import Quantity

#: Bit times of a character 8N1: start bit, eight data bits, stop bit.
BITS_PER_CHARACTER = 10
#: Delay of a cable per metre and way: a speed of two thirds of that of light (unnamed).
CABLE_DELAY_NS_PER_M = 5.0


def serial_reply_bytes(
    position_bits: Quantity,
    turns_bits: Quantity,
    status_bits: Quantity,
    address_bits: Quantity = 8,
    crc_bits: Quantity = 16,
) -> Quantity:
    """Length of a reply in bytes: data, address and check sum, each filled up to whole bytes.

    ceil((position + turns + status) / 8) + ceil(address / 8) + ceil(crc / 8). position_bits >= 1, the
    others >= 0, all whole numbers; else ValueError.

    >>> int(serial_reply_bytes(position_bits=25, turns_bits=16, status_bits=8))  # 49 bits in 7 bytes, and 3
    10
    """
    _whole(1, position_bits=position_bits)
    _whole(
        0,
        turns_bits=turns_bits,
        status_bits=status_bits,
        address_bits=address_bits,
        crc_bits=crc_bits,
    )
    data = np.asarray(position_bits) + turns_bits + status_bits
    return _bytes(data) + _bytes(address_bits) + _bytes(crc_bits)


def character_time_us(bit_rate_mbit_per_s: Quantity) -> Quantity:
    """Time of one character 8N1 in us, ten bit times; bit rate above 0, else ValueError."""
    if not np.all(np.asarray(bit_rate_mbit_per_s) > 0.0):
        raise ValueError(
            f"bit_rate_mbit_per_s: given {np.min(bit_rate_mbit_per_s)}, allowed above 0"
        )
    return BITS_PER_CHARACTER / np.asarray(bit_rate_mbit_per_s)


def serial_joint_time_us(
    request_bytes: Quantity,
    reply_bytes: Quantity,
    bit_rate_mbit_per_s: Quantity,
    turn_round_us: Quantity,
    cable_m: Quantity,
    cable_delay_ns_per_m: Quantity = CABLE_DELAY_NS_PER_M,
) -> Quantity:
    """Time in us to ask one joint and hear it: (request + reply) characters + 2 (turn-round + cable).

    `turn_round_us` is spent at either end, the joint's before it replies and the master's before it
    asks the next. Byte counts are whole numbers >= 1 and times and lengths >= 0, else ValueError.
    Characters follow each other without a pause.

    >>> once = serial_joint_time_us(3, 10, bit_rate_mbit_per_s=2.5, turn_round_us=5.0, cable_m=10.0)
    >>> print(f"{once:.1f} us, {serial_cycle_rate_hz(6, once):.0f} Hz")  # 12 + 40 + 2 (5 + 0.05)
    62.1 us, 2684 Hz
    """
    _whole(1, request_bytes=request_bytes, reply_bytes=reply_bytes)
    physics_zero_or_more(
        turn_round_us=turn_round_us, cable_m=cable_m, cable_delay_ns_per_m=cable_delay_ns_per_m
    )
    characters = np.asarray(request_bytes) + reply_bytes
    cable_us = np.asarray(cable_m) * cable_delay_ns_per_m * 1e-3
    return characters * character_time_us(bit_rate_mbit_per_s) + 2.0 * (turn_round_us + cable_us)


def serial_cycle_time_us(joints: Quantity, joint_time_us: Quantity) -> Quantity:
    """Time in us to poll `joints` >= 1 one after another; joint_time_us > 0, else ValueError."""
    _whole(1, joints=joints)
    if not np.all(np.asarray(joint_time_us) > 0.0):
        raise ValueError(f"joint_time_us: given {np.min(joint_time_us)}, allowed above 0")
    return np.asarray(joints) * joint_time_us


def serial_cycle_rate_hz(joints: Quantity, joint_time_us: Quantity) -> Quantity:
    """How often per second each of `joints` is read: 1 / cycle time; errors as `serial_cycle_time_us`."""
    return 1e6 / np.asarray(serial_cycle_time_us(joints, joint_time_us))


def serial_skew_arcsec(joints: Quantity, joint_time_us: Quantity, speed_rpm: Quantity) -> Quantity:
    """Angle in arcsec that a joint turns between the first and the last joint's sample.

    omega (n - 1) t at `speed_rpm`; nothing for one joint. Errors as `serial_cycle_time_us`.
    """
    apart_us = serial_cycle_time_us(joints, joint_time_us) - joint_time_us
    return latency.latency_lag_arcsec(speed_rpm, apart_us)


def checksum_undetected_share(crc_bits: Quantity) -> Quantity:
    """Share of frames of random bits that pass a check sum of w bits: 2^-w, w >= 0, else ValueError.

    The share among frames already turned to noise, not the chance that a frame goes wrong; short
    bursts and few wrong bits are found always, as the polynomial allows (coding theory).
    """
    _whole(0, crc_bits=crc_bits)
    return 1.0 / np.exp2(crc_bits)


def _bytes(bits: Quantity) -> Quantity:
    """Return the whole bytes that hold `bits`."""
    return np.asarray(-(-np.asarray(bits) // 8))[()]


def _whole(least: int, **given: Quantity) -> None:
    """Raise ValueError naming the first argument that is not a whole number from `least` up."""
    for name, value in given.items():
        values = np.asarray(value)
        wrong = values[~((values >= least) & (values == np.floor(values)))]
        if wrong.size:
            raise ValueError(f"{name}: given {wrong[0]}, allowed whole numbers from {least} up")
