"""By what joints find their place after a power loss: the words, and a counter that is tried out."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest

from ringset.physics.simulated_signal import Heads, Motion, Rings, simulated_angle_errors
from ringset.reporting.answer_text import short_text
from ringset.schema.absolute import NAMED_MOST, Place, study_absolute_sentences
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.electronic_studies import HEAD, one
from tests.support.narrow import present
from tests.support.studies import Json, load

BATTERY = {"battery": {"capacity_ah": 2.4}}
#: A joint whose rings are so true that two of them tell their pitches apart.
TRUE = {"seat_offset_um": 1.0, "bearing_shift_um": 0.5, "seat_ovality_um": 0.5, "wobble_mrad": 0.05}


def counting(**joint: Any) -> Json:
    return one(head=dict(HEAD), robot=copy.deepcopy(BATTERY), joint=joint)


def second(**joint: Any) -> Json:
    data = one(joint={"second_ring": True, "tip_min_mm": 56.0, **TRUE, **joint})
    data["shop"].update(modules=[1.25], flank_class=3)
    data["head"] = {"third_harmonic": 0.001}
    return data


def both(**joint: Any) -> Json:
    data = second(**joint)
    data["head"].update(HEAD)
    data["robots"][0].update(copy.deepcopy(BATTERY))
    return data


def without(data: Json, field: str) -> Json:
    del data["head"][field]
    return data


CASES = {
    "one ring": (one(), "none", False),
    "counter": (counting(), "counter", True),
    "counter over turns": (counting(turns_range=4.0), "counter", True),
    "counter, slow enough": (counting(unpowered_speed_rpm=400.0), "counter", True),
    "no battery": (one(head=dict(HEAD)), "none", False),
    "nothing looks": (without(counting(), "backup_polling_ms"), "none", False),
    "no counter": (without(counting(), "backup_counter_bits"), "none", False),
    "two rings": (second(), "second_ring", True),
    "two rings over turns": (second(turns_range=1.01), "second_ring", False),
    "both": (both(turns_range=4.0), "counter_and_second_ring", True),
}


@pytest.mark.parametrize("case", CASES)
def test_every_joint_is_told_by_what_it_finds_its_place(case: str) -> None:
    data, word, turns = CASES[case]
    study = load(data)
    answer = solve(study)
    (ring,) = answer.rings
    assert (ring.absolute_by, ring.turns_known) == (word, turns)
    assert len(answer.absolute) == 1
    said = " ".join(short_text(study, answer).split())
    assert answer.absolute[0] in said
    assert ("must be referenced" in said) == (word == "none")
    assert ("battery fails" in said) == ("counter" in word)
    assert ("not which turn" in said) == (word == "second_ring" and not turns)


@pytest.mark.parametrize("case", CASES)
def test_the_judge_names_another_word(case: str) -> None:
    data, word, turns = CASES[case]
    study = load(data)
    answer = solve(study)
    for other in {"none", "counter", "second_ring", "counter_and_second_ring"} - {word}:
        ring = answer.rings[0].model_copy(update={"absolute_by": other})
        faults = judge(study, answer.model_copy(update={"rings": [ring]}))
        assert any("absolute_by" in fault for fault in faults)
    ring = answer.rings[0].model_copy(update={"turns_known": not turns})
    faults = judge(study, answer.model_copy(update={"rings": [ring]}))
    assert any("turns_known" in fault for fault in faults)
    faults = judge(study, answer.model_copy(update={"absolute": []}))
    assert any(fault.startswith("absolute: ") for fault in faults)


def test_joints_that_are_alike_share_a_sentence() -> None:
    plain = [Place(f"arm/{i}", "none", False, None) for i in range(NAMED_MOST + 3)]
    counted = Place("arm/base", "counter", True, 250.0)
    (every,) = study_absolute_sentences(plain)
    assert every.startswith("After a power loss (every joint): ")
    first, rest = study_absolute_sentences([*plain, counted])
    assert first.startswith("After a power loss (arm/base): ")
    assert "below 250 rpm" in first
    assert "arm/5 and 3 more)" in rest
    assert "arm/6" not in rest
    assert study_absolute_sentences([]) == []


def test_an_impossible_study_says_nothing_of_places() -> None:
    data = one(target={"angle_target_arcsec": 0.001})
    answer = solve(load(data))
    assert answer.status == "impossible"
    assert answer.absolute == []


@pytest.mark.parametrize("case", ["counter, slow enough", "two rings", "both"])
def test_what_is_demanded_is_kept_and_what_is_not_kept_is_named(case: str) -> None:
    """A demand changes no ring: all it takes is stated, and limits hold it."""
    data, word, _ = CASES[case]
    data = copy.deepcopy(data)
    free = solve(load(data))
    (joint,) = data["robots"][0]["joints"]
    joint["absolute"] = "second_ring" if "second_ring" in word else "counter"
    joint["turns_range"] = 1.0
    study = load(data)
    found = solve(study)
    assert found.rings[0].teeth == free.rings[0].teeth
    assert judge(study, found) == []
    loose = study.model_copy(
        update={
            "robots": [
                study.robots[0].model_copy(
                    update={
                        "joints": [
                            study.robots[0].joints[0].model_copy(update={"absolute": "counter"})
                        ],
                        "battery": None,
                    }
                )
            ]
        }
    )
    faults = judge(loose, found)
    assert any("the study asks absolute 'counter'" in fault for fault in faults)


# -- the counter, against signals that are made and looked at ----------------------------------------


def counted_turns(teeth: int, rpm: float, polling_ms: float) -> tuple[float, float]:
    """Return the turns that a counter finds and those that were made, of two that a joint is turned.

    The phases are those of the signal simulation, read every `polling_ms` only; between two looks nothing is
    known, so the nearer way round is taken, as a counter must.
    """
    samples = 64 * teeth
    rings, heads = Rings(teeth, 32.0), Heads(32.5, zero_rad=np.zeros((1, 1)))
    error = simulated_angle_errors(rings, heads, Motion(), samples)[0] / (2.0 * np.pi)
    step = rpm / 60.0 * polling_ms / 1e3
    turn = step * np.arange(int(2.0 / step) + 1)
    shown = turn + np.interp(turn % 1.0, np.arange(samples) / samples, error)
    moved = np.diff(shown * teeth % 1.0)
    return float(np.sum(moved - np.rint(moved)) / teeth), float(turn[-1])


@pytest.mark.parametrize("polling_ms", [0.1, 1.0, 7.5])
def test_the_counter_is_right_up_to_the_speed_that_is_told_and_wrong_above(
    polling_ms: float,
) -> None:
    data = counting(turns_range=3.0)
    data["head"]["backup_polling_ms"] = polling_ms
    (ring,) = solve(load(data)).rings
    fastest = present(ring.electronics.unpowered_speed_max_rpm)
    for share in (0.2, 0.7, 0.999):
        found, made = counted_turns(ring.teeth, share * fastest, polling_ms)
        assert found == pytest.approx(made, abs=1e-9)
    found, made = counted_turns(ring.teeth, 1.001 * fastest, polling_ms)
    assert abs(found - made) > 1.0


def test_the_counter_holds_every_pitch_of_the_range_and_one_bit_less_does_not() -> None:
    (ring,) = solve(load(counting(turns_range=3.0))).rings
    bits, pitches = present(ring.electronics.counter_bits_needed), 3 * ring.teeth
    assert len({count % 2**bits for count in range(pitches)}) == pitches
    assert len({count % 2 ** (bits - 1) for count in range(pitches)}) < pitches
