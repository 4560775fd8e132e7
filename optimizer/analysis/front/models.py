"""What a front is: its points, the searches that settle its cells, and what stays open."""

from __future__ import annotations

from pydantic import Field

from ringset.schema.answer import Answer, Confirmation, Wish
from ringset.schema.base import AnswerModel


class Point(AnswerModel):
    """One answer of the front."""

    targets_arcsec: list[float] = Field(
        description="Angle targets on whose front it stands, loosest first."
    )
    study: dict[str, object] = Field(
        description="The study it is the answer to: yours, with this cell's ceilings and order of wishes."
    )
    answer: Answer
    step: str = Field(description="What it changes against the point before it, in words.")


class Cell(AnswerModel):
    """One search: the least of a wish under the ceilings of a cell.

    A cell of the grid is settled by the least of `Front.minimised` under its own or looser ceilings, if a
    point reaches it within the cell, or by the least of a count that passes the cell's ceiling.
    """

    target_arcsec: float
    ceilings: dict[Wish, int] = Field(description="In whole units of each wish.")
    ceiling_unit: str = Field(
        default="", description="Unit of the ceiling on an amount; empty where none is among them."
    )
    wish: Wish = Field(description="The wish that was minimised under these ceilings.")
    value: int = Field(description="What was reached, in the wish's whole units.")
    unit: str = Field(description="Its unit; empty for counts.")
    bound: int = Field(description="No answer within the ceilings comes to less.")
    confirmed_by: Confirmation = Field(description="What confirms the bound.")
    settled: bool = Field(
        description="Value and bound are equal, as two routes of the search agree. Of a cell that is a "
        "point, the answer of the point says whether a certificate of it was verified."
    )


class Front(AnswerModel):
    """Every answer that no other beats on the wishes `over`.

    Points stand by target, loosest first, then by the wishes in their order, least first.
    """

    title: str
    study_sha256: str
    over: list[Wish]
    minimised: Wish = Field(description="The wish of `over` that is minimised in every cell.")
    step_percent: float | None = Field(
        default=None,
        description="Of fronts over both material and cost: material comes down by so many percent at a "
        "time, 0 where every point is told; null for other fronts.",
    )
    targets_arcsec: list[float] = Field(description="The angle targets, loosest first.")
    points: list[Point]
    cells: list[Cell]
    complete: bool = Field(
        description="No point is missing: every cell is settled, as the search engines agree."
    )
    open: list[str] = Field(description="What is not settled, if it is not complete.")
    notes: list[str] = Field(
        default_factory=list, description="What to know of it, such as prices that count nothing."
    )
    impossible: list[str] = Field(description="Targets without any answer, with the reasons.")

    def to_json(self) -> str:
        """Return the front as JSON text, the same bytes for the same front."""
        return self.model_dump_json(indent=2) + "\n"
