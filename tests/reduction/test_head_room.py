"""Rows that no head pattern leaves room for, held against the list of every answer."""

from __future__ import annotations

import numpy as np

from ringset.reduction.head_patterns import reduced_to_patterns, reduction_head_patterns
from ringset.reduction.units import reduction_units
from tests.support.tables import listed, random_table


def test_no_row_of_an_answer_within_the_limits_leaves_and_some_others_do() -> None:
    dropped = 0
    for seed in range(150):
        made = random_table(seed)
        answers = listed(made, reduction_units(made))
        heads = answers.values["heads"]
        for most in (None, int(np.quantile(heads, 0.3))):
            allowed = answers.within_sums & (heads <= (heads.max() if most is None else most))
            left, patterns = reduction_head_patterns(made, most, 600)
            keep = reduced_to_patterns(left, patterns)
            dropped += int(np.sum(~keep))
            used = np.unique(answers.picks[allowed])
            assert np.all(np.isin(used, left.index[keep])), (seed, most)
    assert dropped > 20


def test_without_patterns_all_rows_stay() -> None:
    made = random_table(3)
    _, patterns = reduction_head_patterns(made, None, 0)
    assert reduced_to_patterns(made, patterns).all()
