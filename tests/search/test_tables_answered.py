"""The search on general tables against the listing of every answer, by every route it may take."""

from __future__ import annotations

import itertools
from collections import Counter

import numpy as np
import pytest

from ringset.reduction.table import Table
from ringset.reduction.units import Units, reduction_units
from ringset.schema.gives import Aim
from ringset.schema.study import WISHES, Search, Wish
from ringset.search import lexicographic as searching
from ringset.search import one_wish as staging
from ringset.search.exact import branch_and_bound
from ringset.search.lexicographic import Solver
from ringset.search.wishes_in_turn import minimise_wishes
from tests.support.answered import Route, ways_of_tables
from tests.support.routes import as_it_is, unimproved, unlisted, unreduced
from tests.support.tables import (
    STEP,
    Row,
    listed,
    random_ceilings,
    random_order,
    random_table,
    table,
)
from tests.support.tiers import slow
from tests.support.tuned import tune

COARSE = Units(material_kg=0.5, cost=1.0)


def tried_again(patch: pytest.MonkeyPatch) -> None:
    """Let multipliers of earlier wishes drop rows, however few there are."""
    tune(patch, reuse_rows=0)


def covered(patch: pytest.MonkeyPatch) -> None:
    """Let rings leave that no answer with so few ring parts uses, however few rows there are."""
    tune(patch, cover_rows=0)


def climbing(patch: pytest.MonkeyPatch) -> None:
    """Treat every program as a large one."""
    tune(patch, climb_rows=1)


def split(patch: pytest.MonkeyPatch) -> None:
    """List nothing at the end: what multipliers leave is split; every relaxation is boxed from the start."""
    tune(patch, listed_max=0, kernel_nodes=0, free_rounds=0)
    tune(patch, first_rows=1, climbed_rows=1, whole_rows=0)


def split_at_once(patch: pytest.MonkeyPatch) -> None:
    """List nothing at the end: after one round what multipliers leave is split, all rows at once."""
    unimproved(patch)
    tune(patch, listed_max=0, large_rows=1)
    patch.setattr(staging, "greedy_incumbent", lambda *_: None)


def split_and_listed(patch: pytest.MonkeyPatch) -> None:
    """Split as soon as multipliers do not settle it, from a poor answer, and list what the nodes leave."""
    unimproved(patch)
    patch.setattr(staging, "best_enumerated", lambda *_: (False, None))
    tune(patch, listed_first=0)
    tune(patch, rounds=1)
    patch.setattr(branch_and_bound, "search_relaxed_most_shares", lambda *_: None)


def unpriced(patch: pytest.MonkeyPatch) -> None:
    """Do without multipliers."""
    for module in (searching, staging):
        patch.setattr(module, "relax_program", lambda *_, **__: None)


def unpatterned(patch: pytest.MonkeyPatch) -> None:
    """List no head patterns."""
    tune(patch, patterns_max=0)


@pytest.mark.cases(fast=1, slow=8)
@pytest.mark.parametrize(
    ("route", "units", "first", "tables"),
    [(as_it_is, None, 0, 100), (as_it_is, COARSE, 100, 40),
     slow(tried_again, None, 5000, 150), (tried_again, COARSE, 5200, 40), (climbing, None, 11_030, 25),
     (covered, None, 13_000, 40), (covered, COARSE, 13_100, 25),
     (unlisted, COARSE, 300, 25),
     (split, None, 700, 40), (split, COARSE, 760, 25), (split_at_once, None, 900, 60),
     (split_and_listed, None, 800, 40),
     (unimproved, None, 350, 25),
     (unpriced, None, 400, 25), (unpriced, COARSE, 450, 15),
     (unpatterned, None, 500, 25), (unreduced, None, 600, 25)],
)  # fmt: skip
def test_the_best_of_all_answers_is_found_and_proven(
    route: Route,
    units: Units | None,
    first: int,
    tables: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """By each route of the search random tables give the best of all listed answers, or none where none is.

    The counts at the end hold that the route was taken and not another.
    """
    route(monkeypatch)
    seen: Counter[str] = Counter()
    honest = Solver._without_useless

    def dropping(solver: Solver, rows: Table, held: dict[Aim, int]) -> tuple[Table, bool]:
        left, apart = honest(solver, rows, held)
        seen["dropped"] += len(left) < len(rows)
        return left, apart

    monkeypatch.setattr(Solver, "_without_useless", dropping)
    seen.update(ways_of_tables(random_table, range(first, first + tables), units))
    assert seen["proven"] >= tables // 3
    assert seen["impossible"] >= 2
    assert (seen["dropped"] >= 20) == (route is tried_again), seen
    if route is unpriced:
        assert seen["second engine"] >= tables
    if route in (unpriced, unlisted):
        assert not seen["listing"]
    if route in (split_and_listed, split_at_once):
        assert seen["halves"] >= 10, seen
    if route is unimproved:
        assert seen["listing"] >= 5


def test_every_wish_leads_and_follows_and_has_a_ceiling_in_the_mix() -> None:
    """The comparison is worth its time only if it meets what it promises."""
    led: Counter[str] = Counter()
    stated: Counter[str] = Counter()
    shapes: Counter[str] = Counter()
    for seed in range(100):
        made, rng = random_table(seed), np.random.default_rng(10**6 + seed)
        answers = listed(made, reduction_units(made))
        led[random_order(rng)[0]] += 1
        stated.update(random_ceilings(rng, answers))
        # a ring whose mass differs by joint or heads
        pieces = made.material_kg / made.weight[made.joint]
        shapes["differs"] += any(np.ptp(pieces[made.ring == ring]) > 0 for ring in set(made.ring))
        shapes["battery"] += any(sums.follows_heads for sums in made.sums)
        shapes["target"] += any(not sums.follows_heads for sums in made.sums)
        shapes["no cutter"] += bool((made.cutter < 0).any())
        shapes["money once"] += bool(made.part_cost.any() or made.cutter_cost.any())
        shapes["many heads"] += made.heads.max() >= 3
    assert min(led[wish] for wish in WISHES) >= 10
    assert min(stated[wish] for wish in WISHES) >= 15
    assert min(shapes.values()) >= 15


@pytest.mark.cases(fast=26)
@pytest.mark.parametrize("seed", range(700, 730))
def test_one_solver_serves_many_solves_and_what_one_finds_out_misleads_no_other(seed: int) -> None:
    """Wishes are held at various values, in no order; multipliers of one solve reduce others."""
    made, rng = random_table(seed), np.random.default_rng(seed)
    units = reduction_units(made)
    answers = listed(made, units)
    ceilings = random_ceilings(rng, answers) if seed % 2 else {}
    solver = Solver(made, units, ceilings, Search())
    allowed = np.flatnonzero(answers.allowed(ceilings))
    for _ in range(12 if len(allowed) else 0):
        start = int(rng.choice(allowed))
        wish, *others = [WISHES[i] for i in rng.permutation(len(WISHES))[: int(rng.integers(1, 5))]]
        held = {other: int(answers.values[other][start]) for other in others}
        within = answers.allowed(ceilings)
        for other, most in held.items():
            within &= answers.values[other] <= most
        stage, rows = solver.minimise(wish, held, answers.picks[start])
        assert stage.proven
        assert stage.value == answers.values[wish][within].min()
        only = listed(made.take(made.places_of(rows)), units)
        assert only.allowed(ceilings).tolist() == [True]
        assert int(only.values[wish][0]) == stage.value
        assert all(int(only.values[other][0]) <= most for other, most in held.items())


# -- some answer under ceilings --------------------------------------------------------------------


@pytest.mark.cases(fast=1, slow=6)
@pytest.mark.parametrize("seed", range(2000, 2006))
@pytest.mark.parametrize("units", [None, COARSE], ids=["fine", "coarse"])
def test_under_every_combination_of_ceilings_impossible_is_said_just_when_it_is_so(
    seed: int, units: Units | None
) -> None:
    made, rng = random_table(seed, joints=3), np.random.default_rng(seed)
    counted = units or reduction_units(made)
    answers = listed(made, counted)
    most = {}
    for wish in WISHES:
        reached = np.unique(answers.real[wish])
        most[wish] = max(0.0, float(reached[min(int(rng.integers(4)), len(reached) - 1)]))
        if wish in ("material", "cost") and rng.random() < 0.3:
            most[wish] = max(0.0, most[wish] - STEP / 2)
    for size in range(len(WISHES) + 1):
        for wishes in itertools.combinations(WISHES, size):
            ceilings = {wish: most[wish] for wish in wishes}
            start = Solver(made, counted, ceilings, Search()).start()
            possible = bool(answers.allowed(ceilings).any())
            assert (start.status == "impossible") == (not possible), ceilings
            assert (start.rows is not None) == possible, ceilings
            if start.rows is not None:
                only = listed(made.take(made.places_of(start.rows)), counted)
                assert only.allowed(ceilings).tolist() == [True], ceilings


def test_a_ceiling_between_two_roundings_is_not_called_impossible() -> None:
    """The answer of fewest halves, 3 and 2, weighs 2.5 kg; one of 3 and 3 halves weighs 2.0625 kg."""
    rows = [
        Row(0, 0, kg=1.5, value=1.0), Row(0, 1, kg=1.03125, value=2.0),
        Row(1, 2, kg=1.0, value=2.0), Row(1, 3, kg=1.03125, value=1.0),
    ]  # fmt: skip
    made = table(rows, 3.0)
    assert listed(made, COARSE).best(["material"], {}) == [5]
    for ceiling, status in ((2.5, "proven"), (2.0625, "proven"), (2.0, "impossible")):
        choice = minimise_wishes(made, COARSE, ["material"], {"material": ceiling}, Search())
        assert choice.status == status, ceiling
    choice = minimise_wishes(made, COARSE, ["material"], {"material": 2.0625}, Search())
    assert choice.rows.tolist() == [1, 3]
    assert choice.stages[0].value == 6


def test_an_answer_whose_rows_no_head_pattern_holds_does_not_keep_the_ceiling_of_heads() -> None:
    """One cutter asks for 3 heads; under a ceiling of 2 the patterns drop the row that has two."""
    rows = [
        Row(0, 0, 1, value=2.0, cutter=1), Row(0, 1, 2, value=1.0), Row(1, 2, 1, value=2.0),
    ]  # fmt: skip
    made = table(rows, 4.0)
    for most, status in ((2, "impossible"), (3, "proven")):
        ceilings: dict[Wish, float] = {"cutters": 1, "heads": most}
        assert (
            minimise_wishes(made, reduction_units(made), ["material"], ceilings, Search()).status
            == status
        )
