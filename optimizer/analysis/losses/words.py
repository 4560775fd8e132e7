"""A loss in words: "one cutter more, 45 g more", "impossible: ...", or that the answer stays."""

from __future__ import annotations

from collections.abc import Sequence

from ringset.analysis.losses.models import BlankInstead, LossValue
from ringset.schema.answer import Status
from ringset.wording import wording_of_mass_change, wording_of_wish_changes

#: Joints, and reasons, that a text names.
TOLD = 12
_SURE = {"agreed": " (agreed, not proven)", "found": " (not known to be the least)"}


def lost_joints_words(joints: Sequence[str]) -> str:
    """Return the first of some joints, and how many more there are."""
    more = len(joints) - TOLD
    return ", ".join(joints[:TOLD]) + (f" and {more} more" if more > 0 else "")


def loss_words(
    status: Status, values: Sequence[LossValue], reasons: Sequence[str],
    blanks: Sequence[BlankInstead], currency: str,
) -> str:  # fmt: skip
    """Return what a loss costs; `blanks` are there only where the answer stays as it is."""
    if status in ("impossible", "undecided"):
        more = len(reasons) - TOLD
        told = "; ".join(reasons[:TOLD]) + (f"; and {more} more reasons" if more > 0 else "")
        return f"{'impossible' if status == 'impossible' else 'not known'}: {told}"
    if blanks:
        return f"the answer stays as it is; {', '.join(map(_blank_words, blanks))}"
    changes = wording_of_wish_changes(
        ((value.wish, value.before, value.difference) for value in values), currency
    )
    told = ", ".join(changes) or "costs nothing: another answer comes to the same"
    return told + _SURE.get(status, "")


def _blank_words(blank: BlankInstead) -> str:
    change = wording_of_mass_change(blank.bought_more_kg)
    return f"{blank.ring_part} is turned from {blank.after}, {change} to buy"
