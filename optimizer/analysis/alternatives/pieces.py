"""How many cutters and ring parts stand, and how many more a trial has: what counts, and what is paid."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Collection, Hashable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from ringset.analysis.alternatives.totals import Amounts, PartKey
from ringset.physics.limit_rule import number_in_whole_units
from ringset.schema.part_numbers import NO_PREFIX, part_numbers_taken
from ringset.schema.prices import Prices

Kind = TypeVar("Kind", bound=Hashable)


@dataclass(frozen=True)
class Pieces:
    """Cutters and ring parts: `cutters` and `ring_parts` that the wishes count, and what new ones cost."""

    cutters: int
    ring_parts: int
    money: float
    money_units: int


class PiecesThere:
    """The cutters and ring parts of the rings that stand on all joints of a study.

    `every` says that the wishes count all of them, not only those that are new; `money_unit` is the whole
    unit of money.
    """

    def __init__(
        self, amounts: Amounts, every: bool, prices: Prices | None, money_unit: float
    ) -> None:
        self.amounts, self.every, self.prices, self.unit = amounts, every, prices, money_unit
        self.parts = Counter(amounts.parts(range(len(amounts.part))))
        self.cutters = Counter(amounts.cutter.tolist())

    @property
    def total(self) -> Pieces:
        """What all of them come to."""
        cutters, parts = list(self.cutters), list(self.parts)
        return self._pieces(Counter(), Counter(), ([], cutters), ([], parts), self.amounts)

    def more(self, places: list[int], new: Amounts, rows: list[int]) -> Pieces:
        """Return how much more there is with the rings of some joints taken away and some rows put there."""
        old = self.amounts
        cutters = old.cutter[places].tolist(), new.cutter[rows].tolist()
        parts = old.parts(places), new.parts(rows)
        return self._pieces(self.cutters, self.parts, cutters, parts, new)

    def _pieces(
        self, cutters: Counter[int], parts: Counter[PartKey],
        tools: tuple[Sequence[int], Sequence[int]], rings: tuple[Sequence[PartKey], Sequence[PartKey]],
        new: Amounts,
    ) -> Pieces:  # fmt: skip
        owned, standing = self.amounts.owned | new.owned, {*self.amounts.standing, *new.standing}
        bought = alternatives_kinds_more(cutters, *tools, owned)
        made = alternatives_kinds_more(parts, *rings, standing)
        counted = bought, made
        if self.every:
            counted = (
                alternatives_kinds_more(cutters, *tools, ()),
                alternatives_kinds_more(parts, *rings, ()),
            )
        if self.prices is None:
            return Pieces(*counted, 0.0, 0)
        once = np.array([self.prices.cutter, self.prices.set_up_per_ring_part])
        many = np.array([bought, made])
        units = int(number_in_whole_units(once, self.unit) @ many)
        return Pieces(*counted, float(once @ many), units)

    def part_names(self, modules_mm: Sequence[float], prefix: str) -> dict[PartKey, str]:
        """Return the names that a first answer gives to the ring parts: their own, or new ones by size."""
        standing = self.amounts.standing
        by_size = sorted(self.parts, key=lambda one: (modules_mm[one[0]], *one[1:]))
        first = max(part_numbers_taken(self.amounts.taken), default=0) + 1
        free = (f"{prefix or NO_PREFIX}{number}" for number in itertools.count(first))
        return {one: standing[one] if one in standing else next(free) for one in by_size}


def alternatives_kinds_more(
    base: Counter[Kind], old: Sequence[Kind], new: Sequence[Kind], free: Collection[Kind]
) -> int:
    """Return how many kinds more there are with `old` ones taken away and `new` ones put in (-1: none).

    Those that are `free` do not count.
    """
    change: Counter[Kind] = Counter(new)
    change.subtract(old)
    return sum(
        (base[kind] + more > 0) - (base[kind] > 0)
        for kind, more in change.items()
        if kind != -1 and kind not in free
    )
