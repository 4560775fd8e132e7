"""Second rings: the search against every answer, listed; and pairs that are decoded position by position."""

from __future__ import annotations

import copy
from collections import Counter
from fractions import Fraction
from math import gcd

import numpy as np
import pytest

from ringset.analysis.alternatives.single_ring import find_joint, rate_one
from ringset.errors import StudyError
from ringset.reporting.answer_text import answer_text
from ringset.reporting.electronics_text import joint_text
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.support.narrow import present
from tests.support.places import SCENARIOS
from tests.support.second_rings import listed_best, paired_study, ways_of
from tests.support.solved import solved_scenario
from tests.support.studies import Json, load

ARCSEC_PER_TURN = 1_296_000.0


@pytest.fixture(scope="module")
def study() -> Study:
    return load_study((SCENARIOS / "power_loss.json").read_text())


@pytest.fixture(scope="module")
def answer() -> Answer:
    return solved_scenario("power_loss")


# -- every answer, listed --------------------------------------------------------------------------


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("first", range(0, 100, 10))
def test_the_answer_is_the_best_of_all_rings_and_second_rings(first: int) -> None:
    """Costs, heads, blanks, batteries and ring parts of both rings count, and certificates prove it."""
    seen: Counter[str] = Counter()
    for seed in range(first, first + 10):
        study = load(paired_study(seed))
        answer = solve(study)
        assert judge(study, answer) == [], seed
        unit = answer.proof.material_unit_kg or 1e-6
        best = listed_best(study, ways_of(study), unit, answer.proof.cost_unit or 0.01)
        reached = {stage.wish: stage.value for stage in answer.proof.stages}
        assert answer.status == ("impossible" if best is None else "proven"), (seed, answer.reasons)
        assert (reached or None) == best, seed
        seen[answer.status] += 1
        if best is not None and seed % 3 == 0:
            verified = verify_certificate(study, answer, certify(study, answer))
            assert not verified.refused, (seed, verified)
            seen["verified"] += sum(stage.state == "verified" for stage in verified.stages)
            seen["stages"] += len(verified.stages)
    assert seen["proven"] >= 2
    assert seen["verified"] >= 0.8 * seen["stages"], seen


# -- the pair itself -------------------------------------------------------------------------------


def decoded(turn: np.ndarray, z1: int, z2: int, e1: float, e2: float) -> np.ndarray:
    """Return the pitch that two rings name, by trying every pitch of the first: no formula of the decoding.

    Each ring shows its phase, wrong by its own error (in turns). Of all pitches in which the first ring could
    stand, that one is named at which the second ring should show what it does, most nearly.
    """
    first = (turn + e1) * z1 % 1.0
    second = (turn + e2) * z2 % 1.0
    at = (np.arange(z1)[:, np.newaxis] + first) / z1
    off = (at * z2 - second + 0.5) % 1.0 - 0.5
    return np.asarray(np.argmin(np.abs(off), axis=0))


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize("which", ["as it is", "swapped"])
def test_a_pair_names_every_pitch_up_to_the_tolerance_told_and_not_beyond(
    which: str, answer: Answer
) -> None:
    first = answer.rings[0]
    pair = present(first.electronics.second_ring)
    z1, z2 = first.teeth, present(pair.teeth)
    z1, z2 = (z1, z2) if which == "as it is" else (z2, z1)
    inside = np.array([0.001, 0.25, 0.5, 0.75, 0.999])
    turn = np.ravel((np.arange(z1)[:, np.newaxis] + inside) / z1)
    # the first ring's own pitch is found with its error, so that the pitch is that of what it shows
    tolerance = present(pair.tolerance_arcsec) / ARCSEC_PER_TURN
    for share, right in ((1.0 - 1e-6, True), (1.0 + 1e-6, False)):
        for e1, e2 in ((share, 0.0), (0.0, -share), (0.6 * share, -0.4 * share), (-share, 0.0)):
            e1, e2 = e1 * tolerance, e2 * tolerance
            shown = np.floor((turn + e1) * z1).astype(int) % z1
            found = decoded(turn, z1, z2, e1, e2)
            assert np.array_equal(found, shown) == right, (share, e1, e2)


def test_a_ring_is_the_first_of_one_joint_and_the_second_of_another(
    study: Study, answer: Answer
) -> None:
    bend = answer.rings[0]
    (second,) = answer.second_rings
    assert bend.label == second.label == "wrist/bend"
    assert gcd(bend.teeth, second.teeth) == 1
    assert (bend.module_mm, bend.bore_mm) == (second.module_mm, second.bore_mm)
    users = {part.id: sorted(part.used_on) for part in answer.ring_parts}
    assert users[second.ring_part] == ["wrist/bend", "wrist/swing", "wrist/turn"]
    totals = present(answer.totals)
    assert totals.ring_parts == len(answer.ring_parts) == 2
    assert totals.heads == 4
    assert totals.material_kg == pytest.approx(sum(ring.blank_kg for ring in answer.every_ring))
    drawn = {ring.label: ring.electronics.backup_current_ua for ring in answer.rings}
    assert drawn["wrist/bend"] == 2.4
    assert drawn["wrist/turn"] == 1.2
    said = " ".join(answer_text(study, answer, {}).split())
    assert "second ring of 42 teeth (R1) on the same seat: tells the pitches apart" in said
    assert "Second rings, one head each" in said


def test_without_the_second_ring_all_is_as_if_it_were_never_asked(study: Study) -> None:
    data = study.model_dump(mode="json")
    for joint in data["robots"][0]["joints"]:
        joint["second_ring"] = False
    found = solve(load(data))
    for joint in data["robots"][0]["joints"]:
        del joint["second_ring"]
    assert solve(load(data)).to_json() == found.to_json()
    assert found.second_rings == []
    assert all(ring.electronics.second_ring is None for ring in found.rings)


# -- what stands in the way ------------------------------------------------------------------------


def poor(study: Study) -> Json:
    """Return the study with a joint whose rings are too far off to tell pitches apart."""
    data: Json = study.model_dump(mode="json")
    bend = next(j for j in data["robots"][0]["joints"] if j["name"] == "bend")
    bend["seat_offset_um"] = 60.0
    return data


def test_the_first_lines_tell_what_second_rings_take(study: Study, answer: Answer) -> None:
    """One joint has one: its head and blank, and no ring part, for another joint has the same ring."""
    (second,) = answer.second_rings
    taken = f"second rings alone take 1 head, {second.blank_kg:.4g} kg of blanks and no ring parts."
    assert taken in " ".join(answer_text(study, answer, {}).split("Rings (mm")[0].split())
    none = answer.model_copy(update={"second_rings": []})
    assert "second rings alone" not in answer_text(study, none, {})


def test_pairs_that_miss_the_tolerance_are_a_reason_with_both_numbers(study: Study) -> None:
    found = solve(load(poor(study)))
    assert found.status == "impossible"
    (reason,) = found.reasons
    assert reason.startswith(
        "wrist/bend: second_ring: no pair tells its pitches apart; the errors of the"
    )
    differ, may = (float(reason.split(word)[1].split()[0]) for word in ("differ by ", "where "))
    assert differ > may > 0.0


def test_a_joint_in_which_no_two_rings_stand_side_by_side_says_so(study: Study) -> None:
    data = study.model_dump(mode="json")
    bend = next(j for j in data["robots"][0]["joints"] if j["name"] == "bend")
    bend.update(tip_min_mm=56.25, tip_max_mm=56.25)
    data["shop"]["modules"] = [1.25]
    (reason,) = solve(load(data)).reasons
    assert reason.startswith(
        "wrist/bend: second_ring: rings fit, but no two of one module and bore"
    )


def test_a_special_cutter_cuts_no_pair(study: Study) -> None:
    data = study.model_dump(mode="json")
    data["shop"]["cutting"] = "disc_special"
    with pytest.raises(
        StudyError, match=r"second_ring: given true; allowed: another shop\.cutting"
    ):
        solve(load(data))


# -- one ring alone --------------------------------------------------------------------------------


def test_a_ring_alone_gets_the_second_ring_of_fewest_teeth_that_does(
    study: Study, answer: Answer
) -> None:
    robot, joint = find_joint(study, "bend", None)
    first = answer.rings[0]
    ring, broken = rate_one(study, robot, joint, first.module_mm, first.teeth, first.bore_mm, 1)
    assert broken == []
    mine = present(ring.electronics.second_ring)
    able = []
    with pytest.raises(StudyError, match=r"second_teeth: given 36; allowed: 37 "):
        rate_one(study, robot, joint, 1.25, 43, 42.5, 1, 36)
    for teeth in range(37, 80):
        tried, faults = rate_one(
            study, robot, joint, first.module_mm, first.teeth, first.bore_mm, 1, teeth
        )
        told = present(tried.electronics.second_ring)
        assert told.teeth == teeth
        assert told.feasible == (not any(fault.startswith("second_ring") for fault in faults))
        if gcd(teeth, first.teeth) > 1:
            assert not told.feasible
        if 1.25 * (teeth - 2.5) - first.bore_mm < 2 * 1.2 * 2.25 * 1.25:
            assert any(f.startswith("shop.rim_min_depths") and "(second ring)" in f for f in faults)
        if not faults:
            able.append(teeth)
    assert mine.teeth == min(able)


def test_a_ring_alone_that_misses_the_tolerance_breaks_the_limit(study: Study) -> None:
    data = load(poor(study))
    robot, joint = find_joint(data, "bend", None)
    _, broken = rate_one(data, robot, joint, 1.25, 43, 42.5, 1, 42)
    assert "second_ring" in [fault.split(":")[0] for fault in broken]


@pytest.mark.slow
def test_a_study_in_another_order_gives_the_same_bytes(study: Study, answer: Answer) -> None:
    data = copy.deepcopy(study.model_dump(mode="json"))
    data["robots"][0]["joints"].reverse()
    data["shop"]["modules"].reverse()
    assert solve(load(data)).to_json() == answer.to_json()


def test_a_second_ring_that_shares_a_divisor_is_told_by_it(study: Study) -> None:
    """42 and 35 teeth share 7: after a seventh of a turn both rings show the phases they showed before."""
    robot, joint = find_joint(study, "bend", None)
    ring, broken = rate_one(study, robot, joint, 1.25, 42, 36.0, 1, 35)
    shared = "42 and 35 teeth share the divisor 7"
    said = " ".join(joint_text(ring).split())
    assert (
        f"no pair with this ring, for {shared}, so both read the same at 7 places of a turn" in said
    )
    assert "may differ by" not in said
    (fault,) = [fault for fault in broken if fault.startswith("second_ring:")]
    assert fault.endswith(f", allowed 0 ({shared})")
    steps = [Fraction(step, 42 * 35) for step in range(42 * 35)]
    assert len({(42 * turn % 1, 35 * turn % 1) for turn in steps}) == len(steps) // 7


def test_coprime_counts_that_one_cutter_does_not_cut_are_told_as_such(study: Study) -> None:
    robot, joint = find_joint(study, "bend", None)
    ring, broken = rate_one(study, robot, joint, 1.25, 43, 36.0, 1, 42)
    assert "may differ by" in joint_text(ring)
    assert not any("share" in fault for fault in broken)
    pair = present(ring.electronics.second_ring).model_copy(
        update={"tolerance_arcsec": 0.0, "feasible": False}
    )
    told = ring.electronics.model_copy(update={"second_ring": pair})
    said = " ".join(joint_text(ring.model_copy(update={"electronics": told})).split())
    assert "no pair with this ring, for no one cutter of the shop cuts 43 and 42 teeth" in said
    assert "places of a turn" not in said
