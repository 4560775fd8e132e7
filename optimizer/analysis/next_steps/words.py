"""A step in words: "one head more: 0.98 kg less", or "one head more gains nothing"."""

from __future__ import annotations

from collections.abc import Sequence

from ringset.analysis.next_steps.models import StepValue
from ringset.schema.study import Wish
from ringset.wording import PIECES, wording_of_count_change, wording_of_wish_changes


def next_step_words(
    wish: Wish, allowed: int, values: Sequence[StepValue], gains: bool, currency: str
) -> str:
    """Return what a step buys; `allowed` are pieces, or percent of material or money."""
    more = (
        wording_of_count_change(allowed, PIECES[wish])
        if wish in PIECES
        else f"{allowed} % more {wish}"
    )
    proven = "" if all(value.settled for value in values) else " (not proven)"
    if not gains:
        return f"{more} gains nothing{proven}"
    later = ((value.wish, value.before, value.difference) for value in values[1:])
    return f"{more}: {', '.join(wording_of_wish_changes(later, currency))}{proven}"
