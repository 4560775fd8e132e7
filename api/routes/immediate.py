"""What is answered at once, without a worker: rate one ring, judge an answer."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from anyio.to_thread import run_sync
from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from ringset import (
    Comparison,
    Entry,
    StudyError,
    bore_for_rim,
    compare_answers,
    find_joint,
    judge_answer,
    load_answer,
    load_model,
    previous_faults,
    rate_one,
    teeth_for_tip,
    verify_certificate,
)
from ringset.api.contract.examples import COMPARE_EXAMPLES, JUDGE_EXAMPLES, RATE_EXAMPLES
from ringset.api.contract.request_body import contract_read_body, contract_read_study_body
from ringset.api.contract.studies import (
    CompareEntry,
    CompareRequest,
    Judgement,
    JudgeRequest,
    RateRequest,
    Rating,
)
from ringset.api.contract.submission import contract_read_submission
from ringset.api.problems import FieldProblem, Problem, problem_of_faults, problem_of_study_error
from ringset.api.routes.http import route_body_entry, route_json_response, route_problems
from ringset.api.service.service import CallerDep, Service, ServiceDep

router = APIRouter(prefix="/v1", tags=["at once"])


@router.post(
    "/ratings",
    operation_id="rate_ring",
    summary="Rate one ring on one joint",
    response_model=Rating,
    responses=route_problems(408, 413, 415, 422),
    openapi_extra=route_body_entry("RateRequest", RATE_EXAMPLES),
)
async def rate_ring(request: Request, service: ServiceDep) -> Response:
    """Rate a ring you have in mind: its diameters, error budget and every limit it breaks."""
    raw = await contract_read_body(request, service.settings)
    return route_json_response(await run_sync(_rate, raw))


@router.post(
    "/judgements",
    operation_id="judge_answer",
    summary="Judge an answer without a solver",
    response_model=Judgement,
    responses=route_problems(408, 413, 415, 422),
    openapi_extra=route_body_entry("JudgeRequest", JUDGE_EXAMPLES),
)
async def judge_an_answer(request: Request, service: ServiceDep) -> Response:
    """Recompute every limit and total of an answer from its study and name every violation.

    With a certificate, say of every wish whether the proof holds that nothing less is possible.
    """
    raw = await contract_read_body(request, service.settings)
    return route_json_response(await run_sync(_judge, raw))


@router.post(
    "/comparisons",
    operation_id="compare_answers",
    summary="Set answers side by side",
    response_model=Comparison,
    responses=route_problems(404, 408, 409, 413, 415, 422),
    openapi_extra=route_body_entry("CompareRequest", COMPARE_EXAMPLES),
)
async def compare_some_answers(
    request: Request, service: ServiceDep, caller: CallerDep
) -> Response:
    """Tell which rings changed between two to ten answers, and what it did to each total."""
    raw = await contract_read_body(request, service.settings)
    return route_json_response(await run_sync(_compare, service, caller.holder, raw))


def _compare(service: Service, holder: str, raw: bytes) -> bytes:
    try:
        body = load_model(CompareRequest, raw)
    except StudyError as error:
        raise problem_of_study_error(error, raw) from None
    entries = [_entry(service, holder, place, entry) for place, entry in enumerate(body.entries)]
    try:
        return compare_answers(entries).model_dump_json().encode()
    except ValueError as error:
        lines = [line.rpartition("; allowed: ") for line in str(error).splitlines()]
        errors = [
            FieldProblem(
                pointer="/entries", detail=f"{said.partition(': given')[0]}: allowed: {allowed}"
            )
            for said, mark, allowed in lines
            if mark
        ]
        raise Problem("invalid", "These answers cannot be compared.", errors) from None


def _entry(service: Service, holder: str, place: int, entry: CompareEntry) -> Entry:
    """Return an entry with its answer, and its study where the store holds it."""
    if (entry.study_id is None) == (entry.answer is None):
        where = FieldProblem(
            pointer=f"/entries/{place}", detail="allowed: one of study_id and answer"
        )
        raise Problem("invalid", "An entry needs one of the two.", [where])
    if entry.study_id is None:
        assert entry.answer is not None
        return Entry(entry.name, entry.answer)
    job = service.store.get(entry.study_id, holder)
    if job is None or job.kind != "answer":
        raise Problem(
            "not-found", f"Entry {place} names no study of yours that asked for an answer."
        )
    if job.result is None:
        code = "not-ready" if job.open else "no-result"
        raise Problem(code, f"The study of entry {place} has no answer.")
    answer = load_answer(service.kept(job.result))
    study = contract_read_submission(service.kept(job.body)).study
    return Entry(entry.name, answer, study)


def _either(body: RateRequest, one: str, other: str) -> None:
    given = [name for name in (one, other) if getattr(body, name) is not None]
    if len(given) != 1:
        errors = [FieldProblem(pointer=f"/{one}", detail=f"allowed: one of {one} and {other}")]
        raise Problem("invalid", f"{one} and {other}: one of the two is needed.", errors)


def _rate(raw: bytes) -> dict[str, Any]:
    body = contract_read_study_body(raw, RateRequest)
    _either(body, "teeth", "tip_mm")
    _either(body, "bore_mm", "rim_mm")
    study, module_mm = body.study, body.module_mm
    try:
        robot, joint = find_joint(study, body.joint, body.robot)
        teeth = body.teeth
        if teeth is None:
            teeth = teeth_for_tip(study, module_mm, body.tip_mm or 0.0)
        bore_mm = body.bore_mm
        if bore_mm is None:
            bore_mm = bore_for_rim(study, module_mm, teeth, body.rim_mm or 0.0)
        heads = min(joint.head_counts) if body.heads is None else body.heads
        ring, broken = rate_one(
            study, robot, joint, module_mm, teeth, bore_mm, heads, body.second_teeth or 0
        )
    except StudyError as error:
        raise problem_of_faults("There is no such ring.", error, raw) from None
    return {"ring": ring.model_dump(mode="json"), "broken": broken}


def _judge(raw: bytes) -> dict[str, Any]:
    body = contract_read_study_body(raw, JudgeRequest)
    if body.previous is not None and (faults := previous_faults(body.previous)):
        raise problem_of_faults("The names cannot be kept.", StudyError(faults), raw)
    violations = judge_answer(body.study, body.answer, body.previous)
    found: dict[str, Any] = {"violations": violations, "sound": not violations}
    return found if body.certificate is None else {**found, "certificate": _checked(body)}


def _checked(body: JudgeRequest) -> dict[str, Any]:
    assert body.certificate is not None
    found = verify_certificate(body.study, body.answer, body.certificate)
    return {
        "complete": found.complete,
        "refused": found.refused,
        "faults": found.faults,
        "stages": [asdict(stage) for stage in found.stages],
    }
