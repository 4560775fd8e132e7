"""What the service can tell of itself and of the standards it uses."""

from __future__ import annotations

from typing import Any, get_args

from anyio.to_thread import run_sync
from fastapi import APIRouter
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest
from starlette.requests import Request
from starlette.responses import Response

from ringset import standards_table, standards_tables
from ringset.api.contract.questions import Find
from ringset.api.contract.studies import About, Health, ProblemType, StandardsTable, TableList
from ringset.api.problems import FAILURES, PROBLEMS, Problem
from ringset.api.routes.http import route_problems
from ringset.api.service.content_hash import service_versions
from ringset.api.service.service import ServiceDep

router = APIRouter()


@router.get(
    "/livez", tags=["service"], operation_id="is_alive", summary="Whether the service lives",
    response_model=Health, responses=route_problems(),
)  # fmt: skip
async def is_alive() -> dict[str, str]:
    """Answer as long as the service turns; asks nothing of the store."""
    return {"status": "ok"}


@router.get(
    "/readyz", tags=["service"], operation_id="is_ready", summary="Whether studies can be worked on",
    response_model=Health, responses=route_problems(),
)  # fmt: skip
async def is_ready(service: ServiceDep) -> dict[str, str]:
    """Answer 200 if the store was written a moment ago and a worker is at hand, else 503."""
    if service.notifications.stopping.is_set():
        raise Problem("stopping", headers={"Retry-After": "5"})
    if not service.supervisor.ready:
        raise Problem(
            "store-unavailable", "Store or workers are not ready.", headers={"Retry-After": "1"}
        )
    return {"status": "ok"}


@router.get(
    "/metrics", tags=["service"], operation_id="read_metrics", summary="Metrics for Prometheus",
    response_class=Response,
    responses={200: {"content": {"text/plain": {"schema": {"type": "string"}}}}, **route_problems()},
)  # fmt: skip
async def read_metrics(request: Request) -> Response:
    """Read calls, times, queue and workers in the text format of Prometheus."""
    text = await run_sync(generate_latest, request.app.state.metrics.registry)
    return Response(text, media_type=CONTENT_TYPE_LATEST)


@router.get(
    "/v1/about", tags=["service"], operation_id="about", summary="Versions and limits",
    response_model=About, responses=route_problems(),
)  # fmt: skip
async def about(service: ServiceDep) -> dict[str, Any]:
    """Tell versions, limits, and how long results are kept."""
    days = service.settings.keep_days
    return {
        "versions": service_versions(),
        "schema_version": 1,
        "finds": list(get_args(Find)),
        "limits": service.about(),
        "expiry": f"A study is forgotten with its result {days:g} days after it ended; one that has not "
        "ended is never forgotten.",
    }


@router.get(
    "/v1/standards", tags=["standards"], operation_id="list_standards", summary="List tables",
    response_model=TableList, responses=route_problems(),
)  # fmt: skip
async def list_standards() -> dict[str, Any]:
    """List the tables taken from published standards."""
    return {"tables": list(standards_tables())}


@router.get(
    "/v1/standards/{name}", tags=["standards"], operation_id="get_standard", summary="Read a table",
    response_model=StandardsTable, responses=route_problems(404),
)  # fmt: skip
async def get_standard(name: str) -> dict[str, Any]:
    """Read a table; every row names its source."""
    if name not in standards_tables():
        raise Problem("not-found", f"Tables: {', '.join(standards_tables())}.")
    rows = standards_table(name)
    return {"name": name, "columns": list(rows[0]), "rows": rows}


@router.get(
    "/v1/problems/{code}", tags=["service"], operation_id="get_problem", summary="What a problem means",
    response_model=ProblemType, responses=route_problems(404),
)  # fmt: skip
async def get_problem(code: str) -> dict[str, Any]:
    """Read what a problem's `type` stands for."""
    if code in PROBLEMS:
        status, title, advice = PROBLEMS[code]
    elif code in FAILURES:
        status, title, advice = (
            200,
            FAILURES[code],
            "The study has failed; see its problem's detail.",
        )
    else:
        raise Problem("not-found")
    return {"code": code, "title": title, "status": status, "advice": advice}
