"""Where an answer has one cutter, what is left is looked at cutter by cutter.

A relaxation mixes cutters: half of one here, half of another there, and its bound is far below any answer.
So where one cutter only is allowed or held, every answer is one of a single cutter's rows (rows cut by wire
need none and go with each), and each cutter's rows are a part of their own, with multipliers of their own.
Of many rows those relaxations together take a fraction of the time of one that mixes them.
Parts whose bound the answer at hand meets are settled; of the others the rows that are left are returned.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.arrays import Ints
from ringset.reduction.table import Table, TableRows
from ringset.search.bounds.column_generation import (
    Relaxed,
    guided_relaxation,
    search_relaxation_best_rows,
    search_relaxed_most_shares,
)
from ringset.search.bounds.lagrangian import NamedMultipliers, named_multipliers
from ringset.search.engines.cross_check import highs_optimum
from ringset.search.engines.highs import highs
from ringset.search.exact.branch_and_bound import branching_nodes, settle_by_branching
from ringset.search.exact.enumeration import best_enumerated
from ringset.search.exact.neighbourhoods import improve_incumbent_nearby
from ringset.search.model.program import Program
from ringset.search.state.incumbent import Incumbent
from ringset.search.tuning import search_tuning


@dataclass
class CutterPart:
    """The rows of one cutter that are left, the multipliers that bound them if any do, and that bound.

    `cutter` is that cutter if these are all of its rows, or else None.
    `highs_value` is the least value that HiGHS found among them, None if it did not end or found no answer.
    """

    table: Table
    multipliers: NamedMultipliers | None
    low: int
    cutter: int | None = None
    highs_value: int | None = None


def settling_parts_of_cutters(table: Table) -> list[tuple[int, Table]]:
    """Return the rows of every cutter, with those that need none, if these have some for every joint."""
    joints, cutters = np.unique(table.joint), np.unique(table.cutter[table.cutter >= 0])
    parts = [
        (int(cutter), table.take((table.cutter == cutter) | (table.cutter < 0)))
        for cutter in cutters
    ]
    return [(cutter, part) for cutter, part in parts if len(np.unique(part.joint)) == len(joints)]


def settling_one_of_several_cutters(run: Incumbent) -> bool:
    """Say whether each answer has one cutter and several are left, of few enough rows."""
    most = min(run.held.get("cutters", 2), run.context.ceilings.get("cutters", 2))
    several = len(np.unique(run.left.cutter[run.left.cutter >= 0])) > 1
    few = len(run.left) < search_tuning().by_cutter_rows_max
    return most == 1 and several and few and search_tuning().uses("by cutter")


def settle_by_cutter(run: Incumbent) -> list[CutterPart]:
    """Return the parts that are not settled, the rows of one cutter each; better answers are taken.

    No answer is below the value of the wish but those of the parts returned.
    """
    left, joints, whole = run.left, np.unique(run.left.joint), run.last is None
    # that of the answer at hand first: what is found there tells soon that others hold nothing better
    at_hand = left.cutter[np.isin(left.index, run.best)]
    cutters = sorted(settling_parts_of_cutters(left), key=lambda one: one[0] not in at_hand)
    parts = [
        CutterPart(table, run.last, run.low, cutter if whole else None) for cutter, table in cutters
    ]
    parts = [part for part in parts if not _begun(run, part, joints)]
    for most in search_tuning().cutter_looks:
        parts.sort(key=lambda part: part.low)
        parts = [part for part in parts if not _settled(run, part, joints, most)]
    return parts


def settling_parts_left(run: Incumbent) -> list[CutterPart]:
    """Return the parts that neither their bounds nor their nodes settle; better answers are taken."""
    parts = settle_by_cutter(run)
    if run.enough():
        return parts  # they may be left half done
    return [part for part in parts if not _split(run, part)]


def _split(run: Incumbent, part: CutterPart) -> bool:
    """Settle a part node by node, and take what is better there; False if some of it is left."""
    child = run.child(part.table, part.multipliers, part.low)
    settled = part.low >= run.value or settle_by_branching(child, branching_nodes(child))
    run.adopt(child)
    return settled


def settling_rows_of_equal_cutters(run: Incumbent) -> Table:
    """Return rows that answers as good as the best use, with no other cutters; ties are broken among them."""
    cutters = np.unique(run.left.cutter[np.isin(run.left.index, run.best)])
    table = run.left.take(np.isin(run.left.cutter, cutters))
    if not run.settled:
        return table
    program = run.build(table)
    objective = program.objectives[run.wish]
    worth = objective.weight_of(run.value)
    relaxed = guided_relaxation(program, objective, run.last, worth, run.context.clock.ends)
    return table if relaxed is None else program.table.take(relaxed.bound.usable(worth))


def _bounded(
    run: Incumbent, part: CutterPart, joints: Ints
) -> tuple[Program, Relaxed | None] | None:
    """Bound a part, and leave just the rows that a better answer could use; None if it is settled."""
    program = run.build(part.table)
    if not np.array_equal(np.unique(program.joint), joints):
        return None  # some joint has no ring left
    objective = program.objectives[run.wish]
    worth = objective.weight_of(run.value)
    # what is good for one cutter is better than nothing for another
    given = part.multipliers or next(reversed(run.of_cutters.values()), None)
    relaxed = guided_relaxation(program, objective, given, worth, run.context.clock.ends)
    if relaxed is None:
        return program, None
    part.low = max(part.low, objective.offset + objective.scale * relaxed.bound.least)
    part.multipliers = named_multipliers(program, objective, relaxed.bound.multipliers)
    if part.cutter is not None:
        run.of_cutters.setdefault(part.cutter, part.multipliers)
    part.table = program.table.take(relaxed.bound.usable(worth - 1))
    run.take(program, search_relaxed_most_shares(program, relaxed), part.low)
    return None if part.low >= run.value else (program, relaxed)


def _begun(run: Incumbent, part: CutterPart, joints: Ints) -> bool:
    """Bound a part, and look near the best answer if that is one of it; True if the part is settled."""
    bounded = _bounded(run, part, joints)
    if bounded is None:
        return True
    program, relaxed = bounded
    if relaxed is not None and not run.enough():
        _near_best(run, part, program)
        _leave_out(run, part, program, relaxed)
    return part.low >= run.value


def _near_best(run: Incumbent, part: CutterPart, program: Program) -> None:
    """Look near the best answer among the rows of a part that are left."""
    mine = np.isin(program.table.index, np.union1d(part.table.index, run.best))
    improve_incumbent_nearby(run, program.table.take(mine), part.multipliers)


def _leave_out(run: Incumbent, part: CutterPart, program: Program, relaxed: Relaxed) -> None:
    """Leave out the rows of a part that no answer better than the best now known could use."""
    most = program.objectives[run.wish].weight_of(run.value) - 1
    part.table = program.table.take(relaxed.bound.usable(most))


def _settled(run: Incumbent, part: CutterPart, joints: Ints, most: int | None) -> bool:
    """Drop rows of a part, look for better answers and list the last few; False if a gap is left."""
    looked = False
    for _ in range(search_tuning().cutter_rounds):
        if part.low >= run.value:
            return True
        bounded = _bounded(run, part, joints)
        if bounded is None:
            return True
        program, relaxed = bounded
        if relaxed is None or run.enough():
            return False
        objective = program.objectives[run.wish]
        worth = objective.weight_of(run.value)
        listed, x = best_enumerated(program, objective, relaxed.bound, worth)
        if listed:
            run.take(program, x, part.low)
            return True
        if len(part.table) <= (1.0 - search_tuning().cutter_round_drops) * program.rows:
            continue
        if looked or (most is None and len(part.table) <= search_tuning().cutter_few_rows):
            return False  # of few rows HiGHS is asked while CP-SAT searches
        looked = True
        _improve(run, part, program, relaxed, most)
        _leave_out(run, part, program, relaxed)
    return False


def _improve(
    run: Incumbent, part: CutterPart, program: Program, relaxed: Relaxed, most: int | None
) -> None:  # fmt: skip
    """Look for a better answer among the rows that cost the bound least, or let HiGHS find the best."""
    objective, ends = program.objectives[run.wish], run.context.clock.ends
    if most is None and len(part.table) > search_tuning().cutter_rows_of_highs:
        _near_best(run, part, program)
        return
    if most is None:
        best = highs_optimum(program, objective, ends)
        part.highs_value = None if best is None else objective.value(best)
        run.take(program, best, part.low)
        return
    mine = np.flatnonzero(np.isin(program.table.index, run.best))
    few = TableRows(
        np.union1d(search_relaxation_best_rows(program, (relaxed.bound.costs,), most), mine)
    )
    found = highs(program, objective, ends, few, node_limit=search_tuning().cutter_nodes)
    run.take(program, found.x, part.low)
