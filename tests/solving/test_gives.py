"""Wishes that may be given up: answers against the list of all combinations, and gives that are refused."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.solving.test_brute_force import CENT, listed_values, table
from tests.support.listed_gives import drawn_give, listed_best_giving
from tests.support.studies import Json, load, priced_study, random_study
from tests.support.tiers import first_fast

STUDIES, CHUNK = 320, 40


def giving_study(seed: int, kinds: tuple[str, ...]) -> Study | None:
    """Return a small random study with a give; None for one with a single wish."""
    rng = random.Random(seed + 0.75)
    data: Json = priced_study(seed) if rng.random() < 0.5 else random_study(seed)
    order = data["wishes"]["order"]
    if len(order) < 2:
        return None
    data["wishes"]["give"] = drawn_give(rng, order, kinds)
    return load(data)


@pytest.mark.parametrize("first", first_fast(range(0, STUDIES, CHUNK), 1))
def test_what_is_given_up_is_best_of_all_combinations(first: int) -> None:
    """Every kind of give on random studies: values, leasts and status are those of the listing."""
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        study = giving_study(seed, ("amount", "percent", "rate"))
        if study is None:
            continue
        answer = solve(study)
        assert answer.status in ("proven", "impossible"), (seed, answer.reasons)
        rows = table(study)
        unit = answer.proof.material_unit_kg or 1e-6
        listed = listed_values(rows, unit)
        sizes = {"material": unit, "cost": CENT}
        best = None if listed is None else listed_best_giving(study, *listed, sizes)
        assert (answer.status == "impossible") == (best is None), seed
        if best is None:
            continue
        values, least = best
        assert {stage.wish: stage.value for stage in answer.proof.stages} == values, seed
        for stage in answer.proof.stages:
            assert stage.proven
            assert (stage.given is not None) == (stage.wish in study.wishes.give), seed
            if stage.given is not None:
                assert stage.bound == stage.given.least == least[stage.wish], seed
                seen["given up"] += stage.value > stage.given.least
            seen["weighed"] += stage.weighed is not None
        seen["proven"] += 1
    assert seen["proven"] >= CHUNK // 3
    assert seen["given up"] >= 1
    assert seen["weighed"] >= 1
