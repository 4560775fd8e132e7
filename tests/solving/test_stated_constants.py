"""Stated constants of the budget reach every door: rating, judge, why, compare, sweep, simulation."""

from __future__ import annotations

import json
import random

import pytest

from ringset.analysis.comparison.inputs import compared_inputs
from ringset.analysis.explanation.sensitivity import Sensitivities
from ringset.analysis.simulation.cases import simulation_cases
from ringset.analysis.simulation.monte_carlo import simulate_yield
from ringset.analysis.sweep.sweep import sweep_grid, sweep_study
from ringset.errors import StudyError
from ringset.reporting.simulation_text import yield_text
from ringset.schema.answer import Answer, JointRing
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from ringset.wording import wording_of_basis, wording_of_coverage
from tests.solving.test_brute_force import listed_best, table
from tests.support.places import ROOT
from tests.support.studies import Json, load, random_study

ARM = ROOT / "scenarios" / "six_joint_arm.json"
SHARE, WORST = {"2": 0.3}, {"2": 0.7}


def arm(shop: Json | None = None, target: Json | None = None) -> Study:
    """Return the six-joint arm of the scenarios with some fields stated."""
    data = json.loads(ARM.read_text())
    data["shop"] = data.get("shop", {}) | (shop or {})
    data["target"] |= target or {}
    return load_study(json.dumps(data))


def fixed(
    shop: Json | None = None,
    target: Json | None = None,
    heads: int = 2,
    at: list[int] | None = None,
) -> JointRing:
    """Return the ring of one joint on which only one ring fits."""
    one = {
        "name": "one", "bore_min_mm": 80.0, "bore_max_mm": 80.0, "tip_min_mm": 98.0, "tip_max_mm": 98.0,
        "head_counts": [heads], "head_angles_deg": {} if at is None else {str(heads): at},
    }  # fmt: skip
    study = {
        "robots": [{"name": "arm", "joints": [one]}],
        "shop": {"modules": [1.0]} | (shop or {}),
        "target": {"angle_target_arcsec": 1000.0} | (target or {}),
    }
    found = solve(load(study))
    assert found.status == "proven"
    return found.rings[0]


def term(ring: JointRing, name: str) -> float:
    return next(t.amplitude_arcsec for t in ring.budget.terms if t.name == name)


def others(ring: JointRing) -> list[float]:
    return [t.amplitude_arcsec for t in ring.budget.terms if t.name != "cumulative_pitch"]


def test_a_stated_share_is_the_share_and_moves_nothing_else() -> None:
    """Of the whole range that one head reads; the worst case holds its own share, or at least this one."""
    whole = term(fixed(heads=1), "cumulative_pitch")
    derived, stated = fixed(), fixed({"pitch_share": SHARE})
    both = fixed({"pitch_share": SHARE, "worst_pitch_share": WORST})
    assert term(stated, "cumulative_pitch") == pytest.approx(0.3 * whole, rel=1e-12)
    assert others(stated) == others(derived) == others(both)
    # the derived worst share of 96 teeth stays; the other is 0.7
    assert stated.budget.worst_case_arcsec == pytest.approx(
        derived.budget.worst_case_arcsec, rel=1e-12
    )
    fall = stated.budget.worst_case_arcsec - both.budget.worst_case_arcsec
    assert fall == pytest.approx((0.892 - 0.7) * whole, rel=1e-9)
    above = fixed({"pitch_share": {"2": 0.95}})
    more = above.budget.worst_case_arcsec - derived.budget.worst_case_arcsec
    assert more == pytest.approx((0.95 - 0.892) * whole, rel=1e-9)
    elsewhere = fixed({"pitch_share": {"3": 0.9}})
    assert elsewhere.budget == derived.budget


def test_conventions_of_the_target_move_what_they_name() -> None:
    plain, wide = fixed(), fixed(target={"coverage_factor": 3.0})
    assert wide.budget.expanded_arcsec == pytest.approx(
        3.0 * plain.budget.combined_arcsec, rel=1e-12
    )
    assert wording_of_coverage([wide]) == 3.0
    assert wording_of_basis("expanded", [plain]) == "95 % of readings, k = 2"
    assert wording_of_basis("expanded", [wide]) == "99.7 % of readings, k = 3"
    noisy = fixed(target={"worst_noise_sigmas": 6.0})
    noise = noisy.budget.worst_case_arcsec - plain.budget.worst_case_arcsec
    assert noise == pytest.approx(term(plain, "noise"), rel=1e-6)
    rare = fixed(target={"worst_ring_percent": 99.99})
    assert rare.budget.worst_case_arcsec > plain.budget.worst_case_arcsec
    assert rare.budget.expanded_arcsec == plain.budget.expanded_arcsec
    # 13.2 sigmas are twice 6.6: one bit
    coarse = fixed(target={"noise_free_sigmas": 13.2})
    assert plain.usable_bits - coarse.usable_bits == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize(
    ("share", "status", "kg"),
    [(0.30, "proven", 0.624), (0.55, "proven", 1.201), (0.60, "impossible", None)],
)
def test_the_share_decides_the_arm(share: float, status: str, kg: float | None) -> None:
    """What two heads leave was in the code; stated, it halves or forbids the steel (0.663 kg derived)."""
    found = solve(arm({"pitch_share": {"2": share}}))
    assert found.status == status
    if kg is not None:
        assert found.totals is not None
        assert found.totals.material_kg == pytest.approx(kg, abs=5e-4)


JUDGED: dict[str, tuple[Json, Json]] = {
    "a stated share": ({"pitch_share": {"2": 0.47}}, {}),
    "a stated worst share": ({"worst_pitch_share": {"2": 0.9}}, {}),
    "another spectrum": ({"pitch_spectrum_exponent": 0.9}, {}),
    "another coverage": ({}, {"coverage_factor": 2.1}),
    "more noise": ({}, {"worst_noise_sigmas": 5.5}),
    "rarer rings": ({}, {"worst_ring_percent": 99.95}),
    "coarser steps": ({}, {"noise_free_sigmas": 7.0}),
}


@pytest.fixture(scope="module")
def plain_answer() -> Answer:
    return solve(arm())


@pytest.mark.cases(fast=2)
@pytest.mark.parametrize("name", JUDGED)
def test_the_judge_reckons_with_what_is_stated(name: str, plain_answer: Answer) -> None:
    """An answer made without it does not pass, for another reason than the name of its study."""
    shop, target = JUDGED[name]
    study = arm(shop, target)
    assert judge(study, solve(study)) == []
    faults = [fault for fault in judge(study, plain_answer) if "sha256" not in fault]
    assert any("arcsec" in fault or "bits" in fault or "budget" in fault for fault in faults), (
        faults
    )


@pytest.mark.parametrize(
    ("shop", "target", "path"),
    [
        (
            {"pitch_share": {"2": 0.5}, "worst_pitch_share": {"2": 0.4}},
            {},
            "shop.worst_pitch_share.2",
        ),
        ({"pitch_share": {"1": 0.5}}, {}, "shop.pitch_share.1"),
        ({"pitch_share": {"2": 0.0}}, {}, "shop.pitch_share.2"),
        ({"worst_pitch_share": {"2": 1.1}}, {}, "shop.worst_pitch_share.2"),
        ({"pitch_spectrum_exponent": 0.4}, {}, "shop.pitch_spectrum_exponent"),
        ({"pitch_spectrum_exponent": 2.1}, {}, "shop.pitch_spectrum_exponent"),
        ({"uneven_pitch_factor": 0.9}, {}, "shop.uneven_pitch_factor"),
        ({}, {"coverage_factor": 0.5}, "target.coverage_factor"),
        ({}, {"worst_ring_percent": 100.0}, "target.worst_ring_percent"),
    ],
)
def test_bad_input_is_named(shop: Json, target: Json, path: str) -> None:
    with pytest.raises(StudyError) as told:
        arm(shop, target)
    assert [fault.path for fault in told.value.faults] == [path]
    assert told.value.faults[0].allowed


def test_heads_that_are_not_equally_spaced_take_their_own_factors() -> None:
    plain, more = fixed(at=[0, 90]), fixed({"uneven_pitch_factor": 1.25}, at=[0, 90])
    ratio = term(more, "cumulative_pitch") / term(plain, "cumulative_pitch")
    assert ratio == pytest.approx(1.25 / 1.15, rel=1e-12)
    worse = fixed({"uneven_worst_extra": 0.2}, at=[0, 90])
    assert worse.budget.expanded_arcsec == plain.budget.expanded_arcsec
    whole = term(fixed(heads=1), "cumulative_pitch")
    # two heads at a right angle keep more than half already, so that the default is cut off at the whole
    kept = term(plain, "cumulative_pitch") / 1.15 / whole
    fall = plain.budget.worst_case_arcsec - worse.budget.worst_case_arcsec
    assert fall == pytest.approx((min(1.0, kept + 0.45) - (kept + 0.2)) * whole, rel=1e-9)
    assert fixed({"uneven_pitch_factor": 1.25}).budget == fixed().budget


def test_a_sweep_and_a_comparison_know_the_fields() -> None:
    study = arm()
    plan = sweep_grid(study, ["shop.pitch_spectrum_exponent=0.8,1.2", "target.coverage_factor=2,3"])
    assert len(plan.rows) == 4
    changed = sweep_study(study, {"shop.pitch_share": SHARE, "target.worst_noise_sigmas": 4.0})
    assert changed.shop.pitch_share == SHARE
    told = {one.path: one.values for one in compared_inputs([study, changed])}
    assert told == {
        "shop.pitch_share.2": ["absent", "0.3"], "target.worst_noise_sigmas": ["5", "4"],
    }  # fmt: skip


def test_the_order_of_stated_shares_states_nothing() -> None:
    one, two = {"2": 0.4, "4": 0.2}, {"4": 0.2, "2": 0.4}
    assert arm({"pitch_share": one}).fingerprint() == arm({"pitch_share": two}).fingerprint()


@pytest.mark.campaign
def test_room_to_move_knows_the_fields(plain_answer: Answer) -> None:
    """A flatter spectrum and a larger coverage factor break a target at last; only what counts is told."""
    study = arm()
    found = {one.path: one for one in Sensitivities(study, plain_answer).all() if one.up}
    assert "target.coverage_factor" in found
    assert "target.worst_noise_sigmas" not in found
    assert "target.noise_free_sigmas" not in found
    limit = found["target.coverage_factor"].holds_to
    assert 2.0 < limit < 2.1
    held = arm(target={"coverage_factor": limit})
    assert all(margin.margin >= -1e-6 for ring in solve(held).rings for margin in ring.margins)
    falls = [one for one in Sensitivities(study, plain_answer).all() if not one.up]
    assert any(one.path == "shop.pitch_spectrum_exponent" for one in falls)


def test_the_simulation_draws_from_the_spectrum_and_says_so(plain_answer: Answer) -> None:
    study = arm()
    joints, robots = simulate_yield(study, plain_answer, 16, seed=1)
    text = " ".join(yield_text(joints, robots, 16, 1, "even").split())
    assert "amplitudes that fall as 1/p^1 with the order p per turn" in text
    assert "as it is stated" not in text
    steep = arm({"pitch_spectrum_exponent": 1.5, "pitch_share": SHARE})
    answer = solve(steep)
    assert {case.pitch_exponent for case in simulation_cases(steep, answer)} == {1.5}
    joints, robots = simulate_yield(steep, answer, 16, seed=1)
    text = " ".join(yield_text(joints, robots, 16, 1, "even").split())
    assert "amplitudes that fall as 1/p^1.5 with" in text
    assert "that 2 heads leave as it is stated (shop.pitch_share, shop.worst_pitch_share)" in text
    assert "the drawn rings follow the spectrum" in text


def drawn_constants(seed: int) -> Json:
    """Return a random study that states constants of the budget, some or all."""
    rng, data = random.Random(seed + 0.125), random_study(seed)
    shop, target = data["shop"], data["target"]
    for place, name, low, high in (
        (shop, "pitch_spectrum_exponent", 0.5, 2.0), (shop, "uneven_pitch_factor", 1.0, 1.3),
        (shop, "uneven_worst_extra", 0.2, 0.6), (target, "coverage_factor", 1.5, 3.0),
        (target, "worst_noise_sigmas", 3.0, 6.0), (target, "worst_ring_percent", 95.0, 99.99),
        (target, "noise_free_sigmas", 5.0, 8.0),
    ):  # fmt: skip
        if rng.random() < 0.6:
            place[name] = round(rng.uniform(low, high), 2)
    if rng.random() < 0.5:
        shop["pitch_share"] = {"2": round(rng.uniform(0.2, 0.6), 2)}
    if rng.random() < 0.5:
        shop["worst_pitch_share"] = {"2": round(rng.uniform(0.6, 1.0), 2)}
    return data


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, 96, 24))
def test_random_studies_with_stated_constants_are_solved_best(first: int) -> None:
    """Listing everything finds the same values, and the judge passes every answer."""
    proven = 0
    for seed in range(first, first + 24):
        study = load(drawn_constants(seed))
        found = solve(study)
        assert judge(study, found) == [], seed
        best = listed_best(table(study), found.proof.material_unit_kg or 1e-6)
        reached = {stage.wish: stage.value for stage in found.proof.stages}
        assert (reached or None) == best, seed
        proven += found.status == "proven"
    assert proven >= 8
