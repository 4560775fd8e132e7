"""A better answer near a relaxation: HiGHS searches the few rows (the kernel) that cost the bound least."""

from __future__ import annotations

import numpy as np

from ringset.reduction.table import TableRows
from ringset.search.bounds.column_generation import Relaxed
from ringset.search.engines.highs import highs
from ringset.search.exact.greedy import greedy_incumbent
from ringset.search.state.incumbent import Incumbent
from ringset.search.tuning import search_tuning


class Improvement:
    """How many rows the kernel has, and whether looking among them is still worth it."""

    def __init__(self, joints: int) -> None:
        self.kernel, self.promising = search_tuning().kernel_rows * joints, True

    def grow(self, rows: int) -> bool:
        """Make the kernel larger for a program of so many rows; False if it is as large as it may be."""
        grown = self.kernel < min(rows, search_tuning().kernel_rows_max)
        self.kernel *= search_tuning().kernel_growth
        return grown

    def look(self, run: Incumbent, relaxed: Relaxed) -> None:
        """Look for a better answer near a relaxation, unless that has found nothing before."""
        if not (self.promising and search_tuning().uses("improvement")):
            return
        before = run.value
        ended = improve_incumbent(run, relaxed, self.kernel)
        # what found nothing better will not soon: the rows hardly change, least those of a large program
        more = run.value < before and not (ended and run.program.rows >= search_tuning().large_rows)
        self.promising = more or run.program.rows <= search_tuning().improved_again_rows


def improve_incumbent(run: Incumbent, relaxed: Relaxed, size: int) -> bool:
    """Look for a better answer among the rows that cost the bound least; True if theirs is known best."""
    program = run.program
    if size > search_tuning().kernel_rows_of_highs and program.paired:
        return False  # greedy gives every joint one part
    if size > search_tuning().kernel_rows_of_highs:
        multipliers = relaxed.bound.multipliers
        run.take(
            program,
            greedy_incumbent(program, run.objective, multipliers.joints / multipliers.scale),
        )
        return False
    order = np.lexsort((program.ranks[: program.rows], relaxed.bound.costs))
    kernel = TableRows(np.union1d(order[:size], program.table.places_of(run.best)))
    clock = run.context.clock
    found = highs(
        program, run.objective, clock.ends, kernel, node_limit=search_tuning().kernel_nodes
    )
    clock.watch()
    run.take(program, found.x)
    return found.status == "OPTIMAL"
