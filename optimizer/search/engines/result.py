"""What an engine gives back."""

from __future__ import annotations

from dataclasses import dataclass

from ringset.arrays import Ints


@dataclass(frozen=True)
class Solved:
    """What an engine gave: its status (OPTIMAL, FEASIBLE, INFEASIBLE, UNKNOWN), columns, bound.

    NOTHING WITHIN: no answer has a value within the band asked for; others may. `reason` tells what kept
    the engine from knowing more, if that was not the time.
    """

    status: str
    x: Ints | None
    bound: int | None = None
    reason: str = ""
