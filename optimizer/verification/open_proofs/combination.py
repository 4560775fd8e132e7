"""Sums of constraints of a program, each taken so many times, and how they are made tight.

All of it is the theorem of `certificate/duality.py` once more, in whole numbers without end: the sum of
constraints that hold is one that holds, and it shows for every variable how much of its right side would be
left if the variable were 1 (`Alive.room`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.arrays import Ints, Mask
from ringset.verification.open_proofs.program import Equation, LessEqual, OpenProgram, Wholes


class Combination:
    """A sum of constraints: its number for every variable, its right side, and what it is made of."""

    def __init__(self, variables: int) -> None:
        self.total: Wholes = np.zeros(variables, dtype=np.object_)
        self.right = 0
        self._weights: dict[int, int] = {}
        self.equations: dict[int, tuple[Equation, int]] = {}

    def add(self, row: LessEqual, many: int) -> None:
        """Add a constraint `many` times, 0 or more."""
        if many:
            self.total[row.columns] += many * row.numbers
            self.right += many * row.right
            self._weights[row.number] = self._weights.get(row.number, 0) + many

    def add_equation(self, equation: Equation, many: int) -> None:
        """Add an equation `many` times, below 0 as well."""
        if many:
            row = equation.at_most
            self.total[row.columns] += many * row.numbers
            self.right += many * row.right
            before = self.equations.get(row.number, (equation, 0))[1]
            self.equations[row.number] = equation, before + many

    def weights(self) -> dict[int, int]:
        """Return the constraints by number and how often each is in the sum, from 1."""
        found = dict(self._weights)
        for equation, many in self.equations.values():
            if many:
                half = equation.at_most if many > 0 else equation.at_least
                found[half.number] = abs(many)
        return found

    def copy(self) -> Combination:
        """Return the same sum, to be made larger."""
        twin = Combination(0)
        twin.total, twin.right = self.total.copy(), self.right
        twin._weights, twin.equations = dict(self._weights), dict(self.equations)
        return twin

    def as_row(self, number: int) -> LessEqual:
        """Return the sum as a constraint that has a number of its own."""
        columns = np.flatnonzero(self.total != 0)
        return LessEqual(number, columns, self.total[columns], self.right)


@dataclass(frozen=True)
class Alive:
    """Which variables may still be 1, and which must be."""

    may: Mask
    must: Mask

    def copy(self) -> Alive:
        """Return the same, to be changed."""
        return Alive(self.may.copy(), self.must.copy())

    def among(self, columns: Ints) -> Ints:
        """Return those of some variables that may be 1."""
        return columns[self.may[columns]]

    def room(self, sum_: Combination) -> int:
        """Return what is left of a sum's right side where every open variable takes its best value."""
        open_ = sum_.total[self.may & ~self.must]
        return int(sum_.right - open_[open_ < 0].sum() - sum_.total[self.must].sum())


class Tightening:
    """Adds to a sum what makes the least number of every joint and of every head pattern 0."""

    def __init__(self, program: OpenProgram) -> None:
        self._program = program
        links = list(program.ring_links.values())
        self._links = links
        #: all rows of all links one behind the other, where each link begins, and whose they are
        self._rows = np.concatenate([np.empty(0, dtype=np.int64), *(x.columns[:-1] for x in links)])
        sizes = np.array([len(link.columns) - 1 for link in links], dtype=np.int64)
        self._starts = np.cumsum(sizes) - sizes
        self._owner = np.array([link.columns[-1] for link in links], dtype=np.int64)
        needs = list(program.needs.values())
        self._needed = np.array([need.columns[0] for need in needs], dtype=np.int64)
        self._needing = np.concatenate(
            [np.empty(0, dtype=np.int64), *(x.columns[1:] for x in needs)]
        )
        sizes = np.array([len(need.columns) - 1 for need in needs], dtype=np.int64)
        self._need_starts = np.cumsum(sizes) - sizes

    def tighten(self, sum_: Combination, alive: Alive) -> None:
        """Share ring parts out, then level joints and head patterns."""
        if len(self._links):
            self._share_rings(sum_, alive)
        for equation in self._program.joints:
            _level(sum_, equation, alive)
        for equation in self._program.groups.values():
            _level(sum_, equation, alive)

    def _share_rings(self, sum_: Combination, alive: Alive) -> None:
        """Let rows below 0 be paid by the ring part they need, and a joint that alone needs one pay it."""
        may = alive.may[self._rows]
        used = np.logical_or.reduceat(may, self._starts)
        owners, count = np.unique(self._owner[used], return_counts=True)
        alone = {*owners[count == 1].tolist()}
        lowest = np.minimum.reduceat(np.where(may, sum_.total[self._rows], 0), self._starts)
        dear = np.array(sum_.total[self._owner] != 0, dtype=np.bool_)
        for place in np.flatnonzero(used & (dear | (lowest < 0).astype(np.bool_))).tolist():
            link, owner = self._links[place], int(self._owner[place])
            if owner not in alone:
                sum_.add(link, max(0, -int(lowest[place])))
            elif sum_.total[owner] > 0:
                sum_.add(link, int(sum_.total[owner]))
            else:
                sum_.add(self._program.needs[owner], -int(sum_.total[owner]))

    def drop_unneeded(self, alive: Alive) -> None:
        """Drop the ring parts and cutters that no row needs any longer."""
        if len(self._needed):
            needed = np.logical_or.reduceat(alive.may[self._needing], self._need_starts)
            alive.may[self._needed] &= needed

    def count_with_rows(self, sum_: Combination) -> None:
        """Let what a sum takes off for ring parts and cutters be taken off by the rows that need them."""
        for owner, need in self._program.needs.items():
            if sum_.total[owner] < 0:
                sum_.add(need, -int(sum_.total[owner]))


def _level(sum_: Combination, equation: Equation, alive: Alive) -> None:
    columns = alive.among(equation.at_most.columns)
    if len(columns):
        sum_.add_equation(equation, -int(min(sum_.total[columns])))


class Owners:
    """What rows need beside their own numbers in a sum: ring parts, cutters, patterns of heads."""

    def __init__(self, program: OpenProgram, sum_: Combination, alive: Alive) -> None:
        self._extra: Wholes = np.zeros(len(sum_.total), dtype=np.object_)
        self._more: dict[int, list[tuple[LessEqual | Equation, Ints, int]]] = {}
        for links in (program.cutter_links, program.ring_links):
            for (_, joint), link in links.items():
                price = int(sum_.total[link.columns[-1]])
                if price > 0:
                    self._add(joint, link, link.columns[:-1], price)
        for (joint, _), shown in program.heads.items():
            ways = alive.among(shown.ways)
            if len(ways) and (detour := int(min(sum_.total[ways]))) > 0:
                self._add(joint, shown.equation, shown.rows, detour)

    def _add(self, joint: int, row: LessEqual | Equation, rows: Ints, price: int) -> None:
        self._extra[rows] += price
        self._more.setdefault(joint, []).append((row, rows, price))

    def of(self, rows: Ints) -> Wholes:
        """Return what the owners of rows cost."""
        return self._extra[rows]

    def of_joint(self, joint: int, rows: Ints) -> Combination:
        """Return what moves the owners of some of a joint's rows to the rows that need them."""
        more, wanted = Combination(len(self._extra)), np.zeros(len(self._extra), dtype=np.bool_)
        wanted[rows] = True
        for row, needing, price in self._more.get(joint, ()):
            if not wanted[needing].any():
                continue
            if isinstance(row, Equation):
                more.add_equation(row, price)
            else:
                more.add(row, price)
        return more
