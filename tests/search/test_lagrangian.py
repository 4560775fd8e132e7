"""Bounds by multipliers hold whatever the multipliers are; good ones come from the LP."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse

from ringset.reduction.table import TableRows
from ringset.reduction.units import reduction_units
from ringset.schema.study import WISHES, Wish
from ringset.search.bounds.column_generation import relax_program
from ringset.search.bounds.lagrangian import (
    Bound,
    Multipliers,
    lagrangian_bound,
    lagrangian_exact_sum,
    multipliers_for_program,
    named_multipliers,
    whole_multipliers,
)
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program, build_search_program
from tests.support.tables import Row, listed, random_ceilings, random_table, table


def random_program(seed: int, any_sign: bool = True) -> tuple[Program, Objective, list[np.ndarray]]:
    """Return a small program, weights to minimise, and all feasible 0/1 points.

    Every real part of a program takes part: shared ring parts, cutters, head patterns, limits. With
    `any_sign` two more limits and half of the weights have any sign. Points also switch on parts and
    cutters that they do not need.
    """
    rng = np.random.default_rng(seed)
    made = random_table(seed, joints=int(rng.integers(2, 4)))
    units = reduction_units(made)
    answers = listed(made, units)
    wish = WISHES[int(rng.integers(len(WISHES)))]
    ceilings = random_ceilings(rng, answers)
    gone = -1
    if rng.random() < 0.3:  # a joint that follows others is left out; the rest is judged without it
        gone = int(rng.integers(made.joints))
        made = made.take(made.joint != gone)
        ceilings = {}
    program = build_search_program(made, units, wish, ceilings, {})
    there = np.arange(made.joints) != gone
    answers = replace(answers, picks=np.unique(answers.picks[:, there], axis=0))
    picks = np.searchsorted(program.table.index, answers.picks)
    picks = np.minimum(picks, program.rows - 1)
    picks = picks[np.all(program.table.index[picks] == answers.picks, axis=1)]
    points = []
    for rows in picks[rng.permutation(len(picks))[:300]]:
        x = program.with_needed_columns(rows)
        points.append(x)
        more = x.copy()
        more[program.rows :] |= rng.integers(0, 2, program.columns - program.rows)
        points.append(more)
    for number in range(2 * any_sign):
        line = rng.integers(-3, 10, program.columns)
        right = int(np.median([line @ x for x in points])) if points else 0
        limits = program.limits.with_line(f"extra {number}", sparse.csr_array([line]), right)
        program = replace(program, limits=limits)
    objective = program.objectives[wish]
    if any_sign and rng.random() < 0.5:
        objective = Objective(rng.integers(-5, 20, program.columns))
    return program, objective, [x for x in points if program.allowed(x)]


def random_multipliers(program: Program, rng: np.random.Generator, size: float) -> Multipliers:
    """Return multipliers of any size; those of limits and cutters are made 0 or more."""
    return Multipliers(
        limits=np.abs(rng.normal(0, size, len(program.limits.names))),
        joints=rng.normal(0, 3 * size, program.joints),
        cutters=np.abs(rng.normal(0, size, len(program.cutters.owner))),
        heads=rng.normal(0, size, program.patterns.choices),
    )


def bound_by(program: Program, objective: Objective, real: Multipliers) -> Bound | None:
    whole = whole_multipliers(program, objective, real)
    return None if whole is None else lagrangian_bound(program, objective, whole)


def check(program: Program, objective: Objective, bound: Bound, points: list[np.ndarray]) -> None:
    """Hold the theorem on every feasible point."""
    for x in points:
        value = int(objective.weights @ x)
        rows = program.taken(x)
        assert bound.least <= value
        assert bound.scaled <= bound.multipliers.scale * value
        assert np.all(bound.usable(value)[rows]), "a row of an answer this good was dropped"
        paid = int(bound.own_costs[rows].sum())
        assert bound.scaled + paid <= bound.multipliers.scale * value, (
            "own prices add up to too much"
        )
    assert not bound.usable(bound.least - 1).any() or bound.scaled <= 0 or not points


@pytest.mark.slow
@settings(max_examples=250, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6), size=st.sampled_from([0.0, 0.1, 3.0, 1000.0]))
def test_no_multipliers_cut_off_an_answer(seed: int, size: float) -> None:
    program, objective, points = random_program(seed)
    real = random_multipliers(program, np.random.default_rng(seed + 1), size)
    bound = bound_by(program, objective, real)
    if bound is not None:
        check(program, objective, bound, points)


def test_the_random_programs_have_every_kind_of_part() -> None:
    programs = [random_program(seed) for seed in range(100)]
    assert sum(p.patterns.size > 1 for p, _, _ in programs) >= 8
    assert sum(len(p.parts.owner) > 1 for p, _, _ in programs) >= 20
    assert sum(len(p.cutters.owner) > 1 for p, _, _ in programs) >= 20
    assert sum(len(p.limits.names) > 3 for p, _, _ in programs) >= 30
    assert sum(len(points) > 1 for _, _, points in programs) >= 40
    assert sum(not points for _, _, points in programs) >= 5


@settings(max_examples=120, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_the_multipliers_of_the_relaxation_cut_off_nothing(seed: int) -> None:
    program, objective, points = random_program(seed, any_sign=False)
    start = np.flatnonzero(points[0][: program.rows]) if points else np.empty(0, dtype=np.intp)
    relaxed = relax_program(program, objective, TableRows(start), time.monotonic() + 10.0)
    if relaxed is not None:
        check(program, objective, relaxed.bound, points)
    else:
        assert not points, "the LP has an answer wherever the whole numbers have one"


@pytest.mark.campaign
def test_multipliers_carried_to_other_rows_cut_off_nothing() -> None:
    """A program of other rows and other limits understands what it can; the rest counts 0."""
    bounded = tight = 0
    for seed in range(150):
        first, objective, _ = random_program(seed, any_sign=False)
        rng = np.random.default_rng(seed)
        real = random_multipliers(first, rng, 3.0)
        if seed % 2:
            start = first.every_row
            relaxed = relax_program(first, objective, start, time.monotonic() + 10.0)
            whole = None if relaxed is None else relaxed.bound.multipliers
        else:
            whole = whole_multipliers(first, objective, real)
        if whole is None:
            continue
        given_on = named_multipliers(first, objective, whole)
        again = multipliers_for_program(first, objective, given_on)
        for name in ("limits", "joints", "cutters", "heads"):
            before = getattr(whole, name) / whole.scale
            np.testing.assert_allclose(getattr(again, name), before, rtol=1e-9, atol=1e-6)
        made = random_table(seed, joints=first.joints)
        keep = rng.random(len(made)) < 0.7
        keep[[np.flatnonzero(made.joint == joint)[0] for joint in range(made.joints)]] = True
        part, units = made.take(keep), reduction_units(made)
        for wish in WISHES:
            other = build_search_program(part, units, wish, {}, {})
            bound = bound_by(
                other,
                other.objectives[wish],
                multipliers_for_program(other, other.objectives[wish], given_on),
            )
            if bound is None:
                continue
            answers = listed(part, units)
            points = [
                other.with_needed_columns(np.searchsorted(other.table.index, part.index[picks]))
                for picks in answers.picks[answers.within_sums][:100]
            ]
            check(other, other.objectives[wish], bound, points)
            bounded += bool(points)
            tight += bool(points) and bound.least > 0
    assert bounded >= 200
    assert tight >= 10


@pytest.mark.slow
def test_multipliers_carried_to_fewer_rows_bound_them_no_worse() -> None:
    """What every joint's rows are counted from, and in which units, changes with the rows."""
    changed = 0
    for seed in range(300):
        made, rng = random_table(seed), np.random.default_rng(seed)
        units = reduction_units(made)
        wish = WISHES[seed % len(WISHES)]
        amounts: dict[Wish, float]
        amounts = {"material": float(made.material_kg.sum()), "cost": float(made.cost.sum())}
        ceilings = {w: v for w, v in amounts.items() if rng.random() < 0.5}
        program = build_search_program(made, units, wish, ceilings, {})
        objective = program.objectives[wish]
        start = program.every_row
        relaxed = relax_program(program, objective, start, time.monotonic() + 10.0)
        if relaxed is None:
            continue
        given = named_multipliers(program, objective, relaxed.bound.multipliers)
        keep = rng.random(len(made)) < 0.6
        keep[[rng.choice(np.flatnonzero(made.joint == joint)) for joint in range(made.joints)]] = 1
        fewer = build_search_program(made.take(keep), units, wish, ceilings, {})
        other = fewer.objectives[wish]
        bound = bound_by(fewer, other, multipliers_for_program(fewer, other, given))
        assert bound is not None
        low = objective.offset + objective.scale * relaxed.bound.value
        again = other.offset + other.scale * bound.value
        if np.any(fewer.limits.right < 0):
            continue  # what the lightest take is over a limit: nothing is left to be bounded
        assert again >= low - 1e-6 * max(1.0, abs(low)), (seed, wish)
        changed += (other.offset, other.scale) != (objective.offset, objective.scale)
    assert changed >= 40


@pytest.mark.parametrize("price", [-50.0, 50.0])
def test_the_price_of_a_joint_without_rows_counts_nothing(price: float) -> None:
    """A joint that follows others is left out: it takes no row, so its price pays for nothing."""
    rows = [Row(joint, ring) for joint in (0, 1) for ring in (0, 1)]
    made = table(rows)
    program = build_search_program(
        made.take(made.joint == 1), reduction_units(made), "ring_parts", {}, {}
    )
    assert program.present.tolist() == [False, True]
    objective = program.objectives["ring_parts"]
    real = Multipliers(np.empty(0), np.array([price, -1.0]), np.empty(0), np.empty(0))
    bound = bound_by(program, objective, real)
    assert bound is not None
    assert bound.least == 1


def test_what_carried_multipliers_do_not_know_counts_0() -> None:
    rows = [Row(joint, ring, cutter=ring) for joint in (0, 1) for ring in (0, 1, 2)]
    made = table(rows)
    units = reduction_units(made)
    first = build_search_program(made.take(made.ring == 1), units, "cutters", {}, {})
    assert len(first.cutters.owner) == 2
    real = Multipliers(np.empty(0), np.zeros(2), np.array([0.25, 0.75]), np.empty(0))
    whole = whole_multipliers(first, first.objectives["cutters"], real)
    assert whole is not None
    every = build_search_program(made, units, "cutters", {}, {})
    given = named_multipliers(first, first.objectives["cutters"], whole)
    again = multipliers_for_program(every, every.objectives["cutters"], given)
    known = dict(zip(every.cutters.key.tolist(), again.cutters, strict=True))
    # joint and cutter as one number: cutter 1 on joint 0 and joint 1
    assert known == {0: 0.0, 1: 0.0, 2: 0.25, 3: 0.75, 4: 0.0, 5: 0.0}


def two_joints() -> Program:
    """Return a program of two joints with two rings of their own each, weighing 3, 1 and 2, 5."""
    rows = [Row(0, 0, kg=3.0), Row(0, 1, kg=1.0), Row(1, 2, kg=2.0), Row(1, 3, kg=5.0)]
    made = table(rows)
    return build_search_program(
        made, replace(reduction_units(made), material_kg=1.0), "material", {}, {}
    )


def test_the_bound_of_the_lp_is_tight_where_the_lp_is_whole() -> None:
    program = two_joints()
    objective = program.objectives["material"]
    assert (objective.offset, objective.scale, objective.weights.tolist()) == (3, 1, [2, 0, 0, 3])
    relaxed = relax_program(
        program, objective, TableRows(np.array([0, 3])), time.monotonic() + 10.0
    )
    assert relaxed is not None
    bound = relaxed.bound
    assert bound.least == 0
    assert objective.value(program.with_needed_columns(TableRows(np.array([1, 2])))) == 3
    # row 0 costs 2 more, row 3 costs 3 more
    assert bound.usable(0).tolist() == [False, True, True, False]
    assert bound.usable(2).tolist() == [True, True, True, False]
    assert bound.usable(3).tolist() == [True, True, True, True]
    assert not bound.usable(-1).any()


def test_numbers_that_could_overflow_are_refused() -> None:
    program, objective, _ = random_program(3)
    real = random_multipliers(program, np.random.default_rng(0), 1.0)
    assert whole_multipliers(program, objective, real) is not None
    assert whole_multipliers(program, objective, replace(real, joints=real.joints + 1e17)) is None
    assert whole_multipliers(program, objective, replace(real, limits=real.limits + 1e16)) is None


def test_a_limit_that_weighs_nothing_has_no_multiplier_too_large_for_64_bits() -> None:
    program = two_joints()
    empty = sparse.csr_array((1, program.columns), dtype=np.int64)
    program = replace(program, limits=program.limits.with_line("nothing", empty, 0))
    objective = program.objectives["material"]
    for size in (1.0, 1e6, 1e12, 1e30):
        real = Multipliers(np.array([size]), np.zeros(2), np.empty(0), np.empty(0))
        whole = whole_multipliers(program, objective, real)
        assert whole is None or whole.limits[0] == round(size * whole.scale)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6), power=st.integers(0, 60))
def test_sums_of_the_largest_multipliers_let_through_do_not_wrap(seed: int, power: int) -> None:
    """Whole numbers of any size in Python say the same as the 64-bit ones."""
    program, objective, points = random_program(seed)
    real = random_multipliers(program, np.random.default_rng(seed), 2.0**power)
    bound = bound_by(program, objective, real)
    if bound is None:
        return
    whole, weights = bound.multipliers, program.limits.weights.toarray().astype(object)
    prices = whole.scale * objective.weights.astype(object)
    prices = prices + whole.limits.astype(object) @ weights
    s = prices[: program.rows] + whole.joints.astype(object)[program.joint]
    for row, pair in enumerate(program.cutters.pair.tolist()):
        s[row] += int(whole.cutters[pair]) if pair >= 0 else 0
    for row, choice in enumerate(program.patterns.choice.tolist()):
        s[row] += int(whole.heads[choice]) if choice >= 0 else 0
    assert s.tolist() == bound.row_prices.tolist()
    check(program, objective, bound, points)


@pytest.mark.parametrize("values", [[2**62, 2**62, -(2**62)], [-1, -1], [], [2**31, 5]])
def test_exact_sum_is_that_of_python(values: list[int]) -> None:
    assert lagrangian_exact_sum(np.array(values, dtype=np.int64)) == sum(values)


@pytest.mark.cases(fast=3)
@pytest.mark.parametrize("value", [np.inf, -np.inf, np.nan])
@pytest.mark.parametrize("kind", ["limits", "joints", "cutters", "heads"])
def test_broken_multipliers_give_no_bound_or_a_valid_one(kind: str, value: float) -> None:
    checked = 0
    for seed in range(4, 30):
        program, objective, points = random_program(seed)
        real = random_multipliers(program, np.random.default_rng(seed), 1.0)
        broken = getattr(real, kind).copy()
        if len(broken) == 0 or not points:
            continue
        broken[0] = value
        bound = bound_by(program, objective, replace(real, **{kind: broken}))
        if bound is not None:
            check(program, objective, bound, points)
        checked += 1
    assert checked >= 2


@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_multipliers_of_the_wrong_sign_are_made_0(seed: int) -> None:
    program, objective, _ = random_program(seed)
    real = random_multipliers(program, np.random.default_rng(seed), 3.0)
    whole = whole_multipliers(
        program, objective, replace(real, limits=-real.limits, cutters=-real.cutters)
    )
    assert whole is not None
    assert not whole.limits.any()
    assert not whole.cutters.any()
