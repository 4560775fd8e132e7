"""Repeatability targets, through the whole line: against the listing of all answers, and as they are told."""

from __future__ import annotations

import itertools
from collections import Counter

import numpy as np
import pytest

from ringset.catalogue.enumerate import catalogue
from ringset.infeasibility.reasons import infeasible_tool_point_reasons
from ringset.physics.limit_rule import number_at_most
from ringset.rating.rate import rate, rate_in_full
from ringset.reduction.from_ratings import reduction_table
from ringset.reporting.answer_text import answer_text, ring_text
from ringset.schema.answer import Answer, JointRing
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve, solving_possible_rows
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import listed_best, milp_best, table
from tests.support.answered import proven
from tests.support.repeatable import repeatable_study
from tests.support.studies import Json, inside_rows, joint, load, small, two_robots

STUDIES, CHUNK = 120, 10
#: What does not come back with the angle, written down once more.
SCATTERS = ("stray_field", "noise", "quantisation", "bearing_shift", "temperature_gradient", "wobble",
            "timing_jitter")  # fmt: skip


def plainly_inside(study: Study) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return which rows keep all limits but that target, which keep it too, and what they scatter.

    By plain sums over the terms that do not repeat.
    """
    study = study.canonical()
    rated = rate_in_full(study, catalogue(study))
    rows, budget, target = rated.catalogue, rated.budget, study.target
    parts = budget.standard if target.basis == "expanded" else budget.amplitude
    found = np.zeros(len(rows))
    for name in SCATTERS:
        part = np.broadcast_to(np.asarray(parts[name], dtype=float), len(rows))
        if target.basis == "expanded":
            found = found + part**2
        else:
            more = {"noise": target.worst_noise_sigmas, "stray_field": np.sqrt(rows.heads)}
            found = found + part * more.get(name, 1.0)
    if target.basis == "expanded":
        found = target.coverage_factor * np.sqrt(found)
    shared = target.repeatability_target_arcsec
    asked = [ref.joint.repeatability_target_arcsec or shared or np.inf for ref in rows.joints]
    most = np.array(asked)[rows.joint] * (1.0 - target.reserve_percent / 100.0)
    others = [mask for name, mask in rated.limits.items() if not name.startswith("repeatability")]
    wide = np.logical_and.reduce(others)
    return wide, wide & number_at_most(found, most), found


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("first", range(7000, 7000 + STUDIES, CHUNK))
def test_the_answer_is_the_best_of_all_combinations(first: int) -> None:
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        data = repeatable_study(seed)
        study = load(data)
        wide, inside, found = plainly_inside(study)
        rows = catalogue(study.canonical())
        allowed = inside_rows(study)
        assert len(allowed.catalogue) == int(inside.sum()), seed
        assert np.array_equal(allowed.catalogue.teeth, rows.teeth[inside]), seed
        assert allowed.repeatability_arcsec == pytest.approx(found[inside], rel=1e-12)
        answer = solve(study)
        seen[answer.status] += 1
        assert judge(study, answer) == [], seed
        assert answer.status in ("proven", "impossible"), (seed, answer.reasons)
        unit = answer.proof.material_unit_kg or 1e-6
        best = listed_best(table(study), unit)
        if seed % 4 == 0:
            assert milp_best(table(study), unit) == best, seed
        reached = {stage.wish: stage.value for stage in answer.proof.stages}
        assert (reached or None) == best, seed
        seen["bears"] += wide.sum() > inside.sum() > 0
    # the targets must take rings away, and leave many possible, or the comparison says little
    assert seen["proven"] >= 3
    assert seen["bears"] >= 3


def steady() -> Json:
    """Return two robots with every repeatability target stated, none of them the tightest there is."""
    data = two_robots()
    data["target"]["repeatability_target_arcsec"] = 40.0
    data["robots"][0]["joints"][0]["repeatability_target_arcsec"] = 20.0
    data["robots"][0]["tool_point_repeatability_target_um"] = 80.0
    return data


def by_hand(ring: JointRing) -> float:
    """Return twice the root of the sum of squares of the terms that do not repeat."""
    return 2.0 * float(
        np.hypot.reduce([t.standard_arcsec for t in ring.budget.terms if t.name in SCATTERS])
    )


def test_what_an_answer_tells() -> None:
    answer = proven(load(steady()))
    for ring in answer.rings:
        assert {term.name for term in ring.budget.terms if not term.repeats} == set(SCATTERS)
        assert ring.repeatability_arcsec == pytest.approx(by_hand(ring), rel=1e-12)
        assert ring.budget.repeatability_expanded_arcsec == ring.repeatability_arcsec
        target = 20.0 if ring.label == "arm/joint 1" else 40.0
        assert ring.repeatability_target_arcsec == target
        left = 100.0 - 100.0 * ring.repeatability_arcsec / target
        assert ring.repeatability_left_percent == pytest.approx(left)
        (margin,) = [m for m in ring.margins if m.limit == "repeatability_target_arcsec"]
        assert (margin.value, margin.allowed) == (ring.repeatability_arcsec, target)
    arm, plate = answer.tool_points
    reach = (500.0, 300.0, 100.0)
    mine = [ring for ring in answer.rings if ring.robot == "arm"]
    levers = [r * ring.repeatability_arcsec / 206.2648 for r, ring in zip(reach, mine, strict=True)]
    assert [ring.tool_point_repeatability_um for ring in mine] == pytest.approx(levers, rel=1e-6)
    assert arm.repeatability_um == pytest.approx(float(np.hypot.reduce(levers)), rel=1e-6)
    assert arm.repeatability_target_um == 80.0
    assert arm.repeatability_left_percent == pytest.approx(100.0 - arm.repeatability_um / 0.8)
    assert arm.repeatability_um < arm.error_um
    assert (plate.repeatability_um, plate.repeatability_target_um) == (0.0, None)
    assert plate.repeatability_left_percent is None


def test_a_study_without_targets_is_answered_as_before_and_tells_it_all_the_same() -> None:
    data = two_robots()
    answer = proven(load(data))
    for ring in answer.rings:
        assert ring.repeatability_arcsec == pytest.approx(by_hand(ring), rel=1e-12)
        assert ring.repeatability_target_arcsec is None
        assert not any("repeatability" in margin.limit for margin in ring.margins)
    _, sums = solving_possible_rows(load(data).canonical())
    assert sums == []
    inside = inside_rows(load(data))
    assert len(reduction_table(load(data).canonical(), inside).sums) == 2
    assert len(reduction_table(load(steady()).canonical(), inside).sums) == 3
    # targets that nothing comes near change no ring
    data["target"]["repeatability_target_arcsec"] = 648000.0
    data["robots"][0]["tool_point_repeatability_target_um"] = 1e7
    wide = proven(load(data))
    assert wide.totals == answer.totals
    assert [ring.budget for ring in wide.rings] == [ring.budget for ring in answer.rings]


def test_the_worst_case_basis_holds_for_both() -> None:
    data = steady()
    data["target"].update(basis="worst_case", angle_target_arcsec=900.0, worst_noise_sigmas=4.0)
    data["target"]["repeatability_target_arcsec"] = 90.0
    data["robots"][0]["joints"][0]["repeatability_target_arcsec"] = 60.0
    data["robots"][0].update(tool_point_target_um=4000.0, tool_point_repeatability_target_um=300.0)
    for ring in proven(load(data)).rings:
        terms = {term.name: term.amplitude_arcsec for term in ring.budget.terms}
        plain = sum(terms[name] for name in SCATTERS)
        unlucky = 3.0 * terms["noise"] + (ring.heads**0.5 - 1.0) * terms["stray_field"]
        assert ring.repeatability_arcsec == pytest.approx(plain + unlucky, rel=1e-12)
        assert ring.repeatability_arcsec == ring.budget.repeatability_worst_case_arcsec


def test_a_limit_set_to_the_very_value_is_kept() -> None:
    loose = proven(load(steady()))
    data = steady()
    largest = max(r.repeatability_arcsec for r in loose.rings if r.label != "arm/joint 1")
    data["target"]["repeatability_target_arcsec"] = largest
    data["robots"][0]["tool_point_repeatability_target_um"] = loose.tool_points[0].repeatability_um
    tight = proven(load(data))
    assert tight.totals == loose.totals


def test_the_reserve_is_kept_below_repeatability_too() -> None:
    data, tighter = steady(), steady()
    data["target"]["reserve_percent"] = 20.0
    tighter["target"].update(angle_target_arcsec=160.0, repeatability_target_arcsec=32.0)
    tighter["robots"][0]["joints"][0]["repeatability_target_arcsec"] = 16.0
    tighter["robots"][0].update(tool_point_target_um=320.0, tool_point_repeatability_target_um=64.0)
    answer, other = proven(load(data)), proven(load(tighter))
    assert answer.totals == other.totals
    for ring in answer.rings:
        assert ring.repeatability_left_percent is not None
        assert ring.repeatability_left_percent >= 20.0
    assert answer.tool_points[0].repeatability_left_percent is not None
    assert answer.tool_points[0].repeatability_left_percent >= 20.0


def test_the_gap_that_keeps_the_target_is_chosen_before_the_one_of_least_error() -> None:
    """Third harmonics die away with the gap and noise grows: least error and least scatter lie apart."""
    data = small()
    data["head"] = {
        "gap_min_mm": 0.2,
        "gap_max_mm": 0.7,
        "gap_step_mm": 0.1,
        "third_harmonic": 0.03,
    }
    data["robots"][0]["joints"] = data["robots"][0]["joints"][:1]
    free = load(data).canonical()
    best = rate(free, catalogue(free))
    rows = best.catalogue
    every = [rate(free, rows, np.full(len(rows), gap)) for gap in np.arange(2, 8) / 10.0]
    error = np.array([rated.error_arcsec for rated in every])
    scatter = np.array([rated.repeatability_arcsec for rated in every])
    allowed = np.array([rated.inside for rated in every[2:]])
    assert np.all(np.diff(scatter, axis=0) > 0.0)  # noise and stray field grow with the gap
    row = int(np.flatnonzero(allowed.all(axis=0) & (best.gap_mm > 0.55))[0])
    most = float(scatter[3, row])  # at 0.5 mm
    data["target"]["repeatability_target_arcsec"] = most
    asked = load(data).canonical()
    found = rate(asked, catalogue(asked))
    assert found.inside[row]
    assert found.gap_mm[row] < best.gap_mm[row]
    keeps = [place for place in (2, 3, 4, 5) if scatter[place, row] <= most]
    wanted = min(keeps, key=lambda place: error[place, row])
    assert keeps == [2, 3]
    assert found.gap_mm[row] == pytest.approx((2 + wanted) / 10.0)


FORGED = {
    "repeatability_arcsec": {"repeatability_arcsec": 1.0},
    "repeatability_left_percent": {"repeatability_left_percent": 99.0},
    "repeatability_target_arcsec": {"repeatability_target_arcsec": 39.0},
    "tool_point_repeatability_um": {"tool_point_repeatability_um": 0.5},
}


@pytest.mark.parametrize("name", FORGED)
def test_the_judge_refuses_false_words_about_a_ring(name: str) -> None:
    study = load(steady())
    answer = proven(study)
    ring = answer.rings[1].model_copy(update=FORGED[name])
    forged = answer.model_copy(update={"rings": [answer.rings[0], ring, *answer.rings[2:]]})
    assert any(name in one for one in judge(study, forged))


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("repeatability_um", 1.0),
        ("repeatability_target_um", 90.0),
        ("repeatability_left_percent", None),
    ],
)
def test_the_judge_refuses_false_words_about_a_tool_point(field: str, value: float | None) -> None:
    study = load(steady())
    answer = proven(study)
    point = answer.tool_points[0].model_copy(update={field: value})
    forged = answer.model_copy(update={"tool_points": [point, *answer.tool_points[1:]]})
    assert any("tool_points: repeatability" in one or field in one for one in judge(study, forged))


@pytest.mark.parametrize("term", ["bearing_shift", "single_pitch"])
def test_the_judge_knows_by_itself_what_repeats(term: str) -> None:
    study = load(steady())
    answer = proven(study)
    budget = answer.rings[0].budget
    terms = [
        one.model_copy(update={"repeats": not one.repeats}) if one.name == term else one
        for one in budget.terms
    ]
    ring = answer.rings[0].model_copy(update={"budget": budget.model_copy(update={"terms": terms})})
    forged = answer.model_copy(update={"rings": [ring, *answer.rings[1:]]})
    assert any(f"budget.{term}: repeats" in one for one in judge(study, forged))


def test_the_certificate_proves_an_answer_under_repeatability_targets() -> None:
    data = steady()
    data["robots"][0]["tool_point_repeatability_target_um"] = 1.02 * _least_um(data)
    study = load(data)
    answer = proven(study)
    certificate = certify(study, answer)
    found = verify_certificate(study, answer, certificate)
    assert found.complete
    assert not found.refused
    looser = load(steady())
    assert verify_certificate(looser, answer, certificate).refused


def _least_um(data: Json) -> float:
    """Return the least repeatability at the arm's tool point of rings inside the limits of their joints."""
    rated = inside_rows(load(data))
    rows = rated.catalogue
    least = [float(rated.repeatability_arcsec[rows.joint == j].min()) for j in range(3)]
    return float(np.hypot.reduce(np.array(least) * (500.0, 300.0, 100.0) / 206.2648))


def test_reasons_name_the_target_and_the_best_there_is() -> None:
    data = small()
    data["target"].update(repeatability_target_arcsec=2.0, reserve_percent=10.0)
    answer = solve(load(data))
    assert answer.status == "impossible"
    text = "arm/joint 1: repeatability_target_arcsec 2 less 10 % reserve: the best that can be reached is"
    assert answer.reasons[0].startswith(text)
    data = small()
    data["robots"][0]["tool_point_repeatability_target_um"] = 3.0
    answer = solve(load(data))
    assert answer.status == "impossible"
    reason = answer.reasons[0]
    assert reason.startswith(
        "arm: tool_point_repeatability_target_um 3: the best that can be reached is"
    )
    assert "the most repeatable ring on every joint" in reason
    best = float(reason.split("reached is ")[1].split()[0])
    assert best == pytest.approx(_least_um(small()), rel=1e-4)
    study = load(data).canonical()
    inside, reasons = solving_possible_rows(study)
    assert infeasible_tool_point_reasons(study, inside) == reasons == answer.reasons


def test_the_report_tells_both_in_plain_words() -> None:
    study = load(steady())
    answer = proven(study)
    text = answer_text(study, answer, {})
    first = answer.rings[0]
    assert "error, and how far readings at one angle scatter" in text
    assert f"{first.repeatability_arcsec:.1f} of 20" in text
    point = answer.tool_points[0]
    assert f"repeats within {point.repeatability_um:.4g} um about the mean" in " ".join(
        text.split()
    )
    assert "sensors alone; target 80 um" in " ".join(text.split())
    alone = ring_text(first, [], "expanded")
    assert "repeats with the angle" in alone
    lines = {
        line.split("  ")[1].strip(): line.split()[-1] for line in alone.splitlines() if "  " in line
    }
    assert lines["bearing shift"] == lines["noise"] == "no"
    assert lines["cumulative pitch"] == lines["channel offset"] == "yes"


def data_sheet() -> Json:
    """Return an arm as its data sheet has it: reach, and a pose repeatability of 0.03 mm."""
    reaches = (700.0, 650.0, 380.0, 120.0)
    bores = (90.0, 90.0, 60.0, 40.0)
    rows = [
        joint(f"axis {n}", bore, reach_mm=reach)
        for n, (bore, reach) in enumerate(zip(bores, reaches, strict=True), start=1)
    ]
    robot = {"name": "arm", "joints": rows, "tool_point_repeatability_target_um": 30.0}
    return {
        "robots": [robot],
        "shop": {"modules": [0.8, 1.0], "bore_step_mm": 1.0},
        "target": {"angle_target_arcsec": 600.0},
    }


def test_a_study_from_a_data_sheet_that_states_repeatability_alone_is_answered() -> None:
    """30 um of pose repeatability; accuracy is stated so wide that it does not bear."""
    study = load(data_sheet())
    answer: Answer = proven(study)
    (point,) = answer.tool_points
    assert point.target_um is None
    assert point.repeatability_um <= 30.0
    assert point.error_um > 3.0 * point.repeatability_um
    data = data_sheet()
    data["robots"][0].pop("tool_point_repeatability_target_um")
    cheaper = proven(load(data))
    assert cheaper.totals is not None
    assert answer.totals is not None
    assert cheaper.totals.heads < answer.totals.heads
    assert cheaper.tool_points[0].repeatability_um > 30.0


@pytest.mark.slow
def test_studies_of_all_kinds_of_targets_are_among_the_random_ones() -> None:
    kinds: Counter[str] = Counter()
    for seed in itertools.islice(itertools.count(7000), 40):
        study = load(repeatable_study(seed))
        kinds["shared"] += study.target.repeatability_target_arcsec is not None
        for robot in study.robots:
            stated = robot.tool_point_repeatability_target_um is not None
            kinds[f"tool point {robot.tool_point_rule}"] += stated
            kinds["two sums"] += stated and robot.tool_point_target_um is not None
            kinds["own"] += any(j.repeatability_target_arcsec is not None for j in robot.joints)
        kinds[study.target.basis] += 1
    assert min(kinds.values()) >= 4, kinds
    assert len(kinds) == 7
