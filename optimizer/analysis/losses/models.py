"""The losses as data: what is lost, the best answer without it, what that costs, and how sure it is."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from ringset.schema.answer import SETTLED, Answer, Label, Sha256, Status, Text
from ringset.schema.answer_types import Difference, WishAmount
from ringset.schema.base import AnswerModel
from ringset.schema.ranking import Wish
from ringset.schema.standing import Counting

LossKind = Literal["cutter", "head", "ring part", "bar", "tube", "plate"]


class LossValue(AnswerModel):
    """One wish with and without the thing that is lost, in its own unit: pieces, kg or money."""

    wish: Wish
    before: WishAmount
    after: WishAmount
    difference: Difference = Field(description="after less before.")
    state: Literal["proven", "agreed", "open", "not ranked"] = Field(
        description="Whether nothing less is possible without the thing: proven by a certificate that was "
        "verified on the rings left, agreed on by the search engines, or not known. not ranked: the study "
        "does not wish for it."
    )


class BlankInstead(AnswerModel):
    """A ring part of the answer that is turned from another stock size."""

    ring_part: Label
    before: Label
    after: Label
    bought_more_kg: Difference = Field(description="More to buy, over all pieces; may be below 0.")


class Loss(AnswerModel):
    """One thing of the answer that is lost, and the best answer of the study without it."""

    kind: LossKind
    name: Label = Field(
        description="C1 or R1 as in the answer; head or heads.NAME as in the study; of a stock size its "
        "diameters, or the thickness of a plate, in mm."
    )
    thing: Label = Field(description="What it is, in words.")
    joints: list[Label] = Field(description="Joints that use it, as robot/joint.")
    text: Text = Field(description="What its loss costs, in words.")
    status: Status = Field(
        description="Of the best answer without it: proven (by a certificate verified on the rings left), "
        "agreed (by the search engines), found, impossible or undecided."
    )
    stays: bool = Field(
        description="Whether the answer stays as it is: another stock size suits all that it was for."
    )
    reasons: list[Text] = Field(description="Why nothing is possible without it, or not proven.")
    values: Annotated[list[LossValue], Field(max_length=5)] = Field(
        description="Those in the study's order first, then those that it does not rank; empty where "
        "nothing is possible or known."
    )
    blanks: list[BlankInstead] = Field(
        description="Of a stock size without which the answer stays: what its ring parts are turned from."
    )
    answer: Answer | None = Field(
        description="The best answer without it, as one of the study itself: found, for with the thing the "
        "study may have a better one, and nothing is claimed of it. null where the answer stays, and where "
        "there is none."
    )


class Losses(AnswerModel):
    """What the loss of each cutter, head, ring part and stock size of an answer costs."""

    title: Label
    study_sha256: Sha256
    status: Status = Field(description="Status of the answer of which something is lost.")
    order: list[Wish] = Field(description="The wishes in the order in which they count.")
    counted: Counting | None = Field(
        default=None,
        exclude_if=lambda counted: counted is None,
        description="Whether cutters and ring parts that count are new ones or all, as in the totals.",
    )
    losses: list[Loss] = Field(description="Cutters, heads, ring parts, then stock sizes.")
    open: list[Text] = Field(description="What is not solved or not known, and why.")
    repeatable: bool = Field(
        description="False if the clock, or several workers, may have decided something."
    )

    @property
    def complete(self) -> bool:
        """Whether it is known of every thing what its loss costs, or nothing is there to be lost."""
        return self.status == "impossible" or (self.status in SETTLED and not self.open)

    def to_json(self) -> str:
        """Return the losses as JSON text, the same bytes for the same losses."""
        return self.model_dump_json(indent=2) + "\n"
