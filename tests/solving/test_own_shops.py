"""Wires, tooth counts, pitches, materials and inches of the user's own, against lists of all there is."""

from __future__ import annotations

import math
from collections import Counter
from fractions import Fraction

import pytest

from ringset import certify, verify_certificate
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import listed_best, table
from tests.support.own_shops import own_shop_study
from tests.support.plainly_listed import plain_rings
from tests.support.studies import inside_rows, load

STUDIES, CHUNK = 80, 20


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, STUDIES, CHUNK))
def test_answers_are_the_best_of_all_combinations(first: int) -> None:
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        study = load(own_shop_study(seed))
        answer = solve(study)
        seen[answer.status] += 1
        assert judge(study, answer) == [], seed
        assert answer.status in ("proven", "impossible"), (seed, answer.reasons)
        best = listed_best(table(study), answer.proof.material_unit_kg or 1e-6)
        reached = {stage.wish: stage.value for stage in answer.proof.stages}
        assert (reached or None) == best, seed
        assert (answer.status == "impossible") == (best is None), seed
        for ring in answer.rings:
            _kept_by_hand(study.shop.model_dump(), ring.module_mm, ring.teeth)
    assert seen["proven"] >= CHUNK // 4
    assert seen["impossible"] >= 1


def _kept_by_hand(shop: dict[str, object], module: float, teeth: int) -> None:
    """Hold a toothing against what the shop states, by definitions alone."""
    named = [one for one in shop["modules"] if isinstance(one, str)]  # type: ignore[attr-defined]
    numbers = [one for one in shop["modules"] if isinstance(one, float)]  # type: ignore[attr-defined]
    of_pitches = [
        float(Fraction("25.4") / Fraction(one[:-3])) if one.endswith("DP")
        else float(Fraction(one[:-6]) * Fraction("25.4" if " in " in one else "1")) / math.pi
        for one in named
    ]  # fmt: skip
    assert min(abs(module - one) for one in [*numbers, *of_pitches]) < 1e-12
    if shop["teeth_allowed"] is not None:
        assert teeth in shop["teeth_allowed"]  # type: ignore[operator]
    if shop["teeth_multiple_of"] is not None:
        assert teeth % shop["teeth_multiple_of"] == 0  # type: ignore[operator]
    prime = shop["teeth_largest_prime"]
    if prime is not None:
        for number in range(2, int(prime) + 1):  # type: ignore[call-overload]
            while teeth % number == 0:
                teeth //= number
        assert teeth == 1


#: Those that plain loops go through in a moment stand first.
QUICK = (4, 5, 6, 2)


@pytest.mark.cases(fast=2, slow=3)
@pytest.mark.parametrize("seed", [*QUICK, *sorted({*range(40)} - {*QUICK})])
def test_the_rows_are_those_of_plain_loops_and_the_judge(seed: int) -> None:
    study = load(own_shop_study(seed)).canonical()
    rows = inside_rows(study).catalogue
    columns = (rows.joint, rows.module_mm(), rows.teeth, rows.bore_mm(), rows.heads)
    ours = set(zip(*(column.tolist() for column in columns), strict=True))
    plain = {
        (one.joint, one.ring.module_mm, one.ring.teeth, one.ring.bore_mm, one.ring.heads)
        for one in plain_rings(study)
    }
    assert ours == plain


@pytest.mark.parametrize("seed", [1, 4])
def test_their_bounds_are_certified(seed: int) -> None:
    study = load(own_shop_study(seed))
    answer = solve(study)
    found = verify_certificate(study, answer, certify(study, answer))
    assert found.faults == []
    assert {stage.state for stage in found.stages} == {"verified"}


def test_the_studies_state_every_input_and_most_of_them_decide() -> None:
    stated: Counter[str] = Counter()
    for seed in range(CHUNK):
        shop = own_shop_study(seed)["shop"]
        stated.update(shop.keys())
        stated["pitches"] += any(isinstance(one, str) for one in shop["modules"])
    for name in (
        "teeth_allowed", "teeth_multiple_of", "teeth_largest_prime", "wire_diameter_mm",
        "spark_gap_mm", "materials", "pitches",
    ):  # fmt: skip
        assert stated[name] >= 1, name
