"""Which listed answers keep the limits, all of them at once against one after another."""

from __future__ import annotations

import itertools
from collections import Counter

import numpy as np
import pytest

from ringset.reduction.units import reduction_units
from ringset.schema.study import WISHES
from ringset.search.bounds.lagrangian import lagrangian_bound, no_multipliers, whole_multipliers
from ringset.search.exact.enumeration import _kept, best_enumerated, nearest_enumerated
from ringset.search.model.program import build_search_program
from tests.support.narrow import present
from tests.support.tables import listed, random_ceilings, random_table
from tests.support.tuned import tune


@pytest.mark.slow
def test_the_answers_kept_are_those_that_the_program_allows_one_by_one() -> None:
    """Amounts of these tables are exact in binary, so that the real limits are told exactly as well."""
    seen: Counter[tuple[str, bool]] = Counter()
    for seed in range(7000, 7150):
        made, rng = random_table(seed), np.random.default_rng(seed)
        units = reduction_units(made)
        answers = listed(made, units)
        allowed = np.flatnonzero(answers.allowed({}))
        if not len(allowed):
            continue
        some = int(rng.choice(allowed))
        held = {w: int(answers.values[w][some]) for w in WISHES if rng.random() < 0.3}
        wish = WISHES[seed % len(WISHES)]
        program = build_search_program(made, units, wish, random_ceilings(rng, answers), held)
        rows = [np.flatnonzero(program.joint == joint) for joint in range(program.joints)]
        every = np.array(list(itertools.islice(itertools.product(*rows), 3000)), dtype=np.intp)
        if not len(every):
            continue
        columns = [program.with_needed_columns(answer) for answer in every]
        one_by_one = np.array([program.allowed(x) for x in columns])
        assert np.array_equal(_kept(program, every), one_by_one), seed
        for name in program.limits.names:
            seen.update({(name, bool(kept)): 1 for kept in one_by_one})
    for name in ("held cutters", "held ring_parts", "held cost", "wishes.cost_max", "tool point 0"):
        assert seen[name, True] >= 5, (name, seen)
        assert seen[name, False] >= 5, (name, seen)


def test_the_nearest_answers_listed_hold_the_best_of_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lists that reach ever further find what one list of all does, or say that they were too long."""
    seen: Counter[str] = Counter()
    for seed in range(7200, 7240):
        made = random_table(seed)
        program = build_search_program(
            made, reduction_units(made), wish := WISHES[seed % len(WISHES)], {}, {}
        )
        objective = program.objectives[wish]
        bound = lagrangian_bound(program, objective, present(
            whole_multipliers(program, objective, no_multipliers(program))
        ))  # fmt: skip
        most = int(objective.weights.sum()) + 1
        all_listed, best = best_enumerated(program, objective, bound, most)
        assert all_listed
        for few in (3, 5_000):
            tune(monkeypatch, listed_first=few)
            near_listed, x = nearest_enumerated(program, objective, bound, most)
            seen[f"{few} {near_listed}"] += 1
            if near_listed:
                assert (x is None) == (best is None)
                if x is not None and best is not None:
                    assert objective.value(x) == objective.value(best), seed
    assert seen["3 False"] >= 5, seen
    assert seen["5000 True"] >= 30, seen
