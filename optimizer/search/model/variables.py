"""What the columns of a program are, and what each of them adds to a wish, in whole numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NewType

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Ints
from ringset.physics.limit_rule import number_in_whole_units
from ringset.reduction.table import Table
from ringset.reduction.units import Units
from ringset.schema.gives import Aim, WeighedSum
from ringset.search.model.objective import Objective

#: Columns of a program. Its first columns are the rows of its table; ring parts and cutters follow.
Columns = NewType("Columns", NDArray[np.intp])


@dataclass(frozen=True)
class Owners:
    """Columns that rows need, a ring part or a cutter each: any row of a pair asks for its owner.

    A pair is all rows of one joint with one owner. `pair` gives every row's pair, -1 for none;
    `owner` every pair's column, `key` its joint and owner as one number that no choice of rows changes.
    """

    pair: Ints
    owner: Ints
    key: Ints

    @property
    def distinct(self) -> Columns:
        """The owners' columns, each once and in order."""
        return Columns(np.unique(self.owner))

    def columns(self) -> Ints:
        """Return every row's owner column, -1 for none."""
        return np.where(self.pair >= 0, self.owner[self.pair], -1) if len(self.owner) else self.pair

    def columns_or_rows(self) -> Ints:
        """Return every row's owner column, the row itself where it has none: it is its own part then."""
        column = self.columns()
        return np.where(column >= 0, column, np.arange(len(column)))


def no_search_variables(rows: int) -> tuple[Owners, Ints]:
    """Return owners of nothing."""
    none = np.empty(0, dtype=np.int64)
    return Owners(np.full(rows, -1, dtype=np.int64), none, none), none


def search_part_variables(table: Table, first: int) -> tuple[Owners, Ints]:
    """Return the owners of rows whose ring several joints could take, and the ring of each column.

    A ring that only one joint could use needs no column of its own: its row is its ring part. Every ring that
    is a second ring somewhere has a column, whoever else could take it.
    """
    key = table.ring * table.joints + table.joint
    pairs, pair = np.unique(key, return_inverse=True)
    ring = pairs // table.joints
    rings, count = np.unique(ring, return_counts=True)
    shared = count > 1
    if table.second is None:
        owned = rings[shared]
    else:
        seconds = np.unique(table.second[table.second >= 0])
        shared |= np.isin(rings, seconds)
        owned = np.union1d(rings[shared], seconds)
    column = np.searchsorted(owned, rings) + first
    mine = np.repeat(shared, count)
    number = np.where(mine, np.cumsum(mine) - 1, -1)
    return Owners(number[pair], np.repeat(column, count)[mine], pairs[mine]), owned


def search_second_variables(table: Table, first: int, owned: Ints) -> Owners:
    """Return the owners of rows by their second rings: columns of `owned` rings, counted from `first`."""
    if table.second is None:
        return no_search_variables(len(table))[0]
    asks = table.second >= 0
    key = table.second[asks] * table.joints + table.joint[asks]
    pairs, pair = np.unique(key, return_inverse=True)
    number = np.full(len(table), -1, dtype=np.int64)
    number[asks] = pair
    return Owners(number, np.searchsorted(owned, pairs // table.joints) + first, pairs)


def search_cutter_variables(table: Table, first: int) -> tuple[Owners, Ints]:
    """Return the owners of rows that need a cutter, and the cutter of each column."""
    asks = table.cutter >= 0
    key = table.cutter[asks] * table.joints + table.joint[asks]
    pairs, pair = np.unique(key, return_inverse=True)
    cutters, column = np.unique(pairs // table.joints, return_inverse=True)
    number = np.full(len(table), -1, dtype=np.int64)
    number[asks] = pair
    return Owners(number, column + first, pairs), cutters


def search_wish_value(answer: Table, units: Units, wish: Aim) -> int:
    """Return what a wish comes to, in whole units, for an answer: a table of one row per joint."""
    if isinstance(wish, WeighedSum):
        return sum(many * search_wish_value(answer, units, part) for part, many in wish.parts)
    rings, cutters = answer.every_ring, np.unique(answer.cutter[answer.cutter >= 0])
    if wish == "cutters":
        return len(cutters)
    if wish == "ring_parts":
        return int(answer.part_weight[rings].sum())
    if wish == "heads":
        return int(answer.built_heads.sum())
    if wish == "material":
        return int(number_in_whole_units(answer.material_kg, units.material_kg).sum())
    once = (answer.part_cost[rings], answer.cutter_cost[cutters])
    return sum(
        int(number_in_whole_units(money, units.cost).sum()) for money in (answer.cost, *once)
    )


@dataclass(frozen=True)
class Variables:
    """What every column adds to each wish."""

    table: Table
    units: Units
    parts: Owners
    ring_of: Ints
    cutters: Owners
    cutter_of: Ints

    @property
    def total(self) -> int:
        """Columns of rows, ring parts and cutters."""
        return len(self.table) + len(self.ring_of) + len(self.cutter_of)

    def objective(self, wish: Aim) -> Objective:
        """Return one wish, or a weighed sum of two, over all columns."""
        if wish in ("cutters", "ring_parts"):
            return Objective(np.concatenate(self._counted(wish)))
        if isinstance(wish, WeighedSum):
            first, second = (self._counted(part) for part, _ in wish.parts)
            (_, one), (_, other) = wish.parts
            return self._shifted(
                *(one * mine + other * theirs for mine, theirs in zip(first, second, strict=True))
            )
        return self._shifted(*self._counted(wish))

    def _counted(self, wish: Aim) -> tuple[Ints, Ints, Ints]:
        """Return what rows, ring parts and cutters add to a wish, in its whole units."""
        table = self.table
        single = self.parts.pair < 0  # a ring of its own: its row pays for the part
        parts = np.zeros(len(self.ring_of), dtype=np.int64)
        cutters = np.zeros(len(self.cutter_of), dtype=np.int64)
        if wish == "cutters":
            return np.zeros(len(table), dtype=np.int64), parts, cutters + 1
        if wish == "ring_parts":
            weight = table.part_weight
            return np.where(single, weight[table.ring], 0), weight[self.ring_of], cutters
        if wish == "heads":
            return table.built_heads.astype(np.int64), parts, cutters
        if wish == "material":
            return number_in_whole_units(table.material_kg, self.units.material_kg), parts, cutters
        unit = self.units.cost
        own = np.where(single, table.part_cost[table.ring], 0.0)
        return (
            number_in_whole_units(table.cost, unit) + number_in_whole_units(own, unit),
            number_in_whole_units(table.part_cost[self.ring_of], unit),
            number_in_whole_units(table.cutter_cost[self.cutter_of], unit),
        )

    def _shifted(self, rows: Ints, *others: Ints) -> Objective:
        """Return a sum over rows less each joint's least value, in units of the common divisor.

        Exactly one row per joint is taken, so the shift is a constant; it keeps coefficients small.
        """
        least = np.full(self.table.joints, np.iinfo(np.int64).max)
        np.minimum.at(least, self.table.joint, rows)
        weights = np.concatenate([rows - least[self.table.joint], *others]).astype(np.int64)
        scale = max(1, int(np.gcd.reduce(weights))) if len(weights) else 1
        least[least == np.iinfo(np.int64).max] = 0  # a joint without rows
        return Objective(weights // scale, int(least.sum()), scale, least)
