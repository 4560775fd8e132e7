"""Rows that leave where the number of ring parts is limited, before a wish is minimised.

Which rings an answer with few ring parts can use follows from the joints that they serve alone
(`reduction/least_covers`). Fewer rings leave fewer head counts (`reduction/reduction_head_patterns`) and
fewer places on which a ring must serve to stand in for another one (`reduction/dominance`), and each of these
may let more of the others leave, so they take turns until little leaves. Where an answer has one cutter, the
rows of every cutter are looked at by themselves, for an answer of one cutter has all its ring parts from
there.

Every turn leaves a best answer: the rows that leave are in no answer within the limits, or some best answer
of the rest does without them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.reduction.head_patterns import reduced_to_patterns, reduction_head_patterns
from ringset.reduction.least_covers import reduced_to_covers
from ringset.reduction.reduce import reduce
from ringset.reduction.table import FirstRows, Table
from ringset.schema.gives import Aim
from ringset.schema.study import Wish
from ringset.search.bounds.lagrangian import refuse_dropped
from ringset.search.model.constraints import Ceilings
from ringset.search.tuning import search_tuning


@dataclass(frozen=True)
class CountLimits:
    """What cutters, ring parts and heads may come to at most, None without a limit."""

    cutters: int | None
    parts: int | None
    heads: int | None

    @classmethod
    def of(cls, held: dict[Aim, int], ceilings: Ceilings) -> CountLimits:
        """Return the limits of what is held and of ceilings."""

        def most(wish: Wish) -> int | None:
            known = [
                int(limit) for limit in (held.get(wish), ceilings.get(wish)) if limit is not None
            ]
            return min(known, default=None)

        return cls(most("cutters"), most("ring_parts"), most("heads"))


def search_rows_within_parts(
    table: Table, needed: frozenset[Wish], limits: CountLimits, answer: FirstRows
) -> Table:  # fmt: skip
    """Return the rows left of a table; those of an answer at hand, which keeps the limits, stay.

    Raises BoundBroken if the answer uses a ring that no answer could use.
    """
    tune = search_tuning()
    if limits.parts is None or table.second is not None or not tune.uses("least covers"):
        return table
    if not tune.cover_rows <= len(table) <= tune.cover_rows_max:
        return table
    joints = len(np.unique(table.joint))
    left: list[FirstRows] = [answer]
    for part in _parts(table, limits):
        if len(np.unique(part.joint)) < joints:
            continue  # some joint has no ring of this cutter
        seen = _covered(part, limits.parts)
        if np.all(np.isin(answer, part.index)):
            refuse_dropped(answer, seen.index)
        part = _in_turns(seen, needed, limits)
        if len(np.unique(part.joint)) == joints:
            left.append(part.index)
    return table.take(np.isin(table.index, np.concatenate(left)))


def _parts(table: Table, limits: CountLimits) -> list[Table]:
    """Return the rows of every cutter, with those that need none, where an answer has one; else all rows."""
    cutters = np.unique(table.cutter[table.cutter >= 0])
    if limits.cutters != 1 or len(cutters) < 2:
        return [table]
    return [table.take((table.cutter == cutter) | (table.cutter < 0)) for cutter in cutters]


def _in_turns(part: Table, needed: frozenset[Wish], limits: CountLimits) -> Table:
    """Let rows leave by head patterns, by dominance and by covers in turn, until few do."""
    tune, before = search_tuning(), len(part) + 1
    while 0 < len(part) < before:
        before = len(part)
        if "heads" in needed and tune.uses("head patterns"):
            part, patterns = reduction_head_patterns(part, limits.heads, tune.patterns_max)
            part = part.take(reduced_to_patterns(part, patterns))
        if tune.uses("reduction"):
            part = reduce(part, needed)
        if limits.parts is not None and len(part) < before:
            part = _covered(part, limits.parts)
    return part


def _covered(part: Table, most: int) -> Table:
    """Return the rows that least covers leave; of very many joints no tries suffice, and all rows stay."""
    if len(np.unique(part.joint)) > search_tuning().cover_joints_max:
        return part
    return part.take(reduced_to_covers(part, most, search_tuning().cover_tries))
