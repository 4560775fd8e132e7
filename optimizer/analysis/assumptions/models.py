"""What is told of the assumptions that an answer rests on."""

from __future__ import annotations

from pydantic import Field, JsonValue

from ringset.schema.answer import Answer, Status, Wish
from ringset.schema.base import AnswerModel


class Figures(AnswerModel):
    """What a study comes to; all but the status are null where it has no answer."""

    status: Status
    cutters: int | None
    ring_parts: int | None
    heads: int | None
    material_kg: float | None
    cost: float | None = Field(description="null without shop.prices.")
    margin: float | None = Field(
        description="Least of (target - error) / target over all angle targets and tool points."
    )


class AtEnd(AnswerModel):
    """One input at one end of its range, all else as the study states it."""

    value: JsonValue
    refused: str | None = Field(description="Why a study cannot state the value, if it cannot.")
    rings_keep: bool | None = Field(
        description="Whether the rings of the answer keep all limits here, as they are; null if not rated."
    )
    rings_margin: float | None = Field(
        description="What those rings have left of the nearest target, relative to it."
    )
    figures: Figures | None = Field(description="The answer here; null where it was not solved.")
    change: dict[str, float] = Field(
        description="What the figures differ by from the answer, by name; only where both have answers."
    )


class AssumedEffect(AnswerModel):
    """One assumed input, and what the ends of its range make of the answer."""

    path: str = Field(description="joints[].FIELD is all joints that leave FIELD at its default.")
    given: JsonValue = Field(description="The value that the answer rests on.")
    because: str = Field(description="Why the range is as it is.")
    stated: bool = Field(description="Whether the study states the range.")
    solved: bool = Field(description="Whether both ends were solved; else they were only rated.")
    at_low: AtEnd
    at_high: AtEnd


class Assumptions(AnswerModel):
    """The assumed inputs of a study, those that decide its answer first.

    Inputs that were solved come first, ranked by what they change: whether there is an answer, then the
    wishes in the study's order, then the margin. The others follow as the screen by rating ranks them.
    """

    title: str
    study_sha256: str
    order: list[Wish]
    answer: Figures
    inputs: list[AssumedEffect]
    open: list[str] = Field(
        description="Inputs that were to be rated or solved, and were not in the time."
    )
    repeatable: bool = Field(
        description="False if the clock ended some search, or several workers."
    )

    def to_json(self) -> str:
        """Return the ranking as JSON text."""
        return self.model_dump_json(indent=2) + "\n"


class BandInput(AnswerModel):
    """One assumed input at both ends of the band."""

    path: str
    given: JsonValue
    hopeful: JsonValue
    careful: JsonValue
    weight: float = Field(
        description="By how much more the careful end weighs: over all joints, the relative growth of the "
        "chosen ring's error and the share of rings lost, and of what tool points, batteries and lines "
        "are used; careful less hopeful."
    )


class Same(AnswerModel):
    """What is the same in all answers of the band that have rings."""

    compared: list[str] = Field(description="Which have rings: hopeful, stated, careful.")
    cutters: list[str] = Field(description="Cutters that all of them have.")
    ring_parts: list[str] = Field(description="Ring parts that all of them have.")
    sizes: dict[str, str] = Field(description="Ring of every joint that has the same in all.")
    heads: dict[str, int] = Field(description="Heads of every joint that has as many in all.")


class Band(AnswerModel):
    """The answers of a study with its assumed inputs at hopeful ends, as stated, and at careful ends."""

    title: str
    study_sha256: str
    inputs: list[BandInput]
    left_out: list[str] = Field(
        description="Ends not taken, for the study cannot state them beside the others, with reasons."
    )
    hopeful: Answer
    stated: Answer
    careful: Answer
    same: Same
    causes: list[str] = Field(
        description="Where the careful end is impossible: inputs that must stay as stated for there to be an "
        "answer with all others at their careful ends. With any one of them careful too there is none."
    )
    causes_alone: list[str] = Field(
        description="Those of them that make the study impossible alone, all others as stated."
    )
    causes_open: bool = Field(
        description="Whether the time ended before all had been tried: `causes` may then hold too many."
    )

    def to_json(self) -> str:
        """Return the band as JSON text."""
        return self.model_dump_json(indent=2) + "\n"
