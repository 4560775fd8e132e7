"""What counts in a search: which wishes, and which values of a row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.arrays import Floats
from ringset.reduction.table import Table
from ringset.schema.study import Wish


@dataclass(frozen=True)
class Needs:
    """Which quantities count in a comparison of rings."""

    cutters: bool
    ring_parts: bool
    heads: bool
    material: bool
    cost: bool


def reduction_needs(table: Table, needed: frozenset[Wish]) -> Needs:
    """Return what counts when the wishes in `needed` are minimised or have ceilings."""
    cost = "cost" in needed
    battery = any(s.follows_heads and len(s.names) for s in table.sums)
    return Needs(
        cutters="cutters" in needed or (cost and bool(np.any(table.cutter_cost > 0.0))),
        ring_parts="ring_parts" in needed or (cost and bool(np.any(table.part_cost > 0.0))),
        heads="heads" in needed or battery or (cost and table.head_cost > 0.0),
        material="material" in needed,
        cost=cost,
    )


def reduction_counted_values(table: Table) -> Floats:
    """Return, per row and sum that does not follow the heads, the value that counts."""
    columns = [s.values for s in table.sums if len(s.names) and not s.follows_heads]
    return np.stack(columns, axis=1) if columns else np.zeros((len(table), 0))
