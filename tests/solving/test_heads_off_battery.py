"""Heads that draw nothing from a robot's battery: no counter, no share of the life, no limits of counting."""

from __future__ import annotations

import copy
import json
import math

import pytest

from ringset.errors import StudyError
from ringset.reporting.electronics_text import electronics_text
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.solving.test_absolute import both
from tests.solving.test_brute_force import listed_best, table
from tests.support.electronic_studies import HEAD, with_batteries
from tests.support.narrow import present
from tests.support.studies import Json, joint, load


def mixed() -> Json:
    """Return an arm with a battery: one joint is counted, the other has a second ring and a head off it."""
    data = both()
    (told,) = data["robots"][0]["joints"]
    told.update(head="off", absolute="second_ring")
    data["heads"] = {"off": {"third_harmonic": 0.001, "backup_current_ua": 0.0}}
    counted = joint("base", 40.0, absolute="counter", unpowered_speed_rpm=10.0)
    data["robots"][0]["joints"].append(counted)
    return data


@pytest.fixture(scope="module")
def study() -> Study:
    return load(mixed())


@pytest.fixture(scope="module")
def answer(study: Study) -> Answer:
    found = solve(study)
    assert found.status == "proven", found.reasons
    return found


def test_a_battery_and_a_second_ring_on_a_head_that_draws_nothing(
    study: Study, answer: Answer
) -> None:
    assert judge(study, answer) == []
    ring = {one.joint: one for one in answer.rings}
    assert ring["wrist"].absolute_by == "second_ring"
    assert ring["base"].absolute_by == "counter"
    assert ring["wrist"].electronics.backup_current_ua == 0.0
    # only the counted joint empties the battery: 1.5 uA a head, 2 % of 2.4 Ah a year, 80 % of it to be had
    (robot,) = answer.electronics
    drawn = 1.5 * ring["base"].heads
    assert robot.battery_current_ua == pytest.approx(drawn, rel=1e-12)
    years = 0.8 * 2.4 / (drawn * 8766e-6 + 0.02 * 2.4)
    assert robot.battery_life_years == pytest.approx(years, rel=1e-12)
    said = " ".join(electronics_text(answer).split())
    assert "arm/wrist: draws nothing from a battery, so counts no pitches without power" in said


def test_the_judge_refuses_a_counter_on_a_head_that_draws_nothing(
    study: Study, answer: Answer
) -> None:
    rings = [
        one.model_copy(update={"absolute_by": "counter_and_second_ring"})
        if one.joint == "wrist"
        else one
        for one in answer.rings
    ]
    faults = judge(study, answer.model_copy(update={"rings": rings}))
    assert any("absolute_by: 'counter_and_second_ring' stated, 'second_ring'" in f for f in faults)


def test_what_a_head_that_never_counts_states_of_counting_asks_nothing() -> None:
    """A counter of one bit and 5,000 rpm would leave no ring, but this head draws nothing."""
    data = both()
    data["head"].update(backup_counter_bits=1)
    data["robots"][0]["joints"][0]["unpowered_speed_rpm"] = 5000.0
    assert solve(load(copy.deepcopy(data))).status == "impossible"
    data["head"]["backup_current_ua"] = 0.0
    study = load(data)
    found = solve(study)
    (ring,) = found.rings
    assert judge(study, found) == []
    assert ring.absolute_by == "second_ring"
    assert ring.electronics.unpowered_speed_max_rpm is None
    assert ring.electronics.counter_bits_needed is None
    for name in ("unpowered_speed_max_rpm", "counter_bits_needed"):
        piece = ring.electronics.model_copy(update={name: 9})
        wrong = found.model_copy(update={"rings": [ring.model_copy(update={"electronics": piece})]})
        assert any(f"electronics.{name}" in fault for fault in judge(study, wrong))


def bad(name: str) -> Json:
    data = mixed()
    robot = data["robots"][0]
    if name == "demand":
        robot["joints"][0].update(absolute="counter", unpowered_speed_rpm=10.0)
        data["heads"]["off"] = {**HEAD, "backup_current_ua": 0.0}
    elif name == "nothing":
        del data["heads"]["off"]["backup_current_ua"]
    elif name == "negative":
        data["heads"]["off"]["backup_current_ua"] = -1.0
    else:
        robot["joints"].pop()
        robot["battery"]["self_discharge_per_year"] = 0.0
    return data


FAULTS = {
    "demand": ("heads.off.backup_current_ua", "0", "more than 0 (robots[0].joints[0].absolute"),
    "nothing": (
        "heads.off.backup_current_ua",
        "nothing",
        "0 for a head that draws nothing from it",
    ),
    "negative": ("heads.off.backup_current_ua", "-1.0", "greater than or equal to 0"),
    "for ever": ("robots[0].battery.self_discharge_per_year", "0", "more than 0, for no head"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_what_cannot_be_is_refused_by_field(name: str) -> None:
    path, given, allowed = FAULTS[name]
    with pytest.raises(StudyError) as caught:
        load_study(json.dumps(bad(name)))
    (fault,) = caught.value.faults
    assert (fault.path, fault.given) == (path, given)
    assert allowed in fault.allowed


@pytest.mark.slow
def test_with_some_heads_off_the_battery_the_answer_is_the_best_of_all_combinations() -> None:
    statuses, off = [], 0
    for seed in range(200, 224):
        data = with_batteries(seed)
        data["heads"]["b"]["backup_current_ua"] = 0.0
        for robot in data["robots"]:
            robot["battery"]["life_min_years"] *= 0.98
            robot["battery"]["self_discharge_per_year"] = 0.01
            most = 0.8 / 0.01
            life = min(robot["battery"]["life_min_years"], 0.99 * most)
            robot["battery"]["life_min_years"] = life
        study = load(data)
        rows = table(study)
        if math.prod(len(rows.of(j)) for j in range(rows.joints)) > 100_000:
            continue
        found = solve(study)
        assert judge(study, found) == [], seed
        reached = {stage.wish: stage.value for stage in found.proof.stages}
        assert (reached or None) == listed_best(rows, found.proof.material_unit_kg or 1e-6), seed
        statuses.append(found.status)
        for robot in found.electronics:
            mine = [ring for ring in found.rings if ring.robot == robot.robot]
            drawn = 0.0
            for ring in mine:
                stated = next(r for r in data["robots"] if r["name"] == ring.robot)
                row = next(j for j in stated["joints"] if j["name"] == ring.joint)
                off += row["head"] == "b"
                drawn += data["heads"][row["head"]]["backup_current_ua"] * ring.heads
            share = next(r for r in data["robots"] if r["name"] == robot.robot)["battery"]
            wanted = drawn * share["unpowered_share"]
            assert present(robot.battery_current_ua) == pytest.approx(wanted, abs=1e-12)
    assert statuses.count("proven") >= 5
    assert off >= 5
