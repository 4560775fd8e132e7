"""What goes in, third part: the back-up battery and the serial line of a robot."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from ringset.schema.base import StudyModel, assumed


class Battery(StudyModel):
    """The battery on which all heads of one robot go on counting without power."""

    capacity_ah: Annotated[float, Field(gt=0.0, le=10000.0)] = Field(
        description="Nominal capacity; only you know it."
    )
    usable_share: Annotated[float, Field(gt=0.0, le=1.0)] = assumed(
        0.8,
        low=0.6,
        high=0.9,
        because="Round guess: a cold joint with a high cut-off voltage, or a warm one with a low.",
        description="Part of the nominal capacity that can be drawn at small currents, cut-off voltage and "
        "joint temperature. Assumed: a round guess.",
    )
    self_discharge_per_year: Annotated[float, Field(ge=0.0, le=1.0)] = assumed(
        0.02,
        low=0.01,
        high=0.06,
        because="Figures of lithium cells differ by a factor of six (Wikipedia, Self-discharge, against "
        "unnamed ones).",
        description="Part of the nominal capacity lost by itself each year. Assumed: a round guess for a "
        "lithium cell at 30 degrees; half of it at 20.",
    )
    unpowered_share: Annotated[float, Field(gt=0.0, le=1.0)] = assumed(
        1.0,
        low=0.1,
        high=1.0,
        because="A robot that is switched off on Sundays, or one that lies on stock.",
        description="Part of the time in which the robot has no power. Assumed: always, the safe side.",
    )
    life_min_years: Annotated[float, Field(gt=0.0, le=1000.0)] | None = Field(
        default=None, description="Shortest life of the battery; none by default."
    )


class Line(StudyModel):
    """The asynchronous serial line (8N1 characters) on which all joints of one robot are polled."""

    bit_rate_mbit_per_s: Annotated[float, Field(gt=0.0, le=10000.0)] = assumed(
        2.5,
        low=1.0,
        high=10.0,
        because="A tenth of what length times rate allows, or all of it.",
        description="Bit rate. Assumed: a quarter of what a balanced line bears by a rule of thumb, length "
        "times rate up to 1e8 m bit/s (Wikipedia, RS-485), at the default cable.",
    )
    request_bytes: Annotated[int, Field(ge=1, le=1000)] = assumed(
        3,
        low=1,
        high=8,
        because="A bare address, or an address with a command and its data.",
        description="Length of a request. Assumed: address, command, check.",
    )
    turns_bits: Annotated[int, Field(ge=0, le=64)] = assumed(
        16,
        low=8,
        high=32,
        because="One whole byte, or four of them.",
        description="Bits of the turns in a reply, beside the head's position_bits. Assumed: two whole "
        "bytes.",
    )
    status_bits: Annotated[int, Field(ge=0, le=256)] = assumed(
        8,
        low=2,
        high=16,
        because="An error and a warning, or two whole bytes.",
        description="Bits of the status in a reply. Assumed: one whole byte.",
    )
    crc_bits: Annotated[int, Field(ge=0, le=64)] = assumed(
        16,
        low=8,
        high=32,
        because="One whole byte, or four of them.",
        description="Bits of the check sum of a reply. Assumed: two whole bytes, which find any three wrong "
        "bits in frames of this length (Koopman and Chakravarty, Cyclic redundancy code "
        "polynomial selection for embedded networks, DSN 2004).",
    )
    turn_round_us: Annotated[float, Field(ge=0.0, le=1e6)] = assumed(
        5.0,
        low=1.0,
        high=50.0,
        because="Logic that turns at once, or a programme that is interrupted (round guess).",
        description="Pause at either end before it sends. Assumed: a round guess, about one character at the "
        "default rate.",
    )
    cable_m: Annotated[float, Field(ge=0.0, le=10000.0)] = assumed(
        10.0,
        low=3.0,
        high=30.0,
        because="A small arm with its cabinet beside it, or across a cell (round guess).",
        description="Length of the cable, 5 ns/m each way. Assumed: a round guess.",
    )
    cycle_max_us: Annotated[float, Field(gt=0.0, le=1e9)] | None = Field(
        default=None, description="Longest time to poll every joint once; none by default."
    )
