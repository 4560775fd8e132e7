"""Electronics: batteries against all combinations, and every misstated number named."""

from __future__ import annotations

import math
from typing import Any

import pytest

from ringset.schema.answer import Answer, JointElectronics, RobotElectronics
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import listed_best, milp_best, table
from tests.support.answered import proven
from tests.support.electronic_studies import TIGHTER, stated, with_batteries
from tests.support.studies import load


@pytest.fixture(scope="module")
def study() -> Study:
    return load(stated())


@pytest.fixture(scope="module")
def answer(study: Study) -> Answer:
    return proven(study)


# -- batteries: the best of all combinations -------------------------------------------------------


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, 120, 30))
def test_with_batteries_the_answer_is_the_best_of_all_combinations(first: int) -> None:
    seen = {"proven": 0, "impossible": 0}
    bound = 0
    for seed in range(first, first + 30):
        data = with_batteries(seed)
        study = load(data)
        rows = table(study)
        if math.prod(len(rows.of(j)) for j in range(rows.joints)) > 4_000_000:
            continue
        found = solve(study)
        assert judge(study, found) == [], seed
        seen[found.status] += 1
        unit = found.proof.material_unit_kg or 1e-6
        best = listed_best(rows, unit)
        assert milp_best(rows, unit) == best, seed
        reached = {stage.wish: stage.value for stage in found.proof.stages}
        assert (reached or None) == best, seed
        for robot in data["robots"]:
            robot["battery"].pop("life_min_years")
        bound += listed_best(table(load(data)), unit) != best
    assert seen["proven"] >= 5
    assert seen["impossible"] >= 1
    assert bound >= 2  # the battery must matter, or the comparison says little


# -- the judge -------------------------------------------------------------------------------------


def changed(answer: Answer, **fields: Any) -> Answer:
    """Return the answer with fields of its first ring's electronics changed."""
    ring = answer.rings[0]
    piece = ring.electronics.model_copy(update=fields)
    rings = [ring.model_copy(update={"electronics": piece}), *answer.rings[1:]]
    return answer.model_copy(update={"rings": rings})


def wrong(value: Any) -> list[Any]:
    """Return misstatements of a value."""
    if value is None:
        return [1.0]
    return [None, value + 1 if isinstance(value, int) else value * (1.0 + 1e-7)]


@pytest.mark.parametrize("name", [n for n in JointElectronics.model_fields if n != "second_ring"])
def test_a_misstated_number_of_a_joint_is_named(name: str, study: Study, answer: Answer) -> None:
    value = getattr(answer.rings[0].electronics, name)
    assert value is not None
    for other in wrong(value):
        violations = judge(study, changed(answer, **{name: other}))
        assert any(f"electronics.{name}" in v for v in violations), (other, violations)


@pytest.mark.parametrize("place", [0, 1])
@pytest.mark.parametrize("name", [n for n in RobotElectronics.model_fields if n != "robot"])
def test_a_misstated_number_of_a_robot_is_named(
    place: int, name: str, study: Study, answer: Answer
) -> None:
    pieces = list(answer.electronics)
    assert (getattr(pieces[place], name) is None) == (pieces[place].robot == "plain")
    for other in wrong(getattr(pieces[place], name)):
        pieces[place] = answer.electronics[place].model_copy(update={name: other})
        violations = judge(study, answer.model_copy(update={"electronics": pieces}))
        assert any(f"electronics.{name}" in v for v in violations), other


def test_an_impossible_study_states_no_electronics(answer: Answer) -> None:
    data = stated()
    data["robots"][0]["line"]["cycle_max_us"] = 100.0
    study = load(data)
    found = solve(study)
    assert judge(study, found) == []
    violations = judge(study, found.model_copy(update={"electronics": answer.electronics}))
    assert any(v.startswith("rings: something given") for v in violations)


def test_a_missing_or_doubled_robot_is_named(study: Study, answer: Answer) -> None:
    for pieces in (answer.electronics[1:], answer.electronics * 2):
        violations = judge(study, answer.model_copy(update={"electronics": pieces}))
        assert any(v.startswith("electronics:") for v in violations)


@pytest.mark.parametrize("limit", TIGHTER)
def test_a_broken_limit_is_named(limit: str, answer: Answer) -> None:
    data = stated()
    TIGHTER[limit](data)
    tighter = load(data)
    stamped = answer.model_copy(update={"study_sha256": tighter.fingerprint()})
    violations = judge(tighter, stamped)
    above_or_below = [v for v in violations if limit in v and (" above " in v or " below " in v)]
    assert above_or_below, violations
