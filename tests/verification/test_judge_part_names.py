"""The judge refuses every wrong naming of ring parts: one thing at a time is changed in good answers."""

from __future__ import annotations

import copy
import json
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from typing import NamedTuple

import pytest

from ringset.errors import StudyError
from ringset.schema.answer import Answer
from ringset.schema.answer_checks import answer_range_faults
from ringset.schema.loading import load_answer, load_study
from ringset.schema.part_numbers import PartNumbers
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.mutated import changed, mutations, values_instead
from tests.support.places import SCENARIOS
from tests.support.revisions import renamed
from tests.support.studies import Json, joint, load

Change = Callable[[Answer], Answer]


class Revision(NamedTuple):
    """A study, its answer and the answer before it."""

    study: Study
    answer: Answer
    before: Answer


def four(**shop: object) -> Json:
    """Return four joints whose rings are four parts."""
    bores = (20.0, 34.0, 48.0, 62.0)
    joints = [joint(f"axis {bore:g}", bore, tip_min_mm=bore + 25.0) for bore in bores]
    return {
        "robots": [{"name": "arm", "joints": joints}],
        "shop": {"modules": [1.0], "bore_step_mm": 1.0, **shop},
        "target": {"angle_target_arcsec": 400.0},
    }


@pytest.fixture(scope="module")
def plain() -> tuple[Study, Answer]:
    study = load(four())
    answer = solve(study, certified=False)
    assert [part.id for part in answer.ring_parts] == ["R1", "R2", "R3", "R4"]
    return study, answer


@pytest.fixture(scope="module")
def third(plain: tuple[Study, Answer]) -> Revision:
    """Return the third revision: R1 went with the second, R2 goes now, RX-5 comes."""
    data = four()
    del data["robots"][0]["joints"][0]
    before = solve(load(data), certified=False, previous=plain[1])
    data = copy.deepcopy(data)
    data["shop"]["part_prefix"] = "RX-"
    data["robots"][0]["joints"][0] = joint("new", 90.0, tip_min_mm=115.0)
    study = load(data)
    answer = solve(study, certified=False, previous=before)
    assert [part.id for part in answer.ring_parts] == ["R3", "R4", "RX-5"]
    assert answer.part_numbers == PartNumbers(kept=["R3", "R4"], retired=["R1", "R2"])
    return Revision(study, answer, before)


def to(**names: str) -> Change:
    """Return the change that gives ring parts other names, everywhere the same; `_` stands for a hyphen."""
    return lambda answer: renamed(
        answer, {name.replace("_", "-"): new for name, new in names.items()}
    )


def told(kept: list[str] | None = None, retired: list[str] | None = None) -> Change:
    """Return the change that states other names as kept or retired."""

    def change(answer: Answer) -> Answer:
        given = {"kept": kept, "retired": retired}
        numbers = answer.part_numbers
        assert numbers is not None
        update = {name: one for name, one in given.items() if one is not None}
        return answer.model_copy(update={"part_numbers": numbers.model_copy(update=update)})

    return change


def both(first: Change, then: Change) -> Change:
    return lambda answer: then(first(answer))


def silent(answer: Answer) -> Answer:
    return answer.model_copy(update={"part_numbers": None})


def test_the_good_answers_are_sound(plain: tuple[Study, Answer], third: Revision) -> None:
    assert judge(*plain) == []
    assert judge(third.study, third.answer) == judge(*third) == []
    # an answer is a revision of itself
    kept = told(kept=["R3", "R4", "RX-5"])(third.answer)
    assert judge(third.study, kept, third.answer) == []


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (to(R4="R5"), "ring_parts: new numbers [1, 2, 3, 5], [1, 2, 3, 4] wanted"),
        (to(R1="R0"), "ring_parts 'R0': no name of a ring part"),
        (to(R1="R01"), "ring_parts 'R01': no name of a ring part"),
        (to(R1="1"), "ring_parts '1': no name of a ring part"),
        (to(R1="ring"), "ring_parts 'ring': no name of a ring part"),
        (to(R1="R 1"), "ring_parts 'R 1': no name of a ring part"),
        (to(R1="../R1"), "ring_parts '../R1': no name of a ring part"),
        (to(R1="=R1"), "ring_parts '=R1': no name of a ring part"),
        (to(R1="-1"), "ring_parts '-1': no name of a ring part"),
        (to(R1="R-1"), "ring_parts R-1: R1 wanted by shop.part_prefix"),
        (to(R1="RX-1"), "ring_parts RX-1: R1 wanted by shop.part_prefix"),
        (to(R1="Rø1"), "ring_parts 'Rø1': no name of a ring part"),
        (to(R1="R²"), "ring_parts 'R²': no name of a ring part"),
        (to(R1="R\u0661"), "ring_parts 'R\u0661': no name of a ring part"),
        (to(R1="Q" * 25 + "1"), "1': no name of a ring part"),
        (to(R1="r2"), "number 2 twice, r2 and R2"),
        (to(R1="R2"), "ring_parts: ['R2', 'R2', 'R3', 'R4'] listed"),
    ],
)
def test_a_wrong_name_of_a_first_answer(
    change: Change, text: str, plain: tuple[Study, Answer]
) -> None:
    study, answer = plain
    violations = judge(study, change(answer))
    assert any(text in violation for violation in violations), violations


def test_only_the_naming_is_wrong_with_a_renamed_answer(plain: tuple[Study, Answer]) -> None:
    study, answer = plain
    assert all("ring_parts" in one for one in judge(study, to(R4="R5")(answer)))


def test_a_name_with_the_prefix_of_another_study(third: Revision) -> None:
    """Without the earlier answer a kept name may have any prefix, a new one only that of its study."""
    assert judge(third.study, to(RX_5="R5")(third.answer)) == [
        "ring_parts R5: RX-5 wanted by shop.part_prefix, for it is a new name"
    ]


#: Wrong whether or not the earlier answer is given to the judge.
ALONE = [
    (to(RX_5="RX-6"), "ring_parts: new numbers [6], [5] wanted"),
    (to(RX_5="RX-2"), "number 2 twice, RX-2 and R2"),
    (to(RX_5="RX-4"), "number 4 twice, R4 and RX-4"),
    (to(RX_5="RX-1"), "number 1 twice, RX-1 and R1"),
    (told(kept=["R3"]), "ring_parts R4: RX-4 wanted by shop.part_prefix"),
    (told(kept=["R3", "R4", "R9"]), "part_numbers.kept: 'R9', which is no name of ring_parts"),
    (told(kept=["R3", "R4", "R4"]), "part_numbers.kept: a name twice"),
    (told(retired=["R1", "R2", "R3"]), "number 3 twice, R3 and R3"),
    (told(retired=["R1", "R2", "R2"]), "number 2 twice, R2 and R2"),
    (told(retired=["R1", "R2", "R7"]), "ring_parts: new numbers [5], [8] wanted"),
    (told(retired=["R1", "R2", "../x"]), "part_numbers.retired: '../x', no name of a ring part"),
    (silent, "ring_parts R3: RX-3 wanted by shop.part_prefix"),
]
#: What only the earlier answer shows.
CHAINED = [
    (to(R3="R4", R4="R3"), "ring_parts R4: R3 wanted, which this ring is in the earlier answer"),
    (
        both(to(R3="RX-5", RX_5="RX-6"), told(kept=["R4"], retired=["R1", "R2", "R3"])),
        "ring_parts RX-5: R3 wanted, which this ring is in the earlier answer",
    ),
    (
        both(to(RX_5="R2"), told(kept=["R2", "R3", "R4"], retired=["R1"])),
        "ring_parts R2: a new ring, yet its name was used in an earlier answer",
    ),
    (
        both(to(RX_5="R1"), told(kept=["R1", "R3", "R4"], retired=["R2"])),
        "ring_parts R1: a new ring, yet its name was used in an earlier answer",
    ),
    (told(kept=["R3", "R4", "RX-5"]), "part_numbers.kept: ['R3', 'R4', 'RX-5'] stated"),
    (told(retired=["R1"]), "part_numbers.retired: ['R1'] stated, ['R1', 'R2'] wanted"),
    (told(retired=["R2"]), "part_numbers.retired: ['R2'] stated, ['R1', 'R2'] wanted"),
    (
        both(told(retired=["R1", "R2", "R5"]), to(RX_5="RX-6")),
        "part_numbers.retired: ['R1', 'R2', 'R5'] stated",
    ),
    (silent, "part_numbers: missing, although an earlier answer is given"),
]


@pytest.mark.parametrize(("change", "text"), ALONE)
def test_a_wrong_name_of_a_revision(change: Change, text: str, third: Revision) -> None:
    wrong = change(third.answer)
    for violations in (judge(third.study, wrong), judge(third.study, wrong, third.before)):
        assert any(text in violation for violation in violations), violations


@pytest.mark.parametrize(("change", "text"), CHAINED)
def test_a_name_that_the_earlier_answer_contradicts(
    change: Change, text: str, third: Revision
) -> None:
    violations = judge(third.study, change(third.answer), third.before)
    assert any(text in violation for violation in violations), violations


def test_what_only_the_earlier_answer_shows_passes_without_it(third: Revision) -> None:
    """So the two lists above are told apart truly; the judge cannot know what it is not given."""
    for change, _ in CHAINED[:-1]:
        assert judge(third.study, change(third.answer)) == []


def test_an_answer_without_rings_states_no_names() -> None:
    study = load_study((SCENARIOS / "impossible_wrist.json").read_bytes())
    answer = solve(study)
    wrong = answer.model_copy(update={"part_numbers": PartNumbers(kept=[], retired=[])})
    assert judge(study, answer) == []
    assert judge(study, wrong) == ["rings: something given although the status is impossible"]


def test_names_outside_their_pattern_are_out_of_range(third: Revision) -> None:
    for list_of in ("kept", "retired"):
        for name in ("../x", "R0", "R1\n", "", "R" * 30 + "1", "1"):
            wrong = told(**{list_of: [name]})(third.answer)
            faults = [str(fault) for fault in answer_range_faults(wrong)]
            assert len(faults) == 1
            assert faults[0].startswith(f"part_numbers.{list_of}[0]: given "), faults
            assert "a prefix and a number from 1" in faults[0]


def test_whatever_stands_in_the_names_is_refused_or_judged(third: Revision) -> None:
    """Every value of the names changed to anything: a fault by field, or violations, and never a failure."""
    tree = json.loads(third.answer.to_json())
    seen: Counter[str] = Counter()
    for path, value in mutations({"part_numbers": tree["part_numbers"]}):
        seen[_met(changed(tree, path, value), third)] += 1
    for place in range(len(tree["ring_parts"])):
        keys = ("ring_parts", place, "id")
        for value in values_instead(tree["ring_parts"][place]["id"]):
            seen[_met(changed(tree, keys, value), third)] += 1
    # null is no list of names but no list at all; a list turned holds the same names
    assert seen.pop("sound") <= 4
    assert min(seen["refused"], seen["judged"]) > 5, seen


def _met(tree: Json, third: Revision) -> str:
    """Return how changed data fares as an answer, and as the answer before it."""
    try:
        answer = load_answer(json.dumps(tree))
    except (StudyError, ValueError):
        return "refused"
    with suppress(StudyError):
        solve(third.study, certified=False, previous=answer)
    return "judged" if judge(third.study, answer, third.before) else "sound"
