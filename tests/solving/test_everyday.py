"""Studies as engineers write them down: what is found is the best that plain loops and the judge let pass."""

from __future__ import annotations

from collections import Counter

import pytest

from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import listed_best
from tests.support.everyday import everyday_study, plain_table
from tests.support.studies import Json, load

#: Those that are gone through in a moment stand first. The bench has 300 others.
QUICK = (5, 4, 23, 3, 2, 6)


@pytest.mark.cases(fast=1, slow=2)
@pytest.mark.parametrize("seed", [*QUICK, *sorted({*range(24)} - {*QUICK})])
def test_the_answer_is_the_best_of_all_combinations(seed: int) -> None:
    study = load(everyday_study(seed))
    answer = solve(study)
    assert judge(study, answer) == []
    assert answer.status in ("proven", "impossible"), answer.reasons
    best = listed_best(plain_table(study), answer.proof.material_unit_kg or 1e-6)
    assert ({stage.wish: stage.value for stage in answer.proof.stages} or None) == best


def names(part: Json) -> set[str]:
    """Return the fields that a part of a study states."""
    return {name for name, value in part.items() if value is not None}


@pytest.mark.slow
def test_the_studies_state_every_input() -> None:
    stated: Counter[str] = Counter()
    for seed in range(24):
        data = everyday_study(seed)
        parts = [data["shop"], data["head"], data["target"], *data["robots"]]
        parts += [joint for robot in data["robots"] for joint in robot["joints"]]
        stated.update(name for part in parts for name in names(part))
    for name in (
        "housing_max_mm", "bores_mm", "axial_room_mm", "ring_mass_max_kg", "ring_inertia_max_kg_m2",
        "rings_mass_max_kg", "rings_inertia_max_kg_m2", "repeatability_target_arcsec",
        "tool_point_repeatability_target_um", "materials", "wire_diameter_mm", "spark_gap_mm",
        "teeth_allowed", "teeth_multiple_of", "teeth_largest_prime",
    ):  # fmt: skip
        assert stated[name] >= 1, name
