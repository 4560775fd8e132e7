"""Sweeps: many changed studies submitted at once, and the table that comes of them."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Annotated, Any

from anyio.to_thread import run_sync
from fastapi import APIRouter, Depends, Path
from fastapi.sse import EventSourceResponse, ServerSentEvent
from starlette.requests import Request
from starlette.responses import Response

from ringset import Study, StudyError, load_study, sweep_study
from ringset.api.contract.examples import SWEEP_EXAMPLES
from ringset.api.contract.request_body import contract_read_body
from ringset.api.contract.sweeps import (
    SweepList,
    SweepRowPage,
    SweepState,
    contract_sweep_row,
    contract_sweep_state,
)
from ringset.api.problems import Problem
from ringset.api.routes.http import (
    Cursor,
    IdempotencyKey,
    LastEventId,
    Limit,
    Prefer,
    route_body_entry,
    route_json_response,
    route_matches_entity_tag,
    route_prefer_wait_s,
    route_problems,
    route_retry_after_headers,
)
from ringset.api.service.notifications import service_await_notification
from ringset.api.service.service import LOOK_S, CallerDep, Service, ServiceDep
from ringset.api.service.sweep_plan import service_sweep_csv_table
from ringset.api.store.hashing import stored_sha256
from ringset.api.store.sweeps import Sweep

router = APIRouter(prefix="/v1/sweeps", tags=["sweeps"])


@router.post(
    "",
    operation_id="submit_sweep",
    summary="Submit a sweep",
    status_code=202,
    response_model=SweepState,
    responses={
        200: {"model": SweepState, "description": "Ended, now or before"},
        202: {"description": "Accepted; look again where Location says"},
        **route_problems(408, 413, 415, 422),
    },
    openapi_extra=route_body_entry("SweepRequest", SWEEP_EXAMPLES),
)
async def submit_sweep(
    request: Request,
    service: ServiceDep,
    caller: CallerDep,
    idempotency_key: IdempotencyKey = None,
    prefer: Prefer = None,
) -> Response:
    """Accept a study and the changes to it; every changed study becomes a row of a table.

    Rows wait behind the caller's studies, fail alone, and are not solved again by another sweep.
    """
    raw = await contract_read_body(request, service.settings)
    sweep = await run_sync(service.accept_sweep, caller.holder, raw, idempotency_key)
    headers = {"Location": f"/v1/sweeps/{sweep.id}"}
    wait = route_prefer_wait_s(request)
    if sweep.open and wait is not None:
        headers["Preference-Applied"] = f"wait={min(wait, service.settings.wait_max_s):g}"
        sweep = await service.ended(sweep, wait, request)
    status = 202 if sweep.open else 200
    return route_json_response(
        contract_sweep_state(sweep), status, headers | route_retry_after_headers(sweep)
    )


@router.get(
    "",
    operation_id="list_sweeps",
    summary="List your sweeps, newest first",
    response_model=SweepList,
    response_model_exclude_none=True,
    responses=route_problems(422),
)
async def list_sweeps(
    service: ServiceDep, caller: CallerDep, cursor: Cursor = None, limit: Limit = 50
) -> Any:
    """List what you have submitted and has not expired."""
    before = None if cursor is None else int(cursor)
    found = await run_sync(service.sweeps.listed, caller.holder, before, limit + 1)
    page: dict[str, Any] = {"sweeps": [contract_sweep_state(sweep) for sweep in found[:limit]]}
    if len(found) > limit:
        page["next"] = str(found[limit - 1].number)
    return page


@router.get(
    "/{sweep_id}",
    operation_id="get_sweep",
    summary="Read how a sweep stands",
    response_model=SweepState,
    responses=route_problems(404),
)
async def get_sweep(sweep_id: str, service: ServiceDep, caller: CallerDep) -> Response:
    """Read its state and how many rows stand how."""
    sweep = await service.find_sweep(sweep_id, caller)
    headers = {"Cache-Control": "no-cache"} | route_retry_after_headers(sweep)
    return route_json_response(contract_sweep_state(sweep), 200, headers)


@router.get(
    "/{sweep_id}/rows",
    operation_id="get_sweep_rows",
    summary="Read rows of a sweep",
    response_model=SweepRowPage,
    response_model_exclude_none=True,
    responses=route_problems(404, 422),
)
async def get_sweep_rows(
    sweep_id: str, service: ServiceDep, caller: CallerDep, cursor: Cursor = None, limit: Limit = 50
) -> Any:
    """Read what changed in each row and what became of it, as far as it has; nothing is rounded."""
    sweep = await service.find_sweep(sweep_id, caller)
    found = await run_sync(service.sweeps.rows, sweep.number, int(cursor or 0), limit + 1)
    page: dict[str, Any] = {"rows": [contract_sweep_row(row, sweep.paths) for row in found[:limit]]}
    if len(found) > limit:
        page["next"] = str(found[limit].place)
    return page


@router.get(
    "/{sweep_id}/rows/{row}/study",
    operation_id="get_row_study",
    summary="Fetch the study of a row",
    response_model=Study,
    responses=route_problems(404, 409, 422),
)
async def get_row_study(
    sweep_id: str, row: Annotated[int, Path(ge=0, le=9_999)], service: ServiceDep, caller: CallerDep
) -> Response:
    """Fetch the changed study of a row, ready to be submitted for its whole answer."""
    sweep = await service.find_sweep(sweep_id, caller)
    return route_json_response(await run_sync(_row_study, service, sweep, row))


def _row_study(service: Service, sweep: Sweep, place: int) -> bytes:
    found = service.sweeps.rows(sweep.number, place, 1)
    if not found:
        raise Problem("not-found")
    changes = dict(zip(sweep.paths, found[0].cells, strict=True))
    study = load_study(service.kept(sweep.study))
    try:
        return sweep_study(study, changes).model_dump_json(exclude_unset=True).encode()
    except StudyError:
        raise Problem("no-result", "With the values of this row it is no study.") from None


@router.get(
    "/{sweep_id}/table",
    operation_id="get_sweep_table",
    summary="Fetch the table of a sweep",
    response_class=Response,
    responses={
        200: {
            "description": "One line per row, in the order of the sweep",
            "content": {"text/csv": {"schema": {"type": "string"}}},
        },
        304: {"description": "As you have it"},
        **route_problems(404, 409),
    },
)
async def get_sweep_table(
    sweep_id: str, request: Request, service: ServiceDep, caller: CallerDep
) -> Response:
    """Fetch all rows as CSV, with the bytes that the command line writes for the same sweep."""
    sweep = await service.find_sweep(sweep_id, caller)
    if sweep.open:
        raise Problem("not-ready", headers=route_retry_after_headers(sweep))
    table = await run_sync(_table, service, sweep)
    headers = {"ETag": f'"{stored_sha256(table)}"', "Cache-Control": "private, no-cache"}
    if route_matches_entity_tag(request, headers["ETag"]):
        return Response(status_code=304, headers=headers)
    headers["Content-Disposition"] = f'attachment; filename="sweep-{sweep.id}.csv"'
    return Response(table, 200, headers, media_type="text/csv")


def _table(service: Service, sweep: Sweep) -> bytes:
    study = load_study(service.kept(sweep.study))
    return service_sweep_csv_table(study, sweep.paths, service.sweeps.rows(sweep.number))


@router.post(
    "/{sweep_id}/cancel",
    operation_id="cancel_sweep",
    summary="Cancel a sweep",
    status_code=202,
    response_model=SweepState,
    responses={
        200: {"model": SweepState, "description": "It had ended, or has now"},
        202: {"description": "The searches are being stopped; it takes less than a second"},
        **route_problems(404),
    },
)
async def cancel_sweep(sweep_id: str, service: ServiceDep, caller: CallerDep) -> Response:
    """Stop the work on a sweep; rows that have ended stay, and one that has ended stays as it is."""
    sweep = await service.find_sweep(sweep_id, caller)
    if sweep.open:
        await run_sync(service.sweeps.cancel, sweep.number)
        service.supervisor.wake()
        service.notifications.changed(sweep.id)
        sweep = await service.find_sweep(sweep_id, caller)
    return route_json_response(
        contract_sweep_state(sweep), 202 if sweep.open else 200, route_retry_after_headers(sweep)
    )


async def _known(sweep_id: str, service: ServiceDep, caller: CallerDep) -> Sweep:
    return await service.find_sweep(sweep_id, caller)


@router.get(
    "/{sweep_id}/events",
    operation_id="follow_sweep",
    summary="Follow a sweep",
    response_class=EventSourceResponse,
    responses={
        200: {
            "description": "Server-sent events: `progress` with how many rows stand how, then `done` or "
            "`cancelled`",
        },
        **route_problems(404, 422),
    },
)
async def follow_sweep(
    service: ServiceDep, sweep: Annotated[Sweep, Depends(_known)], last_event_id: LastEventId = None
) -> AsyncIterator[ServerSentEvent]:
    """Follow how many rows have ended until all have; a reader that comes back is told the latest."""
    seen = int(last_event_id or 0)
    with service.notifications.watch(sweep.id) as flag:
        while not service.notifications.stopping.is_set():
            now = await run_sync(service.sweeps.get, sweep.id, sweep.holder)
            if now is None:
                return
            rows = contract_sweep_state(now)["rows"]
            # counted from 1, by what has ended: the same number always tells the same or more
            number = 1 + rows["all"] - rows["queued"] - rows["running"] + (not now.open)
            if number > seen:
                seen = number
                name = "progress" if now.open else now.state
                yield ServerSentEvent(data={"rows": rows}, event=name, id=str(number))
            if not now.open:
                return
            await service_await_notification(flag, LOOK_S)
