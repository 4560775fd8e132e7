"""Whether any bound is ever above the least: searches on random small tables beside lists of all answers.

Run on demand: python -m tests.bench.bench_bounds [TABLES [FIRST]], 20,000 tables by default. Rings leave
by least covers, and rows by earlier multipliers, however few there are; every second lot of tables is
neither listed nor handed to HiGHS, so that nodes settle it, and of four lots two are settled cutter by
cutter where there is one, with multipliers of each for later wishes. Every third table has its joints in two
lots that share cutters but no ring. Ring parts come first or second in two orders of three, so that most
searches hold a number of them. The first table whose values are not the least of all answers, in turn, or
whose answer is not allowed, stops the run with its seed; what is printed is how each wish was confirmed.
"""

from __future__ import annotations

import sys
import time
from collections import Counter

import numpy as np

from ringset.reduction.table import Table
from ringset.reduction.units import reduction_units
from ringset.schema.study import Wish
from ringset.search.tuning import search_tuned
from tests.support.answered import proven_best
from tests.support.tables import (
    listed,
    random_ceilings,
    random_order,
    random_table,
    side_by_side,
)

#: Seed of the first table, apart from those of the tests, and tables to a lot.
FIRST, LOT = 1_000_000, 250


def small_table(seed: int) -> Table:
    """Return the table of a seed; every third is of two lots of two joints."""
    if seed % 3:
        return random_table(seed)
    return side_by_side([random_table(seed + lot, joints=2) for lot in (0, 1)])


def order_of(seed: int, rng: np.random.Generator) -> list[Wish]:
    """Return wishes in some order, ring parts first or second in two of three."""
    order = random_order(rng)
    if seed % 9 < 6:
        order = [wish for wish in order if wish != "ring_parts"]
        order.insert(min(len(order), seed % 2), "ring_parts")
    return order


def search_all(first: int, tables: int) -> Counter[str]:
    """Return how often each status and confirmation came out; AssertionError with the seed of a wrong one."""
    seen: Counter[str] = Counter()
    for seed in range(FIRST + first, FIRST + first + tables):
        made, rng = small_table(seed), np.random.default_rng(seed)
        units = reduction_units(made)
        answers = listed(made, units)
        order, ceilings = order_of(seed, rng), random_ceilings(rng, answers)
        choice, _ = proven_best(made, units, answers, order, ceilings, seed)
        seen[choice.status] += 1
        seen.update(stage.confirmed_by for stage in choice.stages)
    return seen


def main(tables: int = 20_000, first: int = 0) -> None:
    """Run the campaign in lots and print what came out."""
    seen: Counter[str] = Counter()
    started = time.perf_counter()
    for lot in range(first, first + tables, LOT):
        nodes: dict[str, int] = {"listed_max": 0, "kernel_nodes": 0, "rounds": 1}
        apart = {"mixed_rows": 0} if lot // LOT % 4 > 1 else {}
        with search_tuned(reuse_rows=0, cover_rows=0, **apart, **(nodes if lot // LOT % 2 else {})):
            seen += search_all(lot, min(LOT, first + tables - lot))
        seconds = time.perf_counter() - started
        print(f"{lot + LOT - first} tables, {seconds:.0f} s: {dict(seen)}", flush=True)


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:]))
