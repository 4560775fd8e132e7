"""Limits of the reading electronics: kept, explained, and refused if absurd; what is printed."""

from __future__ import annotations

import json
import math
from collections.abc import Callable

import numpy as np
import pytest

from ringset.analysis.alternatives.single_ring import rate_one
from ringset.catalogue.enumerate import catalogue
from ringset.errors import StudyError
from ringset.rating.rate import rate
from ringset.reporting.answer_text import answer_text, ring_text
from ringset.reporting.electronics_text import electronics_text
from ringset.schema.answer import Answer
from ringset.schema.joint import Joint
from ringset.schema.loading import load_study
from ringset.schema.study import Robot, Study
from ringset.solving.pipeline import solve
from tests.support.answered import proven
from tests.support.electronic_studies import TIGHTER, one, stated
from tests.support.studies import Json, joint, load, small


@pytest.fixture(scope="module")
def study() -> Study:
    return load(stated())


@pytest.fixture(scope="module")
def answer(study: Study) -> Answer:
    return proven(study)


# -- row limits against plain formulas -------------------------------------------------------------

ROW_LIMITS: dict[str, tuple[Json, Callable[[int, float, int], bool]]] = {
    "head.sample_rate_hz": (
        one(head={"sample_rate_hz": 110.0}),
        lambda z, tip, heads: z * 15.0 / 60.0 * 8.0 <= 110.0,
    ),
    "target.lag_max_arcsec": (
        one(head={"bandwidth_hz": 500.0}, target={"lag_max_arcsec": 103.102}),
        lambda z, tip, heads: (
            math.degrees(math.atan(z * 0.25 / 500.0)) * 3600 / z <= 103.102 * (1 + 1e-9)
        ),
    ),
    "unpowered_speed_rpm": (
        one(head={"backup_polling_ms": 5.0}, joint={"unpowered_speed_rpm": 100.0}),
        lambda z, tip, heads: 60.0 / (2.0 * z * 0.005) >= 100.0,
    ),
    "head.backup_counter_bits": (
        one(head={"backup_counter_bits": 8}, joint={"turns_range": 4.0}),
        lambda z, tip, heads: 4 * z <= 2**8,
    ),
    "head.width_mm": (
        one(head={"width_mm": 95.0}, joint={"head_counts": [1, 2]}),
        lambda z, tip, heads: heads * 95.0 <= math.pi * (tip + 0.8),
    ),
    "head.width_mm at stated angles": (
        one(
            head={"width_mm": 45.0},
            joint={"head_counts": [1, 2], "head_angles_deg": {"2": [350.0, 70.0]}},
        ),
        lambda z, tip, heads: heads == 1 or math.pi * (tip + 0.8) * 80.0 / 360.0 >= 45.0,
    ),
}


@pytest.mark.parametrize("name", ROW_LIMITS)
def test_a_row_keeps_a_limit_just_where_the_plain_formula_says_so(name: str) -> None:
    data, keeps = ROW_LIMITS[name]
    study = load(data).canonical()
    rated = rate(study, catalogue(study))
    rows = rated.catalogue
    wanted = [
        keeps(int(z), float(tip), int(h))
        for z, tip, h in zip(rows.teeth, rated.tip_mm, rows.heads, strict=True)
    ]
    assert rated.limits[name.split(" at ")[0]].tolist() == wanted
    assert 0 < sum(wanted) < len(wanted)
    found = solve(study)
    assert found.status == "proven"
    ring = found.rings[0]
    assert keeps(ring.teeth, ring.tip_diameter_mm, ring.heads)


def test_without_statements_only_the_room_for_heads_is_checked() -> None:
    study = load(small()).canonical()
    limits = set(rate(study, catalogue(study)).limits)
    electronic = {name.split(" at ")[0] for name in ROW_LIMITS}
    assert limits & electronic == {"head.width_mm"}
    found = solve(study)
    for ring in found.rings:
        assert not any(ring.electronics.model_dump().values())
        assert not {m.limit for m in ring.margins} & (electronic - {"head.width_mm"})
    assert electronics_text(found) == ""
    assert "Reading electronics" not in answer_text(study, found, {})


def test_a_head_that_states_nothing_is_not_limited_by_another() -> None:
    data = stated()
    data["heads"]["mute"] = {"bandwidth_hz": 10000.0}
    data["robots"][1]["joints"][0]["head"] = "mute"
    found = solve(load(data))
    plate = next(ring for ring in found.rings if ring.joint == "plate")
    limits = {margin.limit for margin in plate.margins}
    assert "target.lag_max_arcsec" in limits
    absent = {"head.sample_rate_hz", "head.backup_counter_bits", "unpowered_speed_rpm"}
    assert not limits & absent


# -- worked numbers and text -----------------------------------------------------------------------


def test_a_line_of_six_joints_takes_what_a_count_of_its_bits_says() -> None:
    """25 + 16 + 8 bits in 7 bytes, address 1, check sum 2; request 3 bytes; 8N1 at 2.5 Mbit/s."""
    data = one(head={"position_bits": 25}, robot={"line": {}})
    arm = data["robots"][0]
    arm["joints"] = [joint(f"j{i}", 40.0, speed_max_rpm=30.0) for i in range(6)]
    found = solve(load(data))
    assert {ring.electronics.reply_bytes for ring in found.rings} == {10}
    assert found.rings[0].electronics.line_time_us == pytest.approx(62.1)
    robot = found.electronics[0]
    assert robot.cycle_us == pytest.approx(372.6)
    assert robot.cycle_rate_hz == pytest.approx(2684, abs=0.5)
    assert robot.skew_arcsec == pytest.approx(201.0, abs=0.5)


def test_the_text_tells_every_stated_number(study: Study, answer: Answer) -> None:
    text = electronics_text(answer)
    whole = answer_text(study, answer, {})
    assert text in whole.replace(whole.split("Reading")[0], "")
    for words in ("samples a second", "lags", "without power", "pitch counter", "back-up current",
                  "on the line", "battery lasts", "line polls"):  # fmt: skip
        assert words in " ".join(text.split()), words
    assert all(len(line) <= 100 for line in text.splitlines())


def test_a_single_ring_is_rated_with_its_electronics(study: Study) -> None:
    robot, place = study.robots[0], study.robots[0].joints[0]
    ring, faults = rate_one(study, robot, place, 1.0, 85, 65.0, 2)
    assert faults == []
    text = ring_text(ring, faults, study.target.basis)
    assert "Reading electronics\n  needs 170 samples a second" in text
    assert "head.backup_counter_bits" in text
    bare = rate_one(load(one()), *one_joint(load(one())), 1.0, 60, 44.0, 1)[0]
    assert "Reading electronics" not in ring_text(bare, [], "expanded")


def one_joint(study: Study) -> tuple[Robot, Joint]:
    return study.robots[0], study.robots[0].joints[0]


def test_order_of_joints_and_robots_changes_nothing(answer: Answer) -> None:
    data = stated()
    data["robots"].reverse()
    for robot in data["robots"]:
        robot["joints"].reverse()
    assert solve(load(data)).to_json() == answer.to_json()


# -- reasons ---------------------------------------------------------------------------------------

REASONS = {
    "head.sample_rate_hz": ["the best that can be reached is", "Hz"],
    "target.lag_max_arcsec": ["the best that can be reached is", "arcsec"],
    "unpowered_speed_rpm": ["the best that can be reached is", "rpm"],
    "head.width_mm": ["the best that can be reached is", "mm"],
    "battery.life_min_years": ["arm: ", "the fewest heads", "uA"],
    "line.cycle_max_us": ["arm: ", "polling 3 joints takes 186.3 us"],
}


@pytest.mark.parametrize("limit", REASONS)
def test_an_impossible_study_names_the_limit(limit: str) -> None:
    data = stated()
    TIGHTER[limit](data)
    if limit == "head.width_mm":
        data["heads"]["thrifty"]["width_mm"] = 400.0
    found = solve(load(data))
    assert found.status == "impossible"
    mine = [reason for reason in found.reasons if limit in reason]
    assert mine, found.reasons
    for text in REASONS[limit]:
        assert any(text in reason for reason in mine), (text, mine)


def test_a_counter_too_small_is_named() -> None:
    found = solve(load(one(head={"backup_counter_bits": 4})))
    assert found.status == "impossible"
    assert "head.backup_counter_bits 4" in found.reasons[0]
    assert "is 6 bits" in found.reasons[0]


def test_a_battery_against_the_tool_point_is_a_conflict_of_the_two() -> None:
    data = small()
    data["head"] = {"backup_current_ua": 1.0}
    arm = data["robots"][0]
    free = solve(load(data))
    fine = free.tool_points[0].error_um * 0.55  # asks a second head on some joint
    arm["tool_point_target_um"] = fine
    assert solve(load(data)).status == "proven"
    current = 3.5
    arm["battery"] = {"capacity_ah": 1.0, "self_discharge_per_year": 0.0}
    arm["battery"]["life_min_years"] = 0.8 / (current * 8766e-6)
    found = solve(load(data))
    assert found.status == "impossible"
    assert found.reasons == [
        "arm: tool_point_target_um and arm: battery.life_min_years: cannot hold together"
    ]


# -- bad input -------------------------------------------------------------------------------------

FAULTS = {
    "two samples": (one(head={"samples_per_tooth_min": 2.0}), "head.samples_per_tooth_min"),
    "no bandwidth": (one(target={"lag_max_arcsec": 9.0}), "head.bandwidth_hz"),
    "no polling": (one(joint={"unpowered_speed_rpm": 9.0}), "head.backup_polling_ms"),
    "no current": (one(robot={"battery": {"capacity_ah": 1.0}}), "head.backup_current_ua"),
    "too long": (
        one(
            head={"backup_current_ua": 1.0},
            robot={"battery": {"capacity_ah": 1.0, "life_min_years": 40.0}},
        ),
        "robots[0].battery.life_min_years",
    ),
    "no capacity": (one(robot={"battery": {}}), "robots[0].battery.capacity_ah"),
    "half a byte": (one(robot={"line": {"request_bytes": 2.5}}), "robots[0].line.request_bytes"),
    "no width": (one(head={"width_mm": 0.0}), "head.width_mm"),
    "no range": (one(joint={"turns_range": 0.0}), "robots[0].joints[0].turns_range"),
    "unknown": (one(robot={"line": {"parity": 1}}), "robots[0].line.parity"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_impossible_data_are_refused_by_field(name: str) -> None:
    data, path = FAULTS[name]
    with pytest.raises(StudyError) as error:
        load_study(json.dumps(data))
    assert [fault.path for fault in error.value.faults] == [path]


def test_a_battery_asks_every_head_by_name_for_its_current() -> None:
    data = stated()
    del data["heads"]["thrifty"]["backup_current_ua"]
    with pytest.raises(StudyError) as error:
        load_study(json.dumps(data))
    assert [fault.path for fault in error.value.faults] == ["heads.thrifty.backup_current_ua"]


def test_eight_wide_heads_do_not_fit_round_a_small_ring() -> None:
    data = one(head={"width_mm": 30.0}, joint={"head_counts": [8]})
    found = solve(load(data))
    assert found.status == "impossible"
    assert "head.width_mm 30" in found.reasons[0]
    widest = math.pi * (70.0 + 0.8) / 8.0
    assert f"{widest:.5g} mm" in found.reasons[0]
    assert np.isclose(widest, 27.8, atol=0.1)


def test_what_a_head_lacks_is_said_once() -> None:
    data = small()
    data["robots"][0]["battery"] = {"capacity_ah": 1.0}
    with pytest.raises(StudyError) as error:
        load_study(json.dumps(data))
    assert [fault.path for fault in error.value.faults] == ["head.backup_current_ua"]
