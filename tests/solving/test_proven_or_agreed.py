"""An answer is proven only where our own check of its certificate agrees; else it is agreed on."""

from __future__ import annotations

import json
import time
from collections import Counter
from pathlib import Path

import pytest

from ringset import certify, solve_certified, verify_certificate
from ringset.analysis.comparison.compare import Entry, compare_answers
from ringset.analysis.front.front import find_front
from ringset.analysis.next_steps.steps import next_wish_steps
from ringset.api.workers import tasks
from ringset.cli import main
from ringset.errors import StudyError
from ringset.reporting.answer_text import answer_text
from ringset.reporting.front_text import front_text
from ringset.reporting.wishes_text import steps_text
from ringset.schema.answer import Answer
from ringset.schema.loading import load_answer
from ringset.schema.study import Study
from ringset.solving import certify as certifying
from ringset.solving import proving
from ringset.solving.pipeline import solve, solve_in_full
from ringset.solving.proof_tree import GivenUp
from ringset.verification.certificate.document import Certificate
from ringset.verification.certificate.verify import Verification
from ringset.verification.judge.judge import judge
from tests.support.studies import load, random_study, small, two_robots, without_money

#: Random studies, and how many stand in one test.
STUDIES, CHUNK = 60, 4


def _give_up(*_: object, **__: object) -> object:
    raise GivenUp("nodes")


@pytest.fixture(name="unproven")
def _unproven(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no proof of the last wish be found: neither rounds nor a tree."""
    rounds = certifying._Writer._rounds

    def none(writer: certifying._Writer, claim: object, *more: object, **named: object) -> object:
        found = rounds(writer, claim, *more, **named)  # type: ignore[arg-type]
        last = getattr(claim, "stage", "") == "material"
        return certifying._Rounds(None, [], found.rest) if last else found

    monkeypatch.setattr(certifying._Writer, "_rounds", none)
    monkeypatch.setattr(certifying._Writer, "_tree", _give_up)


def test_no_certificate_of_one_wish_is_told_at_every_door(
    unproven: None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = [tmp_path / name for name in ("s.json", "a.json", "c.json")]
    files[0].write_text(json.dumps(small()))
    solving = [
        "solve",
        "--bare",
        str(files[0]),
        "--answer",
        str(files[1]),
        "--certificate",
        str(files[2]),
    ]
    assert main.main(solving) == 0
    said = capsys.readouterr().out
    assert said.splitlines()[0].startswith("Agreed, not proven. The search engines agree that")
    assert "material: the search engines agree that nothing less is possible, but it is not" in said
    assert "not proven" in next(line for line in said.splitlines() if "material:" in line)
    assert "cutters: 1, proven least" in said
    answer = load_answer(files[1].read_text())
    assert [stage.agreed for stage in answer.proof.stages] == [False, False, False, True]
    assert answer.proof.repeatable  # no clock decided it
    assert main.main(["judge", *map(str, files[:2])]) == 0
    assert "The answer states: agreed." in capsys.readouterr().out
    assert main.main(["judge", *map(str, files[:2]), "--certificate", str(files[2])]) == 4
    assert "material: not verified; by search; no certificate" in capsys.readouterr().out


def test_fronts_steps_comparisons_and_the_service_tell_it_too(unproven: None) -> None:
    study = load(small())
    solved = solve_in_full(study)
    assert solved.answer.status == "agreed"
    steps = next_wish_steps(solved)
    assert steps.status == "agreed"
    assert all(step.settled and not step.proven for step in steps.steps)
    assert "solved anew; agreed, not proven)" in " ".join(steps_text(steps).split())
    found = find_front(study, ["cutters", "ring_parts", "material"])
    assert {point.answer.status for point in found.points} == {"agreed"}
    assert "None of them is proven best in its cell" in front_text(found)
    answer = solved.answer
    better = answer.model_copy(
        update={"status": "proven", "reasons": [], "proof": _all_verified(answer)}
    )
    changes = compare_answers([Entry("proven", better), Entry("agreed", answer)]).changes
    assert "best as the search engines agree, not proven" in changes[0].summary
    status, reusable, document = tasks.perform_task(
        "answer", study.model_dump_json().encode(), {}, _quiet
    )
    assert (status, reusable) == ("agreed", True)
    assert json.loads(document)["reasons"]


def _quiet(*_: object) -> None:
    """Tell nobody of progress."""


def _all_verified(answer: Answer) -> object:
    stages = [stage.model_copy(update={"agreed": False}) for stage in answer.proof.stages]
    return answer.proof.model_copy(update={"stages": stages})


def test_a_certificate_that_its_check_refuses_proves_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    refused = Verification(["stages: other ones"])
    monkeypatch.setattr(proving, "verify_certificate_on_rows", lambda *_: refused)
    answer = solve(load(small()))
    assert answer.status == "agreed"
    assert all("(stages: other ones)" in reason for reason in answer.reasons)
    assert len(answer.reasons) == len(answer.proof.stages)


def test_time_that_is_over_before_the_check_leaves_an_answer_agreed() -> None:
    study = load(small())
    answer = solve(study, begun=time.monotonic() - study.search.time_limit_s)
    assert answer.status == "agreed"
    assert not answer.proof.repeatable
    assert answer.reasons[0] == (
        "cutters: the search engines agree that nothing less is possible, but it is not proven: "
        "the time ended before a certificate was found"
    )
    assert judge(study, answer) == []
    assert "Agreed, not proven." in answer_text(study, answer, {})


def test_without_a_certificate_nothing_is_called_proven() -> None:
    answer = solve(load(small()), certified=False)
    assert (answer.status, {stage.agreed for stage in answer.proof.stages}) == ("agreed", {True})


@pytest.fixture(scope="module", name="proven")
def _proven() -> tuple[Study, Answer]:
    study = load(two_robots())
    return study, solve(study)


def test_the_judge_refuses_what_is_stated_too_well(proven: tuple[Study, Answer]) -> None:
    study, answer = proven
    assert answer.status == "proven"
    assert judge(study, answer) == []

    def judged(stage: dict[str, object], **update: object) -> str:
        first, *rest = answer.proof.stages
        stages = [first.model_copy(update=stage), *rest]
        proof = answer.proof.model_copy(update={"stages": stages})
        return "\n".join(judge(study, answer.model_copy(update={"proof": proof, **update})))

    assert "the engines only agree on some wish" in judged({"agreed": True})
    assert judged({"agreed": True}, status="agreed", reasons=["the time ended"]) == ""
    assert "reasons: none although the status is agreed" in judged(
        {"agreed": True}, status="agreed"
    )
    assert "reasons say why it is not" in judged({}, reasons=["the time ended"])
    open_bound = {"agreed": True, "confirmed_by": "nothing"}
    text = judged(open_bound, status="agreed", reasons=["the time ended"])
    assert "status: agreed, yet some wish has a bound that differs or is not confirmed" in text
    assert "proof.stages.cutters: agreed on, yet its bound differs" in text


def test_answers_of_earlier_versions_still_load(proven: tuple[Study, Answer]) -> None:
    """They have no word on certificates, as the wishes of a proven answer have none today."""
    study, answer = proven
    assert '"agreed"' not in answer.to_json()
    again = load_answer(answer.to_json())
    assert again.status == "proven"
    assert judge(study, again) == []


def test_the_certificate_at_hand_is_the_one_that_is_written(proven: tuple[Study, Answer]) -> None:
    solved = solve_in_full(proven[0])
    assert isinstance(solved.certificate, Certificate)
    written = certifying.solved_certificate(solved)
    assert written.model_copy(update={"seal": ""}) == solved.certificate
    assert verify_certificate(proven[0], solved.answer, written).complete


@pytest.mark.cases(fast=1, slow=3)
@pytest.mark.parametrize("first", range(0, STUDIES, CHUNK))
def test_proven_is_what_a_certificate_verifies(first: int) -> None:
    """Certificates are made anew, of the answer alone, and checked on rows that are rated anew."""
    seen: Counter[str] = Counter()
    for seed in range(first, first + CHUNK):
        study = without_money(random_study(seed))
        try:
            solved = solve_in_full(study)
        except StudyError:
            continue
        answer = solved.answer
        seen[answer.status] += 1
        if not answer.rings:
            continue
        mine = certifying.solved_certificate(solved)
        found = verify_certificate(study, answer, mine)
        assert (answer.status == "proven") == found.complete, seed
        if answer.status == "proven":
            assert verify_certificate(study, answer, certify(study, answer)).complete, seed
    assert sum(seen.values()) == CHUNK


def test_an_answer_may_be_asked_for_with_its_certificate() -> None:
    study = load(small())
    both = solve_certified(study)
    assert both.answer == solve(study)
    assert both.certificate is not None
    assert verify_certificate(study, both.answer, both.certificate).complete
    data = small()
    data["target"]["angle_target_arcsec"] = 0.001
    nothing = solve_certified(load(data))
    assert nothing.answer.status == "impossible"
    assert nothing.certificate is None
