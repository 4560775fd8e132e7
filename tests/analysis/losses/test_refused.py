"""An answer of which nothing can be lost is refused by field, with what was given and what is allowed."""

from __future__ import annotations

import pytest

from ringset import StudyError, find_losses, solve
from ringset.schema.study import Study
from tests.support.studies import load, small


@pytest.fixture(scope="module", name="study")
def _study() -> Study:
    return load(small())


def refusal(study: Study, answer: object) -> str:
    with pytest.raises(StudyError) as raised:
        find_losses(study, answer)  # type: ignore[arg-type]
    return str(raised.value)


def test_an_answer_of_another_study(study: Study) -> None:
    answer = solve(study)
    other = study.model_copy(update={"title": "another"})
    text = refusal(other, answer)
    given, allowed = answer.study_sha256[:16], other.fingerprint()[:16]
    assert text == (
        f"answer.study_sha256: given {given}...; allowed: {allowed}..., the fingerprint of this study"
    )


def test_an_answer_without_rings(study: Study) -> None:
    data = small()
    data["target"]["angle_target_arcsec"] = 0.01
    tight = load(data)
    text = refusal(tight, solve(tight))
    assert text.startswith(
        "answer.rings: given none, for its status is impossible; allowed: one with"
    )


def test_an_answer_in_which_the_judge_finds_a_fault(study: Study) -> None:
    answer = solve(study)
    assert answer.totals is not None
    totals = answer.totals.model_copy(update={"heads": answer.totals.heads + 1})
    text = refusal(study, answer.model_copy(update={"totals": totals}))
    assert text.startswith("answer: given one with a fault (totals.heads: ")
    assert text.endswith("allowed: an answer in which the judge finds no fault")


def test_a_study_whose_fields_do_not_agree(study: Study) -> None:
    robot = study.robots[0]
    joint = robot.joints[0].model_copy(update={"bore_min_mm": 90.0, "bore_max_mm": 80.0})
    robots = [robot.model_copy(update={"joints": [joint, *robot.joints[1:]]})]
    text = refusal(study.model_copy(update={"robots": robots}), solve(study))
    assert "bore_m" in text
    assert "answer" not in text
