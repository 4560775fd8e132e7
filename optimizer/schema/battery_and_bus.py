"""What goes in, third part: the back-up battery and the serial line of a robot."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from ringset.schema.base import StudyModel


class Battery(StudyModel):
    """The battery on which all heads of one robot go on counting without power."""

    capacity_ah: Annotated[float, Field(gt=0.0, le=10000.0)] = Field(
        description="Nominal capacity; only you know it."
    )
    usable_share: Annotated[float, Field(gt=0.0, le=1.0)] = Field(
        default=0.8,
        description="Part of the nominal capacity that can be drawn at small currents, cut-off "
        "voltage and joint temperature. Assumed; 0.7 to 0.8 is usual.",
    )
    self_discharge_per_year: Annotated[float, Field(ge=0.0, le=1.0)] = Field(
        default=0.02,
        description="Part of the nominal capacity lost by itself each year. Assumed: a lithium cell "
        "at 30 degrees; 0.01 at 20, 0.03 at 40.",
    )
    unpowered_share: Annotated[float, Field(gt=0.0, le=1.0)] = Field(
        default=1.0,
        description="Part of the time in which the robot has no power. Assumed: always, the safe side.",
    )
    life_min_years: Annotated[float, Field(gt=0.0, le=1000.0)] | None = Field(
        default=None, description="Shortest life of the battery; none by default."
    )


class Line(StudyModel):
    """The asynchronous serial line (8N1 characters) on which all joints of one robot are polled."""

    bit_rate_mbit_per_s: Annotated[float, Field(gt=0.0, le=10000.0)] = Field(
        default=2.5, description="Bit rate. Assumed."
    )
    request_bytes: Annotated[int, Field(ge=1, le=1000)] = Field(
        default=3, description="Length of a request. Assumed: address, command, check."
    )
    turns_bits: Annotated[int, Field(ge=0, le=64)] = Field(
        default=16,
        description="Bits of the turns in a reply, beside the head's position_bits. Assumed.",
    )
    status_bits: Annotated[int, Field(ge=0, le=256)] = Field(
        default=8, description="Bits of the status in a reply. Assumed."
    )
    crc_bits: Annotated[int, Field(ge=0, le=64)] = Field(
        default=16, description="Bits of the check sum of a reply. Assumed."
    )
    turn_round_us: Annotated[float, Field(ge=0.0, le=1e6)] = Field(
        default=5.0, description="Pause at either end before it sends. Assumed."
    )
    cable_m: Annotated[float, Field(ge=0.0, le=10000.0)] = Field(
        default=10.0, description="Length of the cable, 5 ns/m each way. Assumed."
    )
    cycle_max_us: Annotated[float, Field(gt=0.0, le=1e9)] | None = Field(
        default=None, description="Longest time to poll every joint once; none by default."
    )
