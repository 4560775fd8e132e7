"""Second rings at gaps of a range, beside few rows, and by cutters of a set: small studies of one joint."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from ringset.analysis.alternatives.single_ring import find_joint, rate_one
from ringset.errors import StudyError
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.narrow import present
from tests.support.studies import Json, load

#: A head so good, and a joint so true, that pairs near 60 teeth just tell their pitches apart.
HEAD = {
    "third_harmonic": 0.002, "stray_field": 0.0002, "residual_offset": 0.001, "residual_gain": 0.001,
    "residual_quadrature_deg": 0.05, "noise_ratio": 0.002,
}  # fmt: skip


def one_pair(**head: Any) -> Json:
    """Return a study of one joint that asks a second ring, with tips from 59 to 62.5 mm and a bore of 40."""
    joint = {
        "name": "swing", "bore_min_mm": 40.0, "bore_max_mm": 40.0, "tip_min_mm": 59.0, "tip_max_mm": 62.5,
        "head_counts": [1], "seat_offset_um": 1.7, "bearing_shift_um": 1.0, "second_ring": True,
    }  # fmt: skip
    return {
        "robots": [{"name": "arm", "joints": [joint]}],
        "shop": {"modules": [1.0, 1.25], "bore_step_mm": 1.0, "flank_class": 1},
        "target": {"angle_target_arcsec": 600.0},
        "head": {**HEAD, **head},
        "wishes": {"order": ["material"]},
    }


def least(data: Json) -> int | None:
    """Return the least material of a study in its units, None where it is impossible."""
    study = load(data)
    answer = solve(study)
    assert judge(study, answer) == []
    assert answer.status in ("proven", "impossible")
    return answer.proof.stages[0].value if answer.rings else None


def range_of_gaps(data: Json) -> Json:
    changed = copy.deepcopy(data)
    changed["head"].update(gap_min_mm=0.2, gap_max_mm=0.5, gap_step_mm=0.1)
    return changed


def at_gap(data: Json, gap_mm: float) -> Json:
    changed = copy.deepcopy(data)
    changed["head"]["gap_mm"] = gap_mm
    return changed


def test_a_range_of_gaps_allows_what_each_of_its_gaps_allows() -> None:
    """The second ring's gap is that of the least worst case, which is not that of the least error."""
    data = one_pair()
    found = least(range_of_gaps(data))
    fixed = [least(at_gap(data, gap)) for gap in (0.2, 0.3, 0.4, 0.5)]
    assert len({one for one in fixed if one is not None}) > 1
    assert found == min(one for one in fixed if one is not None)


def test_no_target_of_the_joint_bears_on_the_gap_of_its_second_ring() -> None:
    """A narrow gap fits the housing; the second ring, with one head, misses a target that is not its own."""
    data = one_pair(third_harmonic=0.003, noise_ratio=0.0001)
    joint = data["robots"][0]["joints"][0]
    joint.update(head_counts=[2], seat_offset_um=1.0, housing_max_mm=84.6)
    del joint["tip_max_mm"]
    values = {}
    for target in (30.0, 31.0):
        data["target"]["angle_target_arcsec"] = target
        values[target] = least(range_of_gaps(data))
    assert values[31.0] is not None
    assert values[30.0] is None or values[31.0] <= values[30.0]


def test_one_row_may_hold_two_rings() -> None:
    data = one_pair(third_harmonic=0.003, noise_ratio=0.0001)
    data["robots"][0]["joints"][0].update(tip_max_mm=60.0, seat_offset_um=1.0)
    data["target"]["angle_target_arcsec"] = 33.63
    data["shop"]["modules"] = [1.0]
    answer = solve(load(data))
    assert (answer.proof.rings_possible, answer.proof.rows_possible) == (2, 1)


def test_no_two_cutters_of_a_set_make_a_pair() -> None:
    """53 and 55 teeth are coprime, but one cutter of a set ends at 54 teeth, the next begins at 55."""
    data = one_pair(third_harmonic=0.001, noise_ratio=0.0001)
    data["robots"][0]["joints"][0].update(
        bore_min_mm=38.0, bore_max_mm=38.0, tip_min_mm=55.0, tip_max_mm=59.0, seat_offset_um=1.0
    )
    data["shop"].update(modules=[1.0], cutting="disc_8")
    study = load(data)
    robot, joint = find_joint(study, "swing", None)
    for second, sound in ((53, False), (56, True)):
        ring, broken = rate_one(study, robot, joint, 1.0, 55, 38.0, 1, second)
        assert present(ring.electronics.second_ring).feasible == sound
        assert any(fault.startswith("second_ring") for fault in broken) != sound


def test_a_shop_that_does_not_cut_the_second_ring_is_told_of_it() -> None:
    data = one_pair()
    data["shop"].update(modules=[1.0], teeth_allowed=[57, 58, 60])
    study = load(data)
    robot, joint = find_joint(study, "swing", None)
    _, broken = rate_one(study, robot, joint, 1.0, 57, 40.0, 1, 59)
    assert any("59 teeth (second ring)" in fault for fault in broken)
    data["shop"] = {"modules": [1.0], "cutting": "disc_8", "rack": "stub", "profile_shift": 0.3}
    data["shop"]["bore_step_mm"] = 1.0
    data["robots"][0]["joints"][0].update(bore_min_mm=5.0, bore_max_mm=5.0)
    study = load(data)
    robot, joint = find_joint(study, "swing", None)
    with pytest.raises(StudyError, match="second_teeth: given 9; allowed: 12 or more"):
        rate_one(study, robot, joint, 1.0, 13, 5.0, 1, 9)


@pytest.mark.parametrize("gap", [0.3])
def test_the_pair_at_a_gap_is_the_same_pair_in_its_range(gap: float) -> None:
    study = load(range_of_gaps(one_pair()))
    answer = solve(study)
    (second,) = answer.second_rings
    assert second.gap_mm == pytest.approx(gap)
