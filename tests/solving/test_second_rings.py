"""Second rings: the search against every answer, listed; and pairs that are decoded position by position."""

from __future__ import annotations

from collections import Counter

import pytest

from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.verify import verify
from ringset.verification.judge.judge import judge
from tests.support.second_rings import listed_best, paired_study, ways_of
from tests.support.studies import load
from tests.support.tiers import first_fast


@pytest.mark.parametrize("first", first_fast(range(0, 160, 20), 2))
def test_the_answer_is_the_best_of_all_rings_and_second_rings(first: int) -> None:
    seen: Counter[str] = Counter()
    for seed in range(first, first + 20):
        study = load(paired_study(seed))
        answer = solve(study)
        assert judge(study, answer) == [], seed
        unit = answer.proof.material_unit_kg or 1e-6
        best = listed_best(study, ways_of(study), unit, answer.proof.cost_unit or 0.01)
        reached = {stage.wish: stage.value for stage in answer.proof.stages}
        assert answer.status == ("impossible" if best is None else "proven"), (seed, answer.reasons)
        assert (reached or None) == best, seed
        seen[answer.status] += 1
        if best is None:
            continue
        verified = verify(study, answer, certify(study, answer))
        assert not verified.refused, (seed, verified)
        seen["verified"] += sum(stage.state == "verified" for stage in verified.stages)
        seen["stages"] += len(verified.stages)
        parts = {ring.ring_part for ring in answer.rings}
        seen["shared"] += any(ring.ring_part in parts for ring in answer.second_rings)
        above = [
            r.teeth > f.teeth
            for r in answer.second_rings
            for f in answer.rings
            if r.label == f.label
        ]
        seen["more"] += sum(above)
        seen["fewer"] += len(above) - sum(above)
    assert seen["proven"] >= 8
    assert seen["verified"] >= 0.9 * seen["stages"], seen
    assert seen["more"] >= 2
    assert seen["fewer"] >= 2
