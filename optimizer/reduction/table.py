"""What the search sees of the rings: one row per (joint, ring, head count), and what each row adds up to.

Nothing here knows a ring's physics. A row belongs to a joint, a ring part and a cutter; it has heads,
material and money, and values that are summed over the joints of a robot against a limit (tool point,
battery, mass and inertia of its rings). `reduce`, `program` and `choose` work on such a table, wherever it
comes from.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import NewType

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints, Mask

#: Rows of the first table, from which all others are taken: what `Table.index` holds, and what an answer is.
FirstRows = NewType("FirstRows", NDArray[np.intp])
#: Rows of one table, as places in its arrays.
TableRows = NewType("TableRows", NDArray[np.intp])


@dataclass(frozen=True)
class Sums:
    """Values that are summed over the joints of each group and must stay within its limit.

    `group` holds per joint the group it counts in, -1 for none; `values` (one per row) are 0 or more.
    Where `follows_heads` holds, a row's value only grows with its number of heads.
    """

    names: tuple[str, ...]
    limits: Floats
    group: Ints
    values: Floats
    follows_heads: bool = False


@dataclass(frozen=True)
class Table:
    """Rows to choose from, sorted by joint; arrays are parallel unless said otherwise.

    No two rows agree in joint, ring, second ring and heads.

    `second` is the ring part of a second ring on the same joint, -1 for none; None where no row has one. It
    is another part than the row's `ring`, needs the same cutter, and its mass, money and heads are in those
    of the row.

    `ring` and `cutter` are whole numbers, -1 for no cutter. `heads` are those on the joint; `weight`
    holds per joint how often it is built. `material_kg` and `cost` are for all that are built; money
    of a ring part or a cutter comes once each (`part_cost` by ring, `cutter_cost` by cutter number).
    `counted_part` says by ring which ring parts the wish for few of them counts, None where all count: those
    that stand already do not. `head_cost` is the part of `cost` that one head makes. `error` ranks rows that
    are equal otherwise. `index` tells where a row stood in the first table.
    """

    joints: int
    weight: Ints
    joint: Ints
    ring: Ints
    cutter: Ints
    heads: Ints
    material_kg: Floats
    cost: Floats
    error: Floats
    index: FirstRows
    part_cost: Floats
    cutter_cost: Floats
    head_cost: float
    sums: tuple[Sums, ...]
    second: Ints | None = None
    counted_part: Mask | None = None

    def __len__(self) -> int:
        return len(self.joint)

    @property
    def every_ring(self) -> Ints:
        """The ring parts that rows ask for, each once."""
        return np.unique(self.ring if self.second is None else self._both)

    @property
    def _both(self) -> Ints:
        if self.second is None:
            return self.ring
        return np.concatenate([self.ring, self.second[self.second >= 0]])

    @property
    def part_weight(self) -> Ints:
        """What every ring part, by its number, adds to the count of ring parts: 1, or 0 where it stands."""
        if self.counted_part is None:
            return np.ones(len(self.part_cost), dtype=np.int64)
        return self.counted_part.astype(np.int64)

    @property
    def built_heads(self) -> Ints:
        """Heads of every row over all that are built."""
        return self.heads * self.weight[self.joint]

    def places_of(self, rows: FirstRows) -> TableRows:
        """Return where rows of the first table stand in this one, in order; all of them must be in it."""
        return TableRows(np.searchsorted(self.index, np.sort(rows)))

    def take(self, rows: TableRows | Mask) -> Table:
        """Return the given rows only, by their places in this table or by a mask over all of them."""
        columns = {name: getattr(self, name)[rows] for name in _PER_ROW}
        sums = tuple(replace(s, values=s.values[rows]) for s in self.sums)
        second = None if self.second is None else self.second[rows]
        if second is not None and not (second >= 0).any():
            second = None
        return replace(self, sums=sums, second=second, **columns)


_PER_ROW = ("joint", "ring", "cutter", "heads", "material_kg", "cost", "error", "index")
assert set(_PER_ROW) < {field.name for field in fields(Table)}


#: No joint has as many heads as this, so that joint and heads make one number.
HEADS_BASE = 16


def table_joint_heads_key(joint: Ints, heads: Ints) -> Ints:
    """Return joint (or another number of a place) and heads as one number, HEADS_BASE joint + heads."""
    return joint * HEADS_BASE + heads


def table_joint_heads(key: Ints) -> tuple[Ints, Ints]:
    """Return joint and heads of a number that `table_joint_heads_key` has made."""
    return np.divmod(key, HEADS_BASE)


def table_least_per_joint(values: Floats, joint: Ints, joints: int) -> Floats:
    """Return the least value among each joint's rows; infinity for a joint without rows."""
    least = np.full(joints, np.inf)
    np.minimum.at(least, joint, values)
    return least
