"""Writes out the listing of a certificate: joint by joint, every beginning of an answer that needs a line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.arrays import Ints
from ringset.verification.certificate.duality import NoProof
from ringset.verification.open_proofs.combination import Combination
from ringset.verification.open_proofs.program import Wholes
from ringset.verification.open_proofs.refutation import Refutation

#: Most beginnings that are written.
BEGINNINGS_MAX = 20_000


@dataclass(frozen=True)
class _Room:
    """A sum as it stands in the proof: by variable what it takes, and what there is."""

    total: dict[int, int]
    room: int


def write_open_listing(node: Refutation) -> None:
    """Close a node by listing all answers of its rows; raises NoProof where too many are left.

    Beginnings that pass one of the written sums are refuted by unit propagation and need no line; every
    other one gets a line, after those of its own continuations.
    """
    _Listing(node, _sums(node)).below((), 0)


def _sums(node: Refutation) -> list[_Room]:
    """Write the last round and every limit as they are now, and return them."""
    sums = [] if node.latest is None else [node.latest]
    better = Combination(node.program.variables)
    better.add(node.program.better, 1)
    node.tightening.tighten(better, node.alive)
    rooms = []
    for sum_ in (*sums, better, *node.limit_sums()):
        node.text.combine(sum_.weights())
        columns = np.flatnonzero(node.alive.may)
        total = dict(zip(columns.tolist(), sum_.total[columns].tolist(), strict=True))
        rooms.append(_Room(total, node.alive.room(sum_)))
    return rooms


class _Listing:
    """The joints of a node with their rows, those with fewest rows first."""

    def __init__(self, node: Refutation, rooms: list[_Room]) -> None:
        self._node, self._rooms, self._count = node, rooms, 0
        rows = (node.alive.among(e.at_most.columns).tolist() for e in node.program.joints)
        self._joints = sorted(rows, key=len)
        self._used = [0] * len(rooms)

    def below(self, begun: tuple[int, ...], turn: int) -> None:
        """Write that no answer begins with some rows, one of each of the first joints."""
        self._count += 1
        if self._count > BEGINNINGS_MAX:
            raise NoProof("too many answers are left to be written out")
        if turn == len(self._joints):
            self._refuse_allowed(begun)
        else:
            for row in self._joints[turn]:
                self._try(begun, row, turn)
        name = self._node.program.name
        self._node.text.conclude([*(f"~{name(x)}" for x in begun), *self._node.negated_path()])

    def _try(self, begun: tuple[int, ...], row: int, turn: int) -> None:
        before = self._used
        self._used = [used + one.total[row] for used, one in zip(before, self._rooms, strict=True)]
        if all(used <= one.room for used, one in zip(self._used, self._rooms, strict=True)):
            self.below((*begun, row), turn + 1)
        self._used = before

    def _refuse_allowed(self, rows: tuple[int, ...]) -> None:
        """Raise NoProof where an answer keeps all limits and is better: then there is nothing to prove."""
        node, true = self._node, {*rows, *np.flatnonzero(self._node.alive.must).tolist()}
        for owner, need in node.program.needs.items():
            if true.intersection(need.columns[1:].tolist()):
                true.add(owner)
        limits = [node.program.better, *(limit.row for limit in node.limits.values())]
        if all(_total(row.columns, row.numbers, true) <= row.right for row in limits):
            raise NoProof("rounded to the safe side, a better answer is among those left")


def _total(columns: Ints, numbers: Wholes, true: set[int]) -> int:
    return sum(a for x, a in zip(columns.tolist(), numbers.tolist(), strict=True) if x in true)
