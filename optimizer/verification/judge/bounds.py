"""The judge's limits on one ring: whether they are kept, and whether the stated margins are theirs."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from ringset.physics.limit_rule import number_at_least, number_at_most
from ringset.schema.answer import JointRing
from ringset.verification.judge.agreement import AGREEMENT


@dataclass(frozen=True)
class Bound:
    """One limit on one ring: `sign` is 1 for an upper, -1 for a lower limit."""

    words: str
    value: float
    limit: str
    allowed: float
    unit: str
    sign: int

    @property
    def margin(self) -> float:
        """Distance to the limit, negative where it is broken."""
        return self.sign * (self.allowed - self.value)


def judge_bounds(bounds: list[Bound]) -> Iterator[str]:
    """Check every limit."""
    for b in bounds:
        kept = (
            number_at_most(b.value, b.allowed)
            if b.sign > 0
            else number_at_least(b.value, b.allowed)
        )
        if not kept:
            side = "above" if b.sign > 0 else "below"
            yield f"{b.words} {b.value:.6g}: {side} {b.limit} {b.allowed:.6g}"


def judge_margins(ring: JointRing, bounds: list[Bound]) -> Iterator[str]:
    """Check the margins that the answer states: all of them, and nothing else."""
    stated = {margin.limit: margin for margin in ring.margins}
    expected = {bound.limit: bound for bound in bounds}
    if sorted(m.limit for m in ring.margins) != sorted(expected):
        yield f"margins: {sorted(stated)} stated, {sorted(expected)} wanted"
    for limit in stated.keys() & expected.keys():
        margin, bound = stated[limit], expected[limit]
        for name in ("value", "allowed", "margin"):
            given, value = getattr(margin, name), getattr(bound, name)
            if not math.isclose(given, value, rel_tol=AGREEMENT, abs_tol=1e-9):
                yield f"margin of {limit}: {name} {given!r} stated, {value!r} recomputed"
        if margin.unit != bound.unit:
            yield f"margin of {limit}: unit {margin.unit!r} stated, {bound.unit!r} wanted"
