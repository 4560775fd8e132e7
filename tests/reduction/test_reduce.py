"""The exact reduction: an optimum always survives, and each theorem stops where it must."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from ringset.catalogue.joints import catalogue_joints
from ringset.catalogue.rows import Catalogue
from ringset.physics.toolpoint import lever_error_um
from ringset.rating.rated import Rated
from ringset.rating.robot_sums import rated_ring_keys
from ringset.reduction import dominance as dominating
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.reduce import reduce
from ringset.reduction.units import reduction_units
from ringset.schema.study import Study, Wish
from ringset.search.wishes_in_turn import minimise_wishes
from tests.support.studies import Json, inside_rows, joint, load, random_study
from tests.support.tuned import switch_off

STUDIES = 120
CHUNK = 30


def needed(study: Study) -> frozenset[Wish]:
    """Return the wishes that rank or have a ceiling."""
    return frozenset(study.wishes.order) | frozenset(study.wishes.ceilings())


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("first", range(5000, 5000 + STUDIES, CHUNK))
def test_the_best_values_survive(first: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same search with and without the reduction reaches the same values."""
    compared = left = 0
    for seed in range(first, first + CHUNK):
        study = load(random_study(seed)).canonical()
        rated = inside_rows(study)
        if len(np.unique(rated.catalogue.joint)) < len(rated.catalogue.joints):
            continue
        table = reduction_table(study, rated)
        given = (
            table,
            reduction_units(table),
            study.wishes.order,
            study.wishes.ceilings(),
            study.search,
        )
        choices = [minimise_wishes(*given)]
        with monkeypatch.context() as patch:
            switch_off(patch, "reduction")
            choices.append(minimise_wishes(*given))
        assert choices[1].rows_searched in (0, len(table)), "nothing may leave by sifting here"
        values = [[(s.wish, s.value) for s in choice.stages] for choice in choices]
        assert choices[0].status == choices[1].status, seed
        assert values[0] == values[1], seed
        compared += bool(values[0])
        left += len(reduce(table, needed(study))) < len(table)
    assert compared >= CHUNK // 3
    assert left >= CHUNK // 3


# -- each theorem, on rows made by hand ------------------------------------------------------------


def rated_rows(study: Study, rows: list[tuple[int, int, int, int, int, float, float]]) -> Rated:
    """Return rows (joint, module index, teeth, bore steps, heads, error, kg), all else nothing."""
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    modules = np.array(study.shop.modules)
    catalogue = Catalogue(catalogue_joints(study), modules, study.shop.bore_step_mm, *columns[:5])
    none = np.zeros(len(rows))
    given: dict[str, Any] = {
        "catalogue": catalogue, "blank_kg": columns[6], "error_arcsec": columns[5],
        "cutter": catalogue.module.copy(), "limits": {},
    }  # fmt: skip
    given |= {f.name: none for f in dataclasses.fields(Rated) if f.name not in given}
    return Rated(**given)


def study_of(joints: int, target_um: float | None = None, **fields: Any) -> Study:
    """Return a study of one arm with a reach of 100 mm on every joint; `fields` are the wishes."""
    robot = {
        "name": "arm",
        "joints": [
            joint(f"joint {i}", 40.0, reach_mm=100.0, head_counts=[1, 2, 3, 4])
            for i in range(joints)
        ],
        "tool_point_target_um": target_um,
    }
    return load(
        {
            "robots": [robot],
            "shop": {"modules": [1.0, 2.0]},
            "target": {"angle_target_arcsec": 200.0},
            "wishes": fields,
        }
    ).canonical()


def kept(study: Study, *rows: tuple[int, int, int, int, int, float, float]) -> list[int]:
    """Return the places of the rows that stay."""
    left = reduce(reduction_table(study, rated_rows(study, list(rows))), needed(study))
    return [int(place) for place in left.index]


# joint, module index, teeth, bore steps, heads, error in arcsec, mass in kg
EXACT, LIGHT = (0, 0, 60, 80, 1, 50.0, 0.2), (0, 0, 60, 90, 1, 90.0, 0.1)


def test_a_smaller_error_saves_a_heavier_ring_only_where_error_counts() -> None:
    assert kept(study_of(1), EXACT, LIGHT) == [1]
    assert kept(study_of(1, 1000.0), EXACT, LIGHT) == [0, 1]


def test_error_does_not_count_on_a_joint_without_reach() -> None:
    study = study_of(2, 1000.0)
    robot = study.robots[0]
    near = robot.joints[0].model_copy(update={"reach_mm": 0.0})
    robot = robot.model_copy(update={"joints": [near, robot.joints[1]]})
    study = study.model_copy(update={"robots": [robot]})
    other = (1, 0, 70, 80, 1, 50.0, 0.3)
    assert kept(study, EXACT, LIGHT, other) == [1, 2]


def test_error_does_not_count_for_a_robot_without_a_target() -> None:
    """The target of another robot changes nothing."""
    study = study_of(1, 1000.0)
    free = study.robots[0].model_copy(update={"name": "zebra", "tool_point_target_um": None})
    study = study.model_copy(update={"robots": [*study.robots, free]})
    mine = [(1, *row[1:]) for row in (EXACT, LIGHT)]
    first = (0, 1, 40, 60, 1, 50.0, 0.2)
    assert kept(study, first, *mine) == [0, 2]


SHARED = [(0, 0, 60, 80, 1, 50.0, 0.2), (1, 0, 60, 80, 1, 50.0, 0.2)]
OWN = (0, 0, 60, 90, 1, 50.0, 0.1)


@pytest.mark.parametrize("wishes", [{}, {"order": ["material"], "ring_parts_max": 1}])
def test_a_ring_for_two_joints_outlives_a_lighter_ring_for_one(wishes: Json) -> None:
    assert kept(study_of(2, **wishes), SHARED[0], OWN, SHARED[1]) == [0, 1, 2]


def test_without_ring_parts_every_joint_is_on_its_own() -> None:
    study = study_of(2, order=["material", "cutters", "heads"])
    assert kept(study, SHARED[0], OWN, SHARED[1]) == [1, 2]


def test_a_ring_for_two_joints_replaces_a_heavier_ring_for_one() -> None:
    heavy = (0, 0, 60, 70, 1, 50.0, 0.3)
    assert kept(study_of(2), heavy, *SHARED) == [1, 2]


OTHER_CUTTER = (0, 1, 30, 90, 1, 50.0, 0.1)


@pytest.mark.parametrize(
    ("wishes", "stays"),
    [
        ({}, [0, 1]),
        ({"order": ["material", "ring_parts"]}, [1]),
        ({"order": ["material", "ring_parts"], "cutters_max": 1}, [0, 1]),
    ],
)
def test_a_ring_of_another_cutter_replaces_only_where_cutters_do_not_count(
    wishes: Json, stays: list[int]
) -> None:
    heavy = (0, 0, 60, 80, 1, 50.0, 0.2)
    assert kept(study_of(1, **wishes), heavy, OTHER_CUTTER) == stays


def test_a_lighter_ring_that_needs_more_heads_replaces_nothing() -> None:
    one, two = (0, 0, 60, 80, 1, 50.0, 0.2), (0, 0, 60, 90, 2, 40.0, 0.1)
    assert kept(study_of(1), one, two) == [0, 1]


def test_a_lighter_ring_with_fewer_heads_replaces() -> None:
    two, one = (0, 0, 60, 80, 2, 50.0, 0.2), (0, 0, 60, 90, 1, 60.0, 0.1)
    assert kept(study_of(1), two, one) == [1]
    assert kept(study_of(1, 1000.0), two, one) == [0, 1]


def test_of_equal_rings_exactly_the_first_stays() -> None:
    rows = [
        (0, 0, 60, 80, 1, 50.0, 0.2),
        (0, 0, 61, 80, 1, 50.0, 0.2),
        (0, 0, 61, 81, 1, 50.0, 0.2),
    ]
    assert kept(study_of(1), *rows) == [0]
    assert kept(study_of(1, 1000.0), *rows) == [0]


def test_rows_with_more_heads_leave_unless_their_error_is_smaller_and_counts() -> None:
    errors = (90.0, 50.0, 60.0, 50.0)
    rows = [(0, 0, 60, 80, heads, error, 0.2) for heads, error in enumerate(errors, start=1)]
    assert kept(study_of(1), *rows) == [0]
    assert kept(study_of(1, 1000.0), *rows) == [0, 1]
    assert kept(study_of(1), *rows[1:]) == [0]


@pytest.mark.parametrize("rule", ["rss", "sum"])
@pytest.mark.parametrize(("off", "stays"), [(0.0, [0, 1, 2]), (1e-3, [0, 1, 2]), (-1e-3, [1, 2])])
def test_a_row_beyond_the_tool_point_leaves_and_one_that_meets_it_exactly_stays(
    rule: str, off: float, stays: list[int]
) -> None:
    levers = [float(lever_error_um(100.0, error)) for error in (200.0, 100.0)]
    exact = sum(levers) if rule == "sum" else float(np.hypot(levers[0], levers[1]))
    study = study_of(2, exact + off)
    robot = study.robots[0].model_copy(update={"tool_point_rule": rule})
    study = study.model_copy(update={"robots": [robot]})
    wide, narrow = (0, 0, 60, 80, 1, 200.0, 0.1), (0, 0, 61, 80, 1, 100.0, 0.2)
    assert kept(study, wide, narrow, (1, 0, 70, 80, 1, 100.0, 0.2)) == stays


def test_rows_of_one_ring_have_one_key_and_face_width_sets_rings_apart() -> None:
    study = study_of(2)
    rated = rated_rows(study, [*SHARED, OWN])
    first, second, own = rated_ring_keys(rated).tolist()
    assert first == second != own
    robot = study.robots[0]
    wide = robot.joints[1].model_copy(update={"face_width_mm": 12.0})
    robot = robot.model_copy(update={"joints": [robot.joints[0], wide]})
    apart = study.model_copy(update={"robots": [robot]})
    assert len(set(rated_ring_keys(rated_rows(apart, [*SHARED, OWN])).tolist())) == 3


# -- the dominance test against a double loop ------------------------------------------------------


def naive(cost: np.ndarray, covers: list[set[int]]) -> list[int]:
    """Return the rows that no earlier row undercuts in every column while covering as much."""
    return [
        i
        for i in range(len(cost))
        if not any((cost[j] <= cost[i]).all() and covers[j] >= covers[i] for j in range(i))
    ]


def as_bits(covers: list[set[int]], places: int) -> np.ndarray:
    """Return sets of places as 64-bit words."""
    bits = np.zeros((len(covers), places // 64 + 1), dtype=np.uint64)
    for row, cover in enumerate(covers):
        for place in cover:
            bits[row, place // 64] |= np.uint64(1 << (place % 64))
    return bits


VALUES = st.sampled_from([0.0, 1.0, 2.0, 3.0, np.inf])
COSTS = st.tuples(st.integers(0, 24), st.integers(0, 4)).flatmap(
    lambda shape: arrays(np.float64, shape, elements=VALUES)
)
#: Places in the first, the second and the third word.
PLACES = [0, 1, 63, 64, 130]


@pytest.mark.cases(fast=0)
@pytest.mark.parametrize("block", [3, 1, 256])
@settings(max_examples=150, deadline=None)
@given(cost=COSTS, data=st.data())
def test_first_undominated_is_what_a_double_loop_finds(
    block: int, cost: np.ndarray, data: st.DataObject
) -> None:
    covers = [data.draw(st.sets(st.sampled_from(PLACES))) for _ in range(len(cost))]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(dominating, "_BLOCK", block)
        found = dominating._first_undominated(cost, as_bits(covers, 131))
    assert found.tolist() == naive(cost, covers)


def test_first_undominated_beyond_one_block() -> None:
    """Enough rows that blocks are compared with what earlier blocks left."""
    rng = np.random.default_rng(7)
    cost = rng.integers(0, 60, size=(900, 3)).astype(float)
    covers = [set(np.flatnonzero(rng.random(70) < 0.9).tolist()) for _ in range(900)]
    for some in (covers, [set(range(70))] * 900):
        found = dominating._first_undominated(cost, as_bits(some, 70)).tolist()
        assert found == naive(cost, some)
        assert found[-1] >= 256
