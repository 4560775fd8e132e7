"""What goes in: the reading head, and the types that its fields share with others."""

from __future__ import annotations

from typing import Annotated, TypeVar

from pydantic import Field, StringConstraints

from ringset.arrays import Floats
from ringset.schema.base import StudyModel, assumed

#: Of names that stand in tables and file names.
NAME_PATTERN = r"^[^\s\x00-\x1f\x7f-\x9f=+@\-][^\x00-\x1f\x7f-\x9f]*$"
Name = Annotated[str, StringConstraints(min_length=1, max_length=80, pattern=NAME_PATTERN)]
LengthMm = Annotated[float, Field(gt=0.0, le=5000.0)]
#: One gap or a column of them.
GapMm = TypeVar("GapMm", float, Floats)
#: Bores of which a joint takes one.
Bores = Annotated[list[LengthMm], Field(min_length=1, max_length=200)]
SmallUm = Annotated[float, Field(ge=0.0, le=5000.0)]
#: Most heads on one joint.
HEADS_MOST = 8
HeadCount = Annotated[int, Field(ge=1, le=HEADS_MOST)]
AngleDeg = Annotated[float, Field(ge=-360.0, le=360.0)]
#: Finest and coarsest module of a study, in mm.
MODULE_LEAST_MM, MODULE_MOST_MM = 0.05, 50.0
ModuleMm = Annotated[float, Field(ge=MODULE_LEAST_MM, le=MODULE_MOST_MM)]


#: Tags of a field that takes either a name or a list, or a number or a text: part of pydantic's paths, not of
#: ours.
BRANCHES = ("a name", "a list", "a number", "a text")


class Head(StudyModel):
    """The reading head's data. Fractions are of the signal amplitude at the stated point."""

    module_min_mm: ModuleMm = assumed(
        0.8,
        low=0.5,
        high=1.2,
        because="At the default gap exp(-2 gap / module) leaves a fifth of the signal on module 0.5, and "
        "half of it on module 1.2.",
        description="Finest module it reads. Assumed: 0.8, where the default gap of half a module leaves "
        "exp(-1) = 0.37 of the signal that the tips have.",
    )
    module_max_mm: ModuleMm = assumed(
        2.0,
        low=1.5,
        high=4.0,
        because="Three teeth of module 1.5 (14 mm) or one of module 4 (13 mm) are about as wide as a head of "
        "the default width.",
        description="Coarsest module it reads. Assumed: 2, whose two teeth sensed (12.6 mm) just fill a head "
        "of the default width.",
    )
    teeth_min: Annotated[int, Field(ge=18, le=10000)] = assumed(
        32,
        low=20,
        high=64,
        because="Round guess: just above the 18 of a rack without undercut, or twice the default.",
        description="Fewest teeth it handles. Assumed: a round guess, a power of two well above the 18 at "
        "which a standard rack undercuts.",
    )
    teeth_max: Annotated[int, Field(ge=18, le=10000)] = assumed(
        512,
        low=256,
        high=1024,
        because="Round guess: half or twice the default.",
        description="Most teeth it handles. Assumed: a round guess, a power of two; rings of module 0.8 are "
        "then below 411 mm.",
    )
    gap_mm: Annotated[float, Field(gt=0.0, le=50.0)] = assumed(
        0.4,
        low=0.2,
        high=0.8,
        because="A quarter of the finest default module, or all of it; nearer a ring touches, and farther "
        "no signal is left.",
        description="Air gap from the tips to the sensing plane. Assumed: half of the finest default module.",
    )
    gap_tolerance_mm: Annotated[float, Field(ge=0.0, le=50.0)] = assumed(
        0.05,
        low=0.02,
        high=0.1,
        because="Set with shims of a hundredth of a millimetre, or left to class m of ISO 2768-1 (0.1 for "
        "lengths of 0.5 to 6 mm).",
        description="Half width of the gap's tolerance: the signal is taken at the widest gap, the third "
        "harmonic at the narrowest. Assumed: class f of ISO 2768-1, 0.05 for lengths of 0.5 to 6 "
        "mm.",
    )
    gap_min_mm: Annotated[float, Field(gt=0.0, le=50.0)] | None = Field(
        default=None,
        description="Narrowest gap the search may choose, with gap_max_mm; none by default: gap_mm it is.",
    )
    gap_max_mm: Annotated[float, Field(gt=0.0, le=50.0)] | None = Field(
        default=None,
        description="Widest gap the search may choose, with gap_min_mm; none by default: gap_mm it is.",
    )
    gap_step_mm: Annotated[float, Field(ge=0.01, le=50.0)] = assumed(
        0.05,
        low=0.01,
        high=0.1,
        because="Shims are sold in steps of a hundredth and of a tenth of a millimetre (round guess).",
        description="Step of the gaps that the search may choose. Assumed: the gap's own tolerance.",
    )
    gap_left_min_mm: Annotated[float, Field(ge=0.0, le=50.0)] = assumed(
        0.05,
        low=0.02,
        high=0.15,
        because="Round guess: a hair's thickness less, or room for a chip of swarf more.",
        description="Least gap left when tolerance, run-out, lobes, cold or heat and a press fit all close "
        "it. Assumed: a round guess.",
    )
    common_share: Annotated[float, Field(ge=0.0, le=1.0)] = assumed(
        0.5,
        low=0.0,
        high=1.0,
        because="All that a share can be: heads that have nothing in common, or that err all alike.",
        description="Part of the variance of residual offset, gain and quadrature that is alike at all heads "
        "(same design, same correction); with odd teeth two heads cancel the offset of it. "
        "Assumed: half, for nothing is known.",
    )
    stated_gap_mm: Annotated[float, Field(gt=0.0, le=50.0)] = assumed(
        0.4,
        low=0.3,
        high=0.6,
        because="A head's data are stated near the gap at which it is meant to work, which is not known "
        "closely (round guess).",
        description="Gap at which the residual errors and the noise below are stated. Assumed: the default "
        "gap.",
    )
    stated_module_mm: ModuleMm = assumed(
        1.0,
        low=0.8,
        high=1.5,
        because="Within the default window of modules, its coarse end left out (round guess).",
        description="Module at which the residual errors and the noise below are stated. Assumed: 1, a round "
        "guess within the default window.",
    )
    active_width_mm: Annotated[float, Field(gt=0.0, le=500.0)] = assumed(
        6.0,
        low=3.0,
        high=8.0,
        because="Round guess: half the default width of a ring or less, or all of it.",
        description="Width over which the head senses. Assumed: a round guess, half of the head's default "
        "width.",
    )
    residual_offset: Annotated[float, Field(ge=0.0, le=0.1)] = assumed(
        0.003,
        low=0.001,
        high=0.01,
        because="Round guess: correction on the mounted joint, or once in the factory and never again.",
        description="Channel offset left after correction, of the amplitude. Assumed: a round guess.",
    )
    residual_gain: Annotated[float, Field(ge=0.0, le=0.1)] = assumed(
        0.003,
        low=0.001,
        high=0.01,
        because="Round guess: correction on the mounted joint, or once in the factory and never again.",
        description="Gain difference of the channels left after correction. Assumed: as residual_offset.",
    )
    residual_quadrature_deg: Annotated[float, Field(ge=0.0, le=10.0)] = assumed(
        0.2,
        low=0.05,
        high=0.6,
        because="The same as a gain difference of 0.001 to 0.01, which turns the phase as far (delta rad "
        "of quadrature).",
        description="Quadrature error left after correction, electrical degrees. Assumed: 0.003 rad as "
        "residual_gain, rounded up.",
    )
    third_harmonic: Annotated[float, Field(ge=0.0, le=0.1)] = assumed(
        0.005,
        low=0.002,
        high=0.02,
        because="Round guess: a table made on the mounted ring, or a filter alone; a plain tooth has some "
        "tens of percent at its tips.",
        description="Third harmonic left after filter and table, of the amplitude. Assumed: a round guess.",
    )
    stray_field: Annotated[float, Field(ge=0.0, le=0.1)] = assumed(
        0.002,
        low=0.0005,
        high=0.01,
        because="Round guess: a shielded joint, or a motor brake right beside the head.",
        description="Offset from stray field, of the amplitude. Assumed: a round guess.",
    )
    noise_ratio: Annotated[float, Field(gt=0.0, lt=1.0)] = assumed(
        0.001,
        low=0.0003,
        high=0.003,
        because="70 dB and 50 dB of signal over noise (round guess).",
        description="Rms noise of a channel over the amplitude. Assumed: a round guess, 60 dB.",
    )
    teeth_sensed: Annotated[int, Field(ge=1, le=1000)] = assumed(
        2,
        low=1,
        high=4,
        because="One narrow element, or elements over all the width that fits four teeth of the finest "
        "default module.",
        description="Teeth over which one head averages. Assumed: a round guess, the fewest that average at "
        "all.",
    )
    tooth_rate_max_hz: Annotated[float, Field(gt=0.0, le=1e8)] = assumed(
        10000.0,
        low=2000.0,
        high=50000.0,
        because="Round guess: a fifth and five times the default.",
        description="Largest tooth rate it follows. Assumed: a round guess.",
    )
    timing_jitter_us: Annotated[float, Field(ge=0.0, le=1e6)] = assumed(
        1.0,
        low=0.1,
        high=10.0,
        because="Round guess: a latched converter, or a reading that waits for a programme.",
        description="Uncertainty of the sampling instant. Assumed: a round guess.",
    )
    position_bits: Annotated[int, Field(ge=1, le=32)] = assumed(
        24,
        low=20,
        high=28,
        because="Steps of 1.2 arcsec, which begin to count in a budget, or of half a hundredth.",
        description="Bits of the position it displays, whatever the tooth count. Assumed: three whole bytes; "
        "half a step is then 0.04 arcsec, below everything else in the budget.",
    )
    height_above_tips_mm: Annotated[float, Field(ge=0.0, le=500.0)] = assumed(
        12.0,
        low=6.0,
        high=25.0,
        because="Round guess: about half and twice the default.",
        description="Height of the head above the gap, for the housing diameter. Assumed: a round guess, a "
        "cube as wide as width_mm.",
    )
    axial_width_mm: Annotated[float, Field(gt=0.0, le=500.0)] = assumed(
        12.0,
        low=6.0,
        high=25.0,
        because="Round guess: no wider than the active width of 6 mm, or about twice the default.",
        description="Width of the head along the axis, for axial_room_mm. Assumed: a round guess, a cube as "
        "wide as width_mm.",
    )
    placement_tolerance_deg: Annotated[float, Field(ge=0.0, le=30.0)] = assumed(
        0.5,
        low=0.1,
        high=1.0,
        because="A place known to 0.1 mm or to 1 mm at a radius of 60 mm.",
        description="How wrong two heads may stand to each other. Assumed: 0.5 mm at a radius of 60 mm.",
    )
    width_mm: Annotated[float, Field(gt=0.0, le=500.0)] = assumed(
        12.0,
        low=6.0,
        high=25.0,
        because="Round guess: about half and twice the default.",
        description="Room that one head takes along the circle over the gap; neighbours must not overlap. "
        "Assumed: a round guess.",
    )
    sample_rate_hz: Annotated[float, Field(gt=0.0, le=1e9)] | None = Field(
        default=None, description="Samples of both channels per second; no limit by default."
    )
    samples_per_tooth_min: Annotated[float, Field(gt=2.0, le=1000.0)] = assumed(
        8.0,
        low=4.0,
        high=16.0,
        because="Twice the two at which pitches are confused, or twice the default.",
        description="Fewest samples per tooth at speed_max_rpm; above 2 or pitches are confused. Assumed: "
        "four times the two that sampling needs, a round guess.",
    )
    bandwidth_hz: Annotated[float, Field(gt=0.0, le=1e9)] | None = Field(
        default=None,
        description="Corner of the channels' first-order low pass; no lag is computed by default.",
    )
    backup_polling_ms: Annotated[float, Field(gt=0.0, le=1e6)] | None = Field(
        default=None, description="Time between two looks without power; none by default."
    )
    backup_counter_bits: Annotated[int, Field(ge=1, le=48)] | None = Field(
        default=None,
        description="Bits of the counter that counts pitches without power; no limit by default.",
    )
    backup_current_ua: Annotated[float, Field(ge=0.0, le=1e6)] | None = Field(
        default=None,
        description="Current of one head from the robot's battery while without power; a battery "
        "needs it, none by default. 0: the head draws nothing from it and counts no pitches without "
        "power; what the head states of counting, and unpowered_speed_rpm, then ask nothing.",
    )

    @property
    def never_counts(self) -> bool:
        """Whether the head is stated to draw nothing from a battery: it counts no pitches without power."""
        return self.backup_current_ua == 0.0

    @property
    def narrowest_gap_mm(self) -> float:
        """Gap in mm of the head or, where the search may choose, the narrowest of its range."""
        return self.gap_mm if self.gap_min_mm is None else self.gap_min_mm

    def around_tips_mm(self, gap_mm: GapMm) -> GapMm:
        """Return how much wider than the tips a housing in mm is at a gap (mm): both sides together."""
        return 2.0 * (gap_mm + self.height_above_tips_mm)
