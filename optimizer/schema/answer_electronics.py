"""What an answer says of the electronics: of one joint, of its second ring, of a robot."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from ringset.schema.answer_types import Amount, Share, Teeth
from ringset.schema.base import AnswerModel
from ringset.schema.proof import Label


class SecondRing(AnswerModel):
    """A second ring beside the first, on the same seat, to tell the pitches of one turn apart."""

    teeth: Teeth | None = Field(
        description="Its teeth; null where no coprime count fits the joint, which no answer has."
    )
    ring_part: Label | None = Field(
        default=None, description="Its ring part in `Answer.ring_parts`; null of a ring only rated."
    )
    tolerance_arcsec: Amount | None = Field(
        description="The errors of the two rings must differ by less: pi / (z1 z2)."
    )
    relative_error_arcsec: Amount | None = Field(
        description="Sum of the worst cases of both rings, one head on each at one angle."
    )
    feasible: bool = Field(
        description="Whether the expected difference is inside the tolerance, as in every answer."
    )


class JointElectronics(AnswerModel):
    """What head and joint ask of the electronics; null where the study does not state the input."""

    sample_rate_needed_hz: Amount | None = Field(
        description="Tooth rate at speed_max_rpm times samples_per_tooth_min."
    )
    lag_arcsec: Amount | None = Field(description="Lag behind bandwidth_hz at speed_max_rpm.")
    signal_loss_share: Share | None = Field(
        description="Share of the amplitude lost behind bandwidth_hz at speed_max_rpm."
    )
    unpowered_speed_max_rpm: Amount | None = Field(
        description="Speed up to which backup_polling_ms misses no pitch; null too for a head that draws "
        "no current from the battery, for it counts none."
    )
    counter_bits_needed: Annotated[int, Field(ge=0, le=64)] | None = Field(
        description="Bits that count the pitches of turns_range; null too for a head that draws no current "
        "from the battery."
    )
    backup_current_ua: Amount | None = Field(
        description="Current of all heads without power, that of a second ring too."
    )
    reply_bytes: Annotated[int, Field(ge=1, le=1000)] | None = Field(
        description="Length of the joint's reply on the line."
    )
    line_time_us: Amount | None = Field(description="Time to ask the joint and hear it.")
    second_ring: SecondRing | None


class RobotElectronics(AnswerModel):
    """A robot's battery and line; null where the study states none."""

    robot: Label
    battery_current_ua: Amount | None = Field(
        description="Average current of all heads, over powered and unpowered time."
    )
    battery_life_years: Amount | None
    battery_life_min_years: Amount | None
    cycle_us: Amount | None = Field(description="Time to poll every joint once.")
    cycle_max_us: Amount | None
    cycle_rate_hz: Amount | None = Field(description="How often a second each joint is read.")
    skew_arcsec: Amount | None = Field(
        description="Angle that the fastest joint turns between the first and the last sample of a "
        "cycle, without a common latch."
    )
