"""What goes in, second half: the reading head and the shop, and the types shared with `study`."""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from pydantic import Discriminator, Field, StringConstraints, Tag

from ringset.schema.base import StudyModel
from ringset.schema.prices import Prices

#: Of names that stand in tables and file names.
NAME_PATTERN = r"^[^\s\x00-\x1f\x7f-\x9f=+@\-][^\x00-\x1f\x7f-\x9f]*$"
Name = Annotated[str, StringConstraints(min_length=1, max_length=80, pattern=NAME_PATTERN)]
LengthMm = Annotated[float, Field(gt=0.0, le=5000.0)]
SmallUm = Annotated[float, Field(ge=0.0, le=5000.0)]
#: Most heads on one joint.
HEADS_MOST = 8
HeadCount = Annotated[int, Field(ge=1, le=HEADS_MOST)]
AngleDeg = Annotated[float, Field(ge=-360.0, le=360.0)]
ModuleMm = Annotated[float, Field(ge=0.05, le=50.0)]


#: Tags of a field that takes either a name or a list, or a number or a text: part of pydantic's paths, not of
#: ours.
BRANCHES = ("a name", "a list", "a number", "a text")

Series = Literal["iso54_i", "iso54_i_ii", "din780_i", "din780_i_ii", "jis1701_i", "jis1701_i_ii"]


ScrewSize = Literal["M2", "M2.5", "M3", "M4", "M5", "M6", "M8", "M10", "M12"]


HousingMaterial = Literal[
    "en_aw_6082_t6", "c45", "42crmo4", "11smn30", "x6cr17", "x5crni18_10", "pure_iron"
]


def _branch(value: object) -> str:
    return BRANCHES[1] if isinstance(value, list) else BRANCHES[0]


class Head(StudyModel):
    """The reading head's data. Fractions are of the signal amplitude at the stated point."""

    module_min_mm: ModuleMm = Field(
        default=0.8,
        description="Finest module it reads. Assumed: the gap should be 0.3 to 0.6 modules (weak "
        "rule "
        "of thumb, from memory), so 0.8 at a gap of 0.4 mm.",
    )
    module_max_mm: ModuleMm = Field(default=2.0, description="Coarsest module it reads. Assumed.")
    teeth_min: Annotated[int, Field(ge=18, le=10000)] = Field(
        default=32,
        description="Fewest teeth it handles. Assumed; below 18 a standard rack undercuts.",
    )
    teeth_max: Annotated[int, Field(ge=18, le=10000)] = Field(
        default=512, description="Most teeth it handles. Assumed."
    )
    gap_mm: Annotated[float, Field(gt=0.0, le=50.0)] = Field(
        default=0.4, description="Air gap from the tips to the sensing plane. Assumed."
    )
    gap_tolerance_mm: Annotated[float, Field(ge=0.0, le=50.0)] = Field(
        default=0.05,
        description="Half width of the gap's tolerance: the signal is taken at the widest gap, the "
        "third "
        "harmonic at the narrowest. Assumed.",
    )
    gap_min_mm: Annotated[float, Field(gt=0.0, le=50.0)] | None = Field(
        default=None,
        description="Narrowest gap the search may choose, with gap_max_mm; none by default: gap_mm it is.",
    )
    gap_max_mm: Annotated[float, Field(gt=0.0, le=50.0)] | None = Field(
        default=None,
        description="Widest gap the search may choose, with gap_min_mm; none by default: gap_mm it is.",
    )
    gap_step_mm: Annotated[float, Field(ge=0.01, le=50.0)] = Field(
        default=0.05, description="Step of the gaps that the search may choose. Assumed."
    )
    gap_left_min_mm: Annotated[float, Field(ge=0.0, le=50.0)] = Field(
        default=0.05,
        description="Least gap left when tolerance, run-out, lobes, cold or heat and a press fit all close "
        "it. Assumed.",
    )
    common_share: Annotated[float, Field(ge=0.0, le=1.0)] = Field(
        default=0.5,
        description="Part of the variance of residual offset, gain and quadrature that is alike at all "
        "heads (same design, same correction); with odd teeth two heads cancel the offset of it. Assumed.",
    )
    stated_gap_mm: Annotated[float, Field(gt=0.0, le=50.0)] = Field(
        default=0.4,
        description="Gap at which the residual errors and the noise below are stated. Assumed.",
    )
    stated_module_mm: ModuleMm = Field(
        default=1.0,
        description="Module at which the residual errors and the noise below are stated. Assumed.",
    )
    active_width_mm: Annotated[float, Field(gt=0.0, le=500.0)] = Field(
        default=6.0, description="Width over which the head senses. Assumed."
    )
    residual_offset: Annotated[float, Field(ge=0.0, le=0.1)] = Field(
        default=0.003,
        description="Channel offset left after correction, of the amplitude. Assumed.",
    )
    residual_gain: Annotated[float, Field(ge=0.0, le=0.1)] = Field(
        default=0.003, description="Gain difference of the channels left after correction. Assumed."
    )
    residual_quadrature_deg: Annotated[float, Field(ge=0.0, le=10.0)] = Field(
        default=0.2,
        description="Quadrature error left after correction, electrical degrees. Assumed.",
    )
    third_harmonic: Annotated[float, Field(ge=0.0, le=0.1)] = Field(
        default=0.005,
        description="Third harmonic left after filter and table, of the amplitude. Assumed.",
    )
    stray_field: Annotated[float, Field(ge=0.0, le=0.1)] = Field(
        default=0.002, description="Offset from stray field, of the amplitude. Assumed."
    )
    noise_ratio: Annotated[float, Field(gt=0.0, lt=1.0)] = Field(
        default=0.001, description="Rms noise of a channel over the amplitude (60 dB). Assumed."
    )
    teeth_sensed: Annotated[int, Field(ge=1, le=1000)] = Field(
        default=2, description="Teeth over which one head averages. Assumed."
    )
    tooth_rate_max_hz: Annotated[float, Field(gt=0.0, le=1e8)] = Field(
        default=10000.0, description="Largest tooth rate it follows. Assumed."
    )
    timing_jitter_us: Annotated[float, Field(ge=0.0, le=1e6)] = Field(
        default=1.0, description="Uncertainty of the sampling instant. Assumed."
    )
    position_bits: Annotated[int, Field(ge=1, le=32)] = Field(
        default=24,
        description="Bits of the position it displays, whatever the tooth count. Assumed.",
    )
    height_above_tips_mm: Annotated[float, Field(ge=0.0, le=500.0)] = Field(
        default=12.0,
        description="Height of the head above the gap, for the housing diameter. Assumed.",
    )
    placement_tolerance_deg: Annotated[float, Field(ge=0.0, le=30.0)] = Field(
        default=0.5, description="How wrong two heads may stand to each other. Assumed."
    )
    width_mm: Annotated[float, Field(gt=0.0, le=500.0)] = Field(
        default=12.0,
        description="Room that one head takes along the circle over the gap; neighbours must not "
        "overlap. Assumed.",
    )
    sample_rate_hz: Annotated[float, Field(gt=0.0, le=1e9)] | None = Field(
        default=None, description="Samples of both channels per second; no limit by default."
    )
    samples_per_tooth_min: Annotated[float, Field(gt=2.0, le=1000.0)] = Field(
        default=8.0,
        description="Fewest samples per tooth at speed_max_rpm; above 2 or pitches are confused. "
        "Assumed: common practice is 4 to 8.",
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
    backup_current_ua: Annotated[float, Field(gt=0.0, le=1e6)] | None = Field(
        default=None,
        description="Current of one head from the robot's battery while without power; a battery "
        "needs it, none by default.",
    )


class Tube(StudyModel):
    """A tube on stock."""

    outer_mm: LengthMm = Field(description="Outer diameter.")
    bore_mm: LengthMm = Field(description="Bore, smaller than outer_mm.")


Lengths = Annotated[list[LengthMm], Field(max_length=1000)]


class Shop(StudyModel):
    """What can be made."""

    modules: Annotated[
        Annotated[Series, Tag(BRANCHES[0])]
        | Annotated[list[ModuleMm], Field(min_length=1, max_length=200), Tag(BRANCHES[1])],
        Discriminator(_branch),
    ] = Field(
        default="din780_i",
        description="Modules on offer: a published series (ISO 54:1996, DIN 780, JIS B 1701-2 "
        "below 1; "
        "_i first choice only, _i_ii both) or a list in mm. DIN 780 by default: it holds modules "
        "below 1.",
    )
    cutting: Literal["hob", "disc_8", "disc_15", "disc_special", "wire"] = Field(
        default="hob",
        description="hob: one cutter per module. disc_8, disc_15: one per module and tooth range "
        "of the set; their form is right for one tooth count of the range. disc_special: one per module "
        "and tooth count, its form made for them and the profile shift. wire: wire erosion, no cutter.",
    )
    disc_form: Literal["range_start", "range_middle"] = Field(
        default="range_start",
        description="Tooth count of its range that a cutter of disc_8 or disc_15 has the form of: the "
        "smallest (common practice, from memory) or the harmonic mean of both ends, which halves the "
        "largest error of the profile. Without effect on other ways of cutting.",
    )
    rack: Literal["full", "stub"] = Field(
        default="full",
        description="Tooth depth: full (ISO 53:1998 type A, 2.25 modules) or stub (1.8 modules, "
        "from memory).",
    )
    profile_shift: Annotated[float, Field(ge=-0.5, le=0.8)] = Field(
        default=0.0,
        description="Profile shift factor x of every ring (ISO 21771). None by default.",
    )
    flank_class: Annotated[int, Field(ge=1, le=11)] = Field(
        default=6,
        description="Flank tolerance class of ISO 1328-1:2013. Assumed: 6, a good hobbed ring.",
    )
    flank_line_mrad: Annotated[float, Field(ge=0.0, le=100.0)] = Field(
        default=1.0, description="Deviation of the flank line from the axis. Assumed."
    )
    bore_step_mm: Annotated[float, Field(ge=0.001, le=100.0)] = Field(
        default=0.5, description="Bores are whole multiples of this step. Assumed."
    )
    rim_min_mm: Annotated[float, Field(gt=0.0, le=1000.0)] = Field(
        default=3.0, description="Thinnest rim the shop will handle. Assumed."
    )
    rim_min_depths: Annotated[float, Field(ge=0.5, le=100.0)] = Field(
        default=1.2,
        description="Thinnest rim over whole depth. ISO 6336-3 (external gears): from 1.2 the rim "
        "supports the teeth fully.",
    )
    rim_max_mm: Annotated[float, Field(gt=0.0, le=5000.0)] | None = Field(
        default=None, description="Thickest rim; none by default."
    )
    clamp_jaws: Annotated[int, Field(ge=2, le=24)] = Field(
        default=3, description="Jaws that hold the ring while it is cut. Assumed: three."
    )
    clamp_force_n: Annotated[float, Field(ge=0.0, le=1e6)] = Field(
        default=30.0,
        description="Radial force of each jaw that bends the ring (what soft jaws or a mandrel do "
        "not "
        "take up); 0 for face clamping. Assumed, so that module-1 rims between 100 and 200 mm come "
        "out "
        "at 3 to 8 mm as shops make them.",
    )
    clamp_runout_share: Annotated[float, Field(gt=0.0, le=100.0)] | None = Field(
        default=0.5,
        description="Largest part of the class's run-out tolerance that lobes from clamping may "
        "use, peak "
        "to valley; null: no such limit. Assumed.",
    )
    prices: Prices | None = Field(
        default=None, description="What things cost; then cost can be a wish. None by default."
    )
    material: Literal["c45", "42crmo4", "11smn30", "x6cr17", "pure_iron"] = Field(
        default="c45", description="Ring material; must be ferromagnetic. Assumed: C45 (1.0503)."
    )
    material_treatment: Annotated[str, StringConstraints(min_length=1, max_length=40)] | None = (
        Field(
            default=None,
            description="Treatment whose yield counts, such as +N or +QT; by default the weakest one "
            "with data for the size of the blank.",
        )
    )
    bars_mm: Lengths = Field(default=[], description="Round bars on stock; none by default.")
    tubes: Annotated[list[Tube], Field(max_length=1000)] = Field(
        default=[], description="Tubes on stock; none by default."
    )
    plates_mm: Lengths = Field(
        default=[], description="Thicknesses of plate on stock; none by default."
    )
    diameter_allowance_mm: Annotated[float, Field(ge=0.0, le=100.0)] = Field(
        default=3.0,
        description="Stock on tip diameter and bore of a sawn blank; 3 by default, common practice, no "
        "source.",
    )
    width_allowance_mm: Annotated[float, Field(ge=0.0, le=100.0)] = Field(
        default=1.0,
        description="Stock on the face width, both sides together; 1 by default, common practice, no source.",
    )
    saw_cut_mm: Annotated[float, Field(ge=0.0, le=100.0)] = Field(
        default=2.0,
        description="Width of the saw cut, bought and lost; 2 by default, common practice, no source.",
    )
    deeper_cut_below_mm: ModuleMm | None = Field(
        default=None,
        description="Modules below this are cut by deeper cutters, deeper_cut_depth_modules deep; rim, mass, "
        "stiffness, drawings and solid are those of this depth. None by default: all as deep as rack.",
    )
    deeper_cut_depth_modules: Annotated[float, Field(ge=2.25, le=2.8)] = Field(
        default=2.4,
        description="Whole tooth depth over module of the cutters for modules below deeper_cut_below_mm; the "
        "addendum stays 1. 2.4 by default: ISO 53:1998 type D, usual for fine modules.",
    )
    screw_sizes: Annotated[list[ScrewSize], Field(min_length=1, max_length=9)] = Field(
        default=["M2", "M2.5", "M3", "M4", "M5", "M6", "M8"],
        description="Socket head screws (ISO 4762, class 8.8) on offer for rings with fastening screws.",
    )
    screw_wall_min_mm: Annotated[float, Field(ge=0.0, le=100.0)] = Field(
        default=1.0,
        description="Least steel between a screw's clearance hole (ISO 273, medium) and bore or root; "
        "1 by default, common practice, no source.",
    )
    screw_preload_share: Annotated[float, Field(gt=0.0, le=1.0)] = Field(
        default=0.5,
        description="Preload left for friction over the proof load (ISO 898-1); half by default: "
        "tightening scatters and faces settle.",
    )
    general_tolerance: Literal["f", "m", "c", "v"] = Field(
        default="m", description="Class of ISO 2768-1 for sizes without a tolerance of their own."
    )
    pins_mm: Annotated[list[LengthMm], Field(max_length=1000)] = Field(
        default=[],
        description="Measuring pins at hand; none by default: the nearest preferred size is named.",
    )

    def with_sorted_lists(self) -> Shop:
        """Return the shop with its lists of stock in one fixed order, each size once."""
        order = get_args(ScrewSize)
        return self.model_copy(
            update={
                "bars_mm": sorted(set(self.bars_mm)),
                "plates_mm": sorted(set(self.plates_mm)),
                "pins_mm": sorted(set(self.pins_mm)),
                "tubes": sorted(set(self.tubes), key=lambda t: (t.outer_mm, t.bore_mm)),
                "screw_sizes": sorted(set(self.screw_sizes), key=order.index),
            }
        )
