"""What helps to state a study and to understand a ring, answered at once."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from anyio.to_thread import run_sync
from fastapi import APIRouter, Query
from starlette.requests import Request
from starlette.responses import Response

from ringset import (
    Study,
    StudyError,
    ToothOutline,
    alternatives_among,
    error_changes,
    find_joint,
    outline_of_tooth,
    rate_one,
    study_fields,
)
from ringset.api.contract.assistance import (
    Advice,
    AdviceRequest,
    FieldList,
    Grounds,
    GroundsRequest,
    ScenarioList,
    contract_example_scenarios,
)
from ringset.api.contract.examples import ADVICE_EXAMPLES, GROUNDS_EXAMPLES
from ringset.api.contract.request_body import contract_read_body, contract_read_study_body
from ringset.api.problems import FieldProblem, Problem, problem_of_faults
from ringset.api.routes.http import route_body_entry, route_json_response, route_problems
from ringset.api.service.service import ServiceDep

router = APIRouter(prefix="/v1", tags=["aids"])


@router.get(
    "/fields", operation_id="list_fields", summary="List every field of a study",
    response_model=FieldList, responses=route_problems(),
)  # fmt: skip
async def list_fields() -> dict[str, Any]:
    """List every field with unit, default, limits and what it means: all that a form needs."""
    return {"fields": study_fields()}


@router.get(
    "/scenarios", operation_id="list_scenarios", summary="List studies to start from",
    response_model=ScenarioList, responses=route_problems(),
)  # fmt: skip
async def list_scenarios() -> dict[str, Any]:
    """List studies of invented robots, possible and impossible ones."""
    return {"scenarios": [about for about, _ in contract_example_scenarios().values()]}


@router.get(
    "/scenarios/{name}", operation_id="get_scenario", summary="Read a study to start from",
    response_model=Study, responses=route_problems(404),
)  # fmt: skip
async def get_scenario(name: str) -> Response:
    """Read a scenario as it can be submitted."""
    if name not in contract_example_scenarios():
        raise Problem("not-found", f"Scenarios: {', '.join(contract_example_scenarios())}.")
    return route_json_response(contract_example_scenarios()[name][1])


@router.get(
    "/outlines", operation_id="get_outline", summary="Read the true shape of a tooth",
    response_model=ToothOutline, responses=route_problems(422),
)  # fmt: skip
async def get_outline(
    module_mm: Annotated[float, Query(ge=0.05, le=50.0)],
    teeth: Annotated[int, Query(ge=5, le=10_000)],
    rack: Annotated[Literal["full", "stub"], Query(description="Tooth depth.")] = "full",
    profile_shift: Annotated[float, Query(ge=-0.5, le=0.8)] = 0.0,
    chord_um: Annotated[
        float, Query(ge=0.1, le=100.0, description="Largest distance of a chord from the curve.")
    ] = 2.0,
    depth_modules: Annotated[
        float | None,
        Query(ge=2.25, le=2.8, description="Whole depth over module of a deeper cutter."),
    ] = None,
) -> Response:
    """Read one pitch of a ring's outline, to be turned `teeth` times; lengths in mm."""
    try:
        outline = await run_sync(
            outline_of_tooth, module_mm, teeth, rack, profile_shift, chord_um, depth_modules
        )
    except StudyError as error:
        errors = [
            FieldProblem(pointer="", detail=f"query {fault.path}: {fault.allowed}")
            for fault in error.faults
        ]
        raise Problem("invalid", "There is no such tooth.", errors) from None
    headers = {"Cache-Control": "private, max-age=86400"}
    return route_json_response(outline.model_dump_json().encode(), 200, headers)


@router.post(
    "/advice", operation_id="advise_ring", summary="Tell what would lower a ring's error",
    response_model=Advice, responses=route_problems(408, 413, 415, 422),
    openapi_extra=route_body_entry("AdviceRequest", ADVICE_EXAMPLES),
)  # fmt: skip
async def advise_ring(request: Request, service: ServiceDep) -> Response:
    """Rate the ring again with one thing changed at a time and tell which changes help most.

    A change that breaks another limit of the joint is told too, marked so.
    """
    raw = await contract_read_body(request, service.settings)
    return route_json_response(await run_sync(_advise, raw))


def _advise(raw: bytes) -> dict[str, Any]:
    body = contract_read_study_body(raw, AdviceRequest)
    study = body.study
    try:
        robot, joint = find_joint(study, body.joint, body.robot)
        ring, _ = rate_one(
            study, robot, joint, body.module_mm, body.teeth, body.bore_mm, body.heads,
            body.second_teeth or 0,
        )  # fmt: skip
    except StudyError as error:
        raise problem_of_faults("There is no such ring.", error, raw) from None
    changes = error_changes(study, robot, joint, ring)
    return {
        "error_arcsec": ring.error_arcsec,
        "changes": [change.model_dump(mode="json") for change in changes],
    }


@router.post(
    "/grounds", operation_id="explain_ring", summary="Tell why a ring is as it is",
    response_model=Grounds, responses=route_problems(408, 413, 415, 422),
    openapi_extra=route_body_entry("GroundsRequest", GROUNDS_EXAMPLES),
)  # fmt: skip
async def explain_ring(request: Request, service: ServiceDep) -> Response:
    """Rate rings beside the one that stands and tell what each would break, cost or save.

    More and fewer teeth, a thinner and a thicker rim, fewer and more heads, a part of its own, the other
    ring parts; a change of a shared ring part is made on all its joints. Nothing is solved, only rated:
    that no other ring at all is better is what the proof of the answer says.
    """
    raw = await contract_read_body(request, service.settings)
    return route_json_response(await run_sync(_grounds, raw))


def _grounds(raw: bytes) -> dict[str, Any]:
    body = contract_read_study_body(raw, GroundsRequest)
    try:
        found = alternatives_among(
            body.study, body.rings, *find_joint(body.study, body.joint, body.robot),
            body.material_unit_kg, body.cost_unit,
        )  # fmt: skip
    except StudyError as error:
        raise problem_of_faults("These rings do not stand on this study.", error, raw) from None
    return {"grounds": [ground.model_dump(mode="json") for ground in found]}
