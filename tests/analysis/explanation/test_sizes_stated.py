"""Blockers and reliefs of room, bores and amounts, held against stating every study anew."""

from __future__ import annotations

import random

import pytest

from ringset.analysis.explanation.explain import explain_study
from ringset.analysis.explanation.impossible import explain_impossible
from ringset.solving.pipeline import solve
from tests.support.sized_studies import sized_study, tight_sized_joint
from tests.support.studies import Json, joint, load
from tests.support.why_checks import (
    check_joint,
    check_none_missing,
    check_reliefs,
    check_shared,
    tight_joint,
)

#: Seeds of one test.
CHUNK = 12


def drawn(seed: int) -> Json:
    return tight_sized_joint(seed, tight_joint(seed))


def tight_sums(seed: int) -> Json:
    """Return a random study whose robots' rings may come to a little less than the least that they can."""
    rng, data = random.Random(seed), sized_study(seed)
    for robot in data["robots"]:
        for field in ("rings_mass_max_kg", "rings_inertia_max_kg_m2"):
            if field in robot:
                robot[field] *= rng.choice((0.9, 0.97, 1.0))
    return data


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, 60, CHUNK))
def test_blockers_of_a_joint_are_impossible_minimal_and_all(first: int) -> None:
    assert sum(check_joint(seed, drawn) for seed in range(first, first + CHUNK)) > CHUNK // 2


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, 60, CHUNK))
def test_reliefs_of_a_joint_free_it_and_one_step_less_does_not(first: int) -> None:
    seeds = range(first, first + CHUNK)
    assert sum(check_reliefs(seed, drawn(seed))[1] for seed in seeds) > CHUNK // 2
    for seed in seeds:
        check_none_missing(drawn(seed))


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("first", range(0, 24, 2))
def test_sums_of_a_robots_rings_block_and_are_eased(first: int) -> None:
    seeds = (first, first + 1)
    blockers = sum(check_shared(seed, tight_sums) for seed in seeds)
    assert blockers + sum(check_reliefs(seed, tight_sums(seed))[1] for seed in seeds) > 0


def arm(**fields: object) -> Json:
    row = joint("wrist", 40.0, **fields)
    row = {name: value for name, value in row.items() if value is not None}
    return {
        "robots": [{"name": "arm", "joints": [row]}],
        "shop": {"modules": [1.0], "bore_step_mm": 1.0, "clamp_runout_share": None},
        "target": {"angle_target_arcsec": 200.0},
    }


def relieved(data: Json) -> dict[str, object]:
    """Return the value of every single relief by its path."""
    return {
        way.changes[0].path: way.changes[0].value for way in explain_impossible(load(data)).singles
    }


def test_a_housing_too_narrow_is_told_with_what_the_smallest_ring_needs() -> None:
    """Bore 40, 2.25 of teeth, 3 of rim: 49 teeth have their root at 46.5; 51 mm of tips and 24.8 more."""
    data = arm(tip_max_mm=None, housing_max_mm=72.0)
    (reason,) = solve(load(data)).reasons
    assert "bore_min_mm 40 with housing_max_mm 72: at most" in reason
    assert relieved(data)["joints.wrist.housing_max_mm"] == pytest.approx(51.0 + 24.8)
    data["head"] = {"teeth_min": 60}
    (reason,) = solve(load(data)).reasons
    assert reason == (
        "arm/wrist: housing_max_mm 72: the smallest ring needs 86.8 mm with its head (tips 62, gap 0.4 and "
        "head.height_above_tips_mm 12) (module 1, head.teeth_min 60)"
    )


def test_a_housing_in_metres_is_suspected() -> None:
    data = arm(tip_max_mm=None, housing_max_mm=0.095, bore_min_mm=0.04, bore_max_mm=0.046)
    data["head"] = {"gap_mm": 0.02, "gap_tolerance_mm": 0.0, "height_above_tips_mm": 0.0}
    assert solve(load(data)).reasons[0].endswith("was this one meant in metres?")


def test_a_list_without_a_bore_that_fits_is_freed_by_the_nearest_one() -> None:
    data = arm(bores_mm=[46.0, 47.0], tip_max_mm=56.0, tip_min_mm=54.0)
    (reason,) = solve(load(data)).reasons
    assert reason.startswith("arm/wrist: ")
    assert relieved(data)["joints.wrist.bores_mm"] == [45, 46, 47]
    data = arm()
    data["shop"]["bores_mm"] = [30.0, 39.0, 60.0]
    (reason,) = solve(load(data)).reasons
    assert reason.startswith(
        "arm/wrist: shop.bores_mm 30, 39, 60: none of them lies between the 40 and"
    )
    ways = relieved(data)
    assert ways["shop.bores_mm"] == [30, 39, 40, 60]
    assert ways["joints.wrist.bore_min_mm"] == 39


def test_a_fixed_housing_is_in_no_relief() -> None:
    study = load(arm(tip_max_mm=None, housing_max_mm=72.0))
    ways = explain_impossible(study, ["joints.wrist.housing_max_mm"]).singles
    assert [way.changes[0].path for way in ways] == ["joints.wrist.bore_min_mm"]


@pytest.mark.slow
def test_prices_and_room_know_the_housing() -> None:
    """All that a possible study is told: what its housing costs, and how much higher its head may be."""
    data = arm(tip_max_mm=None, housing_max_mm=94.8, tip_min_mm=69.5, axial_room_mm=12.0)
    found = explain_study(load(data))
    (price,) = (one for one in found.prices if one.path.endswith("housing_max_mm"))
    assert (price.text, price.tightened_impossible) == ("wrist: housing 94.8 mm", True)
    rooms = {(one.path, one.direction): one for one in found.rooms}
    height = rooms["head.height_above_tips_mm", "up"]
    assert height.holds_to == pytest.approx(12.0, abs=1e-5)
    assert height.limit == "housing_max_mm"
    width = rooms["head.axial_width_mm", "up"]
    assert width.limit == "axial_room_mm"
    assert width.holds_to == pytest.approx(12.0, abs=1e-5)
