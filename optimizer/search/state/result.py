"""What a search gives back: of one wish, of all wishes, of the search for any answer at all."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from ringset.reduction.table import FirstRows
from ringset.schema.study import Wish

#: What confirms a bound: exact multipliers, a list of all answers that are left, multipliers of the parts
#: into which the rows left were split (by cutter, component or node), the second engine, or nothing.
#: The words stand in answers and certificates.
Confirmation = Literal["multipliers", "listing", "halves", "second engine", "nothing"]


@dataclass(frozen=True)
class StageResult:
    """One wish: value reached, bound (both in its whole units), and the second route that confirms it."""

    wish: Wish
    value: int
    bound: int
    confirmed_by: Confirmation

    @property
    def proven(self) -> bool:
        """Nothing below the value is possible, by two routes."""
        return self.value == self.bound and self.confirmed_by != "nothing"


@dataclass
class Choice:
    """Outcome of the search: status, chosen rows, wishes in turn, and why it stopped short, if it did."""

    status: str
    rows: FirstRows = field(default_factory=lambda: FirstRows(np.empty(0, dtype=np.intp)))
    stages: list[StageResult] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    clock_ended: bool = False
    rows_searched: int = 0


@dataclass
class Start:
    """Some answer to begin with, or why there is none (impossible, or undecided)."""

    rows: FirstRows | None
    status: str = "found"
    reasons: list[str] = field(default_factory=list)


def unproven_reason(stage: StageResult) -> str:
    """Say in words why a wish is not proven."""
    if stage.value != stage.bound:
        return f"{stage.wish}: {stage.value} found, at least {stage.bound} proven; search ended"
    return f"{stage.wish}: {stage.value} proven by one engine, not confirmed by the second"
