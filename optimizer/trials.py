"""What is tried beside the rings that stand, and what comes of it: as data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from pydantic import Field

from optimizer.answer import Piece


class StandingRing(Piece):
    """A ring that stands on a joint: what must be known of it to rate it, and others beside it."""

    robot: str = Field(max_length=200)
    joint: str = Field(max_length=200)
    module_mm: float = Field(ge=0.05, le=50.0, description="One of the shop's modules.")
    teeth: int = Field(ge=1, le=10_000)
    bore_mm: float = Field(gt=0.0, le=5000.0, description="On the shop's bore step.")
    heads: int = Field(ge=1, le=8, description="One of the joint's head counts.")


class Ring(NamedTuple):
    """A ring with its heads, as the catalogue counts: place of the module, teeth, bore steps, heads."""

    module: int
    teeth: int
    bore_steps: int
    heads: int


@dataclass(frozen=True)
class Trial:
    """Other rings on some joints, by the joints' places in the canonical study; the one asked about first.

    `of` is a joint whose ring part it shall be: the same part has the same face width.
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
    joints fills its limit, 1 where all hold. `counted` holds whole units in the order of the study's
    wishes; the rest are pieces, kg and money.
    """

    trial: Trial
    rows: tuple[int, ...]
    allowed: bool
    kept: int
    strain: float
    counted: tuple[int, ...]
    cutters: int
    ring_parts: int
    heads: int
    material_kg: float
    money: float

    @property
    def order(self) -> tuple[float, ...]:
        """Sort key: allowed ones by the wishes, then those that break least."""
        if self.allowed:
            return (0, *self.counted)
        return (1, -self.kept, self.strain, *self.counted)
