"""The theorems of the reduction on general tables, by listing every answer; no solver takes part."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringset.reduction import dominance as dominating
from ringset.reduction.dominance import reduction_dominating_joints, reduction_followers_rows
from ringset.reduction.needs import reduction_needs
from ringset.reduction.reduce import reduce
from ringset.reduction.table import Sums, Table
from ringset.reduction.units import reduction_units
from ringset.schema.study import WISHES, Search, Wish
from ringset.search.lexicographic import Solver
from tests.support.tables import Listed, Row, listed, random_ceilings, random_table, table

SEEDS = st.integers(0, 10**6)


def every_order(needed: frozenset[Wish], ceilings: dict[Wish, float]) -> list[list[Wish]]:
    """Return every order of the needed wishes that have no ceiling, and of some with one."""
    free = sorted(needed - set(ceilings))
    return [*map(list, itertools.islice(itertools.permutations(free), 6)), sorted(needed)]


def same_best(
    whole: Listed, part: Listed, needed: frozenset[Wish], rng: np.random.Generator
) -> None:
    """Hold that the best values are the same, whatever the order and the ceilings of needed wishes."""
    for _ in range(4):
        ceilings = {w: m for w, m in random_ceilings(rng, whole).items() if w in needed}
        for order in every_order(needed, ceilings):
            assert part.best(order, ceilings) == whole.best(order, ceilings), (order, ceilings)


def subset(rng: np.random.Generator) -> frozenset[Wish]:
    """Return some wishes, each of them half of the time."""
    return frozenset(wish for wish in WISHES if rng.random() < 0.5)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_what_is_needed_stays_as_good_as_it_was(seed: int) -> None:
    """Theorems 1 to 3, for any wishes that are needed, in any order, under any of their ceilings."""
    made, rng = random_table(seed), np.random.default_rng(seed)
    units, needed = reduction_units(made), subset(rng)
    part = reduce(made, needed)
    assert set(np.unique(part.joint)) == set(np.unique(made.joint))
    same_best(listed(made, units), listed(part, units), needed, rng)


def uneven(seed: int) -> Table:
    """Return a table in which every row has its own mass, money and values of one or two sums."""
    made, rng = random_table(seed, joints=3), np.random.default_rng(seed)
    sums = [
        Sums((f"sum {number}",), np.array([float(rng.integers(8, 16))]),
             np.zeros(3, dtype=np.int64), rng.integers(1, 8, len(made)).astype(float))
        for number in range(int(rng.integers(1, 3)))
    ]  # fmt: skip
    kg, cost = rng.integers(1, 5, (2, len(made))).astype(float)
    return replace(made, material_kg=kg, cost=cost, head_cost=0.0, sums=tuple(sums))


@settings(max_examples=200, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_what_is_needed_stays_where_every_row_has_amounts_of_its_own(seed: int) -> None:
    made, rng = uneven(seed), np.random.default_rng(seed)
    units, needed = reduction_units(made), subset(rng)
    same_best(listed(made, units), listed(reduce(made, needed), units), needed, rng)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_rows_reduced_for_more_wishes_serve_for_fewer(seed: int) -> None:
    """The corollary of stages: a stage may reduce the rows of another one that needs more."""
    made, rng = random_table(seed), np.random.default_rng(seed)
    units, more = reduction_units(made), subset(rng)
    fewer = frozenset(wish for wish in more if rng.random() < 0.5)
    nested = reduce(reduce(made, more), fewer)
    assert set(nested.index) <= set(reduce(made, more).index)
    same_best(listed(made, units), listed(nested, units), fewer, rng)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_fewer_wishes_leave_no_more_rows(seed: int) -> None:
    """Nestedness where a search relies on it: through the tables that it has reduced before."""
    made, rng = random_table(seed), np.random.default_rng(seed)
    solver = Solver(made, reduction_units(made), {}, Search())
    wishes = [WISHES[i] for i in rng.permutation(len(WISHES))]
    before = set(solver.reduced(frozenset(wishes)).index.tolist())
    for last in range(len(wishes) - 1, -1, -1):
        now = set(solver.reduced(frozenset(wishes[:last])).index.tolist())
        assert now <= before
        before = now
    assert len(solver.reduced(frozenset())) >= made.joints


@settings(max_examples=80, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_reducing_again_drops_nothing(seed: int) -> None:
    made = random_table(seed)
    needed = subset(np.random.default_rng(seed))
    once = reduce(made, needed)
    # theorem 3 may bite again once other rows have left; without sums nothing may
    plain = replace(once, sums=())
    assert len(reduce(once, needed)) <= len(once)
    assert (
        reduce(reduce(plain, needed), needed).index.tolist() == reduce(plain, needed).index.tolist()
    )


# -- theorem 1 against its own words ---------------------------------------------------------------


def dominates(made: Table, first: int, other: int, needed: frozenset[Wish]) -> bool:
    """Say whether ring `first` may replace ring `other` by theorem 1, where ring parts are needed."""
    needs = reduction_needs(made, needed)
    if needs.cutters and made.cutter[made.ring == first][0] != made.cutter[made.ring == other][0]:
        return False
    if needs.cost and made.part_cost[first] > made.part_cost[other]:
        return False
    return all(
        any(serves(made, s, r, needed) for s in np.flatnonzero(made.ring == first).tolist())
        for r in np.flatnonzero(made.ring == other).tolist()
    )


def serves(made: Table, row: int, instead: int, needed: frozenset[Wish]) -> bool:
    """Say whether one row may stand for another."""
    needs = reduction_needs(made, needed)
    fits = made.joint[row] == made.joint[instead]
    if needs.heads:
        fits = fits and made.heads[row] <= made.heads[instead]
    if needs.material:
        fits = fits and made.material_kg[row] <= made.material_kg[instead]
    if needs.cost:
        fits = fits and made.cost[row] <= made.cost[instead]
    for sums in made.sums:
        fits = fits and (sums.follows_heads or sums.values[row] <= sums.values[instead])
    return bool(fits)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_no_ring_stays_that_another_one_replaces_row_by_row(seed: int) -> None:
    """The reduction goes as far as the theorem allows, where a ring weighs the same wherever it is."""
    made, rng = random_table(seed), np.random.default_rng(seed)
    each = made.material_kg / made.weight[made.joint]
    first = {ring: each[made.ring == ring][0] for ring in set(made.ring.tolist())}
    alike = np.array([first[ring] for ring in made.ring.tolist()])
    made = replace(made, material_kg=alike * made.weight[made.joint], cost=np.zeros(len(made)))
    parts: frozenset[Wish] = frozenset({"ring_parts"})
    needed = subset(rng) - {"cost"} | parts
    left = reduce(made, needed)
    rings = np.unique(left.ring)
    for one, other in itertools.permutations(rings.tolist(), 2):
        assert not dominates(left, one, other, needed), (one, other)


# -- theorem 1 needs every one of its conditions ---------------------------------------------------

HEAVY = Row(0, 0, kg=2.0, value=2.0, piece_cost=2.0, heads=2)
BETTER = Row(0, 1, kg=1.0, value=1.0, piece_cost=1.0, heads=1)


@pytest.mark.parametrize(
    ("wish", "field", "worse"),
    [("cutters", "cutter", 1), ("heads", "heads", 3), ("material", "kg", 3.0),
     ("cost", "piece_cost", 3.0), ("sum", "value", 3.0)],
)  # fmt: skip
def test_a_ring_worse_in_what_is_needed_replaces_nothing_and_else_it_does(
    wish: str, field: str, worse: float
) -> None:
    changes: dict[str, Any] = {field: worse}
    rows = [HEAVY, BETTER._replace(**changes)]
    every = frozenset(WISHES)
    assert reduce(table(rows, 9.0), every).index.tolist() == [0, 1]
    limit = None if wish == "sum" else 9.0
    assert reduce(table(rows, limit), every - {wish}).index.tolist() == [1]


def test_money_of_a_ring_part_or_a_cutter_counts_with_cost() -> None:
    same = [Row(0, 0, kg=1.0), Row(0, 1, kg=2.0, cutter=1)]
    cost: frozenset[Wish] = frozenset({"cost"})
    assert reduce(table(same, part_cost=[5.0, 1.0]), cost).index.tolist() == [1]
    assert reduce(table(same, cutter_cost=[5.0, 1.0]), cost).index.tolist() == [0, 1]
    assert reduce(table(same), cost).index.tolist() == [0]


def test_money_of_heads_counts_with_cost() -> None:
    """Pieces of 5 and 4 with one head and two heads of 2 each: 7 and 8."""
    rows = [Row(0, 0, 1, piece_cost=5.0), Row(0, 1, 2, piece_cost=4.0)]
    needed: frozenset[Wish] = frozenset({"cost", "ring_parts"})
    assert reduce(table(rows, head_cost=2.0), needed).index.tolist() == [0, 1]
    assert reduce(table(rows), needed).index.tolist() == [1]


def test_mass_and_money_that_differ_by_joint_are_compared_joint_by_joint() -> None:
    """A ring that is lighter on one joint and heavier on the other replaces nothing."""
    rows = [
        Row(0, 0, kg=1.0), Row(0, 1, kg=2.0), Row(1, 0, kg=2.0), Row(1, 1, kg=1.0),
    ]  # fmt: skip
    needed: frozenset[Wish] = frozenset({"material", "ring_parts"})
    assert reduce(table(rows), needed).index.tolist() == [0, 1, 2, 3]
    rows[1] = rows[1]._replace(kg=1.0)
    assert reduce(table(rows), needed).index.tolist() == [1, 3]


def test_two_rows_of_a_ring_do_not_add_up_to_a_better_one() -> None:
    """The ring's light row is inaccurate, its accurate row is heavy: the other ring has no better."""
    material: frozenset[Wish] = frozenset({"material"})
    more: tuple[frozenset[Wish], ...] = (frozenset({"heads"}), frozenset({"ring_parts", "heads"}))
    rows = [
        Row(0, 0, 1, kg=5.0, value=1.0), Row(0, 0, 2, kg=1.0, value=3.0),
        Row(0, 1, 2, kg=1.0, value=1.0),
    ]  # fmt: skip
    for needed in (material, *(material | other for other in more)):
        assert 2 in reduce(table(rows, 9.0), needed).index
    money = [row._replace(kg=1.0, piece_cost=row.kg) for row in rows]
    cost: frozenset[Wish] = frozenset({"cost"})
    for needed in (cost, cost | more[1]):
        assert 2 in reduce(table(money, 9.0), needed).index


def test_two_values_of_one_row_are_compared_together() -> None:
    """Accurate for one sum by one row, for the other by another."""
    rows = [Row(0, 0, 1, value=1.0), Row(0, 0, 2, value=3.0), Row(0, 1, 2, value=1.0)]
    other = Sums(
        ("other",), np.array([9.0]), np.zeros(1, dtype=np.int64), np.array([3.0, 1.0, 1.0])
    )
    wishes: tuple[frozenset[Wish], ...] = (
        frozenset({"material"}),
        frozenset({"heads", "ring_parts"}),
    )
    for needed in wishes:
        assert 2 in reduce(table(rows, 9.0, sums=[other]), needed).index


def test_more_heads_may_stay_for_less_mass_or_money() -> None:
    rows = [Row(0, 0, 1, kg=2.0, piece_cost=2.0), Row(0, 0, 2, kg=1.0, piece_cost=2.0)]
    both: frozenset[Wish] = frozenset({"heads", "material"})
    assert reduce(table(rows), both).index.tolist() == [0, 1]
    rows[1] = rows[1]._replace(kg=2.0, piece_cost=1.0)
    assert reduce(table(rows), frozenset({"heads", "cost"})).index.tolist() == [0, 1]
    rows[1] = rows[1]._replace(piece_cost=2.0)
    assert reduce(table(rows), both).index.tolist() == [0]


def test_a_battery_needs_no_values_but_heads() -> None:
    rows = [Row(0, 0, 2, kg=1.0), Row(0, 1, 1, kg=2.0)]
    current = np.array([2.0, 1.0])
    battery = Sums(("b",), np.array([2.0]), np.zeros(1, dtype=np.int64), current, True)
    material: frozenset[Wish] = frozenset({"material"})
    assert reduce(table(rows), material).index.tolist() == [0]
    assert reduce(table(rows, sums=[battery]), material).index.tolist() == [0, 1]


@pytest.mark.parametrize(("limit", "stays"), [(3.0, [0, 1, 2]), (3.0 - 1e-6, [1, 2])])
def test_theorem_3_keeps_what_meets_a_limit_exactly(limit: float, stays: list[int]) -> None:
    rows = [Row(0, 0, value=2.0, kg=1.0), Row(0, 1, value=1.0, kg=2.0), Row(1, 2, value=1.0)]
    assert reduce(table(rows, limit), frozenset({"material"})).index.tolist() == stays


# -- theorem 4: joints that follow others ----------------------------------------------------------


@pytest.mark.slow
@settings(max_examples=200, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_joints_that_follow_change_nothing(seed: int) -> None:
    made, rng = random_table(seed), np.random.default_rng(seed)
    for sums in made.sums if rng.random() < 0.5 else ():
        sums.group[rng.random(made.joints) < 0.5] = -1
    needed: frozenset[Wish] = frozenset({"cutters", "ring_parts"})
    lead = reduction_dominating_joints(made, needed)
    assert lead.any()
    for sums in made.sums:
        assert lead[sums.group >= 0].all()
    units = reduction_units(made)
    whole, led = listed(made, units), made.take(lead[made.joint])
    joints = np.flatnonzero(lead)
    renumbered = replace(
        led, joints=len(joints), joint=np.searchsorted(joints, led.joint), weight=led.weight[lead],
        sums=tuple(replace(s, group=s.group[lead]) for s in led.sums),
    )  # fmt: skip
    few = listed(renumbered, units)
    assert few.best(["cutters", "ring_parts"], {}) == whole.best(["cutters", "ring_parts"], {})
    assert few.best(["ring_parts", "cutters"], {}) == whole.best(["ring_parts", "cutters"], {})
    for picks in few.picks[rng.permutation(len(few.picks))[:20]]:
        rows = led.index[picks]
        more = reduction_followers_rows(made, lead, rows)
        assert sorted(made.joint[np.append(rows, more)]) == list(range(made.joints))
        assert set(made.ring[more]) <= set(made.ring[rows])


def test_followers_occur_often_and_only_where_heads_and_amounts_do_not_count() -> None:
    made = [random_table(seed) for seed in range(60)]
    parts: frozenset[Wish] = frozenset({"cutters", "ring_parts"})
    assert sum(not reduction_dominating_joints(t, parts).all() for t in made) >= 15
    for wish in ("heads", "material", "cost"):
        assert all(reduction_dominating_joints(t, parts | {wish}).all() for t in made)


def test_of_two_joints_alike_the_one_that_counts_in_a_sum_leads() -> None:
    rows = [Row(joint, ring, value=1.0) for joint in (0, 1) for ring in (0, 1)]
    parts: frozenset[Wish] = frozenset({"ring_parts"})
    assert reduction_dominating_joints(table(rows), parts).tolist() == [True, False]
    for group, lead in (([-1, 0], [False, True]), ([0, -1], [True, False]), ([0, 0], [True, True])):
        sums = Sums(("s",), np.array([9.0]), np.array(group), np.ones(4))
        assert reduction_dominating_joints(table(rows, sums=[sums]), parts).tolist() == lead


# -- sets of places as words -----------------------------------------------------------------------


@pytest.mark.slow
@settings(max_examples=120, deadline=None, derandomize=True)
@given(data=st.data())
def test_the_cover_of_a_ring_is_what_a_double_loop_finds(data: st.DataObject) -> None:
    """Places are (joint, heads) in order; fewer heads serve where more are allowed on that joint."""
    places = data.draw(st.integers(1, 150))
    same = np.array(data.draw(st.lists(st.booleans(), min_size=places - 1, max_size=places - 1)))
    same = same.astype(np.bool_)
    pairs = data.draw(
        st.lists(st.tuples(st.integers(0, 5), st.integers(0, places - 1)), min_size=1, max_size=30)
    )
    ring, place = (np.array(column, dtype=np.int64) for column in zip(*pairs, strict=True))
    bits = dominating._cover(ring, place, 6, same)
    joint = np.cumsum(np.append(0, ~same))
    for number in range(6):
        mine = place[ring == number]
        for at in range(places):
            wanted = any(joint[p] == joint[at] and p <= at for p in mine)
            word, bit = divmod(at, 64)
            assert bool(bits[number, word] >> np.uint64(bit) & np.uint64(1)) == wanted


@pytest.mark.slow
@settings(max_examples=80, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_rings_of_one_place_compared_are_all_rings_compared(seed: int) -> None:
    """The quick way, which looks at a ring's rarest place alone, keeps just what comparing all keeps."""
    rng = np.random.default_rng(seed)
    rings, places = int(rng.integers(2, 120)), int(rng.integers(2, 150))
    covers = rng.random((rings, places)) < rng.uniform(0.02, 0.3)
    covers[np.arange(rings), rng.integers(places, size=rings)] = True
    bits = np.zeros((rings, places // 64 + 1), dtype=np.uint64)
    for ring, place in np.argwhere(covers):
        bits[ring, place // 64] |= np.uint64(1) << np.uint64(place % 64)
    by_place = np.where(covers, rng.integers(4, size=(rings, places)).astype(float), np.inf)
    cost = np.concatenate([rng.integers(5, size=(rings, 1)).astype(float), by_place], axis=1)
    both = []
    for few, at_once in ((10**6, 1024), (0, 7)):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(dominating, "_FEW", few)
            patch.setattr(dominating, "_ROWS_AT_ONCE", at_once)
            both.append(dominating._undominated_where_served(cost, bits).tolist())
    assert both[0] == both[1]
    plainly = [
        ring
        for ring in range(rings)
        if not any(
            np.all(cost[other] <= cost[ring]) and np.all(covers[other] >= covers[ring])
            for other in range(ring)
        )
    ]
    assert both[0] == plainly
