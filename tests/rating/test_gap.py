"""The air gap: chosen from a range where the head allows one, refused where it could close."""

from __future__ import annotations

import pytest

from ringset.analysis.alternatives.single_ring import rate_one
from ringset.schema.joint import Joint
from ringset.schema.study import Robot, Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.studies import Json, load, small


def with_head(**head: float) -> Json:
    return small() | {"head": head, "target": {"angle_target_arcsec": 400.0}}


def test_the_search_takes_the_gap_of_least_error_that_leaves_enough() -> None:
    """Every gap of the range as a study of its own: none gives this ring less error."""
    study = load(with_head(gap_min_mm=0.2, gap_max_mm=0.8, gap_step_mm=0.1))
    answer = solve(study)
    assert judge(study, answer) == []
    fixed: dict[tuple[str, float, int, float, int], list[tuple[float, float]]] = {}
    for step in range(7):
        gap = round(0.2 + 0.1 * step, 9)
        alone = solve(load(with_head(gap_mm=gap)))
        for ring in alone.rings:
            key = (ring.joint, ring.module_mm, ring.teeth, ring.bore_mm, ring.heads)
            if ring.gap_left_mm >= 0.05:
                fixed.setdefault(key, []).append((ring.error_arcsec, gap))
    compared = 0
    for ring in answer.rings:
        key = (ring.joint, ring.module_mm, ring.teeth, ring.bore_mm, ring.heads)
        if key in fixed:
            best = min(fixed[key])
            assert ring.error_arcsec == pytest.approx(best[0])
            assert ring.gap_mm == best[1]
            compared += 1
    assert compared > 0


def test_a_gap_off_its_range_or_step_is_refused_by_the_judge() -> None:
    study = load(with_head(gap_min_mm=0.2, gap_max_mm=0.8, gap_step_mm=0.1))
    answer = solve(study)
    for gap in (0.1, 0.25, 0.9):
        rings = [answer.rings[0].model_copy(update={"gap_mm": gap}), *answer.rings[1:]]
        violations = judge(study, answer.model_copy(update={"rings": rings}))
        assert any("not a gap that the head allows" in v for v in violations), gap


def test_a_gap_that_could_close_is_refused_with_the_numbers() -> None:
    """0.12 mm less tolerance, offset, lobes, run-out, shift and cold leaves less than 0.05 mm."""
    answer = solve(load(with_head(gap_mm=0.12)))
    assert answer.status == "impossible"
    for reason in answer.reasons:
        assert "head.gap_left_min_mm 0.05: the best that can be reached is 0.0" in reason


def test_cold_and_a_press_fit_take_from_the_gap() -> None:
    warm, cold, pressed = with_head(), with_head(), with_head()
    for joint in cold["robots"][0]["joints"]:
        joint["temperature_min_c"] = -40.0
    for joint in pressed["robots"][0]["joints"]:
        joint |= {"seat_fit": "H7/p6", "hub_offset_um": 15.0}
    left = {}
    for name, data in (("warm", warm), ("cold", cold), ("pressed", pressed)):
        ring = solve(load(data)).rings[0]
        left[name] = ring.gap_left_mm
        if name == "warm":
            expected = (23.3e-6 - 11.55e-6) * ring.tip_diameter_mm / 2.0
    # 50 K colder than at the default 10 degrees; expansions of aluminium and C45, typical values
    assert left["warm"] - left["cold"] == pytest.approx(50.0 * expected, rel=0.02)
    assert left["pressed"] < left["warm"] - 0.005


@pytest.mark.parametrize(
    "head",
    [
        {"gap_mm": -0.1}, {"gap_min_mm": 0.3}, {"gap_max_mm": 0.3}, {"noise_ratio": 1.5},
        {"gap_min_mm": 0.5, "gap_max_mm": 0.3}, {"gap_tolerance_mm": 0.4}, {"teeth_sensed": 20},
    ],
)  # fmt: skip
def test_impossible_head_data_is_refused_by_field(head: dict[str, float]) -> None:
    from ringset.errors import StudyError

    with pytest.raises(StudyError, match=r"head\."):
        load(with_head(**head))


@pytest.mark.parametrize(("coldest", "gained"), [(35.0, 0.018), (60.0, 0.048)])
def test_a_joint_that_is_always_warm_is_still_assembled_at_20(
    coldest: float, gained: float
) -> None:
    """Its ring is first turned at 20 degrees, with the gap it has there: no warmth is counted as gap.

    Aluminium around C45 opens by 11.75e-6 per K and mm of radius (23.3 less 11.55): `gained` is what a
    ring of 204 mm would have had left by its own range alone.
    """
    left, third = {}, {}
    for name, low in (("from 20", 20.0), ("warm", coldest)):
        data = with_head()
        place = {"bore_min_mm": 180.0, "bore_max_mm": 190.0, "tip_max_mm": 204.0}
        temperatures = {"temperature_min_c": low, "temperature_max_c": 80.0}
        data["robots"][0]["joints"] = [{"name": "warm", "reach_mm": 1.0, **place, **temperatures}]
        study = load(data)
        ring, broken = rate_one(study, *only_joint(study), 1.0, 202, 180.0, 1)
        assert broken == []
        left[name] = ring.gap_left_mm
        third[name] = next(t for t in ring.budget.terms if t.name == "third_harmonic")
        answer = solve(study)
        assert judge(study, answer) == []
        # a judge who counted the range alone would have this much more
        more = {"gap_left_mm": answer.rings[0].gap_left_mm + gained}
        forged = answer.model_copy(update={"rings": [answer.rings[0].model_copy(update=more)]})
        assert any("gap_left_mm" in violation for violation in judge(study, forged))
    assert 11.75e-6 * 102.0 * (coldest - 20.0) == pytest.approx(gained, abs=5e-4)
    assert left["warm"] == pytest.approx(left["from 20"], abs=1e-12)
    assert third["warm"] == third["from 20"]


def only_joint(study: Study) -> tuple[Robot, Joint]:
    """Return the only robot and joint of a study."""
    return study.robots[0], study.robots[0].joints[0]


def test_a_gap_that_closes_only_at_assembly_is_refused() -> None:
    """0.13 mm suffice from 60 to 80 degrees; at 20, where the joint is put together, they do not."""
    data = with_head(gap_mm=0.13)
    place = {"bore_min_mm": 180.0, "bore_max_mm": 190.0, "tip_max_mm": 204.0, "tip_min_mm": 200.0}
    hot = {"temperature_min_c": 60.0, "temperature_max_c": 80.0}
    data["robots"][0]["joints"] = [{"name": "warm", "reach_mm": 1.0, **place, **hot}]
    answer = solve(load(data))
    assert answer.status == "impossible"
    assert "head.gap_left_min_mm 0.05: the best that can be reached is 0.0" in answer.reasons[0]
