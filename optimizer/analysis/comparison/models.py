"""What comes out of a comparison: answers side by side, unrounded, one place per answer in every list.

Differences are value minus that of the reference, in the unit of the value; null where one of the two has
none. The reference is the first answer that holds rings.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from ringset.schema.answer import AbsoluteBy, Status
from ringset.schema.base import AnswerModel

Basis = Literal["expanded", "worst_case"]
TotalName = Literal[
    "cutters", "ring_parts", "heads", "material_kg", "finished_kg", "cutters_owned",
    "parts_in_production", "cost", "rings_mass_kg",
    "rings_inertia_kg_m2", "tool_point_um", "tool_point_repeatability_um", "largest_error_arcsec",
    "largest_repeatability_arcsec",
]  # fmt: skip

#: What makes two rings the same ring, in whatever answers and under whatever names.
RING_FIELDS = (
    "module_mm", "teeth", "bore_mm", "bore_lower_um", "bore_upper_um", "rim_mm", "face_width_mm",
    "tooth_depth_mm", "profile_shift", "flank_class", "material", "holes",
)  # fmt: skip


class ComparedAnswer(AnswerModel):
    """One answer of the comparison."""

    name: str
    source: Literal["study", "answer"] = Field(
        description="study: solved for this comparison and judged. answer: as it was given, not judged."
    )
    title: str
    study_sha256: str
    status: Status
    basis: Basis
    reasons: list[str] = Field(description="Why it is impossible or undecided.")


class ComparedInput(AnswerModel):
    """A field that is not the same in all known studies."""

    path: str = Field(description="The field; those of a joint begin with ROBOT/JOINT.")
    values: list[str | None] = Field(
        description="Its value as text, absent where the study has no such robot, joint or head; null "
        "for an answer whose study is not known."
    )


class ComparedTotal(AnswerModel):
    """One total across the answers; null for an answer without it."""

    name: TotalName
    robot: str | None = Field(
        description="The robot of a tool point, or of a sum over its rings; null for other totals."
    )
    basis: Basis | None = Field(
        description="The basis of an error or a repeatability; null for other totals."
    )
    values: list[int | float | None]
    differences: list[int | float | None]
    targets_um: list[float | None] | None = Field(description="Tool points only: their targets.")
    joints: list[str | None] | None = Field(
        description="Largest errors and repeatabilities only: the joint that has it, as robot/joint."
    )


class ComparedRing(AnswerModel):
    """The ring of one joint in one answer."""

    ring_part: str
    module_mm: float
    teeth: int
    bore_mm: float
    bore_lower_um: float
    bore_upper_um: float
    rim_mm: float
    face_width_mm: float
    tooth_depth_mm: float
    profile_shift: float
    flank_class: int
    profile_error_um: float | None = Field(
        description="Span of the profile's deviation that the form of a disc cutter leaves."
    )
    material: str
    holes: str = Field(description="Screw holes of its part: number, thread and circle; or none.")
    gap_mm: float
    heads: int
    second_teeth: int | None = Field(
        description="Teeth of the second ring of the joint; null without."
    )
    absolute_by: AbsoluteBy
    head_angles_deg: list[float]
    expanded_arcsec: float
    worst_case_arcsec: float
    repeatability_expanded_arcsec: float
    repeatability_worst_case_arcsec: float
    target_arcsec: float
    repeatability_target_arcsec: float | None
    differs: list[str] = Field(
        description="Fields that differ from the joint's ring in the reference (beyond 1e-9 of the "
        "value), names of ring parts aside, and head angles where the number of heads is another; empty "
        "where the reference has no such joint."
    )


class ComparedJoint(AnswerModel):
    """One joint across the answers; null for an answer without a ring for it."""

    robot: str
    joint: str
    rings: list[ComparedRing | None]

    @property
    def label(self) -> str:
        """Robot and joint as one name."""
        return f"{self.robot}/{self.joint}"


class ComparedPart(AnswerModel):
    """A ring part that only one of two answers has."""

    id: str = Field(description="Its name in the answer that has it.")
    module_mm: float
    teeth: int
    bore_mm: float
    bore_lower_um: float
    bore_upper_um: float
    rim_mm: float
    face_width_mm: float
    tooth_depth_mm: float
    profile_shift: float
    flank_class: int
    material: str
    holes: str = Field(description="Screw holes of its part: number, thread and circle; or none.")
    used_on: list[str] = Field(description="Joints as robot/joint.")


class ComparedCutter(AnswerModel):
    """A cutter that only one of two answers has."""

    id: str = Field(description="Its name in the answer that has it.")
    kind: str
    module_mm: float
    pitch_name: str | None = Field(
        default=None, description="Pitch by which its shop names it, such as 16 DP."
    )
    tooth_range: str
    tooth_depth_mm: float = Field(description="Depth it cuts; with the module it tells the rack.")


class Change(AnswerModel):
    """What one answer changes against the reference; joints as robot/joint."""

    name: str = Field(description="The answer.")
    joints_shared: int = Field(description="Joints that both have a ring for.")
    other_ring: list[str]
    other_heads: list[str] = Field(description="Another number of heads.")
    other_settings: dict[str, list[str]] = Field(
        description="Joints with the same ring and number of heads but another "
        "profile_error_um, gap_mm, head_angles_deg, target, second_teeth, absolute_by, "
        "error or repeatability."
    )
    joints_added: list[str]
    joints_dropped: list[str]
    parts_added: list[ComparedPart]
    parts_dropped: list[ComparedPart]
    cutters_added: list[ComparedCutter]
    cutters_dropped: list[ComparedCutter]
    summary: str = Field(description="What changed, in one sentence.")


class Comparison(AnswerModel):
    """Two or more answers side by side."""

    schema_version: Literal[1] = 1
    answers: list[ComparedAnswer]
    reference: int | None = Field(
        description="Place of the answer that differences are against; null if none holds rings."
    )
    bases: list[Basis] = Field(description="Bases on which errors are listed.")
    notes: list[str] = Field(description="Where the answers are not like for like.")
    inputs: list[ComparedInput] = Field(
        description="Fields that differ between the known studies; empty if fewer than two are known."
    )
    totals: list[ComparedTotal]
    joints: list[ComparedJoint]
    changes: list[Change] = Field(
        description="One for each answer with rings other than the reference."
    )

    def to_json(self) -> str:
        """Return the comparison as JSON text, the same bytes for the same comparison."""
        return self.model_dump_json(indent=2) + "\n"
