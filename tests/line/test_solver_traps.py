"""What the pinned solvers get wrong, and that the search built on them does not.

The three models below are known to mislead these releases (google/or-tools#5293 and
ERGO-Code/HiGHS#2585). They are recorded as they are, so that an upgrade that changes one of them is
noticed here and the guards can be thought over.
"""

from __future__ import annotations

import itertools
from collections import Counter
from typing import Any

import numpy as np
import pytest
from ortools.sat.python import cp_model
from scipy import optimize, sparse

from optimizer.choose import choose
from optimizer.program import ROW_TOTAL_MAX, Objective, Program, Row, RowTooLarge, guard
from optimizer.study import WISHES, Search

# -- three models ----------------------------------------------------------------------------------


def overflowing_model() -> tuple[Any, list[Any], list[int]]:
    """Return a model whose rows total more than 2^31; its true optimum is -9."""
    model = cp_model.CpModel()
    b = [model.new_bool_var(f"b{i}") for i in range(9)]
    model.add_at_most_one([b[3], b[8]])
    first = (
        -720243679 * b[2]
        + 864631909 * b[3]
        + 863239265 * b[8]
        - 1051747613 * b[0]
        + 1055714361 * b[5]
    )
    second = 1057368543 * b[8] + 954725041 * b[3] + 659606697 * b[7]
    model.add_linear_constraint(first, -1427669492, -678405971).only_enforce_if(~b[7])
    model.add_linear_constraint(second, 1541739245, 3684450624).only_enforce_if(b[5])
    model.minimize(-9 * b[5])
    return model, b, [0, 0, 0, 0, 0, -9, 0, 0, 0]


def solved(model: Any, **parameters: Any) -> tuple[str, Any]:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    for name, value in parameters.items():
        setattr(solver.parameters, name, value)
    return solver.status_name(solver.solve(model)), solver


def listed_optimum() -> int:
    """List all 512 points of the first model by its definition."""
    best = 0
    for b in itertools.product((0, 1), repeat=9):
        first = (
            -720243679 * b[2]
            + 864631909 * b[3]
            + 863239265 * b[8]
            - 1051747613 * b[0]
            + 1055714361 * b[5]
        )
        second = 1057368543 * b[8] + 954725041 * b[3] + 659606697 * b[7]
        allowed = (
            b[3] + b[8] <= 1
            and (b[7] or -1427669492 <= first <= -678405971)
            and (not b[5] or 1541739245 <= second <= 3684450624)
        )
        if allowed:
            best = min(best, -9 * b[5])
    return best


def test_the_pinned_cp_sat_certifies_a_wrong_optimum():
    """If this fails the release has changed: read google/or-tools#5293 again."""
    assert listed_optimum() == -9
    for seed in range(3):
        status, solver = solved(overflowing_model()[0], random_seed=seed)
        assert (status, solver.objective_value, solver.best_objective_bound) == ("OPTIMAL", 0, 0)


@pytest.mark.parametrize(
    "parameters", [{"presolve_inclusion_work_limit": 0}, {"cp_model_presolve": False}]
)
def test_the_setting_of_the_search_avoids_it(parameters):
    status, solver = solved(overflowing_model()[0], **parameters)
    assert (status, solver.objective_value, solver.best_objective_bound) == ("OPTIMAL", -9, -9)


def knife_edge(presolve: bool) -> Any:
    """Minimise over two real and two whole numbers; three rows are met exactly at the optimum."""
    rows = np.array(
        [
            [96.55, 0.0, -32.45, 88.78],
            [-3.14, -78.02, 0.0, 0.0],
            [0.0, 11.8, -21.94, 0.0],
            [0.0, 0.0, 91.59, -10.58],
            [79.17, 1.73, 0.0, -73.23],
            [-10.61, -94.66, 0.0, 76.88],
        ]
    )
    right = np.array([1216.06, -50.5404, 3.422, -35.25, 411.403, 195.69])
    x = np.array([8.89, 0.29, 0.0, 4.0])
    assert np.all(rows @ x <= right + 1e-9)
    return optimize.milp(
        [-24.0, 5.0, 7.4, 9.0],
        constraints=optimize.LinearConstraint(rows, -np.inf, right),
        integrality=[0, 0, 1, 1],
        bounds=optimize.Bounds(-100.0, 100.0),
        options={"presolve": presolve},
    )


def test_the_second_engine_calls_a_possible_program_infeasible():
    """If this fails the release has changed: read ERGO-Code/HiGHS#2585 again."""
    assert knife_edge(presolve=True).status == 2


def test_the_second_engine_is_right_without_presolve():
    result = knife_edge(presolve=False)
    assert result.status == 0
    assert result.fun == pytest.approx(-175.91, abs=1e-6)


def test_an_objective_read_as_a_float_is_not_whole():
    """The literals give -7; `int()` of the float the solver states would give -6."""
    model = cp_model.CpModel()
    x = [model.new_bool_var(f"x{i}") for i in range(7)]
    weights = [-9, 6, -4, 6, 0, -3, 9]
    model.add_at_most_one([x[0], x[3], x[4], x[6]])
    row = 366217730 * x[0] + 317628456 * x[3] + 295061811 * x[5] - 466004468 * x[4]
    model.add_linear_constraint(row, -466004468, 358853886).only_enforce_if(~x[6])
    model.minimize(sum(w * v for w, v in zip(weights, x, strict=True)))
    status, solver = solved(model)
    assert status == "OPTIMAL"
    assert sum(w * solver.value(v) for w, v in zip(weights, x, strict=True)) == -7
    assert solver.objective_value != -7
    assert int(solver.objective_value) == -6


# -- the guard -------------------------------------------------------------------------------------


def test_a_row_is_refused_from_the_first_unit_too_many():
    weights = np.array([ROW_TOTAL_MAX // 2, -(ROW_TOTAL_MAX // 4)], dtype=np.int64)
    room = ROW_TOTAL_MAX // 4
    guard("fits", weights, room - 1)
    with pytest.raises(RowTooLarge, match=f"'full': total {2**30}, allowed less than {2**30}"):
        guard("full", weights, room)
    with pytest.raises(RowTooLarge):
        guard("negative", weights, -room)


def test_totals_beyond_64_bits_are_counted_not_wrapped():
    with pytest.raises(RowTooLarge):
        guard("huge", np.full(5, 2**62, dtype=np.int64), 0)


# -- random programs of our own shape --------------------------------------------------------------

PROGRAMS = 400
CHUNK = 50


def random_program(seed: int) -> tuple[Program, list[str]]:
    """Return a small program with one row per joint, shared columns and a budget near the guard."""
    rng = np.random.default_rng(seed)
    joints = int(rng.integers(2, 5))
    joint = np.repeat(np.arange(joints), rng.integers(2, 6, joints))
    n = len(joint)
    part, cutter = rng.integers(0, n, n), rng.integers(0, 3, n)
    parts, cutters = np.unique(part), np.unique(cutter)
    owners = [(part == p, n + i) for i, p in enumerate(parts)]
    owners += [(cutter == c, n + len(parts) + i) for i, c in enumerate(cutters)]
    columns = n + len(parts) + len(cutters)
    lines = []
    for group, owner in owners:
        for j in range(joints):
            members = np.flatnonzero(group & (joint == j))
            if len(members):
                line = np.zeros(columns, dtype=np.int64)
                line[members], line[owner] = 1, -1
                lines.append(line)
    ones = np.zeros((2, columns), dtype=np.int64)
    ones[0, n : n + len(parts)], ones[1, n + len(parts) :] = 1, 1
    small = bool(rng.random() < 0.3)
    size = 1000 if small else 2**29 // n
    mass, budget = rng.integers(0, size, n), rng.integers(0, size, n)
    # a limit that some combination meets exactly, or misses by one unit
    picked = [int(rng.choice(np.flatnonzero(joint == j))) for j in range(joints)]
    limit = int(budget[picked].sum()) - int(rng.integers(0, 2))
    if rng.random() < 0.1:
        least = sum(int(budget[joint == j].min()) for j in range(joints))
        limit = least - int(rng.integers(0, 2))
    limits = [Row("budget", np.pad(budget, (0, columns - n)), limit)]
    if rng.random() < 0.3:
        limits.append(Row("ring parts", ones[0], int(rng.integers(1, joints + 1))))
    objectives = {
        "cutters": Objective(ones[1]),
        "ring_parts": Objective(ones[0]),
        "heads": Objective(np.pad(rng.integers(0, 3, n), (0, columns - n)), joints, 2),
        "material": Objective(np.pad(mass, (0, columns - n)), 7),
    }
    program = Program(
        rows=n, columns=columns, joints=joints, joint=joint,
        links=sparse.csr_array(np.array(lines)), limits=limits, real=[],
        objectives=objectives, ranks=np.pad(np.arange(n), (0, columns - n)),
        part=np.full(n, -1), material_unit_kg=1e-6,
    )  # fmt: skip
    order = [WISHES[i] for i in rng.permutation(4)[: int(rng.integers(1, 5))]]
    return program, order


def columns_of(program: Program, picked: tuple[int, ...]) -> np.ndarray:
    """Return the columns of a choice: its rows, and just the parts and cutters that they need."""
    x = np.zeros(program.columns, dtype=np.int64)
    x[list(picked)] = 1
    lines = program.links.toarray()
    for line in lines:
        if line[: program.rows] @ x[: program.rows] > 0:
            x[np.flatnonzero(line < 0)] = 1
    return x


def listed_best(program: Program, order: list[str]) -> list[int] | None:
    """Return the best values in order over all ways to take one row per joint."""
    groups = [np.flatnonzero(program.joint == j).tolist() for j in range(program.joints)]
    best: tuple[int, ...] | None = None
    for picked in itertools.product(*groups):
        x = columns_of(program, picked)
        if all(int(row.weights @ x) <= row.limit for row in program.limits):
            values = tuple(program.objectives[wish].value(x) for wish in order)
            best = values if best is None else min(best, values)
    return None if best is None else list(best)


@pytest.mark.parametrize("first", range(0, PROGRAMS, CHUNK))
def test_random_programs_near_the_guard_are_answered_rightly(first):
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        program, order = random_program(seed)
        best = listed_best(program, order)
        choice = choose(program, order, Search(seed=seed))
        seen[choice.status] += 1
        values = [stage.value for stage in choice.stages]
        if choice.status in ("impossible", "undecided"):
            # one unit of a row this large is below what the second engine can tell apart, so that
            # it may not confirm what the first finds impossible
            assert best is None, seed
            continue
        assert best is not None, seed
        assert choice.status in ("proven", "found"), (seed, choice.reasons)
        x = columns_of(program, tuple(choice.rows.tolist()))
        assert np.array_equal(program.joint[choice.rows], np.arange(program.joints)), seed
        assert all(int(row.weights @ x) <= row.limit for row in program.limits), seed
        assert values == [program.objectives[wish].value(x) for wish in order], seed
        # the search may fail to confirm, but what it calls proven is the best there is
        if choice.status == "proven":
            assert values == best, seed
        assert values >= best, seed
    assert seen["proven"] >= CHUNK * 2 // 3
    assert seen["impossible"] >= 1
    assert seen["found"] + seen["undecided"] <= CHUNK // 10
