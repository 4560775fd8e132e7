"""What comes out, second part: what was searched, and what is proven of every wish."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from ringset.schema.base import AnswerModel
from ringset.schema.study import Wish

Confirmation = Literal["multipliers", "listing", "halves", "second engine", "nothing"]
Label = Annotated[str, StringConstraints(max_length=200, pattern=r"^[^\x00-\x1f\x7f-\x9f]*$")]
#: Over all that are built.
Money = Annotated[float, Field(ge=0.0, le=1e30)]
Count = Annotated[int, Field(ge=0, le=2**53)]
CountFromOne = Annotated[int, Field(ge=1, le=2**53)]
#: A wish in whole units; they are kept far below 2^63.
Whole = Annotated[int, Field(ge=0, le=2**62)]


def _absent(value: object) -> bool:
    return value is None


def _no(value: object) -> bool:
    return not value


class GivenUp(AnswerModel):
    """What `wishes.give` did to a wish: its least, what it might come to, and that no more is given up."""

    least: Whole = Field(description="What the wish came to alone; `bound` of the stage proves it.")
    allowed: Whole | None = Field(
        description="What it might come to while later wishes were minimised; null by a rate."
    )
    bound: Whole = Field(
        description="Nothing below is possible with all other wishes as they came out."
    )
    confirmed_by: Confirmation = Field(description="Second route to that bound.")


class WeighedStage(AnswerModel):
    """The sum in which a wish was minimised with the one before it, which `wishes.give` rates."""

    wish: Wish = Field(description="The wish before it.")
    weight: CountFromOne = Field(description="How often a whole unit of that wish counts.")
    own_weight: CountFromOne = Field(description="How often a whole unit of this wish counts.")
    value: Whole = Field(description="What the sum came to.")
    bound: Whole = Field(description="No smaller sum is possible with the wishes before both held.")


class Stage(AnswerModel):
    """One wish of the search and its proof.

    `given` and `weighed` are there only where the study's `wishes.give` asks for them.
    """

    wish: Wish
    unit: Label
    value: Whole = Field(description="Reached, in whole units.")
    bound: Whole = Field(description="Nothing below is possible with the wishes before it held.")
    confirmed_by: Confirmation = Field(
        description="Second route to the bound: multipliers of the limits checked in exact arithmetic, "
        "the same with a list of the few answers that could still be better, multipliers of every part "
        "into which the rest was split, or another engine that finds the same optimum of the same rows."
    )
    given: GivenUp | None = Field(
        default=None,
        exclude_if=_absent,
        description="Of a wish that may be given up: `bound` and `confirmed_by` are then of its least, "
        "`value` is what the answer comes to.",
    )
    weighed: WeighedStage | None = Field(
        default=None,
        exclude_if=_absent,
        description="Of a wish minimised with the one before it by a rate: `bound` is then what the sum "
        "leaves beside what the answer takes of that one.",
    )

    agreed: bool = Field(
        default=False,
        exclude_if=_no,
        description="The search engines agree that nothing less is possible, and no certificate of it was "
        "verified. Absent where one was, and where value and bound differ.",
    )

    @property
    def proven(self) -> bool:
        """Nothing less is possible, by a certificate that was verified."""
        return self.settled and not self.agreed

    @property
    def settled(self) -> bool:
        """Nothing less is possible, and where some is given up, no more than needed; each confirmed."""
        sum_proven = self.weighed is None or self.weighed.value == self.weighed.bound
        confirmed = self.confirmed_by != "nothing" and sum_proven
        if self.given is None:
            return confirmed and self.value == self.bound
        brought_down = self.value == self.given.bound and self.given.confirmed_by != "nothing"
        return confirmed and self.given.least == self.bound and brought_down


class Proof(AnswerModel):
    """What was searched and what is proven."""

    stages: Annotated[list[Stage], Field(max_length=5)]
    material_unit_kg: Annotated[float, Field(ge=0.0, le=1e20)] = Field(
        description="Material is counted per ring in whole units of this, rounded up."
    )
    cost_unit: Money = Field(
        description="Money is counted per ring in whole units of this, rounded up; so is that of every "
        "ring part and cutter. 0 without shop.prices."
    )
    rings_possible: Count = Field(description="Rings that fit some joint inside all its limits.")
    rows_possible: Count = Field(
        description="Rings times joints times head counts inside all limits."
    )
    rows_searched: Count = Field(description="Rows left after the exact reduction.")
    seed: Annotated[int, Field(ge=0, le=2_147_483_647)]
    workers: Annotated[int, Field(ge=1, le=64)]
    repeatable: bool = Field(
        description="False if the clock or several workers steered the search."
    )
    versions: dict[Label, Label]
