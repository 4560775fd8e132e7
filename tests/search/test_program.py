"""Programs of tables, and answers that are cut off them."""

from __future__ import annotations

import numpy as np

from ringset.reduction.table import TableRows
from ringset.reduction.units import reduction_units
from ringset.search.model.program import build_search_program
from tests.support.tables import Row, table


def test_an_answer_cut_off_stays_cut_off_where_joints_follow_others() -> None:
    """The third joint follows the first and has no row of its own in the program."""
    rows = [Row(0, 0), Row(0, 1), Row(1, 0), Row(1, 1), Row(2, 0), Row(2, 1)]
    made = table(rows)
    program = build_search_program(
        made.take(made.joint < 2), reduction_units(made), "ring_parts", {}, {}
    )
    x = program.with_needed_columns(TableRows(np.array([0, 2])))
    assert program.allowed(x)
    left = program.without(x)
    assert not left.allowed(x)
    assert left.allowed(program.with_needed_columns(TableRows(np.array([1, 3]))))
