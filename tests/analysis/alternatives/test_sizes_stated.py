"""Neighbours under housings, listed bores and sums of a robot's rings: told as the judge recounts them."""

from __future__ import annotations

from typing import Any

import pytest

from ringset.analysis.alternatives.advice import advice_on_answer
from ringset.analysis.alternatives.single_ring import find_joint, rate_one
from ringset.solving.pipeline import solve
from tests.analysis.alternatives.test_alternatives import all_grounds, of
from tests.support.sized_studies import sized_study
from tests.support.studies import Json, load


def one_joint(**fields: Any) -> Json:
    row = {"name": "joint", "bore_min_mm": 60, "bore_max_mm": 90, "housing_max_mm": 126.8} | fields
    return {
        "robots": [{"name": "arm", "joints": [row]}],
        "shop": {"modules": [1.0], "bore_step_mm": 0.5, "clamp_runout_share": None},
        "target": {"angle_target_arcsec": 300.0},
    }


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, 60, 10))
def test_neighbours_are_what_a_recount_finds_and_none_is_better(first: int) -> None:
    told: set[str] = set()
    for seed in range(first, first + 10):
        study = load(sized_study(seed))
        answer = solve(study)
        if answer.status == "proven":
            grounds = all_grounds(study, answer)
            assert "better" not in {ground.outcome for ground in grounds}, seed
            told |= {one.limit for ground in grounds for one in ground.breaks}
    assert told & {"housing_max_mm", "bores_mm", "shop.bores_mm", "rings_mass_max_kg"}


def test_a_ring_that_its_housing_holds() -> None:
    study = load(one_joint(tip_min_mm=101.5))
    larger = of(study, solve(study), "joint")["larger"]
    (broken,) = (one for one in larger.breaks if one.limit == "housing_max_mm")
    assert broken.value == pytest.approx(103.0 + 24.8)
    assert broken.allowed == 126.8


def test_the_next_of_the_listed_bores_is_tried() -> None:
    study = load(one_joint(tip_min_mm=101.5, bores_mm=[61.0, 75.0, 82.0, 89.0], head_counts=[1]))
    answer = solve(study)
    assert answer.rings[0].bore_mm == 89.0
    found = of(study, answer, "joint")
    assert (found["thicker"].bore_mm, found["thicker"].outcome) == (82.0, "costs")
    wider = found["thinner"]
    assert (wider.bore_mm, wider.outcome) == (89.5, "breaks")
    (broken,) = (one for one in wider.breaks if one.limit == "bores_mm")
    assert (broken.value, broken.allowed, broken.unit) == (89.5, 89.0, "mm")
    assert "bores_mm 89.5 mm, allowed 89" in wider.text


def test_a_ring_that_the_mass_of_its_robot_alone_holds() -> None:
    data = one_joint(tip_min_mm=101.5, head_counts=[1])
    free = solve(load(data))
    data["robots"][0]["rings_mass_max_kg"] = 1.001 * free.robot_rings[0].rings_mass_kg
    study = load(data)
    answer = solve(study)
    thicker = of(study, answer, "joint")["thicker"]
    assert [(one.robot, one.joint, one.limit) for one in thicker.breaks] == [
        ("arm", None, "rings_mass_max_kg")
    ]


def test_a_single_ring_is_held_against_list_and_housing() -> None:
    study = load(one_joint(bores_mm=[80.0, 85.0], ring_mass_max_kg=0.2))
    ring, faults = rate_one(study, *find_joint(study, "joint"), 1.0, 104, 81.0, 1)
    assert [fault.partition(":")[0].split(" ")[0] for fault in faults] == [
        "bores_mm", "housing_max_mm", "ring_mass_max_kg",
    ]  # fmt: skip
    assert ring.housing_diameter_mm == pytest.approx(106.0 + 24.8)
    _, faults = rate_one(study, *find_joint(study, "joint"), 1.0, 90, 80.0, 1)
    assert not any(fault.startswith(("bores_mm", "housing_max_mm")) for fault in faults)


def test_advice_marks_what_a_list_or_a_housing_forbids() -> None:
    study = load(one_joint(tip_min_mm=101.5, bores_mm=[89.0], head_counts=[1]))
    advice = advice_on_answer(study, solve(study))["arm", "joint"]
    broken = {change.kind: change.breaks for change in advice}
    assert "housing_max_mm" in broken["larger"]
    assert broken.get("rim", ["bores_mm"]) == ["bores_mm"]
