"""Strategies switched off: what is proven stays the same, however it is found."""

from __future__ import annotations

import numpy as np
import pytest

from ringset.reduction.units import reduction_units
from ringset.search.tuning import STRATEGIES, Strategy, Tuning, search_tuned, search_tuning
from tests.support.answered import proven_best
from tests.support.tables import listed, random_ceilings, random_order, random_table


def whole_searches(first: int, tables: int) -> None:
    """Hold whole searches against the listing of every answer."""
    for seed in range(first, first + tables):
        made, rng = random_table(seed), np.random.default_rng(seed)
        units = reduction_units(made)
        answers = listed(made, units)
        order, ceilings = random_order(rng), random_ceilings(rng, answers)
        proven_best(made, units, answers, order, ceilings, seed)


@pytest.mark.cases(fast=3, slow=8)
@pytest.mark.parametrize("large", [False, True], ids=["small", "large"])
@pytest.mark.parametrize("strategy", sorted(STRATEGIES))
def test_without_a_strategy_the_best_is_found_and_proven(strategy: Strategy, large: bool) -> None:
    """A large table is one that is taken for large."""
    large_sizes = {
        "large_rows": 1,
        "climb_rows": 1,
        "mixed_rows": 1,
        "reuse_rows": 0,
        "cover_rows": 0,
    }
    sizes = large_sizes if large else {}
    with search_tuned(without=frozenset({strategy}), **sizes):
        whole_searches(12_000, 8)


def test_without_any_strategy_both_engines_find_and_prove_the_best() -> None:
    with search_tuned(without=STRATEGIES):
        whole_searches(12_100, 10)


def test_tuning_ends_with_its_block_and_refuses_unknown_names() -> None:
    with search_tuned(listed_max=3), search_tuned(without=frozenset({"greedy"})) as within:
        assert search_tuning() is within
        assert within == Tuning(listed_max=3, without=frozenset({"greedy"}))
        assert not within.uses("greedy")
    assert search_tuning() == Tuning()
    with (
        pytest.raises(ValueError, match="no strategies: greed;"),
        search_tuned(without=frozenset({"greed"})),
    ):
        pass
    with pytest.raises(TypeError, match="listed_most"), search_tuned(listed_most=3):
        pass
    assert search_tuning() == Tuning()
