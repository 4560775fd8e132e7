"""When a number that an answer states is the one that the judge recomputes, and how stated numbers add up."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

#: Restated values must agree to this relative tolerance: both sides compute in double precision.
AGREEMENT = 1e-9


def judge_number(name: str, given: float, value: float) -> Iterator[str]:
    """Yield a violation if a stated number is not the recomputed one."""
    if not math.isclose(given, value, rel_tol=AGREEMENT, abs_tol=1e-12):
        yield f"{name}: {given!r} stated, {value!r} recomputed"


def judged_sum(values: Iterable[float]) -> float:
    """Return the sum of numbers of an answer; NaN, which agrees with nothing, beyond what can be added."""
    known = list(values)
    return math.fsum(known) if all(abs(value) < 1e290 for value in known) else math.nan
