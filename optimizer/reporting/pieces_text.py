"""Cutters and ring parts as people read them: which of them count, and which are there already."""

from __future__ import annotations

from ringset.schema.standing import Counting
from ringset.schema.totals import Totals
from ringset.wording import count


def pieces_text(totals: Totals) -> str:
    """Return how many cutters and ring parts an answer has, such as `1 new cutter (1 owned)`."""
    cutters = _text(totals.cutters, "cutter", totals.cutters_owned, "owned", totals)
    parts = _text(
        totals.ring_parts, "ring part", totals.parts_in_production, "in production", totals
    )
    return f"{cutters}, {parts}"


def counted_note(counted: Counting | None) -> str | None:
    """Return which cutters and ring parts are counted, in a sentence; None where none stands already."""
    if counted is None:
        return None
    if counted == "new":
        return (
            "Cutters and ring parts that count are new ones: cutters owned and parts in production do not "
            "count (wishes.count new)."
        )
    return "Cutters owned and parts in production count like new ones (wishes.count all); they cost nothing."


def _text(counted: int, noun: str, there: int, word: str, totals: Totals) -> str:
    if totals.counted is None:
        return count(counted, noun)
    if totals.counted == "new":
        more = f" ({there} {word})" if there else ""
        return count(counted, f"new {noun}") + more
    return count(counted, noun) + (f" ({there} of them {word})" if there else "")
