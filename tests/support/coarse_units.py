"""A forger's answer: far from the best, and optimal as long as nobody asks in which unit it is counted.

Every ring is rounded up to whole units. In a coarse unit the heaviest ring (or the dearest) of a joint counts
like the lightest as long as both round to the same number, so an answer of the heaviest such rings reaches
the honest least of the coarse count, and multipliers prove it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np

from ringset.catalogue.enumerate import catalogue
from ringset.physics.limit_rule import number_in_whole_units
from ringset.rating.rate import rate
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.table import FirstRows, Table
from ringset.reduction.units import Units
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.search.state.result import Choice, StageResult
from ringset.solving import certify as writing
from ringset.solving.pipeline import compose_chosen_answer
from ringset.verification.certificate.document import Certificate


def coarse(study: Study, units: Units) -> tuple[Answer, Certificate]:
    """Return the worst answer that counts as best in these units, with its certificate.

    The study has one wish, material or cost, and no limit that several joints share.
    """
    study = study.canonical()
    (wish,) = study.wishes.order
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    table = reduction_table(study, rated)
    amounts = table.material_kg if wish == "material" else table.cost
    rows = heaviest_alike(table, amounts, units.size(wish))
    value = int(number_in_whole_units(amounts, units.size(wish))[rows].sum())
    if wish == "cost":
        value += int(
            number_in_whole_units(table.part_cost, units.cost)[np.unique(table.ring[rows])].sum()
        )
        value += int(
            number_in_whole_units(table.cutter_cost, units.cost)[
                np.unique(table.cutter[rows])
            ].sum()
        )
    stage = StageResult(wish, value, value, "multipliers")
    choice = Choice("proven", FirstRows(rows), [stage], rows_searched=len(table))
    answer = compose_chosen_answer(study, rated.weighed(), units, choice)
    with counted_in(units):
        return answer, writing.certify(study, answer)


def heaviest_alike(table: Table, amounts: np.ndarray, unit: float) -> np.ndarray:
    """Return per joint the row with the largest amount among those that count like the least."""
    whole = number_in_whole_units(amounts, unit)
    rows = []
    for joint in range(table.joints):
        mine = np.flatnonzero(table.joint == joint)
        alike = mine[whole[mine] == whole[mine].min()]
        rows.append(alike[np.argmax(amounts[alike])])
    return np.array(rows, dtype=np.intp)


@contextmanager
def counted_in(units: Units) -> Iterator[None]:
    """Let certificates be written in these units, whatever the rows ask."""
    honest = vars(writing)["reduction_units"]
    vars(writing)["reduction_units"] = lambda _: units
    try:
        yield
    finally:
        vars(writing)["reduction_units"] = honest
