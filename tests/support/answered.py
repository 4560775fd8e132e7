"""A study answered with proof; one search on a table, held against the listing of every answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import pytest

from ringset.reduction.table import Table
from ringset.reduction.units import Units
from ringset.schema.answer import Answer
from ringset.schema.study import Search, Study, Wish
from ringset.search.state.result import Choice
from ringset.search.wishes_in_turn import minimise_wishes
from ringset.solving.pipeline import solve
from tests.support.tables import Listed, listed

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
