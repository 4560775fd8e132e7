"""What is answered at once, without a worker: rate one ring, judge an answer."""

from __future__ import annotations

import json
from typing import Any, TypeVar

from anyio.to_thread import run_sync
from fastapi import APIRouter
from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import Response

from api.body import read_body
from api.documents import Judgement, JudgeRequest, RateRequest, Rating
from api.examples import RATE_EXAMPLES
from api.problems import FieldProblem, Problem, map_faults, of_study_error
from api.routes.answers import body_of, json_response, problems
from api.service import Here
from optimizer import (
    Fault,
    Study,
    StudyError,
    bore_for_rim,
    find_joint,
    judge_answer,
    rate_one,
    read_model,
    study_faults,
    teeth_for_tip,
)

router = APIRouter(prefix="/v1", tags=["at once"])
Model = TypeVar("Model", bound=BaseModel)


@router.post(
    "/ratings",
    operation_id="rate_ring",
    summary="Rate one ring on one joint",
    response_model=Rating,
    responses=problems(408, 413, 415, 422),
    openapi_extra=body_of("RateRequest", RATE_EXAMPLES),
)
async def rate_ring(request: Request, here: Here) -> Response:
    """Rate a ring you have in mind: its diameters, error budget and every limit it breaks."""
    raw = await read_body(request, here.settings)
    return json_response(await run_sync(_rate, raw))


@router.post(
    "/judgements",
    operation_id="judge_answer",
    summary="Judge an answer without a solver",
    response_model=Judgement,
    responses=problems(408, 413, 415, 422),
    openapi_extra=body_of("JudgeRequest", {}),
)
async def judge_an_answer(request: Request, here: Here) -> Response:
    """Recompute every limit and total of an answer from its study and name every violation."""
    raw = await read_body(request, here.settings)
    return json_response(await run_sync(_judge, raw))


def _read(raw: bytes, model: type[Model]) -> Model:
    """Return a body that holds a study; raises Problem."""
    try:
        body = read_model(raw, model)
    except StudyError as error:
        raise of_study_error(error, raw) from None
    study: Study = body.study  # type: ignore[attr-defined]
    if faults := study_faults(study):
        named = [Fault(f"study.{fault.path}", fault.given, fault.allowed) for fault in faults]
        raise Problem(
            "invalid", "The study's fields do not agree.", map_faults(named, json.loads(raw))
        )
    return body


def _either(body: RateRequest, one: str, other: str) -> None:
    given = [name for name in (one, other) if getattr(body, name) is not None]
    if len(given) != 1:
        errors = [FieldProblem(pointer=f"/{one}", detail=f"allowed: one of {one} and {other}")]
        raise Problem("invalid", f"{one} and {other}: one of the two is needed.", errors)


def _rate(raw: bytes) -> dict[str, Any]:
    body = _read(raw, RateRequest)
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
        ring, broken = rate_one(study, robot, joint, module_mm, teeth, bore_mm, heads)
    except StudyError as error:
        errors = map_faults(error.faults, json.loads(raw))
        raise Problem("invalid", "There is no such ring.", errors) from None
    return {"ring": ring.model_dump(mode="json"), "broken": broken}


def _judge(raw: bytes) -> dict[str, Any]:
    body = _read(raw, JudgeRequest)
    violations = judge_answer(body.study, body.answer)
    return {"violations": violations, "sound": not violations}
