"""The steps as data: what was allowed, what every later wish comes to then, and what is proven of it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from ringset.schema.answer import SETTLED, Answer, Label, Sha256, Status, Text
from ringset.schema.answer_types import Difference, WishAmount
from ringset.schema.base import AnswerModel
from ringset.schema.ranking import StatedGive, Wish


class StepValue(AnswerModel):
    """One wish before and after a step, in its own unit: pieces, kg or money."""

    wish: Wish
    before: WishAmount
    after: WishAmount
    difference: Difference = Field(description="after less before.")
    proven: bool = Field(
        description="Whether a verified certificate shows that nothing less is possible under what the step "
        "allows."
    )
    settled: bool = Field(description="Whether that is proven, or the search engines agree on it.")


class WishStep(AnswerModel):
    """One wish allowed a little more, and the study solved anew for the wishes after it."""

    wish: Wish = Field(description="The wish that is allowed more.")
    allowed: Annotated[int, Field(ge=1, le=2**53)] = Field(
        description="How much more: pieces of a counted wish, percent of material or cost."
    )
    text: Text = Field(description="What the step buys, in words.")
    give: dict[Wish, StatedGive] = Field(
        description="The step as `wishes.give` of the study: solving that study gives the step's answer."
    )
    gains: bool = Field(description="Whether some later wish comes to less.")
    proven: bool = Field(description="Whether every value is proven, by a verified certificate.")
    settled: bool = Field(
        description="Whether every value is proven, or the search engines agree that it is least."
    )
    values: Annotated[list[StepValue], Field(max_length=5)] = Field(
        description="This wish and those after it, in their order. Those before it stay as they are."
    )


class WishSteps(AnswerModel):
    """What a little more of each wish would buy, beside the answer to a study."""

    title: Label
    study_sha256: Sha256
    status: Status = Field(description="Status of the answer that the steps start from.")
    order: list[Wish] = Field(description="The wishes in the order in which they count.")
    steps: Annotated[list[WishStep], Field(max_length=4)] = Field(
        description="One for every wish but the last, as far as they were solved."
    )
    open: list[Text] = Field(description="What was not solved, and why.")

    @property
    def complete(self) -> bool:
        """Whether every step that has a sense was solved, or there is none because nothing is possible."""
        return self.status == "impossible" or (self.status in SETTLED and not self.open)


class SolvedStep(AnswerModel):
    """A step with its whole answer, to the study with the step's give."""

    step: WishStep
    answer: Answer
