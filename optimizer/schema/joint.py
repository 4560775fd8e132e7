"""What goes in: one joint."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from ringset.schema.base import StudyModel, assumed
from ringset.schema.equipment import AngleDeg, Bores, HeadCount, LengthMm, Name, SmallUm
from ringset.schema.materials import BodyMaterial

#: The circle on which the dial indicator runs that sets a ring without fit.
SetBy = Literal["bore", "tips"]
#: Radial offset in um of a ring set with a dial indicator, where neither fit nor offset is given. Assumed.
SET_OFFSET_UM = 15.0


#: Defaults that do not count where one of these fields is stated.
STATED_INSTEAD: dict[str, tuple[str, ...]] = {
    "seat_offset_um": ("seat_fit", "seat_tir_um"),
    "set_by": ("seat_fit",),
}


class Joint(StudyModel):
    """One joint: what its ring must fit, how it is seated, and what it does."""

    name: Name = Field(description="Name, unique within its robot.")
    bore_min_mm: LengthMm = Field(
        description="Smallest bore that clears the shaft; only you know it."
    )
    bore_max_mm: LengthMm = Field(
        description="Largest bore that the hub can seat; only you know it."
    )
    bores_mm: Bores | None = Field(
        default=None,
        description="Bores that this joint may have, whole multiples of shop.bore_step_mm, in place of "
        "shop.bores_mm; every multiple within the window by default.",
    )
    tip_max_mm: LengthMm | None = Field(
        default=None,
        description="Largest tip diameter below the reading head; only you know it. This or housing_max_mm "
        "must be stated; both are kept where both are.",
    )
    housing_max_mm: LengthMm | None = Field(
        default=None,
        description="Inner diameter of the housing around ring and heads: tips and, on either side, the gap "
        "chosen and the head's height_above_tips_mm must fit into it. None by default: tip_max_mm then says "
        "where the tips end.",
    )
    tip_min_mm: LengthMm | None = Field(
        default=None, description="Smallest tip diameter a fixed head can reach; none by default."
    )
    axial_room_mm: LengthMm | None = Field(
        default=None,
        description="Room along the axis for ring and heads: the larger of face_width_mm and the head's "
        "axial_width_mm must fit into it, twice with second_ring. No limit by default.",
    )
    ring_mass_max_kg: Annotated[float, Field(gt=0.0, le=1e6)] | None = Field(
        default=None,
        description="Most mass of the finished toothed ring, before screw holes are drilled and without its "
        "heads, of both with a second ring; no limit by default.",
    )
    ring_inertia_max_kg_m2: Annotated[float, Field(gt=0.0, le=1e6)] | None = Field(
        default=None,
        description="Most moment of inertia of the finished toothed ring about its axis, before screw holes "
        "are drilled, of both with a second ring; no limit by default.",
    )
    face_width_mm: Annotated[float, Field(gt=0.0, le=500.0)] = assumed(
        8.0,
        low=6.0,
        high=12.0,
        because="The head's active width of 6 mm with no float at all, or with 3 mm of float on each "
        "side.",
        description="Face width of the ring. Assumed: 6 mm of head and 1 mm of float on each side.",
    )
    seat_fit: Annotated[str, StringConstraints(max_length=16)] | None = Field(
        default=None,
        description="ISO 286 fit of ring bore on hub, such as H7/g6: the ring then sits off centre by "
        "half the largest clearance plus hub_offset_um. Excludes seat_offset_um, seat_tir_um and set_by.",
    )
    set_by: SetBy | None = assumed(
        None,
        stands_for="bore",
        low="bore",
        high="tips",
        because="Where the bore cannot be reached with a dial once the ring is on its hub, the tips are "
        "what is left.",
        description="Circle on which a dial runs that sets a ring without seat_fit: bore or tips. Tips may "
        "run out against the bore by F_r of the class (full reading): see tips_off_bore. Assumed: bore.",
    )
    seat_offset_um: SmallUm | None = assumed(
        None,
        stands_for=SET_OFFSET_UM,
        low=5.0,
        high=30.0,
        because="A patient hand with a dial indicator reaches 5 um; with no setting at all, half the "
        "largest clearance of H7/h6 at 100 mm is left (ISO 286: 57 um).",
        description="Radial offset from the joint axis of the circle that set_by names, half of a dial's "
        f"full reading. Excludes seat_tir_um. Without these and seat_fit {SET_OFFSET_UM:g} um is assumed: a "
        "round guess for a ring set with a dial indicator.",
    )
    seat_tir_um: Annotated[float, Field(ge=0.0, le=10000.0)] | None = Field(
        default=None,
        description="Full reading over a turn (TIR) of a dial indicator on the circle that set_by names: "
        "twice the radial offset. In place of seat_offset_um; none by default.",
    )
    hub_offset_um: SmallUm = assumed(
        5.0,
        low=2.0,
        high=15.0,
        because="Round guess: hub and bearing seat turned in one clamping, or in two with the second set "
        "by hand.",
        description="Radial offset of the hub seat from the joint axis, half of a dial's full reading; "
        "added to that of seat_fit. Assumed: a round guess.",
    )
    seat_ovality_um: SmallUm = assumed(
        3.0,
        low=1.0,
        high=9.0,
        because="A grade of ISO 286 leaves a quarter of its width: IT7 at 100 mm (35 um) leaves 9, and a "
        "good lathe turns rounder than any grade asks.",
        description="Radial amplitude of the seat's ovality: half of a dial's full reading, a quarter of "
        "largest minus smallest diameter. Assumed: a quarter of 12 um, between IT4 and IT5 at 100 mm.",
    )
    seat_stiffness_n_per_mm2: Annotated[float, Field(gt=0.0, le=1e6)] = assumed(
        50.0,
        low=10.0,
        high=500.0,
        because="Round guess over more than a decade, for it hangs on lands and fit and is seldom "
        "measured: a few narrow lands, or a seat pressed all round.",
        description="Radial line load per displacement with which the seat shapes the ring; thin rims follow "
        "it, stiff ones resist. Assumed: a round guess.",
    )
    bearing_shift_um: SmallUm = assumed(
        5.0,
        low=2.0,
        high=13.0,
        because="Half the radial run-out of an inner ring of 80 to 120 mm: about 5 um in a precise class "
        "and 25 um in the normal one (ISO 492:2014, from memory), and nothing for load.",
        description="Lateral shift of the turning axis either way by run-out and load: a radial offset, "
        "half of a dial's full reading. Assumed: a round guess between a precise bearing and a normal one.",
    )
    wobble_mrad: Annotated[float, Field(ge=0.0, le=100.0)] = assumed(
        0.5,
        low=0.1,
        high=1.0,
        because="An axial run-out of 10 um on 100 mm of bearing is 0.1 mrad; a load that tilts a soft "
        "bearing makes ten times that (round guess).",
        description="Tilting of the turning axis. Assumed: a round guess.",
    )
    temperature_gradient_k: Annotated[float, Field(ge=0.0, le=500.0)] = assumed(
        3.0,
        low=1.0,
        high=10.0,
        because="Round guess: a joint at rest in an even hall, or with a working motor on one side.",
        description="Temperature difference across the ring's diameter. Assumed: a round guess.",
    )
    temperature_min_c: Annotated[float, Field(ge=-100.0, le=500.0)] = assumed(
        10.0,
        low=0.0,
        high=20.0,
        because="An unheated hall in winter, or one that is never colder than where the joint was "
        "assembled (round guess).",
        description="Coldest the joint gets; it is assembled at 20. Assumed: a round guess for a hall that "
        "is "
        "heated by day.",
    )
    temperature_max_c: Annotated[float, Field(ge=-100.0, le=500.0)] = assumed(
        50.0,
        low=40.0,
        high=80.0,
        because="Air of 40 degrees, the warmest in which machines' electrical equipment must work (IEC "
        "60204-1:2016, from memory), with no warmth of the joint's own or with 40 K of it.",
        description="Warmest the joint gets. Assumed: air of 40 degrees (IEC 60204-1:2016, from memory) and "
        "10 K of its own.",
    )
    housing_material: BodyMaterial = assumed(
        "en_aw_6082_t6",
        low="c45",
        high="x5crni18_10",
        because="Housings that are not of aluminium are of steel or cast iron, which expand like the "
        "ring, or of stainless steel.",
        description="What carries the head, also one in shop.materials; its expansion against the ring's "
        "moves the gap. Assumed: EN AW-6082 T6, aluminium as most light arms have it.",
    )
    fastening: Literal["fit", "screws"] = Field(
        default="fit",
        description="What holds the ring on its hub: the seat (friction of seat_fit, or the shop's own "
        "way), or screws through its face. The seat by default.",
    )
    hub_material: BodyMaterial | None = Field(
        default=None,
        description="What the hub is made of, also one in shop.materials; its expansion against the ring's "
        "tightens or loosens the seat. The ring's own material by default.",
    )
    hub_bore_mm: Annotated[float, Field(ge=0.0, le=5000.0)] | None = Field(
        default=None,
        description="Bore of the hub, 0 for a solid one; slip_safety_min and stress_safety_min need it. "
        "None by default: sheets then reckon with a solid hub and say so.",
    )
    acceleration_max_rad_s2: Annotated[float, Field(gt=0.0, le=1e7)] | None = Field(
        default=None,
        description="Fastest angular acceleration, stops and crashes included; the ring must not slip "
        "on its hub. None by default.",
    )
    slip_safety_min: Annotated[float, Field(gt=0.0, le=1000.0)] | None = Field(
        default=None,
        description="Least torque at which the ring slips over the torque that acceleration_max_rad_s2 "
        "asks, at the loosest fit, temperature and speed; no limit by default.",
    )
    stress_safety_min: Annotated[float, Field(gt=0.0, le=1000.0)] | None = Field(
        default=None,
        description="Least yield over equivalent stress of ring and hub, at the tightest fit, the worst "
        "temperature and speed_max_rpm; no limit by default.",
    )
    burst_safety_min: Annotated[float, Field(gt=0.0, le=1000.0)] | None = Field(
        default=None,
        description="Least speed at which the ring's wall yields through over speed_max_rpm; no limit by "
        "default.",
    )
    seat_friction: Annotated[float, Field(gt=0.0, le=1.0)] = assumed(
        0.12,
        low=0.1,
        high=0.15,
        because="Dry steel on steel in handbooks; oil left in the seat brings less.",
        description="Friction between ring and hub, or under screwed faces. Assumed: dry steel on steel, "
        "0.10 "
        "to 0.15 (unnamed source, carries no weight).",
    )
    seat_roughness_um: Annotated[float, Field(ge=0.0, le=100.0)] = assumed(
        4.0,
        low=1.6,
        high=6.3,
        because="Steps of the usual series of Rz: ground on both sides, or turned and not finely.",
        description="Roughness Rz of either face of the seat; pressing flattens it (DIN 7190) and takes that "
        "off the interference that holds. Assumed: a round guess between fine-turned and ground.",
    )
    reach_mm: Annotated[float, Field(ge=0.0, le=100000.0)] = Field(
        default=0.0,
        description="Distance from the joint axis to the tool point at the worst pose; 0: not "
        "counted.",
    )
    speed_max_rpm: Annotated[float, Field(ge=0.0, le=100000.0)] = assumed(
        15.0,
        low=5.0,
        high=30.0,
        because="30 degrees a second for a heavy base, 180 for a wrist (round guess).",
        description="Fastest turning of the joint. Assumed: a round guess, 90 degrees a second.",
    )
    angle_target_arcsec: Annotated[float, Field(gt=0.0, le=648000.0)] | None = Field(
        default=None, description="Angle target of this joint; the shared target by default."
    )
    repeatability_target_arcsec: Annotated[float, Field(gt=0.0, le=648000.0)] | None = Field(
        default=None,
        description="Repeatability target of this joint; the shared one by default, if there is one.",
    )
    head_counts: Annotated[list[HeadCount], Field(min_length=1, max_length=8)] = assumed(
        [1, 2],
        low=[1],
        high=[1, 2, 3, 4],
        because="One head alone where nothing else is paid or has room, or up to four where accuracy is "
        "worth it.",
        description="Numbers of heads this joint may have; the search chooses. Assumed: one, or two opposed, "
        "the fewest that cancel an offset.",
    )
    head_angles_deg: dict[Annotated[str, StringConstraints(pattern="^[1-8]$")], list[AngleDeg]] = (
        Field(
            default={},
            description='Placement by head count, such as {"2": [0, 90]}; equally spaced where not given.',
        )
    )
    head: Name | None = Field(
        default=None, description="Name of the head in `heads`; the shared head by default."
    )
    unpowered_speed_rpm: Annotated[float, Field(gt=0.0, le=100000.0)] | None = Field(
        default=None,
        description="Fastest the joint is turned while without power; the head, which looks every "
        "backup_polling_ms and counts pitches, must not miss one. None by default.",
    )
    turns_range: Annotated[float, Field(gt=0.0, le=1e6)] = assumed(
        1.0,
        low=1.0,
        high=4.0,
        because="A joint that stops within one turn, or that goes two turns either way.",
        description="Whole range of the joint in turns, 4 for two either way; the back-up counter must hold "
        "it. Assumed: one turn.",
    )
    keeps_part: Name | None = Field(
        default=None,
        exclude_if=lambda name: name is None,
        description="One of shop.parts_in_production, by its name, that this joint keeps as its ring: no "
        "other ring may take its place. None by default.",
    )
    second_ring: bool = Field(
        default=False,
        description="Whether a second ring beside the first, on the same seat, shall tell its pitches apart "
        "at power-up. It has the module and bore of the first, more or fewer teeth without a common divisor, "
        "and one head; the worst cases of both must fit into the tolerance pi / (z1 z2). Its blank, head, "
        "current and money count, and it is a ring part. Not by default.",
    )

    absolute: Literal["counter", "second_ring"] | None = Field(
        default=None,
        description="By what the joint must find its place after a power loss: counter (and battery) or "
        "second_ring. The study must then state all that this takes; the answer keeps it. None by default.",
    )

    @property
    def set_offset_um(self) -> float:
        """Radial offset in um of a ring that no fit seats: as stated, half the reading, or the default."""
        if self.seat_tir_um is not None:
            return self.seat_tir_um / 2.0
        return SET_OFFSET_UM if self.seat_offset_um is None else self.seat_offset_um

    @property
    def dial_on(self) -> SetBy | None:
        """Circle on which a dial indicator sets the ring, the bore by default; None where a fit seats it."""
        return None if self.seat_fit is not None else self.set_by or "bore"

    @property
    def dial_reading_um(self) -> float | None:
        """Full reading (TIR) in um to which the dial sets the ring; None where a fit seats it."""
        return None if self.seat_fit is not None else 2.0 * self.set_offset_um
