"""What a search gives back: of one wish, of all wishes, of the search for any answer at all."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from ringset.reduction.table import FirstRows
from ringset.schema.gives import Aim, WeighedSum
from ringset.schema.study import Wish

#: What confirms a bound: exact multipliers, a list of all answers that are left, multipliers of the parts
#: into which the rows left were split (by cutter, component or node), the second engine, or nothing.
#: The words stand in answers and certificates.
Confirmation = Literal["multipliers", "listing", "halves", "second engine", "nothing"]


@dataclass(frozen=True)
class GivenUp:
    """A wish of which some is given up: its least alone, what it was then held at, and its last bound.

    `least` and `allowed` (None by a rate) are in whole units. `bound` is proven of what the wish comes to
    with all other wishes held as they came out, and `confirmed_by` the second route to it.
    """

    least: int
    allowed: int | None
    bound: int
    confirmed_by: Confirmation


@dataclass(frozen=True)
class Weighed:
    """A sum of two wishes that was minimised in place of the later: value and bound in its units."""

    sum: WeighedSum
    value: int
    bound: int


@dataclass(frozen=True)
class StageResult:
    """One wish: value reached, bound (both in its whole units), and the second route that confirms it.

    With `sum`, both are those of the sum of this wish and the one before it. With `given`, the bound is that
    of the least and the value that of the answer; with `weighed`, the bound is what the sum leaves to this
    wish beside what the answer takes of the other.
    """

    wish: Wish
    value: int
    bound: int
    confirmed_by: Confirmation
    sum: WeighedSum | None = None
    given: GivenUp | None = None
    weighed: Weighed | None = None
    reason: str = ""

    @property
    def aim(self) -> Aim:
        """What was minimised: the wish, or the sum."""
        return self.wish if self.sum is None else self.sum

    @property
    def proven(self) -> bool:
        """Nothing below the value is possible, by two routes, and no more is given up than needed."""
        if self.given is not None:
            least = self.given.least == self.bound and self.confirmed_by != "nothing"
            again = self.value == self.given.bound and self.given.confirmed_by != "nothing"
            return least and again
        if self.weighed is not None and self.weighed.value != self.weighed.bound:
            return False
        return self.value == self.bound and self.confirmed_by != "nothing"

    def of_later(self, other: int) -> StageResult:
        """Return the stage of the later wish of a sum whose other wish comes to `other`."""
        joined = self.sum
        if joined is None:
            return self
        left = self.bound - joined.weight * other
        return replace(
            self,
            bound=max(0, -(-left // joined.later_weight)),
            sum=None,
            weighed=Weighed(joined, self.value, self.bound),
        )


def search_stage_result(
    aim: Aim, value: int, bound: int, confirmed_by: Confirmation
) -> StageResult:
    """Return the outcome for a wish, or for the sum of a wish and the one before it."""
    if isinstance(aim, WeighedSum):
        return StageResult(aim.later, value, bound, confirmed_by, sum=aim)
    return StageResult(aim, value, bound, confirmed_by)


@dataclass
class Choice:
    """Outcome of the search: status, chosen rows, wishes in turn, and why it stopped short, if it did.

    `searched` is what was minimised on the way, each wish alone or in its sum.
    """

    status: str
    rows: FirstRows = field(default_factory=lambda: FirstRows(np.empty(0, dtype=np.intp)))
    stages: list[StageResult] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    clock_ended: bool = False
    rows_searched: int = 0
    searched: list[StageResult] = field(default_factory=list)


@dataclass
class Start:
    """Some answer to begin with, or why there is none (impossible, or undecided)."""

    rows: FirstRows | None
    status: str = "found"
    reasons: list[str] = field(default_factory=list)


def search_unproven_reason(stage: StageResult) -> str:
    """Say in words why a wish is not proven."""
    ended = stage.reason or "search ended"
    if stage.given is not None:
        least, given = stage.given.least, stage.given
        if least != stage.bound or stage.value == given.bound:
            return search_unproven_reason(replace(stage, value=least, given=None))
        return f"{stage.wish}: {stage.value} kept, {given.bound} perhaps enough; {ended}"
    if stage.value != stage.bound:
        return f"{stage.wish}: {stage.value} found, at least {stage.bound} proven; {ended}"
    return f"{stage.wish}: {stage.value} proven by one engine, not confirmed by the second"
