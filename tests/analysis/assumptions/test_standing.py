"""Assumed inputs of a study with parts in production: an end is told as it is solved."""

from __future__ import annotations

import pytest

from ringset.analysis.assumptions.effects import rank_assumptions
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.solving.pipeline import solve
from tests.solving.test_standing import ELBOW, arm
from tests.support.studies import load


@pytest.mark.slow
def test_counts_at_the_ends_are_of_new_parts_and_cutters() -> None:
    study = load(arm(parts_in_production=[ELBOW], owned_cutters=[{"module": 1.0}]))
    found = rank_assumptions(study, solve(study, certified=False))
    seen = 0
    for one in found.inputs[:4]:
        for end in (one.at_low, one.at_high):
            if end.figures is None or "[" in one.path:
                continue
            changed = edited_study(study, {resolve_field_path(study, one.path): end.value})
            answer = solve(changed, certified=False)
            if answer.totals is not None:
                told = end.figures.cutters, end.figures.ring_parts
                assert told == (answer.totals.cutters, answer.totals.ring_parts), one.path
                seen += 1
    assert seen >= 3
