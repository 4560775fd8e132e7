"""What goes in: the shop, what it has and what it can make."""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from pydantic import Field, StringConstraints

from ringset.physics.pitch_spectrum import (
    EXPONENT,
    EXPONENT_LEAST,
    EXPONENT_MOST,
    UNEVEN_EXTRA,
    UNEVEN_FACTOR,
)  # fmt: skip
from ringset.schema.base import StudyModel, assumed
from ringset.schema.equipment import Bores, LengthMm, ModuleMm, Name
from ringset.schema.materials import OwnMaterial, RingMaterial
from ringset.schema.part_numbers import PartPrefix
from ringset.schema.pitches import module_field_mm
from ringset.schema.prices import Prices
from ringset.schema.shop_parts import Lengths, Modules, PitchShares, ScrewSize, ToothCount, Tube
from ringset.schema.standing import OwnedCutters, PartsInProduction, same_cutter
from ringset.standards import cutters
from ringset.standards.materials import Material, standard_material, standard_material_in_full
from ringset.standards.modules import standard_series_modules


class Shop(StudyModel):
    """What can be made."""

    modules: Modules = Field(
        default="din780_i",
        description="Modules on offer: a published series (ISO 54:1996, DIN 780, JIS B 1701-2 "
        "below 1; "
        "_i first choice only, _i_ii both) or a list in mm. A cutter named by its pitch stands as text: "
        '"16 DP" (teeth per inch: module 25.4 / 16), "0.25 in CP" or "5 mm CP" (module p / pi); it is never '
        "rounded to a module of a series. DIN 780 by default: it holds modules below 1.",
    )
    cutting: Literal["hob", "disc_8", "disc_15", "disc_special", "wire"] = Field(
        default="hob",
        description="hob: one cutter per module. disc_8, disc_15: one per module and tooth range "
        "of the set; their form is right for one tooth count of the range. disc_special: one per module "
        "and tooth count, its form made for them and the profile shift. wire: wire erosion, no cutter.",
    )
    wire_diameter_mm: Annotated[float, Field(gt=0.0, le=5.0)] | None = Field(
        default=None,
        description="Diameter of the wire that erodes the teeth; with spark_gap_mm it bounds how sharp a "
        "root may be, and so how fine a module. With cutting wire only; none by default: no such limit.",
    )
    spark_gap_mm: Annotated[float, Field(ge=0.0, le=1.0)] = assumed(
        0.02,
        low=0.01,
        high=0.05,
        because="Round guess: half of the default for a fine last cut, and more than twice it for one rough "
        "cut.",
        description="Gap that sparks keep between wire and steel on every side: a wire leaves no concave "
        "radius below half its diameter plus this. Without effect where wire_diameter_mm is not stated. "
        "Assumed: a round guess.",
    )
    teeth_allowed: Annotated[list[ToothCount], Field(min_length=1, max_length=1000)] | None = Field(
        default=None,
        description="Tooth counts that the shop can cut, such as those that its dividing plates index; any "
        "by default.",
    )
    teeth_multiple_of: ToothCount | None = Field(
        default=None,
        description="Whole number that every tooth count must be a multiple of; none by default.",
    )
    teeth_largest_prime: Annotated[int, Field(ge=2, le=10000)] | None = Field(
        default=None,
        description="Largest prime factor that a tooth count may have, as far as a dividing head indexes; "
        "none by default.",
    )
    disc_form: Literal["range_start", "range_middle"] = assumed(
        "range_start",
        low="range_start",
        high="range_middle",
        because="The two forms that a cutter of a set can reasonably have.",
        description="Tooth count of its range that a cutter of disc_8 or disc_15 has the form of: the "
        "smallest or the harmonic mean of both ends, which halves the largest error of the profile. Without "
        "effect on other ways of cutting. Assumed: the smallest, common practice "
        "(unnamed source, carries no weight).",
    )
    rack: Literal["full", "stub"] = Field(
        default="full",
        description="Tooth depth: full (ISO 53:1998 type A, 2.25 modules) or stub (addendum 0.8 and "
        "dedendum 1.0 modules, 1.8 deep: unnamed source, carries no weight). Full by default.",
    )
    profile_shift: Annotated[float, Field(ge=-0.5, le=0.8)] = Field(
        default=0.0,
        description="Profile shift factor x of every ring (ISO 21771). None by default.",
    )
    flank_class: Annotated[int, Field(ge=1, le=11)] = assumed(
        6,
        low=5,
        high=8,
        because="A ground or shaved ring, or one that is hobbed without special care.",
        description="Flank tolerance class of ISO 1328-1:2013. Assumed: 6, a good hobbed ring.",
    )
    flank_line_mrad: Annotated[float, Field(ge=0.0, le=100.0)] = assumed(
        1.0,
        low=0.5,
        high=2.0,
        because="The same tolerance of classes 4 and 8.",
        description="Deviation of the flank line from the axis. Assumed: the helix slope tolerance of class "
        "6 "
        "(ISO 1328-1:2013, 7.8 um at 100 mm) over 8 mm of width.",
    )
    pitch_spectrum_exponent: Annotated[float, Field(ge=EXPONENT_LEAST, le=EXPONENT_MOST)] = assumed(
        EXPONENT,
        low=0.6,
        high=1.6,
        because="Round guess that spans what is told of gears: two heads then leave 0.58 to 0.33 of the "
        "cumulative pitch, a few large waves more than many small ones.",
        description="Exponent s of the spectrum of pitch errors: amplitudes fall as 1/p^s with the order p "
        "per "
        "turn. What several heads leave of the cumulative pitch follows from it, the tooth count and the "
        "placement. Assumed: 1, a random walk from tooth to tooth, which leaves 0.48 with two heads and 96 "
        "teeth.",
    )
    pitch_share: PitchShares = Field(
        default={},
        description='Share of the cumulative pitch that several heads leave, such as {"2": 0.47}: measured, '
        "or "
        "known otherwise, for every ring and placement with so many heads; derived from "
        "pitch_spectrum_exponent where none is stated, as by default.",
    )
    worst_pitch_share: PitchShares = Field(
        default={},
        description="The same for an unlucky ring (target.basis worst_case); at least pitch_share. Derived "
        "where none is stated, as by default.",
    )
    uneven_pitch_factor: Annotated[float, Field(ge=1.0, le=2.0)] = assumed(
        UNEVEN_FACTOR,
        low=1.0,
        high=1.25,
        because="Simulated layouts of two to four heads keep 0.9 to 1.14 times their rms share, with steeper "
        "spectra 1.24.",
        description="Heads not equally spaced: share of the cumulative pitch over the share of its rms, "
        "which "
        "is exact; 0.2 more per unit of pitch_spectrum_exponent above 1. Assumed: just above the largest "
        "of the layouts simulated.",
    )
    uneven_worst_extra: Annotated[float, Field(ge=0.0, le=1.0)] = assumed(
        UNEVEN_EXTRA,
        low=0.3,
        high=0.6,
        because="999 of 1000 rings of simulated layouts keep up to 0.14 to 0.40 more than the rms share, "
        "with "
        "steeper spectra 0.6.",
        description="Heads not equally spaced: what the worst share is above the share of the rms; 0.2 more "
        "per unit of pitch_spectrum_exponent above 1. Assumed: above the largest of the layouts simulated.",
    )
    bore_step_mm: Annotated[float, Field(ge=0.001, le=100.0)] = assumed(
        0.5,
        low=0.1,
        high=1.0,
        because="Every tenth, for a lathe turns any bore, or whole millimetres, for which gauges are at "
        "hand.",
        description="Bores are whole multiples of this step. Assumed: a round guess.",
    )
    bores_mm: Bores | None = Field(
        default=None,
        description="Bores that joints without a list of their own may have, such as preferred shaft sizes; "
        "whole multiples of bore_step_mm. Every multiple by default.",
    )
    rim_min_mm: Annotated[float, Field(gt=0.0, le=1000.0)] = assumed(
        3.0,
        low=2.0,
        high=5.0,
        because="Round guess: a careful shop with mandrels, or one that clamps in a plain chuck.",
        description="Thinnest rim the shop will handle. Assumed: a round guess.",
    )
    rim_min_depths: Annotated[float, Field(ge=0.5, le=100.0)] = Field(
        default=1.2,
        description="Thinnest rim over whole depth. ISO 6336-3 (external gears): from 1.2 the rim "
        "supports the teeth fully.",
    )
    rim_max_mm: Annotated[float, Field(gt=0.0, le=5000.0)] | None = Field(
        default=None, description="Thickest rim; none by default."
    )
    clamp_jaws: Annotated[int, Field(ge=2, le=24)] = assumed(
        3,
        low=3,
        high=6,
        because="The two usual chucks, with three jaws and with six.",
        description="Jaws that hold the ring while it is cut. Assumed: three, the usual chuck.",
    )
    clamp_force_n: Annotated[float, Field(ge=0.0, le=1e6)] = assumed(
        30.0,
        low=10.0,
        high=200.0,
        because="Jaws that leave a seventieth of 700 N uneven, a ring held mostly on its face, or jaws "
        "that spread only two thirds of it.",
        description="Radial force of each jaw that bends the ring (what soft jaws or a mandrel do not take "
        "up); 0 for face clamping. Assumed: a round guess. 200 N at the cutter (0.1 mm2 of chip "
        "at 2000 N/mm2), held by friction of 0.15 with half as much again to spare, ask about 700 "
        "N of each of three jaws; soft jaws bored to the ring are taken to spread all but a "
        "twentieth of it evenly, and an even pressure makes no lobes. None of these numbers is "
        "measured.",
    )
    clamp_runout_share: Annotated[float, Field(gt=0.0, le=100.0)] | None = assumed(
        0.5,
        low=0.25,
        high=1.0,
        because="A quarter leaves run-out to the seat and the machine; the whole leaves them nothing.",
        description="Largest part of the class's run-out tolerance F_r, a full reading, that lobes from "
        "clamping may use, peak to valley; null: no such limit. Assumed: half, so that the "
        "other half is left to machine and mandrel.",
    )
    prices: Prices | None = Field(
        default=None, description="What things cost; then cost can be a wish. None by default."
    )
    owned_cutters: OwnedCutters = Field(
        default=[],
        exclude_if=lambda owned: not owned,
        description="Cutters that the shop owns: for each its module and, of a disc cutter, teeth that it "
        "cuts. They cost nothing, and wishes.count says whether they count. None by default.",
    )
    parts_in_production: PartsInProduction = Field(
        default=[],
        exclude_if=lambda parts: not parts,
        description="Ring parts that are made already: for each name, module, teeth, bore_mm, face_width_mm "
        "and bore_zone (H7). No set-up is paid for them, and wishes.count says whether they count. Their "
        "cutter counts like any other unless it is among owned_cutters. None by default.",
    )
    materials: Annotated[dict[Name, OwnMaterial], Field(max_length=100)] = Field(
        default={},
        description="Materials of your own by name, for shop.material, hubs and housings: values of your "
        "certificates with their source. A name of the materials that Ringset knows is refused. None by "
        "default.",
    )
    material: RingMaterial = assumed(
        "c45",
        low="11smn30",
        high="42crmo4",
        because="The two steels that shops take instead: one cuts more easily, the other is stronger.",
        description="Ring material, also one in shop.materials; must be ferromagnetic. Assumed: C45 "
        "(1.0503), a plain steel that every shop has.",
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
    diameter_allowance_mm: Annotated[float, Field(ge=0.0, le=100.0)] = assumed(
        3.0,
        low=1.0,
        high=5.0,
        because="Round guess: a third of the default, and two thirds more.",
        description="Stock on tip diameter and bore of a sawn blank. Assumed: a round guess.",
    )
    width_allowance_mm: Annotated[float, Field(ge=0.0, le=100.0)] = assumed(
        1.0,
        low=0.5,
        high=2.0,
        because="Round guess: half and twice the default.",
        description="Stock on the face width, both sides together. Assumed: a round guess.",
    )
    saw_cut_mm: Annotated[float, Field(ge=0.0, le=100.0)] = assumed(
        2.0,
        low=1.0,
        high=3.0,
        because="Round guess: a band saw, or a circular one.",
        description="Width of the saw cut, bought and lost. Assumed: a round guess.",
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
    screw_wall_min_mm: Annotated[float, Field(ge=0.0, le=100.0)] = assumed(
        1.0,
        low=0.5,
        high=2.0,
        because="Round guess: half and twice the default.",
        description="Least steel between a screw's clearance hole (ISO 273, medium) and bore or root. "
        "Assumed: a round guess.",
    )
    screw_preload_share: Annotated[float, Field(gt=0.0, le=1.0)] = assumed(
        0.5,
        low=0.3,
        high=0.7,
        because="Tightening by hand and feel with much settling, or by a torque wrench with little (round "
        "guess).",
        description="Preload left for friction over the proof load (ISO 898-1). Assumed: half, for "
        "tightening scatters and faces settle.",
    )
    general_tolerance: Literal["f", "m", "c", "v"] = Field(
        default="m", description="Class of ISO 2768-1 for sizes without a tolerance of their own."
    )
    pins_mm: Annotated[list[LengthMm], Field(max_length=1000)] = Field(
        default=[],
        description="Measuring pins at hand; none by default: the nearest preferred size is named.",
    )
    part_prefix: PartPrefix = Field(
        default="",
        exclude_if=lambda prefix: not prefix,
        description="Text before the number of every new ring part, such as RX- for RX-1, so that your part "
        "numbers are unique: at most 24 letters, digits, hyphens, dots and underscores; a letter or digit "
        "first, no digit last. Empty by default: R1, R2 and so on.",
    )

    def material_of(self, name: str) -> Material:
        """Return a material by its name, one of the shop's own or of the standards; ValueError for others."""
        own = self.materials.get(name)
        return standard_material(name) if own is None else own.as_material(name)

    @property
    def ring_material(self) -> Material:
        """The material of all rings."""
        return self.material_of(self.material)

    @property
    def ordered_material(self) -> str:
        """The material of all rings as it is ordered: its title with its treatment, if one is stated."""
        return standard_material_in_full(self.ring_material.title, self.material_treatment)

    def modules_mm(self) -> list[float]:
        """Return every module on offer in mm, ascending and each once."""
        if isinstance(self.modules, str):
            return sorted(standard_series_modules(self.modules))
        return sorted({module_field_mm(one) for one in self.modules})

    def cutter_key(self, module_mm: float, teeth: int) -> tuple[float, int] | None:
        """Return what makes two cutters one: module in mm, and tooth count or range; None for a wire."""
        if self.cutting in ("hob", "disc_special", "wire"):
            which = teeth if self.cutting == "disc_special" else 0
            return None if self.cutting == "wire" else (module_mm, which)
        return module_mm, int(cutters.standard_disc_range_index(self.cutting, teeth))

    def owns_cutter(self, module_mm: float, teeth: int) -> bool:
        """Say whether the shop owns the cutter of a ring; a wire needs none, so that it owns none."""
        key = self.cutter_key(module_mm, teeth)
        owned = (self.cutter_key(one.module_mm, one.teeth or 0) for one in self.owned_cutters)
        return any(one is not None and same_cutter(one, key) for one in owned)

    @property
    def has_standing(self) -> bool:
        """Whether some cutter or ring part is there already."""
        return bool(self.owned_cutters or self.parts_in_production)

    def pitch_name(self, module_mm: float) -> str | None:
        """Return the pitch by which the shop names a module in mm, such as "16 DP"; None for none."""
        texts = () if isinstance(self.modules, str) else self.modules
        return next(
            (one for one in texts if isinstance(one, str) and module_field_mm(one) == module_mm),
            None,
        )

    def with_sorted_lists(self) -> Shop:
        """Return the shop with its lists of modules, stock and its shares in one fixed order, each once."""
        order = get_args(ScrewSize)
        modules = self.modules
        if not isinstance(modules, str):
            modules = sorted(set(modules), key=module_field_mm)
        return self.model_copy(
            update={
                "modules": modules,
                "teeth_allowed": self.teeth_allowed and sorted(set(self.teeth_allowed)),
                "materials": {
                    name: own.model_copy(update={"yields": own.sorted_yields()})
                    for name, own in sorted(self.materials.items())
                },
                "pitch_share": dict(sorted(self.pitch_share.items())),
                "worst_pitch_share": dict(sorted(self.worst_pitch_share.items())),
                "owned_cutters": sorted(
                    self.owned_cutters, key=lambda one: (one.module_mm, one.teeth or 0)
                ),
                "parts_in_production": sorted(self.parts_in_production, key=lambda part: part.name),
                "bars_mm": sorted(set(self.bars_mm)),
                "plates_mm": sorted(set(self.plates_mm)),
                "pins_mm": sorted(set(self.pins_mm)),
                "bores_mm": None if self.bores_mm is None else sorted(set(self.bores_mm)),
                "tubes": sorted(set(self.tubes), key=lambda t: (t.outer_mm, t.bore_mm)),
                "screw_sizes": sorted(set(self.screw_sizes), key=order.index),
            }
        )
