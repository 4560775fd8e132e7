"""Which listed answers keep the limits, all of them at once against one after another."""

from __future__ import annotations

import itertools
from collections import Counter

import numpy as np
import pytest

from ringset.reduction.units import units_of
from ringset.schema.study import WISHES
from ringset.search.exact.enumeration import _kept
from ringset.search.model.program import build_program
from tests.support.tables import listed, random_ceilings, random_table


@pytest.mark.slow
def test_the_answers_kept_are_those_that_the_program_allows_one_by_one() -> None:
    """Amounts of these tables are exact in binary, so that the real limits are told exactly as well."""
    seen: Counter[tuple[str, bool]] = Counter()
    for seed in range(7000, 7150):
        made, rng = random_table(seed), np.random.default_rng(seed)
        units = units_of(made)
        answers = listed(made, units)
        allowed = np.flatnonzero(answers.allowed({}))
        if not len(allowed):
            continue
        some = int(rng.choice(allowed))
        held = {w: int(answers.values[w][some]) for w in WISHES if rng.random() < 0.3}
        wish = WISHES[seed % len(WISHES)]
        program = build_program(made, units, wish, random_ceilings(rng, answers), held)
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
