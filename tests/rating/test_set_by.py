"""Rings set by bore or tips: what either leaves, derived outside the budget by trigonometry and by hand.

Centres are complex numbers in mm, seen from the joint's axis in the frame of the ring.
"""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest

from ringset.analysis.alternatives.single_ring import rate_one
from ringset.physics.budget import BudgetInputs, angle_error_budget
from ringset.physics.head_averaging import worst_head_gain
from ringset.schema.answer import JointRing
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.physics.test_budget import BASE
from tests.support.places import SCENARIOS
from tests.support.studies import Json, load, small

ARCSEC = 648000.0 / np.pi
RADIUS = 50.0
PHASES = np.exp(2j * np.pi * np.arange(24) / 24)


def read_error(teeth_at: complex, heads: tuple[float, ...] = (0.0,)) -> float:
    """Return the order-1 amplitude in arcsec of heads at `RADIUS` over teeth whose centre is off the axis."""
    theta = 2.0 * np.pi * np.arange(512) / 512
    seen = np.mean(
        [np.angle((RADIUS * np.exp(1j * a) - teeth_at * np.exp(1j * theta)) * np.exp(-1j * a))
         for a in heads], axis=0,
    )  # fmt: skip
    return float(2.0 * np.abs(np.fft.rfft(seen)[1]) / 512 * ARCSEC)


def pitch_range(flanks_at: complex) -> float:
    """Return F_p in mm: the range of where 400 flanks stand along a circle about the bore."""
    even = 2.0 * np.pi * np.arange(400) / 400
    flanks = flanks_at + RADIUS * np.exp(1j * even)
    return float(np.ptp(np.angle(flanks * np.exp(-1j * even)) * RADIUS))


def run_out(circle_at: complex) -> float:
    """Return the full reading in mm of a dial that turns about the bore over a circle off it."""
    theta = 2.0 * np.pi * np.arange(400) / 400
    return float(np.ptp(np.abs(circle_at + RADIUS * np.exp(1j * theta))))


def budget(**stated: float) -> dict[str, float]:
    """Return amplitudes in arcsec of a ring read by one head at its pitch radius."""
    one = {"gain_first": 1.0, "pitch_share": 1.0, "sensing_radius_mm": RADIUS}
    size = {"pitch_diameter_mm": 2.0 * RADIUS}
    given: dict[str, Any] = {**BASE, **one, **size, **stated}
    found = angle_error_budget(BudgetInputs(**given))
    return {name: float(np.asarray(value)) for name, value in found.amplitude.items()}


@pytest.mark.parametrize(
    ("offset", "tips", "flanks"), [(15.0, 12.0, 10.0), (5.0, 25.0, 3.0), (0.0, 20.0, 20.0)]
)
@pytest.mark.parametrize("by", ["bore", "tips"])
def test_what_a_ring_reads_is_what_offset_pitch_and_tips_come_to(
    offset: float, tips: float, flanks: float, by: str
) -> None:
    """Rings with flanks and tips off the bore in all directions, set by either circle, measured and read.

    The dial brings its circle to the offset. Pitch and run-outs are measured about the bore, as on the
    sheet. The mean square of the reading is that of the three lines together: none is counted twice.
    """
    squares = []
    for tips_phase in PHASES:
        for flanks_phase in PHASES:
            circle = 1e-3 * tips * tips_phase if by == "tips" else 0.0
            bore_at = 1e-3 * offset - circle
            squares.append(read_error(bore_at + 1e-3 * flanks * flanks_phase) ** 2)
    f_p, f_r = 1e3 * pitch_range(1e-3 * flanks), 1e3 * run_out(1e-3 * tips)
    found = budget(
        mounting_offset_um=offset, cumulative_pitch_um=f_p,
        tips_off_bore_um=f_r / 2.0 if by == "tips" else 0.0,
    )  # fmt: skip
    named = ("mounting_offset", "tips_off_bore", "cumulative_pitch")
    assert math.fsum(found[name] ** 2 for name in named) == pytest.approx(
        float(np.mean(squares)), rel=2e-6
    )


def test_tips_that_follow_the_flanks_leave_less_and_never_more() -> None:
    """Topped by the cutter, t = c: the flanks stand at the offset alone, below every line's own sum."""
    together = read_error(15e-3 - 12e-3 + 12e-3)
    found = budget(mounting_offset_um=15.0, tips_off_bore_um=12.0, cumulative_pitch_um=24.0)
    assert together == pytest.approx(found["mounting_offset"], rel=1e-6)
    assert together < np.hypot(found["mounting_offset"], found["tips_off_bore"])


def test_two_heads_leave_of_the_tips_what_they_leave_of_an_offset() -> None:
    """Two heads half a degree off opposed, 20 um of run-out: read by trigonometry."""
    wrong = np.radians(0.5)
    found = budget(tips_off_bore_um=20.0, gain_first=float(worst_head_gain(1.0, (0.0, 180.0), 0.5)))
    assert found["tips_off_bore"] == pytest.approx(
        read_error(20e-3, (0.0, np.pi + wrong)), rel=1e-4
    )


def forearm(**joint: object) -> tuple[Study, JointRing, list[str]]:
    """Return the one-head ring of the large forearm of the family, rated as the joint is stated."""
    data = json.loads((SCENARIOS / "family_three_arms.json").read_text())
    stated = next(j for j in data["robots"][2]["joints"] if j["name"] == "forearm")
    stated |= joint
    study = load_study(json.dumps(data))
    robot = study.robots[2]
    mine = next(j for j in robot.joints if j.name == "forearm")
    return study, *rate_one(study, robot, mine, 0.8, 138, 82.0, 1)


def test_the_forearm_of_the_family_by_hand() -> None:
    """ISO 1328-1, class 6, d 110.4, m 0.8: F_p = (0.002 d + 0.55 sqrt d + 0.7 m + 12) sqrt 2, F_r = 0.9 F_p.

    Half of it at 56.4 mm (tips at 56.0, gap 0.4) is a sinusoid; twice its standard uncertainty adds in
    squares.
    """
    _, bore, _ = forearm()
    _, tips, faults = forearm(set_by="tips")
    f_r = 0.9 * math.sqrt(2.0) * (0.002 * 110.4 + 0.55 * math.sqrt(110.4) + 0.7 * 0.8 + 12.0)
    amplitude = f_r / 2.0 / 56.4e3 * ARCSEC
    assert amplitude == pytest.approx(43.20, abs=0.005)
    terms = {t.name: t.amplitude_arcsec for t in tips.budget.terms}
    assert terms["tips_off_bore"] == pytest.approx(amplitude, rel=1e-9)
    assert bore.error_arcsec == pytest.approx(109.93, abs=0.005)
    wanted = math.sqrt(bore.error_arcsec**2 + 2.0 * amplitude**2)
    assert tips.error_arcsec == pytest.approx(wanted, rel=1e-9)
    assert tips.error_arcsec == pytest.approx(125.76, abs=0.005)
    assert any(fault.startswith("angle_target_arcsec") for fault in faults)
    # the worst case holds it as a plain amplitude
    more = tips.budget.worst_case_arcsec - bore.budget.worst_case_arcsec
    assert more == pytest.approx(amplitude, rel=1e-9)


def test_the_gap_loses_the_run_out_of_tips_only_where_the_dial_has_not_read_it() -> None:
    """Set by the tips, their largest radius turns at half the reading off; set by the bore, F_r / 2 more."""
    _, bore, _ = forearm()
    _, tips, _ = forearm(set_by="tips")
    assert tips.gap_left_mm - bore.gap_left_mm == pytest.approx(23.622676e-3 / 2.0, abs=1e-9)


def test_a_full_reading_of_30_is_an_offset_of_15_and_no_other() -> None:
    _, default, _ = forearm()
    _, offset, _ = forearm(seat_offset_um=15)
    _, reading, _ = forearm(seat_tir_um=30)
    _, wrong, _ = forearm(seat_tir_um=15)
    assert default == offset == reading
    halved = {t.name: t.amplitude_arcsec for t in wrong.budget.terms}["mounting_offset"]
    whole = {t.name: t.amplitude_arcsec for t in reading.budget.terms}["mounting_offset"]
    assert whole == pytest.approx(15.0 / 56.4e3 * ARCSEC, rel=1e-9)
    assert halved == pytest.approx(whole / 2.0, rel=1e-12)


def by_tips(**joint: object) -> Json:
    data = small()
    for each in data["robots"][0]["joints"]:
        each |= {"set_by": "tips", **joint}
    return data


def test_the_bore_is_the_default_and_stating_it_changes_no_ring() -> None:
    plain, stated = solve(load(small())), solve(load(by_tips(set_by="bore")))
    assert plain.rings == stated.rings
    assert all(t.amplitude_arcsec == 0.0 for r in plain.rings for t in r.budget.terms
               if t.name == "tips_off_bore")  # fmt: skip


def test_the_judge_reckons_the_same_by_its_own_rule_and_refuses_the_other() -> None:
    """Answers to one way of setting are wrong answers to the other, and so with the reading."""
    studies = [load(by_tips(**more)) for more in
               ({}, {"set_by": "bore"}, {"seat_tir_um": 40.0}, {"seat_tir_um": 20.0})]  # fmt: skip
    answers = [solve(study) for study in studies]
    for i, study in enumerate(studies):
        for k, answer in enumerate(answers):
            assert answer.status == "proven"
            stamped = answer.model_copy(update={"study_sha256": study.fingerprint()})
            violations = judge(study, stamped)
            assert (violations == []) == (i == k), (i, k)
            if i != k:
                assert any("mounting_offset" in v or "tips_off_bore" in v for v in violations)
