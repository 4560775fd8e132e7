"""Thick rims and many teeth in an answer: what jaws bend, what is told of it, what two heads leave."""

from __future__ import annotations

import pytest

from ringset.analysis.alternatives.single_ring import rate_one
from ringset.errors import StudyError
from ringset.schema.answer import JointRing
from ringset.solving.pipeline import solve
from ringset.standards.materials import standard_material
from ringset.verification.judge.judge import judge
from tests.physics.test_curved_beam import plane_stress
from tests.support.studies import Json, joint, load


def one(jaws: int, **place: float) -> Json:
    return {
        "robots": [{"name": "arm", "joints": [joint("wrist", 40.0, **place)]}],
        "shop": {"modules": [1.0], "clamp_jaws": jaws, "clamp_force_n": 200.0},
        "target": {"angle_target_arcsec": 400.0},
    }


def rated(data: Json, teeth: int, bore: float, heads: int) -> JointRing:
    study = load(data)
    robot, seat = study.robots[0], study.robots[0].joints[0]
    return rate_one(study, robot, seat, 1.0, teeth, bore, heads)[0]


@pytest.mark.parametrize(("teeth", "bore", "ratio"), [(70, 51.04, 3.6), (84, 54.33, 2.5)])
def test_lobes_of_a_thick_ring_are_those_of_a_plane_stress_ring(
    teeth: int, bore: float, ratio: float
) -> None:
    """A ring of C45 in three jaws; finite elements of unit rim and E scale by force over width and E.

    The thin ring of textbooks would leave 14 and 25 % less, the curved beam 3 and 7 % more.
    """
    ring = rated(one(3), teeth, bore, 1)
    assert (ring.bore_mm + ring.rim_mm) / 2.0 / ring.rim_mm == pytest.approx(ratio, abs=0.01)
    (lobes,) = (m for m in ring.margins if m.limit == "shop.clamp_runout_share")
    at_jaw, midway, _, _ = plane_stress(3, ratio)
    modulus = 1e3 * standard_material("c45").youngs_modulus_gpa
    wanted = 1e3 * 200.0 / (modulus * ring.face_width_mm) * (at_jaw + midway)  # peak to valley, um
    assert 1.0 <= lobes.value / wanted <= 1.075


def test_a_rim_too_thick_for_its_jaws_is_warned_of_and_the_judge_asks_for_it() -> None:
    """Six jaws on a ring of R / t 2.7: lobes may be a fifth less than stated. Three jaws: nothing to say."""
    place = {"bore_max_mm": 41.0, "tip_min_mm": 61.0, "tip_max_mm": 63.0}
    told = {}
    for jaws in (3, 6):
        data = one(jaws, **place)
        data["shop"] |= {"clamp_runout_share": None, "rim_min_mm": 8.5}
        study = load(data)
        answer = solve(study)
        assert judge(study, answer) == []
        told[jaws] = [w for w in answer.warnings if "lobes from clamping" in w]
        if told[jaws]:
            silent = [w for w in answer.warnings if w not in told[jaws]]
            found = judge(study, answer.model_copy(update={"warnings": silent}))
            assert any("warnings: R1: rim" in violation for violation in found)
    assert told[3] == []
    assert len(told[6]) == 1
    assert "6 jaws: lobes from clamping may be up to" in told[6][0]


@pytest.mark.parametrize(("teeth", "share"), [(96, 0.478), (180, 0.484), (360, 0.489)])
def test_what_two_heads_leave_of_the_pitch_follows_the_tooth_count(
    teeth: int, share: float
) -> None:
    """Cumulative pitch of the same ring with two heads over that with one."""
    data = one(3, bore_max_mm=340.0, tip_max_mm=400.0)
    pitch = {
        heads: next(
            term.amplitude_arcsec
            for term in rated(data, teeth, teeth - 12.5, heads).budget.terms
            if term.name == "cumulative_pitch"
        )
        for heads in (1, 2)
    }
    assert pitch[2] / pitch[1] == pytest.approx(share, abs=6e-4)


@pytest.mark.parametrize("bore", [5e-324, 1e-100, 4.9e-5])
def test_a_bore_below_the_grid_is_refused_and_the_least_one_rated(bore: float) -> None:
    """A ring is rated with its bore on a grid; one that becomes 0 there is a disc without a hole."""
    with pytest.raises(StudyError, match=r"bore: given .* mm; allowed: above 5e-05 and below"):
        rated(one(3), 70, bore, 1)
    assert rated(one(3), 70, 1e-4, 1).error_arcsec > 0.0
