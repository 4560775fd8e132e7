"""What is tried beside the rings that stand, and what comes of it: as data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from pydantic import Field

from ringset.schema.base import AnswerModel
from ringset.schema.study import Wish


class StandingRing(AnswerModel):
    """A ring that stands on a joint: what must be known of it to rate it, and others beside it."""

    robot: str = Field(max_length=200)
    joint: str = Field(max_length=200)
    module_mm: float = Field(ge=0.05, le=50.0, description="One of the shop's modules.")
    teeth: int = Field(ge=1, le=10_000)
    bore_mm: float = Field(gt=0.0, le=5000.0, description="On the shop's bore step.")
    heads: int = Field(ge=1, le=8, description="One of the joint's head counts.")
    second_teeth: int | None = Field(
        default=None,
        ge=1,
        le=10_000,
        description="Teeth of its second ring; null where the joint asks none.",
    )
    ring_part: str | None = Field(
        default=None,
        max_length=200,
        description="Name of its ring part, by which it is told; by default numbered by size.",
    )


class Ring(NamedTuple):
    """A ring with its heads, as the catalogue counts: place of the module, teeth, bore steps, heads.

    `second` are the teeth of its second ring, 0 for none.
    """

    module: int
    teeth: int
    bore_steps: int
    heads: int
    second: int = 0


@dataclass(frozen=True)
class Trial:
    """Other rings on some joints, by the joints' places in the canonical study; the one asked about first.

    `of` is a joint whose ring part it shall be: the same part has the same face width and bore zone.
    """

    kind: str
    rings: dict[int, Ring]
    of: int | None = None


@dataclass(frozen=True)
class Broken:
    """A limit that a trial breaks; `joint` is its place, None for one of a robot or of all together."""

    joint: int | None
    robot: str | None
    limit: str
    value: float
    allowed: float
    unit: str

    @property
    def strain(self) -> float:
        """Value over limit, or limit over value for one from below; above 1."""
        low, high = sorted((self.value, self.allowed))
        return high / low if low > 0.0 else high


@dataclass(frozen=True)
class Outcome:
    """A trial rated: its rows, how near it comes where it breaks limits, and what it adds to each wish.

    `kept` is less by one for every limit broken; `strain` is how often the largest of errors and sums over
    joints fills its limit, 1 where all hold. `counted` holds whole units of the study's wishes in the order
    in which they tell answers apart; the rest are pieces, kg and money.
    """

    trial: Trial
    rows: tuple[int, ...]
    allowed: bool
    kept: int
    strain: float
    counted: tuple[tuple[Wish, int], ...]
    cutters: int
    ring_parts: int
    heads: int
    material_kg: float
    money: float

    @property
    def order(self) -> tuple[float, ...]:
        """Sort key: allowed ones by the wishes, then those that break least."""
        if self.allowed:
            return (0, *(more for _, more in self.counted))
        return (1, -self.kept, self.strain, *(more for _, more in self.counted))


#: Most limits told of one neighbour.
BREAKS_MOST = 20


GroundKind = Literal[
    "larger", "largest", "smaller", "thinner", "thinnest", "thicker",
    "fewer_heads", "more_heads", "own_part", "other_part",
]  # fmt: skip


OutcomeKind = Literal["breaks", "costs", "as good", "better"]


class LimitBroken(AnswerModel):
    """A limit that a neighbour breaks."""

    robot: str | None = Field(description="null for a ceiling over all robots.")
    joint: str | None = Field(description="null for a limit over several joints.")
    limit: str = Field(description="Field of the study that sets the limit.")
    value: float
    allowed: float = Field(description="For head_counts the nearest number that is possible.")
    unit: str


class AddedTotals(AnswerModel):
    """What a neighbour adds to the totals over all robots built; negative where it saves."""

    cutters: int
    ring_parts: int
    heads: int
    material_kg: float = Field(description="Turned blanks.")
    money: float | None = Field(description="null without shop.prices.")


class Ground(AnswerModel):
    """One neighbour of a ring, rated, and why the ring is not that."""

    kind: GroundKind
    joints: list[str] = Field(description="Joints whose ring changes, as robot/joint.")
    module_mm: float
    teeth: int
    bore_mm: float
    rim_mm: float
    heads: int = Field(description="On the joint asked about.")
    ring_part: str | None = Field(description="The part that it would be, of those that stand.")
    error_arcsec: float = Field(
        description="Error of the joint with it, on the basis of the target."
    )
    outcome: OutcomeKind = Field(
        description="breaks: some limit. costs: allowed, and worse by the wishes in their order. as good: "
        "equal by every wish. better: never of an answer that is proven."
    )
    breaks: list[LimitBroken] = Field(
        max_length=BREAKS_MOST, description="At most 20; those of the joint asked about come first."
    )
    adds: AddedTotals
    decided_by: Wish | None = Field(
        description="First wish that is not equal; null where one breaks."
    )
    text: str


#: What is changed: heads, flank class, rim, size, tooth count, placement of heads, seat, circle that sets.
ChangeKind = Literal[
    "heads", "flank_class", "rim", "larger", "teeth", "placement", "offset", "set_by"
]


class ErrorChange(AnswerModel):
    """One change, and the error of the joint with it."""

    kind: ChangeKind
    value: float = Field(
        description="New heads, flank class or teeth; mm of rim more; teeth more (larger); degrees "
        "(placement); um off centre, half of a dial's full reading (offset; of the bore: set_by)."
    )
    text: str
    error_arcsec: float = Field(
        description="Error of the joint with it, on the basis of the target."
    )
    within: bool = Field(description="Whether every other limit of the joint still holds.")
    breaks: list[str] = Field(
        description="Fields of the study whose limit it breaks, such as head_counts; empty if within."
    )


#: What would help, by robot and joint.
Advice = Mapping[tuple[str, str], Sequence[ErrorChange]]
