"""What comes out of a front: its points and what was searched. Knows no search."""

from __future__ import annotations

from pydantic import Field

from optimizer.answer import Answer, Piece, Wish


class Point(Piece):
    """One answer of the front."""

    targets_arcsec: list[float] = Field(
        description="Angle targets on whose front it stands, loosest first."
    )
    study: dict[str, object] = Field(
        description="The study it is the answer to: yours, with this cell's ceilings and order of wishes."
    )
    answer: Answer
    step: str = Field(description="What it changes against the point before it, in words.")


class Cell(Piece):
    """One set of ceilings that was searched, and what is proven of it."""

    target_arcsec: float
    ceilings: dict[Wish, int]
    amount: int = Field(description="Least of the minimised wish, in its whole units.")
    bound: int
    proven: bool


class Front(Piece):
    """Every answer that no other beats on the wishes `over`, from cheapest to most accurate."""

    title: str
    study_sha256: str
    over: list[Wish]
    targets_arcsec: list[float]
    points: list[Point]
    cells: list[Cell]
    complete: bool = Field(description="No point is missing: every cell is proven.")
    open: list[str] = Field(description="What is not proven, if it is not complete.")
    impossible: list[str] = Field(description="Targets without any answer, with the reasons.")

    def to_json(self) -> str:
        """Return the front as JSON text, the same bytes for the same front."""
        return self.model_dump_json(indent=2) + "\n"
