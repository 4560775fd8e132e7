"""What the rings must reach, and the reserve that is kept below it."""

from __future__ import annotations

from typing import Annotated, Literal, TypeVar

from pydantic import Field

from ringset.arrays import Floats
from ringset.physics.budget import COVERAGE, WORST_SIGMAS
from ringset.physics.pitch_spectrum import WORST_PERCENT
from ringset.physics.resolution import NOISE_FREE_SIGMAS
from ringset.schema.base import StudyModel, assumed

#: Largest reserve in percent of an accuracy target: whoever wants more means another target.
RESERVE_MOST_PERCENT = 50.0
#: One target or error, or a column of them.
Amount = TypeVar("Amount", float, Floats)


def answer_target_left_percent(error: float, stated: float) -> float:
    """Return what an error leaves of a stated target, in percent of it: 100 (stated - error) / stated.

    `error` (0 or more) and `stated` (above 0) are in one unit; negative where the target is missed.

    >>> answer_target_left_percent(45.0, 60.0)
    25.0
    """
    return 100.0 * (stated - error) / stated


class Target(StudyModel):
    """What the rings must reach."""

    angle_target_arcsec: Annotated[float, Field(gt=0.0, le=648000.0)] = Field(
        description="Most angle error of every joint on the basis below (expanded: in 95 % of "
        "readings, which is no yield); only you know it."
    )
    repeatability_target_arcsec: Annotated[float, Field(gt=0.0, le=648000.0)] | None = Field(
        default=None,
        description="Most scatter of the readings of every joint at one angle, half of the range about "
        "their mean, on the basis below: of the error what does not repeat with the angle (noise, steps, "
        "bearing, stray field, uneven warmth, wobble, sampling instant). None by default.",
    )
    basis: Literal["expanded", "worst_case"] = Field(
        default="expanded",
        description="expanded: the root of the sum of squares times coverage_factor, by default about 95 % "
        "of "
        "readings (JCGM 100:2008). worst_case: sum of all amplitudes of unlucky rings and heads.",
    )
    coverage_factor: Annotated[float, Field(ge=1.0, le=10.0)] = assumed(
        COVERAGE,
        low=2.0,
        high=3.0,
        because="The range of k that JCGM 100:2008, 6.3, calls usual (from memory): about 95 % or 99.7 % of "
        "readings.",
        description="Factor k from the combined standard uncertainty to expanded. Assumed: 2, about 95 % of "
        "readings of a normal distribution.",
    )
    worst_noise_sigmas: Annotated[float, Field(ge=1.0, le=10.0)] = assumed(
        WORST_SIGMAS,
        low=3.0,
        high=6.0,
        because="One reading in 370 lies beyond 3 sigma of a normal distribution, one in 500 million beyond "
        "6.",
        description="Sigmas of noise that worst_case holds. Assumed: 5, which one reading in 1.7 million "
        "passes, so that hardly one turn of some thousand readings does.",
    )
    worst_ring_percent: Annotated[float, Field(ge=95.0, le=99.99)] = assumed(
        WORST_PERCENT,
        low=99.0,
        high=99.99,
        because="One ring of a hundred or one of ten thousand keeps more of its pitch error; who builds few "
        "arms asks less.",
        description="Of all rings of the assumed pitch spectrum, so many per cent keep no more of their "
        "cumulative pitch than worst_case holds. Assumed: 999 of 1000; other levels by quantiles of a "
        "normal distribution, within 0.05 of simulated shares.",
    )
    noise_free_sigmas: Annotated[float, Field(ge=1.0, le=20.0)] = assumed(
        NOISE_FREE_SIGMAS,
        low=6.0,
        high=8.0,
        because="99.7 % or 99.99 % of a normal distribution lie within so many sigma from end to end.",
        description="Sigmas from peak to peak of noise that one noise-free step must hold. Assumed: 6.6, "
        "99.9 % of a normal distribution, as converters are tested.",
    )
    reserve_percent: Annotated[float, Field(ge=0.0, le=RESERVE_MOST_PERCENT)] = Field(
        default=0.0,
        description="Room kept below every accuracy target, in percent of it: shared and own angle "
        "targets, repeatability targets and tool points must be kept with so much less. Resolution and lag "
        "are no accuracy targets and keep none. None by default.",
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

        Angle and repeatability targets in arcsec and tool-point targets in um all go through this one line.
        """
        return stated * self.usable_share

    def least_target(self, error: Amount) -> Amount:
        """Return the least target, in the unit of the error (0 or more), that an error keeps."""
        return error / self.usable_share

    @property
    def reserve_words(self) -> str:
        """What follows an accuracy target where people read it; empty without a reserve."""
        return f" less {self.reserve_percent:g} % reserve" if self.reserve_percent else ""
