"""Which rings an answer with few ring parts can use at all: how many parts sets of joints need at least.

A ring serves the joints that have rows of it. Joints are of one component if rings tie them to each other,
directly or by way of other joints.

Theorem (least covers). Let every row ask for one ring, and let an answer have at most m ring parts. For sets
A of joints let l(A) be no more than the least number of rings that serve all of A together. An answer that
uses ring r, which serves the joints S of component C and of no other, has at least

    1 + l(C without S) + sum of l(D) over all other components D

ring parts. So if that is more than m, rows of r are in no answer; and if the sum of l over all components is
more than m, there is no answer.

Proof. The joints of a component D take rings of D alone, which serve all of D: at least l(D) of them. Those
of C without S take rings other than r, for r does not serve them: at least l(C without S). Rings of two
components are different, and r is one more.

Where some ring parts stand already and do not count, joints that one of them serves need no other: they are
left out of all sets, S and C hold the others only, and an answer that uses a part that counts for nothing but
joints left out has 1 + sum of l over all components.

Corollary. An answer that keeps a set of cutters to itself is an answer of their rows alone, so rows of a
cutter may be looked at by themselves where an answer has one cutter (with those rows that need none).

The least number is found by trying, for a joint that few rings serve, each set of joints that one of them
serves. At least as many rings as joints of which no ring serves two are needed, which ends most tries at
once. Where the tries given are used up, a cover is taken to exist: l is then smaller, and still no more than
the least.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.arrays import Ints, Mask
from ringset.reduction.table import Table


def reduced_to_covers(table: Table, most: int, tries: int) -> Mask:
    """Return the rows that an answer with at most `most` ring parts could use, by the theorem above.

    No row may ask for two rings. At most so many tries are made; without more of them rows stay.
    """
    if len(table) == 0:
        return np.zeros(0, dtype=np.bool_)
    rings, ring = np.unique(table.ring, return_inverse=True)
    serves = _served(table.joint, ring, len(rings))
    stands = table.part_weight[rings] == 0
    free = _union(serves[stands].tolist())
    serves = np.array([one & ~free for one in serves.tolist()], dtype=object)
    known, allowance = set(serves[~stands].tolist()) - {0}, _Allowance(tries // 2)
    covers = [
        _Covers({one for one in known if one & joints}, allowance) for joints in _components(known)
    ]
    least = [cover.least(cover.joints) for cover in covers]
    spare, used = most - sum(least), set[int]()
    allowance.tries = tries // 2  # the other half is for single rings
    for cover, own in zip(covers, least, strict=True):
        if spare >= 0:
            rest = own + spare - 1
            used |= {one for one in cover.sets if cover.within(cover.joints & ~one, rest)}
    if spare >= 1:
        used.add(0)
    keep = np.array([one in used for one in serves.tolist()], dtype=np.bool_)
    keep[stands] = spare >= 0
    return np.asarray(keep[ring])


def _components(sets: set[int]) -> list[int]:
    """Return the joints of every component that sets of joints make."""
    found: list[int] = []
    for one in sorted(sets):
        found = [_union([one, *(c for c in found if c & one)]), *(c for c in found if not c & one)]
    return found


def _served(joint: Ints, ring: Ints, rings: int) -> np.ndarray:
    """Return, per ring, the joints that it serves as the bits of a whole number of any size."""
    serves = np.zeros(rings, dtype=object)
    pairs = np.unique(np.stack([ring, joint], axis=1), axis=0)
    for number, place in pairs.tolist():
        serves[number] |= 1 << place
    return serves


@dataclass
class _Allowance:
    """How many tries are left."""

    tries: int


class _Covers:
    """The sets of joints that rings of one component serve, and how many of them sets of joints need."""

    def __init__(self, sets: set[int], allowance: _Allowance) -> None:
        self.sets, self.joints, self._allowance = sets, _union(list(sets)), allowance
        largest = _largest(sets)
        self._of = {joint: [one for one in largest if one & joint] for joint in _bits(self.joints)}
        self._beside = {joint: _union(some) for joint, some in self._of.items()}
        # joints that few sets serve come first
        self._order = sorted(self._of, key=lambda joint: (len(self._of[joint]), joint))
        self._more_than: dict[int, int] = {}

    def least(self, joints: int) -> int:
        """Return how many sets the joints need at least, or less where the tries are used up."""
        many = self._apart(joints)
        while not self.within(joints, many):
            many += 1
        return many

    def within(self, joints: int, many: int) -> bool:
        """Say whether so many sets serve the joints; True as well where the tries are used up."""
        if not joints:
            return True
        if many <= 0 or self._more_than.get(joints, 0) >= many:
            return False
        if self._apart(joints) > many:
            return False
        if self._allowance.tries <= 0:
            return True
        self._allowance.tries -= 1
        first = next(joint for joint in self._order if joint & joints)
        for one in _largest({one & joints for one in self._of[first]}):
            if self.within(joints & ~one, many - 1):
                return True
        self._more_than[joints] = many
        return False

    def _apart(self, joints: int) -> int:
        """Return a number of joints of which no set serves two."""
        many = 0
        for joint in self._order:
            if joint & joints:
                joints &= ~self._beside[joint]
                many += 1
        return many


def _bits(joints: int) -> list[int]:
    """Return every joint of a set as a set of its own."""
    return [1 << place for place in range(joints.bit_length()) if joints >> place & 1]


def _union(sets: list[int]) -> int:
    joined = 0
    for one in sets:
        joined |= one
    return joined


def _largest(sets: set[int]) -> list[int]:
    """Return the sets that are in no other, large ones first."""
    found: list[int] = []
    for one in sorted(sets, key=lambda one: (-one.bit_count(), one)):
        if not any(one & ~other == 0 for other in found):
            found.append(one)
    return found
