"""The same ring keeps its part number over revisions of a study, and no number comes back for another."""

from __future__ import annotations

import json
import random
import re
from collections import Counter
from typing import Any

import pytest

from ringset.analysis.comparison.compare import Entry, compare_answers
from ringset.errors import StudyError
from ringset.schema.answer import Answer
from ringset.schema.loading import load_answer, load_study
from ringset.schema.part_numbers import PartNumbers
from ringset.solving.certified_answer import solve_certified
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.places import DATA, SCENARIOS
from tests.support.revisions import renamed, revised, rings_by_name
from tests.support.second_rings import paired_study
from tests.support.studies import Json, joint, load, mixed_fits, random_study, small

BEFORE = json.loads((DATA / "first_names.json").read_text())
SEEDS, CHUNK, REVISIONS = 96, 8, 3


def number(name: str) -> int:
    found = re.search(r"[0-9]+$", name)
    assert found is not None, name
    return int(found[0])


def names(answer: Answer) -> list[str]:
    return [part.id for part in answer.ring_parts]


# -- without an earlier answer ---------------------------------------------------------------------


@pytest.mark.cases(fast=4)
@pytest.mark.parametrize("scenario", BEFORE)
def test_without_an_earlier_answer_everything_is_called_as_it_ever_was(scenario: str) -> None:
    """Fingerprint, members and names of the scenarios as they were before numbers could be kept."""
    study = load_study((SCENARIOS / f"{scenario}.json").read_bytes())
    told = json.loads(solve(study).to_json())
    assert {
        "study_sha256": told["study_sha256"],
        "members": list(told),
        "ring_parts": {
            p["id"]: f"{p['module_mm']:g}, {p['teeth']}, {p['bore_mm']:g} {p['bore_zone']}, "
            f"{p['face_width_mm']:g}"
            for p in told["ring_parts"]
        },
        "cutters": {c["id"]: c["ring_parts"] for c in told["cutters"]},
        "rings": {f"{r['robot']}/{r['joint']}": r["ring_part"] for r in told["rings"]},
    } == BEFORE[scenario]


def test_the_scenarios_of_the_list_are_all_there_are() -> None:
    assert set(BEFORE) == {path.stem for path in SCENARIOS.glob("*.json")}


def test_an_empty_prefix_states_the_same_study_as_none() -> None:
    plain, stated, other = small(), small(), small()
    stated["shop"]["part_prefix"] = ""
    other["shop"]["part_prefix"] = "RX-"
    assert load(stated).fingerprint() == load(plain).fingerprint() != load(other).fingerprint()
    assert solve(load(stated)).to_json() == solve(load(plain)).to_json()


def test_a_prefix_stands_before_every_number_and_changes_nothing_else() -> None:
    data = random_study(4)
    plain = solve(load(data))
    data["shop"]["part_prefix"] = "RX-"
    answer = solve(load(data))
    assert names(plain) == [f"R{i}" for i in range(1, len(names(plain)) + 1)]
    assert names(answer) == [f"RX-{i}" for i in range(1, len(names(plain)) + 1)]
    turned = renamed(plain, dict(zip(names(plain), names(answer), strict=True)))
    assert turned.model_copy(update={"study_sha256": answer.study_sha256}) == answer


def test_warnings_follow_the_numbers_of_parts_with_a_prefix() -> None:
    """Fourteen rings of disc cutters: the tenth stands after the ninth, in warnings as in all lists."""
    data: Json = {
        "robots": [
            {
                "name": "arm",
                "joints": [
                    joint(f"axis {i}", 40.0 + 6.0 * i, tip_min_mm=66.0 + 6.0 * i) for i in range(14)
                ],
            }
        ],
        "shop": {"modules": [1.0], "cutting": "disc_8", "part_prefix": "P.", "bore_step_mm": 1.0},
        "target": {"angle_target_arcsec": 300.0},
        "wishes": {"order": ["material"]},
    }
    answer = solve(load(data), certified=False)
    assert names(answer) == [f"P.{i}" for i in range(1, 15)]
    told = [warning.split(": profile: ")[0] for warning in answer.warnings if "profile" in warning]
    assert len(told) > 9
    assert told == sorted(told, key=number)


# -- revisions -------------------------------------------------------------------------------------


def three_joints(**shop: Any) -> Json:
    data = small()
    data["shop"].update(shop)
    return data


def test_the_order_of_joints_changes_no_name() -> None:
    first = solve(load(small()))
    turned = small()
    turned["robots"][0]["joints"].reverse()
    answer = solve(load(turned), previous=first)
    assert rings_by_name(answer) == rings_by_name(first)
    assert answer.part_numbers is not None
    assert (answer.part_numbers.kept, answer.part_numbers.retired) == (names(first), [])


def test_a_joint_more_takes_the_next_number_though_its_ring_is_the_smallest() -> None:
    first = solve(load(small()))
    more = small()
    more["robots"][0]["joints"].append(joint("tiny", 20.0, tip_min_mm=42.0))
    alone = solve(load(more))
    answer = solve(load(more), previous=first)
    before = rings_by_name(first)
    assert rings_by_name(alone)["R1"] != before["R1"]  # of itself it would number them anew
    assert {name: rings_by_name(answer)[name] for name in before} == before
    assert names(answer) == [*names(first), f"R{len(before) + 1}"]


def test_another_target_changes_the_names_of_those_rings_only_that_change() -> None:
    first = solve(load(small()))
    finer = small()
    finer["robots"][0]["joints"][0]["angle_target_arcsec"] = 55.0
    answer = solve(load(finer), previous=first)
    before, after = rings_by_name(first), rings_by_name(answer)
    assert (set(before), set(after)) == ({"R1", "R2"}, {"R1", "R3"})
    assert before["R1"] == after["R1"]
    assert after["R3"] not in before.values()


def test_names_of_another_prefix_are_kept_and_new_ones_have_the_new_prefix() -> None:
    first = solve(load(three_joints()))
    data = three_joints(part_prefix="RX-")
    data["robots"][0]["joints"].append(joint("tiny", 20.0, tip_min_mm=42.0))
    answer = solve(load(data), previous=first)
    assert names(answer) == ["R1", "R2", "RX-3"]
    assert answer.part_numbers is not None
    assert answer.part_numbers.kept == ["R1", "R2"]


@pytest.mark.parametrize(
    ("change", "kept"),
    [
        ({"bore_step_mm": 0.1}, True),  # 41 mm are then 410 steps, with the dust of 0.1
        ({"saw_cut_mm": 4.0}, True),
        ({"flank_class": 5}, False),
        ({"profile_shift": 0.05}, False),
        ({"rack": "stub"}, False),
        ({"material": "42crmo4"}, False),
        ({"material_treatment": "+QT"}, False),
        ({"deeper_cut_below_mm": 2.0}, False),
    ],
)
def test_what_makes_another_ring(change: Json, kept: bool) -> None:
    """One joint with one possible ring, so that nothing but the field decides."""
    data: Json = {
        "robots": [
            {
                "name": "arm",
                "joints": [
                    {"name": "a", "bore_min_mm": 41.0, "bore_max_mm": 41.0, "tip_max_mm": 72.9}
                    | {"tip_min_mm": 69.0, "head_counts": [2]}
                ],
            }
        ],
        "shop": {"modules": [1.0], "bore_step_mm": 1.0, "teeth_allowed": [69]},
        "target": {"angle_target_arcsec": 400.0},
    }
    first = solve(load(data), certified=False)
    data["shop"].update(change)
    answer = solve(load(data), certified=False, previous=first)
    assert answer.rings[0].teeth == 69
    assert names(answer) == (["R1"] if kept else ["R2"])


def test_rings_that_differ_by_less_than_anybody_can_measure_have_two_names() -> None:
    """Widths are as stated: no two parts of an answer share a name, however near they are."""
    data = small()
    alone = solve(load(data), certified=False)
    near = data["robots"][0]["joints"][1] | {"name": "near", "face_width_mm": 8.0 + 1e-12}
    data["robots"][0]["joints"].append(near)
    answer = solve(load(data), certified=False, previous=alone)
    assert len(names(answer)) == len(names(alone)) + 1
    again = solve(load(data), certified=False, previous=answer)
    assert names(again) == names(answer)


def test_more_screw_holes_make_another_ring() -> None:
    row = joint("a", 60.0, tip_min_mm=84.0, fastening="screws", stall_torque_nm=5.0)
    data: Json = {
        "robots": [{"name": "arm", "joints": [row]}],
        "shop": {"modules": [1.0], "bore_step_mm": 2.0},
        "target": {"angle_target_arcsec": 400.0},
    }
    data["robots"][0]["joints"][0] = {k: v for k, v in row.items() if k != "stall_torque_nm"}
    first = solve(load(data), certified=False)
    assert first.ring_parts[0].screws is not None
    data["shop"]["screw_sizes"] = ["M4"]
    answer = solve(load(data), certified=False, previous=first)
    assert answer.ring_parts[0].screws != first.ring_parts[0].screws
    assert names(answer) == ["R2"]


def chain(seed: int, seen: Counter[str]) -> None:
    """Hold every name over some revisions of a study against what the test itself remembers."""
    rng = random.Random(seed + 0.375)
    data = rng.choice((random_study, random_study, mixed_fits, paired_study))(seed)
    earlier = solve(load(data), certified=False)
    if not earlier.rings:
        seen["impossible"] += 1
        return
    ever = set(names(earlier))
    for _ in range(REVISIONS):
        edited = revised(data, rng)
        try:
            study = load(edited)
        except StudyError:
            seen["refused"] += 1
            continue
        answer = solve(study, certified=False, previous=earlier)
        if not answer.rings:
            assert answer.part_numbers is None
            seen["impossible"] += 1
            continue
        before, after = rings_by_name(earlier), rings_by_name(answer)
        same = {ring: name for name, ring in before.items() if ring in after.values()}
        new = [name for name, ring in after.items() if ring not in same]
        assert {ring: name for name, ring in after.items() if ring in same} == same, seed
        assert not ever & set(new), seed
        prefix = study.shop.part_prefix or "R"
        following = max(map(number, ever)) + 1
        assert sorted(new, key=number) == [f"{prefix}{following + i}" for i in range(len(new))]
        ever |= set(new)
        told = answer.part_numbers
        assert told is not None
        assert set(told.kept) == set(same.values())
        assert set(told.retired) == ever - set(after)
        assert names(answer) == sorted(after, key=number)
        assert judge(study, answer, earlier) == judge(study, answer) == []
        change = compare_answers([Entry("before", earlier), Entry("after", answer)]).changes[0]
        assert {part.id for part in change.parts_added} == set(new)
        assert {part.id for part in change.parts_dropped} == set(before) - set(after)
        seen.update(kept=len(same), new=len(new), gone=len(before) - len(same))
        data, earlier = edited, load_answer(answer.to_json())


@pytest.mark.cases(fast=1, slow=11)
@pytest.mark.parametrize("first", range(0, SEEDS, CHUNK))
def test_over_random_revisions_every_same_ring_keeps_its_name(first: int) -> None:
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        chain(seed, seen)
    assert min(seen["kept"], seen["new"], seen["gone"]) > 2, seen


def test_a_number_never_comes_back_not_even_for_the_same_ring() -> None:
    """Three revisions: a joint goes, comes back, and yet another comes."""
    whole, short = small(), small()
    del short["robots"][0]["joints"][0]
    first = solve(load(whole))
    second = solve(load(short), previous=first)
    third = solve(load(whole), previous=second)
    more = small()
    more["robots"][0]["joints"].append(joint("tiny", 20.0, tip_min_mm=42.0))
    fourth = solve(load(more), previous=third)
    assert [names(answer) for answer in (first, second, third, fourth)] == [
        ["R1", "R2"], ["R1"], ["R1", "R3"], ["R1", "R3", "R4"],
    ]  # fmt: skip
    assert [one.part_numbers and one.part_numbers.retired for one in (second, third, fourth)] == [
        ["R2"], ["R2"], ["R2"],
    ]  # fmt: skip


def test_a_certificate_is_the_same_whatever_rings_are_called() -> None:
    data = small()
    study, plain = load(data), solve_certified(load(data))
    assert plain.certificate is not None
    earlier = renamed(plain.answer, {"R1": "OLD-7", "R2": "OLD-3"})
    kept = solve_certified(study, previous=earlier)
    assert names(kept.answer) == ["OLD-3", "OLD-7"]
    assert kept.certificate is not None
    assert kept.certificate.to_json() == plain.certificate.to_json()
    assert certify(study, kept.answer).to_json() == certify(study, plain.answer).to_json()


# -- earlier answers that are refused --------------------------------------------------------------


def with_id(answer: Answer, place: int, name: str) -> Answer:
    return renamed(answer, {answer.ring_parts[place].id: name})


def on_first_ring(answer: Answer, name: str) -> Answer:
    ring = answer.rings[0].model_copy(update={"ring_part": name})
    return answer.model_copy(update={"rings": [ring, *answer.rings[1:]]})


def doubled(answer: Answer) -> Answer:
    """Return an answer that lists a further part, of the same sizes and under another name."""
    more = answer.ring_parts[0].model_copy(update={"id": "R7"})
    return answer.model_copy(update={"ring_parts": [*answer.ring_parts, more]})


def impossible() -> Answer:
    return solve(load_study((SCENARIOS / "impossible_wrist.json").read_bytes()))


def retired(answer: Answer, *gone: str) -> Answer:
    told = PartNumbers.model_construct(kept=names(answer), retired=list(gone))
    return answer.model_copy(update={"part_numbers": told})


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (lambda a: impossible(), "previous.rings: given none (impossible); allowed: the last answer"),
        (lambda a: with_id(a, 0, "ring"), 'previous.ring_parts[0].id: given "ring"; allowed: a prefix'),
        (lambda a: with_id(a, 0, "R0"), 'ring_parts[0].id: given "R0"; allowed: a prefix and a number'),
        (lambda a: with_id(a, 0, "R01"), 'given "R01"; allowed: a prefix and a number'),
        (lambda a: with_id(a, 1, "../R2"), 'given "../R2"; allowed: a prefix and a number'),
        (lambda a: with_id(a, 1, "=R2"), 'given "=R2"; allowed: a prefix and a number'),
        (lambda a: with_id(a, 1, "R2\n"), 'given "R2\\n"; allowed: a prefix and a number'),
        (lambda a: with_id(a, 1, "R 2"), 'given "R 2"; allowed: a prefix and a number'),
        (lambda a: with_id(a, 1, "R\u0662"), "allowed: a prefix and a number"),
        (lambda a: with_id(a, 1, "Q" * 25 + "2"), "allowed: a prefix and a number"),
        (lambda a: with_id(a, 1, "R1000000001"), "allowed: a number up to 1000000000"),
        (lambda a: with_id(a, 1, "R1"), 'ring_parts[1].id: given "R1"; allowed: another number than'),
        (lambda a: with_id(a, 1, "RX-1"), 'given "RX-1"; allowed: another number than that of R1'),
        (lambda a: retired(a, "RX-2"), 'part_numbers.retired[0]: given "RX-2"; allowed: another number'),
        (lambda a: retired(a, "x"), 'part_numbers.retired[0]: given "x"; allowed: a prefix'),
        (lambda a: on_first_ring(a, "R9"), 'rings[0].ring_part: given "R9"; allowed: one of ring_parts'),
        (lambda a: on_first_ring(a, "R1"), 'rings[1].ring_part: given "R1"; allowed: one name for each'),
        (doubled, 'ring_parts[2].id: given "R7"; allowed: the name of some ring'),
        (
            lambda a: on_first_ring(doubled(a.model_copy(update={"rings": a.rings[1:] * 2})), "R7"),
            "allowed: R7, for it is the same ring",
        ),
    ],
)  # fmt: skip
def test_an_earlier_answer_whose_names_cannot_be_kept_is_refused(change: Any, fault: str) -> None:
    study = load(small())
    first = solve(study, certified=False)
    assert names(first) == ["R1", "R2"]
    wrong = change(first)
    for ask in (lambda: solve(study, previous=wrong), lambda: judge(study, first, wrong)):
        with pytest.raises(StudyError) as caught:
            ask()
        assert fault in str(caught.value)
