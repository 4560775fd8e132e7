"""The whole units in which material and money are counted: one rule, which search and certificate read.

Every ring counts in whole units, rounded up, and so does money of every ring part and cutter. A unit that is
too coarse would hide real differences behind the rounding, so nobody may choose it: it follows from the rows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.arrays import Floats
from ringset.reduction.table import Table, table_least_per_joint
from ringset.schema.gives import Aim

#: Material and money are counted in the finest power of ten that keeps the total below this many units.
AMOUNT_UNITS = 2**40
#: Finest units: a milligram, a hundredth of the currency.
FINEST_KG, FINEST_MONEY = 1e-6, 1e-2


@dataclass(frozen=True)
class Units:
    """Sizes of the whole units in which material (kg) and money are counted."""

    material_kg: float
    cost: float

    def size(self, wish: Aim) -> float:
        """Return how much one whole unit of a wish is: kg, money, or one piece; of a sum 1."""
        sizes: dict[Aim, float] = {"material": self.material_kg, "cost": self.cost}
        return sizes.get(wish, 1.0)


def reduction_units(table: Table) -> Units:
    """Return the units of a whole table; all that is counted of its rows is counted in them."""
    once = float(table.part_cost.sum() + table.cutter_cost.sum())
    return Units(
        material_kg=_unit(table, table.material_kg, 0.0, FINEST_KG),
        cost=_unit(table, table.cost, once, FINEST_MONEY),
    )


def _unit(table: Table, amounts: Floats, once: float, finest: float) -> float:
    """Return the finest power of ten times `finest` that keeps the largest total in AMOUNT_UNITS."""
    largest = -table_least_per_joint(-amounts, table.joint, table.joints)
    total = float(np.sum(largest[np.isfinite(largest)])) + once
    power = 0
    while total / (finest * 10.0**power) > AMOUNT_UNITS:
        power += 1
    return float(f"{finest * 10.0**power:.0e}")
