"""A step in words: "one head more: 0.98 kg less", or "one head more gains nothing"."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ringset.analysis.next_steps.models import StepValue
from ringset.schema.study import Wish
from ringset.wording import PIECES, wording_of_count_change, wording_of_mass_change


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
    return f"{more}: {', '.join(_changes(values[1:], currency))}{proven}"


def _changes(values: Sequence[StepValue], currency: str) -> Iterator[str]:
    for value in values:
        if value.wish in PIECES and value.difference:
            yield wording_of_count_change(int(value.difference), PIECES[value.wish])
        elif value.wish == "material" and abs(value.difference) > 1e-9 * value.before:
            yield wording_of_mass_change(value.difference)
        elif value.wish == "cost" and abs(value.difference) > 1e-9 * value.before:
            word = "more" if value.difference > 0.0 else "less"
            amount = f"{abs(value.difference):.2f} {currency}".rstrip()
            yield f"{amount} {word} cost" if not currency else f"{amount} {word}"
