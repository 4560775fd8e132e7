"""Head patterns, rounded limits, the relaxation and the listing, each against every answer of a table."""

from __future__ import annotations

import itertools
import math
import time
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize

from ringset.reduction.head_patterns import reduction_head_patterns
from ringset.reduction.table import Table, TableRows
from ringset.reduction.units import reduction_units
from ringset.schema.gives import study_plain_wishes
from ringset.schema.study import WISHES, Wish
from ringset.search.bounds import column_generation as relaxing
from ringset.search.bounds.column_generation import relax_program
from ringset.search.bounds.lagrangian import lagrangian_bound, whole_multipliers
from ringset.search.bounds.linear_program import Box, linear_program
from ringset.search.bounds.subgradient import climb, climb_start_prices
from ringset.search.exact.branch_and_bound import Count, program_with_counts
from ringset.search.exact.enumeration import best_enumerated
from ringset.search.model.matrix import ConstraintMatrix, search_constraint_matrix
from ringset.search.model.program import Program, build_search_program
from ringset.search.tuning import search_tuning
from tests.search.test_lagrangian import random_multipliers, random_program
from tests.support.tables import Listed, Row, listed, random_ceilings, random_table, table
from tests.support.tuned import tune

SEEDS = st.integers(0, 10**6)
#: HiGHS keeps prices to 1e-7 of its own scaling, and limits weigh up to a million units a column: bounds were
#: seen to fall short by 1.4e-5 of the optimum. A row left out costs a hundredth and more.
LP_ERROR = 1e-4

PATTERNS_MAX = search_tuning().patterns_max


def columns_of(program: Program, picks: np.ndarray) -> np.ndarray | None:
    """Return an answer's columns, None if the program has not all of its rows."""
    if not np.all(np.isin(picks, program.table.index)):
        return None
    return program.with_needed_columns(TableRows(np.searchsorted(program.table.index, picks)))


# -- head patterns ---------------------------------------------------------------------------------


@settings(max_examples=150, deadline=None, derandomize=True)
@given(seed=SEEDS, most=st.sampled_from([None, 0, 1, 3]))
def test_no_answer_is_lost_by_head_patterns(seed: int, most: int | None) -> None:
    made = random_table(seed)
    answers = listed(made, reduction_units(made))
    allowed = answers.picks[answers.within_sums]
    heads = answers.values["heads"][answers.within_sums]
    ceiling = None if most is None or not len(heads) else int(heads.min()) + most
    left, ways = reduction_head_patterns(made, ceiling, PATTERNS_MAX)
    assert ways.key.tolist() == sorted(set(ways.key.tolist()))
    shows = ways.choice >= 0
    assert (16 * left.joint + left.heads)[shows].tolist() == ways.key[ways.choice[shows]].tolist()
    known = [{tuple(ways.key[way]) for way in group} for group in ways.groups]
    for rows, total in zip(allowed, heads, strict=True):
        if ceiling is None or total <= ceiling:
            assert np.all(np.isin(rows, left.index))
            key = 16 * made.joint[rows] + made.heads[rows]
            for group, mine in zip(ways.groups, known, strict=True):
                joints = ways.key[group[0]] // 16
                assert tuple(key[joints]) in mine


@settings(max_examples=100, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_every_pattern_is_within_its_limit_by_the_least_values(seed: int) -> None:
    """The list is no longer than the theorem says, and every row is in some pattern."""
    made = random_table(seed)
    left, ways = reduction_head_patterns(made, None, PATTERNS_MAX)
    target = next((s for s in made.sums if not s.follows_heads), None)
    for group in ways.groups:
        joints = ways.key[group[0]] // 16
        assert target is not None
        (number,) = set(target.group[joints].tolist())
        assert joints.tolist() == np.flatnonzero(target.group == number).tolist()
        kept, near = set(), set()
        options = [sorted(set(made.heads[made.joint == j].tolist())) for j in joints]
        for heads in itertools.product(*options):
            least = [
                target.values[(made.joint == j) & (made.heads == h)].min()
                for j, h in zip(joints, heads, strict=True)
            ]
            if sum(least) <= target.limits[number]:
                kept.add(tuple(16 * joints + np.array(heads)))
            if sum(least) <= target.limits[number] * (1.0 + 1e-8):
                near.add(tuple(16 * joints + np.array(heads)))
        assert kept <= {tuple(ways.key[way]) for way in group} <= near
        assert set(ways.choice[np.isin(left.joint, joints)]) == set(group.ravel())
    for joint in set(range(made.joints)) - {int(k) // 16 for k in ways.key}:
        assert (left.joint == joint).sum() == (made.joint == joint).sum()


def test_patterns_occur_and_too_many_are_not_listed() -> None:
    sizes = [
        reduction_head_patterns(random_table(seed), None, PATTERNS_MAX)[1].size
        for seed in range(80)
    ]
    assert sum(size > 1 for size in sizes) >= 15
    for seed in range(80):
        made = random_table(seed)
        left, ways = reduction_head_patterns(made, None, 3)
        if not ways.groups:
            assert len(left) == len(made)
            assert np.all(ways.choice == -1)


# -- limits rounded to whole numbers ---------------------------------------------------------------


def scaled(made: Table, rng: np.random.Generator) -> Table:
    """Return the table with every amount and sum times some power of two, which changes no answer."""
    sums = tuple(
        replace(s, values=s.values * factor, limits=s.limits * factor)
        for s, factor in zip(made.sums, 2.0 ** rng.integers(-30, 31, len(made.sums)), strict=True)
    )
    return replace(made, sums=sums)


@pytest.mark.slow
def test_rounding_cuts_off_no_answer_and_lets_none_beyond_a_limit_pass() -> None:
    """`allowed` says of listed answers what real numbers say; rows in whole numbers say no more."""
    slipped = met = 0
    for seed in range(200):
        made, rng = random_table(seed), np.random.default_rng(seed)
        made = scaled(made, rng)
        units = reduction_units(made)
        answers = listed(made, units)
        ceilings = random_ceilings(rng, answers)
        wish = WISHES[int(rng.integers(len(WISHES)))]
        # held at what some answer reaches, or one below
        held = {
            w: int(rng.choice(answers.values[w])) - int(rng.integers(0, 2))
            for w in WISHES
            if rng.random() < 0.3
        }
        program = build_search_program(made, units, wish, ceilings, held)
        kept = answers.allowed(ceilings)
        for other, most in held.items():
            kept &= answers.values[other] <= most
        some = rng.permutation(len(kept))[:200]
        for rows, allowed in zip(answers.picks[some], kept[some], strict=True):
            x = columns_of(program, rows)
            if x is None:
                assert not allowed, seed
                continue
            assert program.allowed(x) == allowed, seed
            whole = bool(np.all(program.limits.weights @ x <= program.limits.right))
            assert whole >= allowed, seed
            slipped += whole > allowed
            met += allowed
        for name, objective in program.objectives.items():
            (plain,) = study_plain_wishes([name])
            for place in some[:20]:
                x = columns_of(program, answers.picks[place])
                assert x is None or objective.value(x) == answers.values[plain][place]
    assert slipped >= 10  # beyond a real limit by less than a unit: only `allowed` knows
    assert met >= 1000


# -- the program as matrices, and the relaxation ---------------------------------------------------


@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_the_matrices_let_just_the_answers_pass(seed: int) -> None:
    """Every answer within the whole limits has a pattern to show; columns it needs may not be off."""
    program, _, points = random_program(seed, any_sign=False)
    lines = search_constraint_matrix(program, program.every_row)
    assert lines.columns.tolist() == list(range(program.columns))
    first = np.cumsum([0, *(len(group) for group in program.patterns.groups)])[:-1]
    for x in points[:40]:
        shown = np.zeros(lines.patterns)
        pairs = set(program.patterns.choice[program.taken(x)].tolist())
        for start, group in zip(first, program.patterns.groups, strict=True):
            ways = [k for k, way in enumerate(group) if set(way.tolist()) <= pairs]
            assert len(ways) == 1
            shown[start + ways[0]] = 1.0
        whole = np.concatenate([x, shown])
        assert holding(lines, whole)
        for column in np.flatnonzero(x):
            less = whole.copy()
            less[column] = 0.0
            asked = column < program.rows or program.with_needed_columns(
                program.taken(x)
            )[column]  # fmt: skip
            assert holding(lines, less) == (not asked)


def holding(lines: ConstraintMatrix, whole: np.ndarray) -> bool:
    """Say whether columns keep every line."""
    total, most = lines.matrix @ whole, lines.most
    within = np.all(total[:most] <= lines.right[:most])
    return bool(within and np.all(total[most:] == lines.right[most:]))


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize("climb_rows", [search_tuning().climb_rows, 1], ids=["plain", "climbing"])
def test_the_relaxation_reaches_the_optimum_of_all_rows(
    climb_rows: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Begun with a row of each joint, it comes to what scipy's HiGHS finds on all rows, to LP_ERROR."""
    tune(monkeypatch, climb_rows=climb_rows)
    # few rows at a time, so that most have to be priced before they join
    tune(monkeypatch, first_rows=1, climbed_rows=1)
    compared = joined = settled = 0
    for seed in range(80):
        program, objective, points = random_program(seed, any_sign=False)
        if not points:
            continue
        start = np.flatnonzero(points[-1][: program.rows])
        relaxed = relax_program(program, objective, TableRows(start), time.monotonic() + 20.0)
        lines = search_constraint_matrix(program, program.every_row)
        best = optimize.linprog(
            np.pad(objective.weights, (0, lines.patterns)),
            lines.matrix[: lines.most], lines.right[: lines.most],
            lines.matrix[lines.most :], lines.right[lines.most :],
        )  # fmt: skip
        assert relaxed is not None
        assert best.status == 0
        room = LP_ERROR * max(1.0, abs(best.fun))
        if relaxed.bound.least >= int(objective.weights @ points[-1]):
            # nothing is better than the answer it began with: no round followed
            assert relaxed.bound.value <= best.fun + room, seed
            settled += 1
            continue
        assert relaxed.optimum == pytest.approx(best.fun, abs=room), seed
        assert relaxed.bound.value == pytest.approx(best.fun, abs=room), seed
        compared += 1
        joined += len(relaxed.rows) < program.rows
    assert settled >= 3
    assert compared >= 20
    assert joined >= 10  # else all rows took part from the start, and nothing was priced


def test_good_multipliers_stay_allowed_in_their_own_box() -> None:
    """With columns that serve rows which do not go together, the optimum of rows that do is the same."""
    shown = asked = 0
    for seed in range(80):
        program, objective, points = random_program(seed, any_sign=False)
        if not points:
            continue
        parts = max(int(x[program.ring_columns].sum()) for x in points)
        count = Count(False, np.unique(program.table.ring), parts, at_least=True)
        program = program_with_counts(program, (count,))
        lines = search_constraint_matrix(program, program.every_row)
        free = linear_program(objective, lines, 20.0)
        assert free is not None
        good = relaxing._multipliers(program, lines, free)
        # what a joint's price gains, all its head counts may lose: every answer shows just one of them
        joint = program.patterns.key // 16
        gain = np.where(np.isin(np.arange(program.joints), joint), 1e3, 0.0)
        good = replace(good, joints=good.joints + gain, heads=good.heads - gain[joint])
        box = Box(np.flatnonzero(program.present), good, width=0.0, most=0.3, worth=0.0)
        boxed = linear_program(objective, lines, 20.0, box)
        assert boxed is not None
        room = LP_ERROR * max(1.0, abs(free.optimum))
        assert boxed.optimum == pytest.approx(free.optimum, abs=room), seed
        shown += len(joint) > 0
        asked += bool(np.any(good.limits[program.limits.right < 0] > LP_ERROR))
    assert shown >= 10
    assert asked >= 10


def test_what_is_climbed_to_is_a_bound_of_its_multipliers_and_no_joint_left_out_pays() -> None:
    """The climb in floats beside the exact bound."""
    left_out = climbed_up = same = 0
    for seed in range(120):
        program, objective, points = random_program(seed, any_sign=False)
        start = np.flatnonzero(points[0][: program.rows]) if points else np.arange(0)
        target = float(min((int(objective.weights @ x) for x in points), default=3))
        climbed = climb(
            program,
            objective,
            climb_start_prices(program, objective, TableRows(start)),
            target,
            40,
            math.inf,
        )
        assert not climbed.multipliers.joints[~program.present].any()
        whole = whole_multipliers(program, objective, climbed.multipliers)
        assert whole is not None
        exact = lagrangian_bound(program, objective, whole).value
        # the climb counts every ring of a joint's own, the exact bound only the best of them
        assert exact >= climbed.bound - 1e-6 * max(1.0, abs(climbed.bound))
        same += abs(exact - climbed.bound) <= 1e-6 * max(1.0, abs(climbed.bound))
        left_out += not program.present.all()
        climbed_up += climbed.bound > 0.1 * target
    assert left_out >= 10
    assert same >= 40
    assert climbed_up >= 30


def test_a_relaxation_that_is_whole_gives_its_rows() -> None:
    made = table([Row(0, 0, kg=3.0), Row(0, 1, kg=1.0), Row(1, 2, kg=2.0), Row(1, 3, kg=5.0)])
    program = build_search_program(made, reduction_units(made), "material", {}, {})
    objective = program.objectives["material"]
    relaxed = relax_program(
        program, objective, TableRows(np.array([0, 2])), time.monotonic() + 10.0
    )
    assert relaxed is not None
    rows = relaxed.whole_rows()
    assert rows is not None
    assert sorted(rows.tolist()) == [1, 2]
    assert replace(relaxed, shares=relaxed.shares * 0.5).whole_rows() is None
    assert (
        relax_program(program, objective, TableRows(np.array([0, 2])), time.monotonic() - 1.0)
        is None
    )


# -- the last answers, listed ----------------------------------------------------------------------


def best_by_hand(program: Program, answers: Listed, wish: Wish, raw: int) -> int | None:
    """Return the least value of an allowed answer below `raw`, in the objective's own weights."""
    objective, found = program.objectives[wish], []
    for rows in answers.picks:
        x = columns_of(program, rows)
        if x is not None and program.allowed(x):
            found.append(int(objective.weights @ x))
    return min((value for value in found if value < raw), default=None)


@pytest.mark.slow
def test_the_listing_finds_exactly_what_listing_everything_finds(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Whatever the multipliers are; with too little room it says so and claims nothing."""
    seen: Counter[str] = Counter()
    for seed in range(150):
        made, rng = random_table(seed, joints=3), np.random.default_rng(seed)
        units = reduction_units(made)
        answers = listed(made, units)
        wish = WISHES[seed % len(WISHES)]
        program = build_search_program(made, units, wish, random_ceilings(rng, answers), {})
        objective = program.objectives[wish]
        real = random_multipliers(program, rng, float(rng.choice((0.0, 0.5, 5.0))))
        if seed % 2:
            relaxed = relax_program(program, objective, program.every_row, time.monotonic() + 9.0)
            bound = None if relaxed is None else relaxed.bound
        else:
            whole = whole_multipliers(program, objective, real)
            bound = None if whole is None else lagrangian_bound(program, objective, whole)
        if bound is None:
            continue
        reached = np.unique(
            [(int(v) - objective.offset) // objective.scale for v in answers.values[wish]]
        )
        raw = int(rng.choice(reached)) + int(rng.integers(0, 2))
        best = best_by_hand(program, answers, wish, raw)
        done, x = best_enumerated(program, objective, bound, raw)
        assert done
        assert (None if x is None else int(objective.weights @ x)) == best, seed
        assert x is None or program.allowed(x)
        seen["some" if x is not None else "none"] += 1
        with monkeypatch.context() as patch:
            tune(patch, listed_max=int(rng.integers(0, 6)))
            done, x = best_enumerated(program, objective, bound, raw)
        if done:
            assert (None if x is None else int(objective.weights @ x)) == best, seed
        else:
            assert x is None
            seen["too many"] += 1
    assert min(seen["some"], seen["none"], seen["too many"]) >= 15
