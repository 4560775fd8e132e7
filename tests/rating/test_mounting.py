"""Limits of mounting and making: kept, explained, recomputed by the judge, refused if absurd."""

from __future__ import annotations

import copy
import json
import math
from typing import Any

import numpy as np
import pytest

from ringset.analysis.alternatives.single_ring import rate_one
from ringset.catalogue.enumerate import catalogue
from ringset.errors import StudyError
from ringset.rating.limits import rated_checks
from ringset.rating.rate import rate_in_full
from ringset.rating.rated import RatedInFull
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.compose import composed_joint_rings
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from ringset.verification.judge.mounting import judged_mounting_bounds
from tests.support.answered import proven
from tests.support.studies import Json, joint, load

PRESSED: dict[str, Any] = {
    "seat_fit": "H7/s6",
    "hub_bore_mm": 30.0,
    "hub_material": "en_aw_6082_t6",
    "acceleration_max_rad_s2": 5000.0,
}


def one(shop: Json | None = None, **fields: object) -> Json:
    """Return a study of one joint with a bore of 40 to 46 mm and tips up to 70 mm."""
    return {
        "robots": [{"name": "arm", "joints": [joint("wrist", 40.0, **fields)]}],
        "shop": {"modules": [0.8, 1.0, 1.25], **(shop or {})},
        "target": {"angle_target_arcsec": 250.0},
    }


STATED = {
    "slip_safety_min": one(**PRESSED, slip_safety_min=40.0),
    "stress_safety_min": one(**PRESSED, stress_safety_min=1.8),
    "burst_safety_min": one(burst_safety_min=520.0, speed_max_rpm=120.0),
    "shop.screw_sizes": one({"screw_sizes": ["M3", "M4"]}, fastening="screws"),
}
#: All of it at once, on screws.
SCREWED = one(
    {"deeper_cut_below_mm": 1.0, "screw_sizes": ["M2", "M2.5", "M3"], "material_treatment": "+N"},
    fastening="screws", acceleration_max_rad_s2=20000.0, slip_safety_min=9.0,
    stress_safety_min=2.0, burst_safety_min=100.0,
)  # fmt: skip


def rated(data: Json) -> tuple[Study, RatedInFull]:
    study = load(data).canonical()
    return study, rate_in_full(study, catalogue(study))


@pytest.mark.parametrize("name", STATED)
def test_a_stated_limit_divides_the_rows_and_the_answer_keeps_it(name: str) -> None:
    study, rows = rated(STATED[name])
    kept = rows.limits[name]
    assert 0 < kept.sum() < len(kept)
    answer = solve(study)
    assert answer.status == "proven"
    assert judge(study, answer) == []
    margin = next(m for m in answer.rings[0].margins if m.limit == name)
    assert margin.margin >= 0.0


@pytest.mark.parametrize("data", [*STATED.values(), SCREWED])
def test_columns_and_judge_agree_on_every_row(data: Json) -> None:
    study, rows = rated(data)
    checks = rated_checks(study, rows)
    some = rows.take(np.arange(0, len(rows.catalogue), 7))
    checks = {name: check for name, check in checks.items() if name in STATED}
    rings = composed_joint_rings(study, some)
    assert checks
    for place, ring in enumerate(rings):
        bounds = {
            field: (value, allowed)
            for _, value, field, allowed, _, _ in judged_mounting_bounds(
                study,
                study.robots[0].joints[0],
                ring,
                ring.root_diameter_mm,
                ring.tip_diameter_mm,
            )
        }
        for name, check in checks.items():
            value, allowed = bounds[name]
            at = 7 * place
            if allowed is None:
                assert not np.isfinite(check.allowed[at])
            else:
                assert check.value[at] == pytest.approx(value, rel=1e-9)
                assert check.allowed[at] == pytest.approx(allowed, rel=1e-9)


def test_slip_by_hand() -> None:
    """H7/s6 on steel, solid, no spin to speak of: E Delta (D^2 - d^2)/(2 d D^2), T = pi/2 d^2 L mu p."""
    study, rows = rated(
        one(
            seat_fit="H7/s6", hub_bore_mm=0.0, acceleration_max_rad_s2=100.0, slip_safety_min=1.0,
            speed_max_rpm=0.0, seat_roughness_um=5.0,
        )
    )  # fmt: skip
    check = rated_checks(study, rows)["slip_safety_min"]
    d, root, tip = rows.catalogue.bore_mm(), rows.root_mm, rows.tip_mm
    held = 0.043 - 0.025 - 2 * 0.8 * 0.005  # s6 from +43, H7 to +25 um between 40 and 50 mm
    pressure = 210e3 * held * (root**2 - d**2) / (2.0 * d * root**2)
    torque = math.pi / 2.0 * d**2 * 8.0 * 0.12 * pressure / 1e3
    inertia = math.pi / 2.0 * 7850e-15 * 8.0 * ((tip / 2) ** 4 - (d / 2) ** 4)
    steps = (d > 40.0) & (d <= 50.0)
    assert check.value[steps] == pytest.approx((torque / (100.0 * inertia))[steps], rel=1e-9)


def test_an_aluminium_hub_in_the_cold_loosens_and_in_the_heat_closes_the_gap() -> None:
    plain = one(seat_fit="H7/s6", hub_bore_mm=30.0)
    soft = one(seat_fit="H7/s6", hub_bore_mm=30.0, hub_material="en_aw_6082_t6")
    wide = one(
        seat_fit="H7/s6", hub_bore_mm=30.0, hub_material="en_aw_6082_t6", temperature_min_c=-60.0,
        temperature_max_c=120.0,
    )  # fmt: skip
    gaps = [rated(data)[1].gap_left_mm for data in (plain, soft)]
    assert (gaps[1] < gaps[0]).all()
    # 11.75e-6 x d x 30 K on the diameter, half of it on the radius, times d / D.
    rows = rated(soft)[1]
    d = rows.catalogue.bore_mm()
    grown = (23.3e-6 - 11.55e-6) * d * 30.0 * d / (2.0 * rows.root_mm)
    assert gaps[0] - gaps[1] == pytest.approx(grown, rel=1e-9)
    # H7/s6 becomes a clearance fit at -60 C: the ring then sits off centre, and the error grows.
    errors = [rated(data)[1].error_arcsec for data in (soft, wide)]
    assert (errors[1] > errors[0]).all()
    answer = solve(load(soft))
    assert judge(load(soft), answer) == []


# -- the judge -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def study() -> Study:
    data = copy.deepcopy(SCREWED)
    return load(data)


@pytest.fixture(scope="module")
def answer(study: Study) -> Answer:
    return proven(study)


@pytest.mark.parametrize(
    "name",
    [
        "slip_safety_min",
        "stress_safety_min",
        "burst_safety_min",
        "shop.screw_sizes",
    ],
)
def test_a_misstated_or_missing_margin_is_named(name: str, study: Study, answer: Answer) -> None:
    ring = answer.rings[0]
    for change in ("value", "allowed", "gone"):
        margins = [
            m
            if m.limit != name
            else (None if change == "gone" else m.model_copy(update={change: 1.0001}))
            for m in ring.margins
        ]
        wrong = ring.model_copy(update={"margins": [m for m in margins if m is not None]})
        violations = judge(study, answer.model_copy(update={"rings": [wrong]}))
        assert any(name in v for v in violations), (change, violations)


@pytest.mark.parametrize("name", STATED)
def test_the_judge_refuses_a_ring_that_breaks_a_stated_limit(name: str) -> None:
    study, rows = rated(STATED[name])
    breaking = np.flatnonzero(~rows.limits[name])[[0, -1]]
    found = solve(study)
    for ring in composed_joint_rings(study, rows.take(breaking)):
        ring = ring.model_copy(update={"ring_part": "R1", "cutter": "C1"})
        violations = judge(study, found.model_copy(update={"rings": [ring]}))
        assert any(f"below {name} " in v or f"above {name} " in v for v in violations), violations


@pytest.mark.parametrize("bore", [29.0, 1e6, 60.0, 69.9])
def test_an_absurd_bore_is_named_and_does_not_stop_the_judge(bore: float) -> None:
    study = load(STATED["slip_safety_min"])
    found = solve(study)
    ring = found.rings[0].model_copy(update={"bore_mm": bore})
    assert judge(study, found.model_copy(update={"rings": [ring]}))


# -- reasons ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (one(**PRESSED, slip_safety_min=900.0), "slip_safety_min 900: the best that can be reached"),
        (one(**PRESSED, stress_safety_min=50.0), "stress_safety_min 50: the best"),
        (one(burst_safety_min=900.0, speed_max_rpm=900.0), "burst_safety_min 900: the best"),
        (one({"screw_sizes": ["M10"]}, fastening="screws"), "shop.screw_sizes 16: the best"),
        (
            one({"screw_sizes": ["M2"]}, fastening="screws", acceleration_max_rad_s2=1e6,
                slip_safety_min=100.0),
            "slip_safety_min 100: the best",
        ),
    ],
)  # fmt: skip
def test_an_impossible_limit_is_named_with_the_best_that_can_be_reached(
    data: Json, words: str
) -> None:
    found = solve(load(data))
    assert found.status == "impossible"
    assert any(words in reason for reason in found.reasons), found.reasons


@pytest.mark.parametrize("name", ["stress_safety_min", "burst_safety_min"])
def test_the_best_that_is_named_can_be_stated_and_a_little_more_cannot(name: str) -> None:
    """The reason speaks in the terms of the field: what it names is what the study may ask."""
    fields: Json = PRESSED if name == "stress_safety_min" else {"speed_max_rpm": 900.0}
    (reason,) = solve(load(one(None, **fields, **{name: 900.0}))).reasons
    best = float(reason.partition("the best that can be reached is ")[2].split(" ")[0])
    assert 1.0 < best < 900.0
    assert solve(load(one(None, **fields, **{name: best * (1.0 - 1e-4)}))).status == "proven"
    assert solve(load(one(None, **fields, **{name: best * (1.0 + 1e-4)}))).status == "impossible"


# -- bad input -------------------------------------------------------------------------------------

FAULTS = {
    "hub bore above the seat": (
        one(hub_bore_mm=40.0),
        "robots[0].joints[0].hub_bore_mm: given 40; allowed: less than bore_min_mm = 40",
    ),
    "slip without acceleration": (
        one(seat_fit="H7/s6", hub_bore_mm=0.0, slip_safety_min=2.0),
        "acceleration_max_rad_s2: given nothing; allowed: a value (slip_safety_min needs it)",
    ),
    "slip without a fit": (
        one(hub_bore_mm=0.0, acceleration_max_rad_s2=10.0, slip_safety_min=2.0),
        "seat_fit: given nothing; allowed: a fit, or fastening screws (slip_safety_min needs it)",
    ),
    "slip without a hub bore": (
        one(seat_fit="H7/s6", acceleration_max_rad_s2=10.0, slip_safety_min=2.0),
        "hub_bore_mm: given nothing; allowed: a value, 0 for a solid hub (slip_safety_min",
    ),
    "stress without a hub bore": (
        one(seat_fit="H7/s6", stress_safety_min=2.0),
        "hub_bore_mm: given nothing; allowed: a value, 0 for a solid hub (stress_safety_min",
    ),
    "no yield at this size": (
        one({"material": "42crmo4"}, tip_max_mm=300.0, burst_safety_min=2.0),
        "tip_max_mm: given 300; allowed: at most 247 with a strength limit: the yield of "
        "shop.material 42crmo4 is known for bars up to 250 mm",
    ),
    "no yield of this treatment": (
        one({"material_treatment": "+QT"}, tip_max_mm=120.0, burst_safety_min=2.0),
        "tip_max_mm: given 120; allowed: at most 97 with a strength limit",
    ),
    "no yield of the hub": (
        one(seat_fit="H7/s6", hub_bore_mm=0.0, stress_safety_min=2.0, bore_max_mm=210.0,
            tip_max_mm=240.0, hub_material="en_aw_6082_t6"),
        "hub_material: given en_aw_6082_t6; allowed: a material with a known yield at 210 mm",
    ),
    "unknown treatment": (
        one({"material_treatment": "soft"}),
        "shop.material_treatment: given soft; allowed: a treatment with data for c45: +N, +QT",
    ),
    "a fit outside the tables": (
        one(seat_fit="H7/u6"), "seat_fit: given \"H7/u6\": letter of 'u6' 'u' is not known; allowed: d, e, f",
    ),
    "a fit beyond 500 mm": (
        one(seat_fit="H7/g6", bore_max_mm=501.0, tip_max_mm=600.0),
        "seat_fit: given \"H7/g6\"; allowed: size must be above 0 up to 500 mm, given 501",
    ),
    "tube without a wall": (
        one({"tubes": [{"outer_mm": 60.0, "bore_mm": 60.0}]}),
        "shop.tubes[0].bore_mm: given 60; allowed: less than outer_mm = 60",
    ),
    "screw that is none": (one({"screw_sizes": ["M7"]}), "shop.screw_sizes[0]: given \"M7\""),
    "no screw": (one({"screw_sizes": []}), "shop.screw_sizes: given []"),
    "stub and deeper": (
        one({"rack": "stub", "deeper_cut_below_mm": 1.0}), "shop.deeper_cut_below_mm: given a limit",
    ),
    "negative friction": (one(seat_friction=-0.1), "seat_friction: given -0.1"),
    "text for a bar": (one({"bars_mm": ["60"]}), "shop.bars_mm[0]: given \"60\""),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_bad_input_is_refused_by_field_with_what_is_possible(name: str) -> None:
    data, words = FAULTS[name]
    with pytest.raises(StudyError) as caught:
        load_study(json.dumps(data))
    assert any(words in str(fault) for fault in caught.value.faults), caught.value.faults


def test_a_single_ring_on_a_hollow_hub_needs_a_bore_above_it() -> None:
    study = load(one(**PRESSED, slip_safety_min=1.0))
    robot = study.robots[0]
    with pytest.raises(StudyError, match=r"bore: given 30 mm; allowed: above 30 \(hub_bore_mm\)"):
        rate_one(study, robot, robot.joints[0], 1.0, 60, 30.0, 1)
    ring, _ = rate_one(study, robot, robot.joints[0], 1.0, 60, 45.0, 1)
    assert any(m.limit == "slip_safety_min" for m in ring.margins)


def test_a_ring_too_large_for_any_yield_is_rated_as_too_weak() -> None:
    study = load(one(burst_safety_min=1.0))
    robot = study.robots[0]
    _, broken = rate_one(study, robot, robot.joints[0], 1.25, 260, 300.0, 1)
    assert any(text.startswith("burst_safety_min") for text in broken)


def test_lists_of_stock_in_any_order_are_the_same_study() -> None:
    shop: dict[str, list[Any]] = {
        "bars_mm": [60, 100],
        "plates_mm": [10, 9],
        "screw_sizes": ["M4", "M2"],
    }
    tubes = [{"outer_mm": 90, "bore_mm": 50}, {"outer_mm": 80, "bore_mm": 30}]
    other = {key: value[::-1] for key, value in shop.items()}
    one_way, other_way = (
        load(one({**shop, "tubes": tubes})),
        load(one({**other, "tubes": tubes[::-1]})),
    )
    assert one_way.fingerprint() == other_way.fingerprint()


def test_without_statements_nothing_is_checked_and_nothing_changes() -> None:
    study, rows = rated(one())
    assert not rated_checks(study, rows).keys() & STATED.keys()
    told = load(one({"bars_mm": [80.0]}, acceleration_max_rad_s2=10.0, seat_friction=0.2))
    rings = [solve(s).rings for s in (study, told)]
    assert rings[0] == rings[1]
