"""Rings that an answer with few ring parts can use, held against every way to choose rings, listed.

They are found twice, by the search and by the check of a certificate; both are held against the list.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np
import pytest

from ringset.reduction.least_covers import reduced_to_covers
from ringset.reduction.table import Table
from ringset.reduction.units import reduction_units
from ringset.schema.study import WISHES, Wish
from ringset.verification.certificate.covers import (
    certificate_covered_table,
    certificate_rows_of_few_rings,
)
from tests.support.tables import Row, listed, random_table, side_by_side, table

PLENTY = 10_000
BOTH = pytest.mark.parametrize("found", [reduced_to_covers, certificate_rows_of_few_rings])
Found = Callable[[Table, int, int], np.ndarray]


def rows_in_answers(made: Table, most: int) -> np.ndarray:
    """Return which rows some choice of one row a joint takes that has at most `most` rings."""
    of = [np.flatnonzero(made.joint == joint) for joint in np.unique(made.joint)]
    used = np.zeros(len(made), dtype=bool)
    for rows in itertools.product(*of):
        if len(np.unique(made.ring[list(rows)])) <= most:
            used[list(rows)] = True
    return used


def many_joints(seed: int) -> Table:
    """Return a table of up to three small ones side by side, one head count a ring, five joints at most."""
    rng = np.random.default_rng(seed)
    parts = []
    for number in range(int(rng.integers(1, 4))):
        joints = int(rng.integers(1, 4 if number == 0 else 3))
        rings = int(rng.integers(joints, 6))
        rows = [
            Row(joint, int(ring))
            for joint in range(joints)
            for ring in rng.choice(rings, int(rng.integers(1, 4)), replace=True)
        ]
        parts.append(table(sorted(set(rows))))
    return side_by_side(parts)


def answer_counts(made: Table) -> range:
    """Return numbers of ring parts from none to one for each joint."""
    return range(made.joints + 1)


@pytest.mark.cases(fast=2, slow=6)
@BOTH
@pytest.mark.parametrize("first", range(0, 300, 20))
def test_just_the_rings_that_no_answer_with_so_few_parts_uses_leave(
    found: Found, first: int
) -> None:
    """With tries to spare the theorem is sharp: the ring, and least covers of all else, are an answer."""
    left = 0
    for seed in range(first, first + 20):
        for made in (many_joints(seed), random_table(seed)):
            for most in answer_counts(made):
                kept, used = found(made, most, PLENTY), rows_in_answers(made, most)
                assert np.all(kept | ~used), (seed, most)
                assert np.array_equal(kept, used), (seed, most)
                left += int(np.sum(~kept))
    assert left > 40


@pytest.mark.parametrize("tries", [0, 1, 2, 3, 5, 8])
@BOTH
def test_with_few_tries_no_ring_leaves_that_an_answer_uses(found: Found, tries: int) -> None:
    for seed in range(20 * tries, 20 * tries + 20):
        made = many_joints(seed)
        for most in answer_counts(made):
            kept = found(made, most, tries)
            assert np.all(kept | ~rows_in_answers(made, most)), (seed, most)


@BOTH
def test_without_room_for_the_least_no_row_stays_and_no_rows_are_no_rows(found: Found) -> None:
    made = table([Row(0, 0), Row(1, 1), Row(2, 1), Row(2, 2)])
    assert not found(made, 1, PLENTY).any()
    assert found(made, 2, PLENTY).tolist() == [True, True, True, False]
    assert found(made, 3, PLENTY).all()
    assert len(found(made.take(np.zeros(4, dtype=bool)), 3, PLENTY)) == 0


@BOTH
def test_a_hundred_joints_in_a_chain_take_every_second_ring(found: Found) -> None:
    """Ring k serves joints k and k + 1: 100 joints need 50 rings, the first, the third, and so on."""
    rows = [
        Row(joint, ring) for joint in range(100) for ring in (joint - 1, joint) if 0 <= ring < 99
    ]
    made = table(rows)
    kept = found(made, 50, PLENTY)
    assert np.array_equal(kept, made.ring % 2 == 0)
    assert found(made, 51, PLENTY).sum() > kept.sum()


@pytest.mark.cases(fast=12, slow=40)
@pytest.mark.parametrize("seed", range(500))
def test_rows_covered_for_a_certificate_hold_a_best_answer(seed: int) -> None:
    """Reduction and covers in turn, by cutters where there may be one, keep the least of every wish."""
    made = random_table(seed)
    units = reduction_units(made)
    every = listed(made, units)
    for parts, cutters in itertools.product(answer_counts(made), (None, 1)):
        limits: dict[Wish, float] = {"ring_parts": parts}
        limits |= {} if cutters is None else {"cutters": cutters}
        for wish in WISHES:
            left = certificate_covered_table(made, frozenset({wish, *limits}), cutters, parts)
            few = listed(left, units).best([wish], limits)
            assert few == every.best([wish], limits), (wish, limits)
