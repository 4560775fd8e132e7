"""Bounds by multipliers hold whatever the multipliers are; good ones come from the LP."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import sparse

from optimizer import multipliers
from optimizer.multipliers import Lines


def random_program(seed: int) -> tuple[np.ndarray, Lines, list[np.ndarray]]:
    """Return weights, lines and all feasible 0/1 points of a small one-per-group program."""
    rng = np.random.default_rng(seed)
    groups, size, extra = 3, 3, 2
    columns = groups * size + extra
    weights = rng.integers(-5, 20, columns)
    upper = rng.integers(-3, 10, (4, columns))
    equal = np.zeros((groups, columns), dtype=np.int64)
    for g in range(groups):
        equal[g, g * size : (g + 1) * size] = 1
    points = []
    for picks in itertools.product(range(size), repeat=groups):
        for tail in itertools.product((0, 1), repeat=extra):
            x = np.zeros(columns, dtype=np.int64)
            x[[g * size + p for g, p in enumerate(picks)]] = 1
            x[groups * size :] = tail
            points.append(x)
    right = np.array([int(np.median([row @ x for x in points])) for row in upper])
    lines = Lines(
        np.arange(columns), sparse.csr_array(upper), right.astype(np.int64), sparse.csr_array(equal)
    )
    return weights, lines, [x for x in points if np.all(upper @ x <= right)]


@settings(max_examples=150, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6), bad=st.booleans())
def test_no_multipliers_cut_off_an_answer(seed: int, bad: bool) -> None:
    weights, lines, feasible = random_program(seed)
    rng = np.random.default_rng(seed + 1)
    if bad:
        bound = multipliers.exact(weights, lines, rng.normal(0, 3, 4), rng.normal(0, 9, 3))
    else:
        bound = multipliers.bound(weights, lines, 10.0)
    if bound is None:
        assert not feasible, "the LP has an answer wherever the whole numbers have one"
        return
    for x in feasible:
        value = int(weights @ x)
        assert bound.least <= value
        assert np.all(bound.usable(value)[x == 1]), "a column of an answer this good was dropped"


def test_the_bound_of_the_lp_is_tight_where_the_lp_is_whole() -> None:
    weights = np.array([3, 1, 2, 5])
    lines = Lines(
        np.arange(4),
        sparse.csr_array(np.zeros((1, 4), dtype=np.int64)),
        np.zeros(1, dtype=np.int64),
        sparse.csr_array(np.array([[1, 1, 0, 0], [0, 0, 1, 1]])),
    )
    bound = multipliers.bound(weights, lines, 10.0)
    assert bound is not None
    assert bound.least == 3
    # least 3 by columns 1 and 2; column 0 costs 2 more, column 3 costs 3 more
    assert bound.usable(3).tolist() == [False, True, True, False]
    assert bound.usable(5).tolist() == [True, True, True, False]
    assert bound.usable(6).tolist() == [True, True, True, True]


def test_numbers_that_could_overflow_are_refused() -> None:
    weights, lines, _ = random_program(3)
    assert multipliers.exact(weights, lines, np.full(4, 1e13), np.zeros(3)) is None


@pytest.mark.parametrize("value", [np.inf, np.nan])
def test_broken_multipliers_give_no_bound_or_a_valid_one(value: float) -> None:
    weights, lines, feasible = random_program(4)
    assert feasible
    bound = multipliers.exact(weights, lines, np.array([value, 0, 0, 0]), np.zeros(3))
    assert bound is None or all(bound.least <= int(weights @ x) for x in feasible)
