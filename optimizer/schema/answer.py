"""What comes out: a ring for every joint with its budget and margins, totals, and the proof.

An answer holds no time of day and no duration, so that the same study and seed give the same bytes;
robots and joints stand in natural order of their names. Numbers are unrounded. Every field has its range, as
those of a study have: an answer may come from anywhere, and a ring with -5 teeth is none.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from ringset.schema.answer_electronics import JointElectronics, RobotElectronics, SecondRing
from ringset.schema.answer_types import (
    AbsoluteBy,
    AnyUnit,
    DeviationUm,
    Left,
    ProfileUm,
    RimMm,
    RingKg,
    RingMm,
    Sha256,
    Share,
    Teeth,
    Text,
    TotalKg,
    WidthMm,
)
from ringset.schema.base import AnswerModel
from ringset.schema.equipment import AngleDeg, HeadCount, ModuleMm
from ringset.schema.part_numbers import PartNumbers
from ringset.schema.proof import (
    Confirmation,
    Count,
    CountFromOne,
    GivenUp,
    Label,
    Money,
    Proof,
    Stage,
    WeighedStage,
    Whole,
)
from ringset.schema.ring_budget import Arcsec
from ringset.schema.ring_budget import Budget as Budget
from ringset.schema.ring_budget import Term as Term
from ringset.schema.study import WISHES, Wish
from ringset.schema.targets import RESERVE_MOST_PERCENT
from ringset.schema.totals import Cost as Cost
from ringset.schema.totals import Totals as Totals

Status = Literal["proven", "agreed", "found", "impossible", "undecided"]
#: Nothing better exists, by a verified certificate (proven) or only as the search engines agree (agreed).
SETTLED: tuple[Status, ...] = ("proven", "agreed")
#: With a ring for every joint.
WITH_RINGS: tuple[Status, ...] = (*SETTLED, "found")

__all__ = [
    "CAUTIONS", "SETTLED", "WISHES", "WITH_RINGS", "AbsoluteBy", "Answer", "Confirmation", "Count",
    "CountFromOne", "GivenUp",
    "JointElectronics", "Label", "Money", "PartNumbers", "Proof", "RingMm", "RobotElectronics",
    "SecondRing", "Sha256", "Stage", "Status", "Teeth", "Text", "WeighedStage", "Whole", "Wish", "stage_unit",
]  # fmt: skip

#: Printed with every answer.
CAUTIONS = [
    "Sizing aid only: a nominal error budget with assumed inputs, not a safety assessment and no "
    "statement on performance level or safety integrity.",
    "Position used in a safety function needs a risk assessment and a validated design by "
    "qualified "
    "people to the standards in force (ISO 10218-1 and -2, ISO 13849-1 or IEC 62061, IEC 61800-5-2 "
    "and -5-3), including the fastening of ring and head; local codes come first.",
    "Rings have sharp teeth and must be secured against slipping and kept below bursting speed.",
    "After any loss of count a joint must be treated as unreferenced.",
]

_UNITS = {"cutters": "cutters", "ring_parts": "ring parts", "heads": "heads"}


def stage_unit(wish: str, material_unit_kg: float, cost_unit: float) -> str:
    """Return the unit in which a stage's whole numbers count."""
    if wish == "cost":
        return f"{cost_unit:g} money"
    return _UNITS.get(wish, f"{material_unit_kg:g} kg")


class Margin(AnswerModel):
    """How far a value is inside one limit of the study."""

    limit: Label = Field(description="Field of the study that sets the limit.")
    value: AnyUnit
    allowed: AnyUnit
    unit: Label
    margin: AnyUnit = Field(description="Distance to the limit, negative where it is broken.")


class JointRing(AnswerModel):
    """The ring of one joint."""

    robot: Label
    joint: Label
    second: bool = Field(
        default=False,
        description="Whether it is the second ring of its joint, which only names the pitch.",
    )
    ring_part: Label
    cutter: Label | None = Field(description="Cutter to use; null for wire erosion.")
    module_mm: ModuleMm
    teeth: Teeth
    profile_shift: Annotated[float, Field(ge=-0.5, le=0.8)]
    flank_class: Annotated[int, Field(ge=1, le=11)] = Field(
        description="Flank tolerance class, ISO 1328-1:2013. With cutters of a set it speaks of pitch, "
        "run-out and flank line; of the profile, profile_error_um does."
    )
    profile_error_um: ProfileUm | None = Field(
        default=None,
        description="Span of the profile's deviation (F_alpha) that the form of the disc cutter leaves: 0 "
        "with disc_special, null for hob and wire, which bring no form of another tooth count.",
    )
    pitch_diameter_mm: RingMm
    tip_diameter_mm: RingMm
    root_diameter_mm: RingMm
    material: Label = Field(
        description="Material of the shop, with its treatment where one is stated."
    )
    bore_mm: RingMm
    bore_lower_um: DeviationUm = Field(
        description="Lower deviation of the bore (EI), signed: of the hole zone of seat_fit, or of H7 "
        "where the joint states no fit."
    )
    bore_upper_um: DeviationUm = Field(description="Upper deviation of the bore (ES), signed.")
    tooth_depth_mm: WidthMm
    rim_mm: RimMm = Field(description="Rim between root circle and bore.")
    face_width_mm: WidthMm
    blank_kg: RingKg = Field(description="Mass of the turned blank (tip circle to bore).")
    finished_kg: RingKg = Field(description="Mass with its teeth, without its screw holes.")
    inertia_kg_m2: Annotated[float, Field(gt=0.0, le=1e9)] = Field(
        description="Moment of inertia about the axis of the finished ring, without its screw holes."
    )
    gap_mm: Annotated[float, Field(gt=0.0, le=50.0)] = Field(
        description="Air gap to set at assembly."
    )
    gap_left_mm: Annotated[float, Field(ge=-1e6, le=50.0)] = Field(
        description="What is left of it when everything closes it at once."
    )
    housing_diameter_mm: RingMm = Field(description="Tip diameter, gaps and heads on both sides.")
    heads: HeadCount
    head_angles_deg: Annotated[list[AngleDeg], Field(max_length=8)]
    budget: Budget
    error_arcsec: Arcsec = Field(description="Accuracy: total on the basis of the target.")
    target_arcsec: Annotated[float, Field(gt=0.0, le=648000.0)] = Field(
        description="As stated; the error may use it less `Answer.reserve_percent`."
    )
    target_left_percent: Left = Field(description="What the error leaves of it, reserve included.")
    repeatability_arcsec: Arcsec = Field(
        description="Repeatability of the sensor: half of the range of the readings at one angle about "
        "their mean, from the terms that do not repeat, on the basis of the target. Play and drive of "
        "the joint come on top."
    )
    repeatability_target_arcsec: Annotated[float, Field(gt=0.0, le=648000.0)] | None = Field(
        description="As stated; less `Answer.reserve_percent`. null without a target."
    )
    repeatability_left_percent: Left | None = Field(
        description="What the repeatability leaves of it, reserve included; null without a target."
    )
    displayed_bits: Annotated[int, Field(ge=1, le=32)]
    displayed_step_arcsec: Annotated[float, Field(gt=0.0, le=648000.0)]
    usable_bits: Annotated[float, Field(ge=-1000.0, le=1000.0)] = Field(
        description="Noise-free bits of a turn."
    )
    tool_point_um: Annotated[float, Field(ge=0.0, le=1e15)] = Field(
        description="This joint's own error at the tool point."
    )
    tool_point_repeatability_um: Annotated[float, Field(ge=0.0, le=1e15)] = Field(
        description="This joint's own repeatability at the tool point."
    )
    absolute_by: AbsoluteBy = Field(
        description="By what the joint finds its place after power loss: counter (and battery), "
        "second_ring, both, or none: then it must be referenced after each power loss."
    )
    turns_known: bool = Field(
        description="Whether it finds its turn as well: by the counter, or by a second ring where "
        "turns_range is at most 1."
    )
    electronics: JointElectronics
    margins: Annotated[list[Margin], Field(max_length=100)]

    @property
    def label(self) -> str:
        """Robot and joint as one name."""
        return f"{self.robot}/{self.joint}"

    @property
    def place(self) -> tuple[str, str]:
        """Robot and joint as a key: one name of both may be that of two joints."""
        return self.robot, self.joint


class FaceScrews(AnswerModel):
    """Screws through the face of a ring: through holes on a circle in the middle of the rim."""

    size: Label = Field(description="Thread, such as M3; socket head (ISO 4762), class 8.8.")
    count: Annotated[int, Field(ge=1, le=1000)]
    circle_mm: RingMm = Field(description="Diameter of the circle on which they stand.")
    hole_mm: Annotated[float, Field(gt=0.0, le=100.0)] = Field(
        description="Clearance hole (ISO 273, medium)."
    )


class RingPart(AnswerModel):
    """A distinct ring, all that one drawing fixes: one part number wherever it is used.

    Joints share it only where module, teeth, bore with its tolerance zone, and width are the same; flank
    class, depth, shift and material are the shop's, and its screw holes serve all of its joints.
    """

    id: Label
    cutter: Label | None
    module_mm: ModuleMm
    pitch_name: Label | None = Field(
        default=None,
        description="Pitch by which the shop names the module, such as 16 DP; null where it names none.",
    )
    teeth: Teeth
    material: Label
    bore_mm: RingMm
    bore_zone: Label = Field(
        description="Tolerance zone of the bore by its name, such as H7 (ISO 286)."
    )
    bore_lower_um: DeviationUm = Field(description="Lower deviation of the bore (EI), signed.")
    bore_upper_um: DeviationUm = Field(description="Upper deviation of the bore (ES), signed.")
    face_width_mm: WidthMm
    rim_mm: RingMm
    tip_diameter_mm: RingMm
    screws: FaceScrews | None = Field(
        default=None,
        description="What holds it on its joints with fastening screws; null where none has them.",
    )
    in_production: bool = Field(
        default=False,
        exclude_if=lambda stands: not stands,
        description="Whether it is one of shop.parts_in_production, whose name it bears; absent if not.",
    )
    used_on: list[Label] = Field(description="Joints as robot/joint.")
    quantity: CountFromOne = Field(description="Pieces for all robots built.")


class Cutter(AnswerModel):
    """One tool to have."""

    id: Label
    kind: Label
    module_mm: ModuleMm
    pitch_name: Label | None = Field(
        default=None,
        description="Pitch by which the shop names the module, such as 16 DP; null where it names none.",
    )
    tooth_range: Label
    owned: bool = Field(
        default=False,
        exclude_if=lambda owned: not owned,
        description="Whether it is one of shop.owned_cutters; absent if it is to be bought.",
    )
    ring_parts: list[Label]


class ToolPoint(AnswerModel):
    """A robot's error and repeatability at the tool point on the basis of the target."""

    robot: Label
    count: Annotated[int, Field(ge=1, le=1_000_000)]
    rule: Literal["rss", "sum"]
    error_um: Annotated[float, Field(ge=0.0, le=1e20)]
    target_um: Annotated[float, Field(gt=0.0, le=1e7)] | None = Field(
        description="As stated; the error may use it less `Answer.reserve_percent`."
    )
    target_left_percent: Left | None = Field(
        description="What the error leaves of it, reserve included; null without a target."
    )
    repeatability_um: Annotated[float, Field(ge=0.0, le=1e20)] = Field(
        description="The sensors' part of the repeatability, joints combined by the same rule: half of the "
        "range about the mean position. With k = 2 the RP of ISO 9283 (mean + 3 S) is 1.04 to 1.30 times it."
    )
    repeatability_target_um: Annotated[float, Field(gt=0.0, le=1e7)] | None = Field(
        description="As stated; less `Answer.reserve_percent`. null without a target."
    )
    repeatability_left_percent: Left | None = Field(
        description="What the repeatability leaves of it, reserve included; null without a target."
    )
    shares: dict[Label, Share] = Field(
        description="Each joint's share of the squared error (rss) or of the error (sum)."
    )


class RobotRings(AnswerModel):
    """What the rings of one robot come to together: finished, before screw holes, without heads."""

    robot: Label
    rings_mass_kg: TotalKg
    rings_mass_max_kg: TotalKg | None = Field(description="As stated; null where nothing is.")
    rings_inertia_kg_m2: Annotated[float, Field(gt=0.0, le=1e12)] = Field(
        description="Sum of the moments of inertia of all rings, each about its own axis."
    )
    rings_inertia_max_kg_m2: Annotated[float, Field(gt=0.0, le=1e12)] | None


class Answer(AnswerModel):
    """The answer to a study."""

    schema_version: Literal[1] = 1
    title: Label
    study_sha256: Sha256 = Field(description="Fingerprint of the canonical study.")
    status: Status = Field(
        description="proven: nothing better exists, and our own check of a certificate, which shares "
        "nothing with the search, ended well for every wish. agreed: the search engines agree that "
        "nothing better exists, and no certificate was verified. found: not known to be best. impossible: no "
        "answer exists. undecided: nothing is known in the time given."
    )
    basis: Literal["expanded", "worst_case"]
    reserve_percent: Annotated[float, Field(ge=0.0, le=RESERVE_MOST_PERCENT)] = Field(
        description="Kept below every accuracy target (angle and tool point), in percent of it."
    )
    reasons: list[Text] = Field(
        description="Why the study is impossible or undecided, or the answer not proven."
    )
    absolute: list[Text] = Field(
        description="Whether the joints find their place after power loss, and by what: one sentence for "
        "those that are alike."
    )
    rings: list[JointRing]
    second_rings: list[JointRing] = Field(
        default=[],
        description="The second rings of joints that ask one (`second_ring`), in the order of the joints: "
        "each a ring part, read by one head. They keep the limits on making, mounting and reading, and none "
        "on accuracy: the angle comes from the first ring.",
    )
    ring_parts: list[RingPart]
    part_numbers: PartNumbers | None = Field(
        default=None,
        exclude_if=lambda told: told is None,
        description="What became of the names of an earlier answer; absent where none was given. Ring parts "
        "are then numbered from 1 by their sizes.",
    )
    cutters: list[Cutter]
    tool_points: list[ToolPoint]
    robot_rings: list[RobotRings] = Field(description="One for each robot.")
    electronics: list[RobotElectronics] = Field(description="One for each robot.")
    totals: Totals | None
    proof: Proof
    warnings: list[Text] = Field(
        description="Where the scope of a standard or the range of a formula is left, and where a cutter's "
        "form leaves the class, by ring part; and that prices count nothing, where they do not."
    )
    cautions: Annotated[list[Text], Field(max_length=100)]

    @property
    def every_ring(self) -> list[JointRing]:
        """All rings that are made: one for each joint, then the second ones."""
        return [*self.rings, *self.second_rings]

    def to_json(self) -> str:
        """Return the answer as JSON text, the same bytes for the same answer."""
        return self.model_dump_json(indent=2) + "\n"
