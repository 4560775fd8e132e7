"""Rows of rings that no answer with few ring parts can use, found by the check itself.

The theorem is that of `reduction/least_covers`: an answer that uses a ring needs as many other rings as the
joints that this one does not serve need at least, within its own component of joints and in all others. The
search finds those numbers its own way; this is a second way, so that neither has to be believed.

Joints that a ring part serves which stands already, and does not count, need none: they are left out of all
that is served, and a ring that serves nobody else is one more beside all that the others need.

How many sets serve some joints at least is settled by trying, for the joint that fewest sets serve, every set
that serves it. Where the tries end, so many sets are taken to serve: too few are then found to be needed,
never too many, and rows stay.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ringset.arrays import Mask
from ringset.reduction.reduce import reduce
from ringset.reduction.table import Table
from ringset.schema.study import Wish

#: Tries for all components together, and again for all rings together.
TRIES = 20_000
#: Joints beyond which no rows leave, as in the search.
JOINTS_MAX = 120


def certificate_covered_table(
    table: Table, needed: frozenset[Wish], cutters: int | None, parts: int | None
) -> Table:
    """Return the rows that the exact reduction and this theorem leave in turn.

    `cutters` and `parts` are the most that an answer may have of cutters and ring parts, None for any number.
    An answer of one cutter has all its ring parts from that cutter's rows and those that need none.
    """
    owners = np.unique(table.cutter[table.cutter >= 0])
    if parts is None:
        return reduce(table, needed)
    if cutters != 1 or len(owners) < 2:
        return _in_turn(table, needed, parts)
    left = [
        _in_turn(table.take((table.cutter == one) | (table.cutter < 0)), needed, parts).index
        for one in owners
    ]
    return table.take(np.isin(table.index, np.concatenate(left)))


def _in_turn(table: Table, needed: frozenset[Wish], parts: int) -> Table:
    """Return the rows left of one cutter, or of all; none where some joint has no row."""
    before = len(table) + 1
    while len(table) < before:
        before = len(table)
        if len(np.unique(table.joint)) < table.joints:
            return table.take(np.zeros(len(table), dtype=np.bool_))
        table = reduce(table, needed)
        table = table.take(certificate_rows_of_few_rings(table, parts))
    return table


def certificate_rows_of_few_rings(table: Table, most: int, tries: int = TRIES) -> Mask:
    """Return which rows an answer with at most `most` ring parts could use.

    All rows stay where some ask for two rings.
    """
    if len(table) == 0 or table.second is not None or table.joints > JOINTS_MAX:
        return np.ones(len(table), dtype=np.bool_)
    serves: dict[int, int] = {}
    pairs = np.unique(table.ring * table.joints + table.joint)
    for pair in pairs.tolist():
        ring, joint = divmod(pair, table.joints)
        serves[ring] = serves.get(ring, 0) | 1 << joint
    stands = {ring for ring in serves if not table.part_weight[ring]}
    free = 0
    for ring in stands:
        free |= serves[ring]
    serves = {ring: kind & ~free for ring, kind in serves.items() if ring not in stands}
    kinds = {kind for kind in serves.values() if kind}
    of = {joints: _Component(kinds, joints) for joints in _tied(kinds)}
    least = {joints: component.needed(joints, tries // len(of)) for joints, component in of.items()}
    room = most - sum(least.values())
    useful = {0} if room >= 1 else set()
    for kind in kinds:
        mine = next(joints for joints in of if joints & kind)
        # the ring is one of those that its own component may have
        if of[mine].may_serve(mine & ~kind, least[mine] + room - 1, tries // len(kinds)):
            useful.add(kind)
    rings = [ring for ring, kind in serves.items() if kind in useful]
    return np.isin(table.ring, [*rings, *(stands if room >= 0 else ())])


def _tied(kinds: Iterable[int]) -> list[int]:
    """Return the joints of every component, as bits."""
    apart: list[int] = []
    for kind in kinds:
        joined = kind
        for other in [one for one in apart if one & kind]:
            apart.remove(other)
            joined |= other
        apart.append(joined)
    return apart


def _in_no_other(kinds: list[int]) -> list[int]:
    return [
        kind for kind in kinds if not any(kind != other and kind & ~other == 0 for other in kinds)
    ]


class _Component:
    """What rings serve of the joints of one component."""

    def __init__(self, kinds: Iterable[int], joints: int) -> None:
        mine = [kind for kind in kinds if kind & joints]
        self._by_joint = {
            joint: _in_no_other([kind for kind in mine if kind >> joint & 1])
            for joint in range(joints.bit_length())
            if joints >> joint & 1
        }
        self._failed: dict[int, int] = {}
        self._tries = 0

    def needed(self, joints: int, tries: int) -> int:
        """Return a number of rings that the joints need at least, the least one within the tries."""
        many = 0
        while not self.may_serve(joints, many, tries):
            many += 1
        return many

    def may_serve(self, joints: int, many: int, tries: int) -> bool:
        """Say whether so many rings serve the joints; True where that is not settled within the tries."""
        self._tries = tries
        return self._serve(joints, many)

    def _serve(self, joints: int, many: int) -> bool:
        if joints == 0 or self._tries <= 0:
            return many >= 0
        if many <= 0 or self._failed.get(joints, 0) >= many or self._strangers(joints) > many:
            return False
        self._tries -= 1
        rarest = min(
            (joint for joint in self._by_joint if joints >> joint & 1),
            key=lambda joint: len(self._by_joint[joint]),
        )
        left = {joints & ~kind for kind in self._by_joint[rarest]}
        if any(self._serve(rest, many - 1) for rest in sorted(left, key=int.bit_count)):
            return True
        self._failed[joints] = many
        return False

    def _strangers(self, joints: int) -> int:
        """Return a number of joints of which no ring serves two."""
        many = 0
        for joint, kinds in self._by_joint.items():
            if joints >> joint & 1:
                many += 1
                for kind in kinds:
                    joints &= ~kind
        return many
