"""What the rings must reach, and the reserve that is kept below it."""

from __future__ import annotations

from typing import Annotated, Literal, TypeVar

from pydantic import Field

from ringset.arrays import Floats
from ringset.schema.base import StudyModel

#: Largest reserve in percent of an accuracy target: whoever wants more means another target.
RESERVE_MOST_PERCENT = 50.0
#: One target or error, or a column of them.
Amount = TypeVar("Amount", float, Floats)


def target_left_percent(error: float, stated: float) -> float:
    """Return what an error leaves of a stated target, in percent of it: 100 (stated - error) / stated.

    `error` (0 or more) and `stated` (above 0) are in one unit; negative where the target is missed.

    >>> target_left_percent(45.0, 60.0)
    25.0
    """
    return 100.0 * (stated - error) / stated


class Target(StudyModel):
    """What the rings must reach."""

    angle_target_arcsec: Annotated[float, Field(gt=0.0, le=648000.0)] = Field(
        description="Most angle error of every joint on the basis below (expanded: in 95 % of "
        "readings, which is no yield); only you know it."
    )
    basis: Literal["expanded", "worst_case"] = Field(
        default="expanded",
        description="expanded: k = 2, about 95 % of readings (JCGM 100). worst_case: sum of all "
        "amplitudes.",
    )
    reserve_percent: Annotated[float, Field(ge=0.0, le=RESERVE_MOST_PERCENT)] = Field(
        default=0.0,
        description="Room kept below every accuracy target, in percent of it: shared and own angle "
        "targets and tool points must be kept with so much less. Resolution and lag are no accuracy "
        "targets and keep none. None by default.",
    )
    resolution_bits: Annotated[float, Field(gt=0.0, le=32.0)] | None = Field(
        default=None, description="Least usable (noise-free) bits of a turn; none by default."
    )
    lag_max_arcsec: Annotated[float, Field(gt=0.0, le=648000.0)] | None = Field(
        default=None,
        description="Largest angle by which a reading may lag at speed_max_rpm behind the head's "
        "bandwidth_hz; none by default.",
    )

    @property
    def usable_share(self) -> float:
        """Share of every accuracy target that errors may use, 0.5 to 1: 1 - reserve_percent / 100."""
        return 1.0 - self.reserve_percent / 100.0

    def less_reserve(self, stated: Amount) -> Amount:
        """Return what an error may come to under a stated accuracy target: both in its unit, above 0.

        Angle targets in arcsec and tool-point targets in um all go through this one line.
        """
        return stated * self.usable_share

    def least_target(self, error: Amount) -> Amount:
        """Return the least target, in the unit of the error (0 or more), that an error keeps."""
        return error / self.usable_share

    @property
    def reserve_words(self) -> str:
        """What follows an accuracy target where people read it; empty without a reserve."""
        return f" less {self.reserve_percent:g} % reserve" if self.reserve_percent else ""
