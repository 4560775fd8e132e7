"""Lengths and amounts off a housing drawing as limits: against plain sums, and against every combination."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from ringset.catalogue.enumerate import catalogue
from ringset.rating.rate import rate, rated_gaps_on_offer_mm
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import listed_best, table
from tests.support.sized_studies import (
    RING_SUMS,
    finished,
    housing_mm,
    rows_by_plain_sizes,
    sized_study,
)
from tests.support.studies import Json, inside_rows, joint, load

STUDIES, CHUNK = 120, 20


def one_joint(**fields: Any) -> Json:
    """Return a study of one joint, 40 to 46 mm of bore, with some fields of it and a housing of 94.8 mm."""
    data = joint("wrist", 40.0, housing_max_mm=94.8, **fields)
    if "tip_max_mm" not in fields:
        del data["tip_max_mm"]
    return {
        "robots": [{"name": "arm", "joints": [data]}],
        "shop": {"modules": [1.0], "bore_step_mm": 1.0},
        "target": {"angle_target_arcsec": 200.0},
    }


def stated(data: Json, **fields: Any) -> Study:
    """Return the study of some data with fields of its first joint at other values."""
    data["robots"][0]["joints"][0].update(fields)
    return load(data)


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, STUDIES, CHUNK))
def test_the_best_is_best_and_every_ring_is_rightly_in_or_out(first: int) -> None:
    """Rows against plain sums ring by ring; the answer against the list of all combinations."""
    possible = 0
    for seed in range(first, first + CHUNK):
        study = load(sized_study(seed))
        rows = inside_rows(study).catalogue
        columns = (rows.joint, rows.module_mm(), rows.teeth, rows.bore_mm(), rows.heads)
        found = set(zip(*(column.tolist() for column in columns), strict=True))
        assert found == rows_by_plain_sizes(study), seed
        answer = solve(study)
        expected = listed_best(table(study), answer.proof.material_unit_kg or 1e-6)
        assert (answer.status == "impossible") == (expected is None), seed
        assert judge(study, answer) == [], seed
        if expected is not None:
            assert answer.status == "proven", seed
            assert {s.wish: s.value for s in answer.proof.stages} == expected, seed
            possible += 1
    assert CHUNK // 10 < possible < CHUNK


@pytest.mark.slow
def test_the_random_studies_meet_every_kind_of_limit() -> None:
    stated: set[str] = set()
    for seed in range(40):
        data = sized_study(seed)
        parts = [data["shop"], data["head"], *data["robots"]]
        parts += [one for robot in data["robots"] for one in robot["joints"]]
        stated |= {name for part in parts for name in part}
    assert stated >= {
        "housing_max_mm", "tip_max_mm", "gap_min_mm", "bores_mm", "axial_room_mm", "axial_width_mm",
        "ring_mass_max_kg", "ring_inertia_max_kg_m2", "rings_mass_max_kg", "rings_inertia_max_kg_m2",
    }  # fmt: skip


@pytest.mark.slow
def test_answers_under_sums_of_a_robots_rings_are_certified() -> None:
    certified = bound = 0
    for seed in range(60):
        data = sized_study(seed)
        limited = [robot for robot in data["robots"] if {*robot} & {*RING_SUMS}]
        study = load(data)
        answer = solve(study)
        if not limited or answer.status != "proven":
            continue
        states = [
            one.state for one in verify_certificate(study, answer, certify(study, answer)).stages
        ]
        assert set(states) == {"verified"}, seed
        certified += 1
        for robot in limited:
            for field in RING_SUMS:
                robot.pop(field, None)
        bound += solve(load(data)).totals != answer.totals
        if certified == 8:
            break
    assert certified == 8
    assert bound > 1  # else the sums decided nothing


# -- housing ------------------------------------------------------------------------------------------


def test_the_housing_is_the_sum_on_the_drawing() -> None:
    """94.8 mm less twice 12 of head and 0.4 of gap leave 70 mm, which 68 teeth of module 1 just reach."""
    wider, near = (stated(one_joint(tip_min_mm=least)) for least in (69.5, None))
    answer = solve(wider)
    (ring,) = answer.rings
    assert (ring.teeth, ring.tip_diameter_mm) == (68, 70.0)
    assert ring.housing_diameter_mm == pytest.approx(70.0 + 2 * (0.4 + 12.0), abs=1e-12)
    margin = next(one for one in ring.margins if one.limit == "housing_max_mm")
    assert (margin.value, margin.allowed) == (ring.housing_diameter_mm, 94.8)
    assert not any(one.limit == "tip_max_mm" for one in ring.margins)
    rings = {int(teeth) for teeth in inside_rows(near).catalogue.teeth}
    assert max(rings) == 68


def test_both_limits_are_kept_where_both_are_stated() -> None:
    for tips, most in ((69.0, 67), (71.0, 68)):
        rows = inside_rows(stated(one_joint(tip_max_mm=tips))).catalogue
        assert rows.teeth.max() == most


def test_a_housing_is_inclusive() -> None:
    data = one_joint(tip_min_mm=69.5)
    reached = solve(load(data)).rings[0].housing_diameter_mm
    assert solve(stated(data, housing_max_mm=reached)).status == "proven"
    assert solve(stated(data, housing_max_mm=reached - 1e-6)).status == "impossible"


def test_a_gap_is_chosen_that_keeps_the_housing() -> None:
    """With much third harmonic the widest gap errs least; a housing takes the widest that it holds."""
    data = one_joint(tip_min_mm=69.5)
    data["head"] = {
        "gap_min_mm": 0.3, "gap_max_mm": 0.6, "gap_step_mm": 0.1, "third_harmonic": 0.1,
    }  # fmt: skip
    data["target"]["angle_target_arcsec"] = 5000.0
    stated(data, tip_max_mm=70.0)
    for room, gap in ((100.0, 0.6), (95.2, 0.6), (95.1, 0.5), (94.8, 0.4), (94.6, 0.3)):
        study = stated(data, housing_max_mm=room)
        (ring,) = solve(study).rings
        assert (ring.tip_diameter_mm, ring.gap_mm) == (70.0, gap), room
        assert ring.housing_diameter_mm <= room + 1e-9
        rows = catalogue(study)
        mine = rows.take((rows.teeth == ring.teeth) & (rows.bore_mm() == ring.bore_mm))
        mine = mine.take(mine.heads == ring.heads)
        allowed = []
        for one in rated_gaps_on_offer_mm(study.head).tolist():
            rated = rate(study, mine, np.full(1, one))
            if housing_mm(study, study.robots[0].joints[0], 70.0, one) <= room + 1e-9:
                allowed.append((float(rated.error_arcsec[0]), one))
        assert min(allowed)[1] == gap
    assert solve(stated(data, housing_max_mm=94.5)).status == "impossible"


def test_the_height_of_the_head_decides_where_a_housing_is_stated() -> None:
    data = one_joint(tip_min_mm=69.5)
    for height, status in ((11.9, "proven"), (12.0, "proven"), (12.1, "impossible")):
        data["head"] = {"height_above_tips_mm": height}
        assert solve(load(data)).status == status


# -- bores and axial room -----------------------------------------------------------------------------


def test_a_joint_with_bores_of_its_own_does_not_ask_the_shop() -> None:
    data = one_joint()
    data["shop"]["bores_mm"] = [41.0, 43.0, 80.0]
    assert {*inside_rows(load(data)).catalogue.bore_mm().tolist()} == {41.0, 43.0}
    mine = inside_rows(stated(data, bores_mm=[46.0, 40.0, 47.0])).catalogue
    assert {*mine.bore_mm().tolist()} == {40.0, 46.0}


def test_listed_bores_are_found_on_a_fine_decimal_step() -> None:
    """Thirds of nothing: 0.1 x 403 is no decimal in binary, and is the listed 40.3 all the same."""
    data = one_joint()
    data["shop"]["bore_step_mm"] = 0.1
    study = stated(data, bores_mm=[40.3, 44.7, 45.1])
    assert {*inside_rows(study).catalogue.bore_mm().tolist()} == {40.3, 44.7, 45.1}
    assert judge(study, solve(study)) == []


def test_the_wider_of_ring_and_head_must_fit_along_the_axis() -> None:
    for width, head, need in ((8.0, 12.0, 12.0), (14.0, 12.0, 14.0), (8.0, 6.5, 8.0)):
        data = one_joint(face_width_mm=width)
        data["head"] = {"axial_width_mm": head}
        answer = solve(stated(data, axial_room_mm=need))
        margin = next(m for m in answer.rings[0].margins if m.limit == "axial_room_mm")
        assert (margin.value, margin.allowed, margin.margin) == (need, need, 0.0)
        short = solve(stated(data, axial_room_mm=need - 0.01))
        assert short.status == "impossible"
        assert short.reasons[0].startswith(f"arm/wrist: axial_room_mm {need - 0.01:g}: the best")


def test_a_second_ring_has_a_listed_bore_and_keeps_the_limits_of_size() -> None:
    """A pair has one bore, so the list and the tip limit hold for both of its rings."""
    data = one_joint(second_ring=True, seat_offset_um=2.0, bearing_shift_um=1.0)
    data["head"] = {"third_harmonic": 0.0005, "residual_offset": 0.001, "stray_field": 0.0002}
    data["shop"] |= {"modules": [1.0, 1.5], "flank_class": 1}
    free = solve(load(data))
    (bore,) = {ring.bore_mm for ring in free.every_ring}
    tip = min(ring.tip_diameter_mm for ring in free.every_ring)
    listed = 40.0 if bore > 43.0 else 46.0
    study = stated(data, bores_mm=[listed], tip_min_mm=tip + 1.0)
    answer = solve(study)
    assert answer.status == "proven"
    assert judge(study, answer) == []
    assert len(answer.every_ring) == 2
    assert {ring.bore_mm for ring in answer.every_ring} == {listed}
    assert all(ring.tip_diameter_mm >= tip + 1.0 for ring in answer.every_ring)
    assert any("bore" in problem for problem in judge(study, free))
    assert any("tip_min_mm" in problem for problem in judge(study, free))


# -- mass and inertia ---------------------------------------------------------------------------------


def robot_sums(answer: Answer) -> tuple[float, float]:
    (one,) = answer.robot_rings
    return one.rings_mass_kg, one.rings_inertia_kg_m2


def test_mass_and_inertia_lie_between_two_annuli() -> None:
    """Teeth fill some of the ring between root and tip circle: a plain ring to either is a bound."""
    study = stated(one_joint(ring_mass_max_kg=0.12, ring_inertia_max_kg_m2=9e-5))
    (ring,) = solve(study).rings
    values = {one.limit: one.value for one in ring.margins}
    density = 7850e-9 * ring.face_width_mm * np.pi
    bore, root, tip = (
        size / 2 for size in (ring.bore_mm, ring.root_diameter_mm, ring.tip_diameter_mm)
    )
    mass, inertia = values["ring_mass_max_kg"], values["ring_inertia_max_kg_m2"]
    assert density * (root**2 - bore**2) < mass < density * (tip**2 - bore**2)
    assert 1e-6 * density / 2 * (root**4 - bore**4) < inertia
    assert inertia < 1e-6 * density / 2 * (tip**4 - bore**4)
    assert robot_sums(solve(study)) == pytest.approx((mass, inertia), rel=1e-12)


def test_limits_speak_of_a_ring_before_its_screw_holes() -> None:
    data = one_joint(fastening="screws")
    free = solve(load(data))
    (ring,) = free.rings
    mass, inertia = finished(
        load(data).shop, ring.module_mm, ring.teeth, ring.bore_mm, ring.face_width_mm
    )
    assert robot_sums(free) == pytest.approx((mass, inertia), rel=1e-12)
    assert ring.finished_kg < mass
    held = solve(stated(data, ring_mass_max_kg=mass, ring_inertia_max_kg_m2=inertia))
    assert held.rings == [
        ring.model_copy(update={"margins": held.rings[0].margins}),
    ]
    less = solve(stated(data, ring_mass_max_kg=(mass + ring.finished_kg) / 2.0))
    assert less.rings[0].bore_mm != ring.bore_mm if less.rings else less.status == "impossible"


def test_a_robots_sums_count_one_robot_however_many_are_built() -> None:
    rows = [joint("a", 40.0), joint("b", 60.0)]
    data: Json = {
        "robots": [{"name": "arm", "count": 7, "joints": rows}],
        "shop": {"modules": [1.0], "bore_step_mm": 1.0},
        "target": {"angle_target_arcsec": 200.0},
        "wishes": {"order": ["ring_parts", "material"]},
    }
    free = solve(load(data))
    mass, inertia = robot_sums(free)
    each = [
        finished(load(data).shop, r.module_mm, r.teeth, r.bore_mm, r.face_width_mm)
        for r in free.rings
    ]
    assert (mass, inertia) == pytest.approx(tuple(map(sum, zip(*each, strict=True))), rel=1e-12)
    data["robots"][0]["rings_mass_max_kg"] = mass
    assert solve(load(data)).totals == free.totals
    data["robots"][0]["rings_mass_max_kg"] = 0.9 * mass
    tight = solve(load(data))
    if tight.rings:
        assert robot_sums(tight)[0] <= 0.9 * mass
    else:
        assert "rings_mass_max_kg" in tight.reasons[0]
