"""Linear programs of stairs beside the program with a column per row, solved by scipy's HiGHS."""

from __future__ import annotations

import time

import numpy as np
import pytest
from scipy import optimize, sparse

from ringset.reduction.table import Table, TableRows
from ringset.reduction.units import reduction_units
from ringset.schema.study import WISHES, Wish
from ringset.search.bounds import column_generation as relaxing
from ringset.search.bounds.column_generation import Guide, relax_program
from ringset.search.bounds.lagrangian import Multipliers, lagrangian_bound, whole_multipliers
from ringset.search.bounds.radius_formulation import has_radius_formulation, radius_optimum
from ringset.search.model.matrix import search_constraint_matrix
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program, build_search_program
from tests.search.test_lagrangian import random_program
from tests.support.tables import Row, table

#: HiGHS and GLOP work to 1e-7 of weights that are brought to 1e4.
LP_ERROR = 1e-6


def spare(objective: Objective) -> float:
    """Return more than any answer comes to."""
    return float(objective.weights.sum() + 1)


def best_of(program: Program, objective: Objective) -> float | None:
    """Return the optimum of the program with a column per row, None if it has none."""
    lines = search_constraint_matrix(program, program.every_row)
    found = optimize.linprog(
        objective.weights,
        lines.matrix[: lines.most], lines.right[: lines.most],
        lines.matrix[lines.most :], lines.right[lines.most :],
    )  # fmt: skip
    return float(found.fun) if found.status == 0 else None


def checked(program: Program, objective: Objective, best: float) -> None:
    """Check optimum, shares and multipliers."""
    flat = radius_optimum(program, objective, spare(objective), 10.0)
    assert flat is not None
    room = LP_ERROR * max(1.0, abs(best))
    assert flat.optimum == pytest.approx(best, abs=room)
    taken = np.bincount(program.joint[flat.rows], flat.shares, program.joints)
    assert taken[program.present] == pytest.approx(1.0)
    open_ = dict(zip(flat.parts.tolist(), flat.part_shares.tolist(), strict=True))
    for row, share in zip(flat.rows, flat.shares, strict=True):
        part = int(program.parts.columns()[row])
        assert part < 0 or share <= open_[part] + LP_ERROR
    whole = whole_multipliers(program, objective, flat.multipliers)
    assert whole is not None
    assert lagrangian_bound(program, objective, whole).value == pytest.approx(best, abs=room)


@pytest.mark.slow
def test_stairs_reach_the_optimum_of_all_rows_and_give_its_multipliers() -> None:
    with_stairs = 0
    for seed in range(250):
        program, objective, _ = random_program(seed, any_sign=False)
        if not has_radius_formulation(program, objective):
            continue
        best = best_of(program, objective)
        if best is not None:
            checked(program, objective, best)
            with_stairs += 1
    assert with_stairs >= 15


@pytest.mark.cases(fast=2)
@pytest.mark.parametrize(("alike", "most_paid"), [(False, 40), (False, 4), (True, 40), (True, 9)])
def test_stairs_have_the_optimum_of_the_textbook_median_problem(
    alike: bool, most_paid: int
) -> None:
    """min c.x, sum of x_ij = 1, x_ij <= y_j, sum of y = p, written here from the textbook."""
    broken = 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        sites, customers, most = int(rng.integers(4, 9)), int(rng.integers(3, 12)), 2
        pays = rng.integers(1, most_paid, (customers, sites)).astype(float)
        if alike:  # a ring weighs the same for all, built in different numbers
            pays = np.outer(rng.integers(1, 4, customers), rng.permutation(most_paid)[:sites] + 1.0)
        reached = rng.random((customers, sites)) < 0.8
        reached[:, 0] = True
        rows = [Row(i, j, kg=pays[i, j]) for i, j in np.argwhere(reached)]
        made = table(rows)
        program = build_search_program(
            made, reduction_units(made), "material", {"ring_parts": most}, {}
        )
        objective = program.objectives["material"]
        assert has_radius_formulation(program, objective)
        flat = radius_optimum(program, objective, spare(objective), 10.0)
        i, j = np.nonzero(reached)
        x = np.arange(len(i))
        once = sparse.coo_array((np.ones(len(i)), (i, x)), shape=(customers, len(i) + sites))
        below = sparse.coo_array(
            (np.repeat([1.0, -1.0], len(i)), (np.r_[x, x], np.r_[x, len(i) + j])),
            shape=(len(i), len(i) + sites),
        )
        opened = np.r_[np.zeros(len(i)), np.ones(sites)][None, :]
        best = optimize.linprog(
            np.r_[pays[i, j], np.zeros(sites)],
            sparse.vstack([below, opened]), np.r_[np.zeros(len(i)), most],
            once, np.ones(customers),
        )  # fmt: skip
        unit = reduction_units(made).material_kg
        assert flat is not None
        told = unit * (objective.offset + objective.scale * flat.optimum)
        assert told == pytest.approx(best.fun, rel=1e-6)
        whole = whole_multipliers(program, objective, flat.multipliers)
        assert whole is not None
        bound = lagrangian_bound(program, objective, whole).value
        assert bound == pytest.approx(flat.optimum, abs=LP_ERROR * max(1.0, flat.optimum))
        broken += bool(np.any((flat.shares > 0.1) & (flat.shares < 0.9)))
    assert broken >= 2 or alike  # where rings weigh alike for all, few optima are broken


def test_what_counts_more_than_ring_parts_has_no_stairs() -> None:
    rows = [Row(0, 0, 2, kg=2.0), Row(1, 0, kg=2.0), Row(0, 1, cutter=1), Row(1, 2, cutter=1)]

    def stairs(made: Table, wish: Wish = "material", **given: float) -> bool:
        ceilings: dict[Wish, float] = {name: given[name] for name in WISHES if name in given}
        assert len(ceilings) == len(given)
        program = build_search_program(made, reduction_units(made), wish, ceilings, {})
        return has_radius_formulation(program, program.objectives[wish])

    assert stairs(table(rows), ring_parts=1)
    assert stairs(table(rows), ring_parts=1, cutters=2)
    assert not stairs(table(rows), ring_parts=1, cutters=1)
    assert not stairs(table(rows), ring_parts=1, heads=9)
    summed = [row._replace(value=float(number)) for number, row in enumerate(rows[::-1])][::-1]
    assert not stairs(table(summed, limit=9.0), ring_parts=1)
    assert stairs(table(summed, limit=9.0))  # every row its own part: a limit may count it
    assert not stairs(table(rows, cutter_cost=[1.0, 1.0]), "cost")
    twice = [*rows, Row(0, 0, 1, kg=3.0)]
    assert not stairs(table(sorted(twice)), ring_parts=1)


def test_a_node_that_cannot_hold_anything_better_is_bounded_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Its lightest rows alone weigh more than the answer at hand."""
    monkeypatch.setattr(relaxing, "has_radius_formulation", lambda *_: False)
    made = table([Row(0, 0, kg=2.0), Row(1, 0, kg=2.0), Row(0, 1), Row(1, 2)])
    program = build_search_program(made, reduction_units(made), "material", {"ring_parts": 1}, {})
    objective = program.objectives["material"]
    start = relax_program(program, objective, TableRows(np.array([0, 1])), time.monotonic() + 9.0)
    assert start is not None
    worth = objective.weight_of(objective.offset - 5 * objective.scale)
    assert worth < 0
    zero = Multipliers(
        *(np.zeros(size) for size in (1, program.joints, len(program.cutters.owner), 0))
    )
    monkeypatch.setattr(relaxing._RestrictedMaster, "reached", lambda _: False)
    none = np.empty(0, dtype=np.intp)
    found = relax_program(
        program, objective, TableRows(none), time.monotonic() + 9.0, guide=Guide(zero, worth)
    )
    assert found is not None
    assert found.bound.least >= worth
