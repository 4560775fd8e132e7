"""What comes out: a ring for every joint with its budget and margins, totals, and the proof.

An answer holds no time of day and no duration, so that the same study and seed give the same bytes;
robots and joints stand in natural order of their names. Numbers are unrounded.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from ringset.schema.base import AnswerModel
from ringset.schema.study import WISHES, Wish

Status = Literal["proven", "found", "impossible", "undecided"]
Confirmation = Literal["multipliers", "listing", "halves", "second engine", "nothing"]

__all__ = ["CAUTIONS", "WISHES", "Answer", "Status", "Wish", "stage_unit"]

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


class Term(AnswerModel):
    """One term of a budget."""

    name: str
    amplitude_arcsec: float = Field(description="Half of peak to peak; for noise one sigma.")
    standard_arcsec: float = Field(description="Standard uncertainty.")


class Margin(AnswerModel):
    """How far a value is inside one limit of the study."""

    limit: str = Field(description="Field of the study that sets the limit.")
    value: float
    allowed: float
    unit: str
    margin: float = Field(description="Distance to the limit, negative where it is broken.")


class Budget(AnswerModel):
    """The angle error of one ring on one joint."""

    terms: list[Term]
    combined_arcsec: float = Field(description="Standard uncertainty of all terms together.")
    expanded_arcsec: float = Field(description="Expanded uncertainty, k = 2.")
    worst_case_arcsec: float = Field(
        description="Sum of all amplitudes of an unlucky ring and unlucky heads, noise at 5 sigma."
    )


class SecondRing(AnswerModel):
    """A second ring beside the first, to tell the pitches of one turn apart."""

    teeth: int | None = Field(description="Its teeth; null where no coprime count fits the joint.")
    tolerance_arcsec: float | None = Field(
        description="The errors of the two rings must differ by less: pi / (z1 z2)."
    )
    relative_error_arcsec: float | None = Field(
        description="Expected difference (k = 2): pitch, single pitch and channels of both rings, one "
        "head on each at one angle."
    )
    feasible: bool = Field(description="Whether the expected difference is inside the tolerance.")


class JointElectronics(AnswerModel):
    """What head and joint ask of the electronics; null where the study does not state the input."""

    sample_rate_needed_hz: float | None = Field(
        description="Tooth rate at speed_max_rpm times samples_per_tooth_min."
    )
    lag_arcsec: float | None = Field(description="Lag behind bandwidth_hz at speed_max_rpm.")
    signal_loss_share: float | None = Field(
        description="Share of the amplitude lost behind bandwidth_hz at speed_max_rpm."
    )
    unpowered_speed_max_rpm: float | None = Field(
        description="Speed up to which backup_polling_ms misses no pitch."
    )
    counter_bits_needed: int | None = Field(
        description="Bits that count the pitches of turns_range."
    )
    backup_current_ua: float | None = Field(description="Current of all heads without power.")
    reply_bytes: int | None = Field(description="Length of the joint's reply on the line.")
    line_time_us: float | None = Field(description="Time to ask the joint and hear it.")
    second_ring: SecondRing | None


class JointRing(AnswerModel):
    """The ring of one joint."""

    robot: str
    joint: str
    ring_part: str
    cutter: str | None = Field(description="Cutter to use; null for wire erosion.")
    module_mm: float
    teeth: int
    profile_shift: float
    flank_class: int = Field(description="Flank tolerance class, ISO 1328-1:2013.")
    pitch_diameter_mm: float
    tip_diameter_mm: float
    root_diameter_mm: float
    bore_mm: float
    tooth_depth_mm: float
    rim_mm: float = Field(description="Rim between root circle and bore.")
    face_width_mm: float
    blank_kg: float = Field(description="Mass of the turned blank (tip circle to bore).")
    finished_kg: float = Field(description="Mass with its teeth, without its screw holes.")
    inertia_kg_m2: float = Field(
        description="Moment of inertia about the axis of the finished ring, without its screw holes."
    )
    gap_mm: float = Field(description="Air gap to set at assembly.")
    gap_left_mm: float = Field(description="What is left of it when everything closes it at once.")
    housing_diameter_mm: float = Field(description="Tip diameter, gaps and heads on both sides.")
    heads: int
    head_angles_deg: list[float]
    budget: Budget
    error_arcsec: float = Field(description="Accuracy: total on the basis of the target.")
    target_arcsec: float
    displayed_bits: int
    displayed_step_arcsec: float
    usable_bits: float = Field(description="Noise-free bits of a turn.")
    tool_point_um: float = Field(description="This joint's own error at the tool point.")
    electronics: JointElectronics
    margins: list[Margin]

    @property
    def label(self) -> str:
        """Robot and joint as one name."""
        return f"{self.robot}/{self.joint}"


class FaceScrews(AnswerModel):
    """Screws through the face of a ring: through holes on a circle in the middle of the rim."""

    size: str = Field(description="Thread, such as M3; socket head (ISO 4762), class 8.8.")
    count: int
    circle_mm: float = Field(description="Diameter of the circle on which they stand.")
    hole_mm: float = Field(description="Clearance hole (ISO 273, medium).")


class RingPart(AnswerModel):
    """A distinct ring: one part number wherever it is used."""

    id: str
    cutter: str | None
    module_mm: float
    teeth: int
    bore_mm: float
    face_width_mm: float
    rim_mm: float
    tip_diameter_mm: float
    screws: FaceScrews | None = Field(
        default=None,
        description="What holds it on its joints with fastening screws; null where none has them.",
    )
    used_on: list[str] = Field(description="Joints as robot/joint.")
    quantity: int = Field(description="Pieces for all robots built.")


class Cutter(AnswerModel):
    """One tool to buy."""

    id: str
    kind: str
    module_mm: float
    tooth_range: str
    ring_parts: list[str]


class ToolPoint(AnswerModel):
    """A robot's error at the tool point on the basis of the target."""

    robot: str
    count: int
    rule: str
    error_um: float
    target_um: float | None
    shares: dict[str, float] = Field(
        description="Each joint's share of the squared error (rss) or of the error (sum)."
    )


class RobotElectronics(AnswerModel):
    """A robot's battery and line; null where the study states none."""

    robot: str
    battery_current_ua: float | None = Field(
        description="Average current of all heads, over powered and unpowered time."
    )
    battery_life_years: float | None
    battery_life_min_years: float | None
    cycle_us: float | None = Field(description="Time to poll every joint once.")
    cycle_max_us: float | None
    cycle_rate_hz: float | None = Field(description="How often a second each joint is read.")
    skew_arcsec: float | None = Field(
        description="Angle that the fastest joint turns between the first and the last sample of a "
        "cycle, without a common latch."
    )


class Cost(AnswerModel):
    """Money over all robots built, in the currency of shop.prices."""

    cutters: float
    set_up: float
    material: float
    cutting: float
    heads: float
    total: float


class Totals(AnswerModel):
    """Totals over all robots built."""

    cutters: int
    ring_parts: int
    heads: int
    material_kg: float = Field(description="Turned blanks.")
    finished_kg: float
    cost: Cost | None = Field(description="null without shop.prices.")


class Stage(AnswerModel):
    """One wish of the search and its proof."""

    wish: Wish
    unit: str
    value: int = Field(description="Reached, in whole units.")
    bound: int = Field(description="Nothing below is possible with the wishes before it held.")
    confirmed_by: Confirmation = Field(
        description="Second route to the bound: multipliers of the limits checked in exact arithmetic, "
        "the same with a list of the few answers that could still be better, multipliers of every part "
        "into which the rest was split, or another engine that finds the same optimum of the same rows."
    )


class Proof(AnswerModel):
    """What was searched and what is proven."""

    stages: list[Stage]
    material_unit_kg: float = Field(
        description="Material is counted per ring in whole units of this, rounded up."
    )
    cost_unit: float = Field(
        description="Money is counted per ring in whole units of this, rounded up; so is that of every "
        "ring part and cutter. 0 without shop.prices."
    )
    rings_possible: int = Field(description="Rings that fit some joint inside all its limits.")
    rows_possible: int = Field(
        description="Rings times joints times head counts inside all limits."
    )
    rows_searched: int = Field(description="Rows left after the exact reduction.")
    seed: int
    workers: int
    repeatable: bool = Field(
        description="False if the clock or several workers steered the search."
    )
    versions: dict[str, str]


class Answer(AnswerModel):
    """The answer to a study."""

    schema_version: Literal[1] = 1
    title: str
    study_sha256: str = Field(description="Fingerprint of the canonical study.")
    status: Status
    basis: Literal["expanded", "worst_case"]
    reasons: list[str] = Field(description="Why the study is impossible or undecided.")
    rings: list[JointRing]
    ring_parts: list[RingPart]
    cutters: list[Cutter]
    tool_points: list[ToolPoint]
    electronics: list[RobotElectronics] = Field(description="One for each robot.")
    totals: Totals | None
    proof: Proof
    warnings: list[str] = Field(description="Where a standard's scope is left, by ring part.")
    cautions: list[str]

    def to_json(self) -> str:
        """Return the answer as JSON text, the same bytes for the same answer."""
        return self.model_dump_json(indent=2) + "\n"
