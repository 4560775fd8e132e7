"""The exact answer with some inputs at other values, solved from what is known of the study as it is.

Nothing is searched where no better answer can have come and the one at hand has stayed: every row that is
inside at the other values was inside before, with no less of any amount, and the chosen rows still are, with
no more. Every answer at the other values was then one before, of no more, so the best one is still best.
Where wishes are given up this does not follow: the least of a wish may be that of another answer, now gone.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ringset.analysis.assumptions.outcome import (
    Outcome,
    assumption_margin_of_rows,
    assumption_outcome,
)
from ringset.arrays import Ints
from ringset.catalogue.rows import Catalogue
from ringset.errors import StudyError
from ringset.rating.rate import rate
from ringset.rating.rated import Weighed
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.table import FirstRows, Table, TableRows
from ringset.reduction.units import Units, reduction_units
from ringset.schema.answer import SETTLED, Answer, Status
from ringset.schema.study import Study, Wish
from ringset.search.model.program import build_search_program
from ringset.search.state.result import Choice
from ringset.search.wishes_in_turn import minimise_wishes
from ringset.solving.chosen_rings import chosen_row_places, chosen_rows
from ringset.solving.pipeline import solving_possible_rows

#: Least time that a search gets, in seconds: ended at once it could not even begin.
SEARCH_LEAST_S = 0.05


@dataclass(frozen=True)
class Known:
    """A settled answer of a canonical study: all rows inside its limits, and the chosen ones' places."""

    study: Study
    outcome: Outcome
    rows: Catalogue
    table: Table
    chosen: FirstRows

    @classmethod
    def of(cls, study: Study, answer: Answer, inside: Weighed | None = None) -> Known | None:
        """Return what is known of a canonical study by its answer; None where that is not settled.

        `inside` are the study's rows inside all limits where they are at hand; else they are rated here.
        """
        if answer.status not in SETTLED:
            return None
        inside = solving_possible_rows(study)[0] if inside is None else inside
        chosen = chosen_row_places(inside.catalogue, chosen_rows(study, answer))
        table = reduction_table(study, inside)
        return cls(
            study, assumption_outcome(study, answer), inside.catalogue, table, FirstRows(chosen)
        )


class EndTask(NamedTuple):
    """A study to solve, and what the known answer's rings have left of the nearest target there."""

    study: Study
    margin: float | None


def assumption_end_solved(known: Known | None, task: EndTask, seconds: float) -> Outcome | None:
    """Return what a task comes to, as `solved_at_assumptions` does."""
    return solved_at_assumptions(task.study, known, task.margin, seconds)


def solved_at_assumptions(
    study: Study, known: Known | None, margin: float | None, seconds: float
) -> Outcome | None:
    """Return what a canonical study with the joints of the known one comes to.

    `margin` is what the known answer's rings have left of the nearest target here. None where `seconds`
    ended the search: what it had by then depends on the clock. Where the study's own limits ended it, the
    outcome is undecided, or found and not settled. What is settled is agreed: no certificate is made here.
    """
    ends = time.monotonic() + seconds
    try:
        inside, reasons = solving_possible_rows(study)
    except StudyError:
        return Outcome("undecided", {}, None)
    if reasons:
        return Outcome("impossible", {}, None)
    table = reduction_table(study, inside)
    units = reduction_units(table)
    if known is not None and _stays_best(known, study, inside.catalogue, table, units):
        return Outcome("agreed", known.outcome.wishes, margin)
    left = min(study.search.time_limit_s, max(SEARCH_LEAST_S, ends - time.monotonic()))
    search = study.search.model_copy(update={"time_limit_s": left})
    choice = minimise_wishes(
        table, units, study.wishes.order, study.wishes.ceilings(), search, gives=study.gives()
    )
    if choice.clock_ended and left < study.search.time_limit_s:
        return None
    if len(choice.rows) == 0:
        return Outcome("impossible" if choice.status == "impossible" else "undecided", {}, None)
    return _outcome(study, inside, table, choice)


def _outcome(study: Study, inside: Weighed, table: Table, choice: Choice) -> Outcome:
    """Return what chosen rows come to, whatever the study wishes."""
    rows = TableRows(np.sort(choice.rows))
    mine = table.take(rows)
    parts, cutters = mine.every_ring, np.unique(mine.cutter[mine.cutter >= 0])
    wishes: dict[Wish, float] = {
        "cutters": len(cutters),
        "ring_parts": int(table.part_weight[parts].sum()),
        "heads": int(mine.built_heads.sum()),
        "material": float(mine.material_kg.sum()),
    }
    if study.shop.prices is not None:
        once = table.part_cost[parts].sum() + table.cutter_cost[cutters].sum()
        wishes["cost"] = float(mine.cost.sum() + once)
    margin = assumption_margin_of_rows(study, rate(study, inside.catalogue.take(rows)))
    status: Status = "agreed" if choice.status == "proven" else "found"
    return Outcome(status, wishes, margin)


def _stays_best(known: Known, study: Study, rows: Catalogue, table: Table, units: Units) -> bool:
    """Say whether every answer was one before, of no more, and the known one of no less: see the top."""
    if (
        study.wishes.give
        or study.wishes != known.study.wishes
        or study.shop.prices != known.study.shop.prices
        or table.second is not None  # what follows knows one ring part a row
        or known.table.second is not None
        or table.counted_part is not None  # nor one that counts no more than others
        or known.table.counted_part is not None
    ):
        return False
    first = chosen_row_places(rows, known.rows.take(known.chosen))
    places = chosen_row_places(known.rows, rows)
    if (first < 0).any() or (places < 0).any():
        return False
    before = known.table.take(TableRows(places))
    same = np.array_equal(table.weight, before.weight) and np.array_equal(
        table.cutter, before.cutter
    )
    parts = len(np.unique(table.ring[first])), len(np.unique(before.ring[first]))
    if not same or not _finer(table.ring, before.ring) or parts[0] > parts[1]:
        return False
    for mine, theirs in ((table.material_kg, before.material_kg), (table.cost, before.cost)):
        if (mine < theirs).any() or (mine[first] > theirs[first]).any():
            return False
    if len(table.sums) != len(before.sums):
        return False  # a limit came or went
    for now, then in zip(table.sums, before.sums, strict=True):
        if not np.array_equal(now.group, then.group) or (now.limits > then.limits).any():
            return False
        if (now.values < then.values).any():
            return False
    return _allowed(study, table.take(TableRows(first)), units)


def _allowed(study: Study, chosen: Table, units: Units) -> bool:
    """Say whether chosen rows keep the sums and ceilings of a study."""
    program = build_search_program(chosen, units, None, study.wishes.ceilings(), {})
    if len(program.table) < len(chosen):
        return False  # no head pattern within the ceilings holds them
    return program.allowed(program.with_needed_columns(TableRows(np.arange(len(chosen)))))


def _finer(rings: Ints, before: Ints) -> bool:
    """Say whether rows of one ring were rows of one ring before."""
    known = np.zeros(int(rings.max(initial=-1)) + 1, dtype=np.int64)
    known[rings] = before
    return bool((known[rings] == before).all())
