"""Smallest sets: those that contain no other, those that meet every one, those that are not possible.

Members are whole numbers; what they stand for is known only to whoever asks. `possible` is an oracle that
says whether the things in a set can hold together; what holds together holds with fewer of them too.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable

#: Most sets held while smallest ones are worked out.
SETS_MAX = 20_000

Members = frozenset[int]
Possible = Callable[[Members], bool]


def smallest_impossible_sets(sets: Iterable[Members]) -> list[Members]:
    """Return the sets that contain no other of them, the fewest members first."""
    kept: list[Members] = []
    for one in sorted(set(sets), key=lambda s: (len(s), sorted(s))):
        if not any(other <= one for other in kept):
            kept.append(one)
    return kept


def impossible_transversals(sets: list[Members]) -> tuple[list[Members], bool]:
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


def minimal_impossible_sets(
    possible: Possible, members: int, most: int, ends: float
) -> tuple[list[Members], bool]:
    """Return the smallest sets of `members` numbers that are not possible, and whether these are all.

    What a possible set leaves out must meet every set that is not possible. So the smallest sets that meet
    all that has been left out so far are asked one by one: each is one of those looked for, or it is
    possible and, grown as far as it goes, leaves out something new. Ends when none is left to ask, after
    more than `most` were found, or at the time `ends` of the steady clock (s). Raises what the oracle raises.
    """
    everything = frozenset(range(members))
    left_out: list[Members] = []
    if possible(everything):
        return [], True
    found = {shrink_impossible_set(possible, everything)}
    while time.monotonic() < ends:
        candidates, whole = impossible_transversals(left_out)
        unasked = [one for one in candidates if one not in found]
        if not unasked:
            return list(found), whole
        if len(found) > most:
            break
        one = unasked[0]
        if possible(one):
            left_out = smallest_impossible_sets(
                [*left_out, everything - grown_possible_set(possible, one, everything)]
            )
        else:
            found.add(shrink_impossible_set(possible, one))
    return list(found), False


def shrink_impossible_set(possible: Possible, members: Members) -> Members:
    """Return what is left when members are dropped, one by one, as long as the rest is not possible."""
    for one in sorted(members, reverse=True):
        if not possible(members - {one}):
            members = members - {one}
    return members


def grown_possible_set(possible: Possible, members: Members, everything: Members) -> Members:
    """Return the members with others of `everything` added, one by one, as long as all are possible."""
    for one in sorted(everything - members):
        if possible(members | {one}):
            members = members | {one}
    return members
