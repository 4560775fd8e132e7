"""Money: worked by hand, against listing everything, and what the judge makes of it."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable

import numpy as np
import pytest

from ringset.errors import StudyError
from ringset.schema.answer import Answer
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import listed_best, milp_best, table
from tests.support.narrow import present
from tests.support.studies import Json, load, priced_study, small

STUDIES = 60
CHUNK = 20


def priced(**changes: object) -> Json:
    """Return the small study with prices; robots are built twice."""
    data = small()
    data["shop"]["prices"] = {
        "currency": "crowns", "cutter": 300.0, "set_up_per_ring_part": 50.0, "material_per_kg": 4.0,
        "head": 20.0, "machine_per_hour": 60.0, "cutting_minutes_per_tooth": {"6": 0.5},
    }  # fmt: skip
    data["wishes"] = {"order": ["cost"]}
    data["shop"]["prices"].update(changes)
    return data


def cost_of(answer: Answer) -> float:
    """Return what an answer costs in all."""
    return present(present(answer.totals).cost).total


def test_the_lines_of_the_money_are_those_worked_by_hand() -> None:
    """Invented by us: 60 an hour is 1 a minute, so a tooth of half a minute costs 0.5."""
    answer = solve(load(priced()))
    totals = present(answer.totals)
    cost = present(totals.cost)
    teeth = sum(2 * ring.teeth for ring in answer.rings)
    assert cost.cutters == 300.0 * totals.cutters
    assert cost.set_up == 50.0 * totals.ring_parts
    assert cost.material == pytest.approx(4.0 * totals.material_kg, rel=1e-12)
    assert cost.cutting == pytest.approx(0.5 * teeth, rel=1e-12)
    assert cost.heads == 20.0 * totals.heads
    lines = (cost.cutters, cost.set_up, cost.material, cost.cutting, cost.heads)
    assert cost.total == pytest.approx(sum(lines), rel=1e-12)
    stage = answer.proof.stages[0]
    assert 0.0 <= stage.value * answer.proof.cost_unit - cost.total < 0.01 * (3 + 3 + 1 + 1)


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(9000, 9000 + STUDIES, CHUNK))
def test_cost_is_the_least_of_all_combinations(first: int) -> None:
    compared = 0
    for seed in range(first, first + CHUNK):
        study = load(priced_study(seed))
        answer = solve(study)
        assert judge(study, answer) == []
        rows, unit_kg = table(study), answer.proof.material_unit_kg or 1.0
        best = listed_best(rows, unit_kg)
        assert milp_best(rows, unit_kg) == best, seed
        if not answer.rings:
            assert best is None, seed
            continue
        assert answer.status == "proven", (seed, answer.reasons)
        assert answer.proof.cost_unit == 0.01
        assert {s.wish: s.value for s in answer.proof.stages} == best, seed
        compared += 1
        stages = zip(
            answer.proof.stages,
            verify_certificate(study, answer, certify(study, answer)).stages,
            strict=True,
        )
        for stage, verdict in stages:
            if stage.confirmed_by in ("multipliers", "listing"):
                assert verdict.state == "verified", (seed, verdict)
    assert compared >= CHUNK // 3


def test_a_ceiling_of_cost_is_kept_and_one_below_the_least_is_impossible() -> None:
    least = cost_of(solve(load(priced())))
    data = priced()
    data["wishes"] = {"order": ["material"], "cost_max": least}
    assert cost_of(solve(load(data))) <= least * (1.0 + 1e-9)
    data["wishes"]["cost_max"] = least - 0.02
    answer = solve(load(data))
    assert answer.status == "impossible"
    assert "wishes.cost_max" in answer.reasons[0]
    assert f"{least:g}"[:5] in answer.reasons[0]


def test_prices_of_nothing_change_no_ring() -> None:
    free = priced(
        cutter=0.0, set_up_per_ring_part=0.0, material_per_kg=0.0, head=0.0, machine_per_hour=0.0
    )
    free["wishes"] = {"order": ["cost", "cutters", "ring_parts", "heads", "material"]}
    answer, plain = solve(load(free)), solve(load(small()))
    assert cost_of(answer) == 0.0
    assert [r.ring_part for r in answer.rings] == [r.ring_part for r in plain.rings]
    assert [r.teeth for r in answer.rings] == [r.teeth for r in plain.rings]


@pytest.mark.parametrize("factor", [0.5, 3.0, 1000.0])
def test_all_prices_times_a_factor_is_the_cost_times_it(factor: float) -> None:
    data, more = priced(), priced()
    prices = more["shop"]["prices"]
    for name in ("cutter", "set_up_per_ring_part", "material_per_kg", "head", "machine_per_hour"):
        prices[name] *= factor
    costs = [cost_of(solve(load(d))) for d in (data, more)]
    # the least is counted in hundredths, ring by ring
    assert costs[1] == pytest.approx(factor * costs[0], abs=0.05 * max(1.0, factor))


def test_dear_heads_are_fewer_and_dear_set_up_is_shared() -> None:
    cheap, dear = priced(set_up_per_ring_part=0.0), priced(set_up_per_ring_part=5000.0)
    parts = [present(solve(load(d)).totals).ring_parts for d in (cheap, dear)]
    assert parts[1] < parts[0]


@pytest.mark.parametrize("line", ["cutters", "set_up", "material", "cutting", "heads", "total"])
def test_the_judge_finds_money_that_was_changed(line: str) -> None:
    study = load(priced())
    tree = json.loads(solve(study).to_json())
    tree["totals"]["cost"][line] += 1.0
    assert any(
        f"totals.cost.{line}" in v
        for v in judge(study, Answer.model_validate_json(json.dumps(tree)))
    )


def test_the_judge_finds_a_stage_or_a_unit_that_was_changed() -> None:
    study = load(priced())
    tree = json.loads(solve(study).to_json())
    changes: tuple[Callable[[Json], None], ...] = (
        lambda t: t["proof"]["stages"][0].update(value=1, bound=1),
        lambda t: t["proof"].update(cost_unit=0.1),
        lambda t: t["proof"].update(cost_unit=0.0),
        lambda t: t["totals"].update(cost=None),
    )
    for change in changes:
        other = copy.deepcopy(tree)
        change(other)
        assert judge(study, Answer.model_validate_json(json.dumps(other)))


def test_the_judge_refuses_a_unit_that_would_hide_what_things_cost() -> None:
    study = load(priced())
    answer = solve(study)
    assert answer.totals is not None
    assert answer.totals.cost is not None
    for unit in (0.005, 1.1e-3 * answer.totals.cost.total):
        tree = json.loads(answer.to_json())
        tree["proof"]["cost_unit"] = unit
        found = judge(study, Answer.model_validate_json(json.dumps(tree)))
        assert any(violation.startswith("proof.cost_unit: ") for violation in found)


@pytest.mark.parametrize(
    ("wishes", "field"),
    [({"order": ["cost"]}, "wishes.order"), ({"cost_max": 5.0}, "wishes.cost_max")],
)
def test_money_without_prices_is_refused(wishes: Json, field: str) -> None:
    with pytest.raises(StudyError, match=field):
        load({**small(), "wishes": wishes})


def test_a_flank_class_without_a_time_is_refused() -> None:
    with pytest.raises(StudyError, match="cutting_minutes_per_tooth: given classes 7"):
        load(priced(cutting_minutes_per_tooth={"7": 0.1}))


@pytest.mark.parametrize("price", [-1.0, np.inf, "much"])
def test_prices_that_are_none_are_refused(price: float | str) -> None:
    with pytest.raises((StudyError, ValueError)):
        load(priced(cutter=price))
