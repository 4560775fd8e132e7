"""Smallest sets of things: those that contain no other, and those that meet every one."""

from __future__ import annotations

from collections.abc import Iterable

from ringset.infeasibility.models import SETS_MAX, Members


def smallest(sets: Iterable[Members]) -> list[Members]:
    """Return the sets that contain no other of them."""
    kept: list[Members] = []
    for one in sorted(set(sets), key=lambda s: (len(s), sorted(s))):
        if not any(other <= one for other in kept):
            kept.append(one)
    return kept


def transversals(sets: list[Members]) -> tuple[list[Members], bool]:
    """Return the smallest sets that meet every one of `sets`, and whether these are all (SETS_MAX).

    Set by set: what meets it already stays, the rest takes one of its members, and is kept where every
    member is the only one that meets some set (Berge's way). No set at all is met by the empty one.
    """
    found: list[Members] = [frozenset()]
    whole = True
    for place, one in enumerate(sets):
        meeting = [t for t in found if t & one]
        grown = {t | {m} for t in found if not t & one for m in one}
        done = sets[: place + 1]
        meeting += [t for t in sorted(grown, key=sorted) if _all_needed(t, done)]
        whole = whole and len(meeting) <= SETS_MAX
        found = meeting[:SETS_MAX]
    return sorted(found, key=lambda t: (len(t), sorted(t))), whole


def _all_needed(members: Members, sets: list[Members]) -> bool:
    """Say whether each member is the only one that meets some set."""
    alone = {next(iter(met)) for one in sets if len(met := members & one) == 1}
    return alone == members
