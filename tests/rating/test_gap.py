"""The air gap: chosen from a range where the head allows one, refused where it could close."""

from __future__ import annotations

import pytest

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
