"""A study answered with proof; one search on a table, held against the listing of every answer."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence

import numpy as np
import pytest

from ringset.reduction.table import Table
from ringset.reduction.units import Units, reduction_units
from ringset.schema.answer import Answer
from ringset.schema.study import Search, Study, Wish
from ringset.search.state.result import Choice
from ringset.search.wishes_in_turn import minimise_wishes
from ringset.solving.pipeline import solve
from tests.support.tables import Listed, listed, random_ceilings, random_order

#: What makes the search take one way and no other.
Route = Callable[[pytest.MonkeyPatch], None]


def proven(study: Study) -> Answer:
    """Return the answer of a study that has one, with proof."""
    answer = solve(study)
    assert answer.status == "proven", answer.reasons
    return answer


def proven_best(
    made: Table, units: Units, answers: Listed, order: Sequence[Wish],
    ceilings: Mapping[Wish, float], seed: int,
) -> tuple[Choice, list[int] | None]:  # fmt: skip
    """Return the choice and the best values, after a check that it is best, proven and allowed."""
    best = answers.best(order, ceilings)
    choice = minimise_wishes(made, units, list(order), dict(ceilings), Search(seed=seed % 5))
    assert choice.status == ("impossible" if best is None else "proven"), (seed, choice.reasons)
    assert ([stage.value for stage in choice.stages] or None) == best, seed
    if best is not None:
        assert listed(made.take(made.places_of(choice.rows)), units).allowed(ceilings).tolist() == [
            True
        ], seed
    return choice, best


def ways_of_tables(
    make: Callable[[int], Table], seeds: Iterable[int], units: Units | None
) -> Counter[str]:
    """Answer random tables under random wishes and ceilings, each held against the listing of every answer.

    Return how often each status came out, and each way in which a wish was confirmed. Without `units` each
    table is counted in its own.
    """
    seen: Counter[str] = Counter()
    for seed in seeds:
        made, rng = make(seed), np.random.default_rng(10**6 + seed)
        counted = units or reduction_units(made)
        answers = listed(made, counted)
        order, ceilings = random_order(rng), random_ceilings(rng, answers)
        choice, best = proven_best(made, counted, answers, order, ceilings, seed)
        seen[choice.status] += 1
        seen.update(stage.confirmed_by for stage in choice.stages)
        if best is not None:
            only = listed(made.take(made.places_of(choice.rows)), counted)
            assert [int(only.values[wish][0]) for wish in order] == best, seed
    return seen
