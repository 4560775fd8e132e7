"""Studies: submit, list, look, follow, cancel, fetch what was found."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Annotated, Any

from anyio.to_thread import run_sync
from fastapi import APIRouter, Depends, Query
from fastapi.sse import EventSourceResponse, ServerSentEvent
from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import Response

from ringset import (
    Answer,
    Assumptions,
    Band,
    CertifiedAnswer,
    Explanation,
    Front,
    Losses,
    WishSteps,
)
from ringset.api.contract.base import State
from ringset.api.contract.examples import STUDY_EXAMPLES
from ringset.api.contract.query_options import contract_read_question
from ringset.api.contract.questions import Find, Options
from ringset.api.contract.request_body import contract_read_body
from ringset.api.contract.studies import (
    AnsweredStudy,
    StudyList,
    StudyState,
    contract_state_with_result,
    contract_study_state,
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
from ringset.api.store.records import Job

router = APIRouter(prefix="/v1/studies", tags=["studies"])


@router.post(
    "",
    operation_id="submit_study",
    summary="Submit a study",
    status_code=202,
    response_model=StudyState,
    responses={
        200: {
            "model": AnsweredStudy,
            "description": "Ended, now or before; the answer if there is one",
        },
        202: {"description": "Accepted; look again where Location says"},
        **route_problems(408, 413, 415, 422),
    },
    openapi_extra=route_body_entry("Study", STUDY_EXAMPLES, "StudyRequest"),
)
async def submit_study(
    request: Request,
    service: ServiceDep,
    caller: CallerDep,
    question: Annotated[tuple[Find, Options], Depends(contract_read_question)],
    idempotency_key: IdempotencyKey = None,
    prefer: Prefer = None,
) -> Response:
    """Accept a study; the same study of the same caller is the same resource, and is solved once.

    A quick study is answered in the same call with `Prefer: wait=N`. An impossible study is an answer.

    To keep the names of ring parts of an earlier answer, send `study` and `previous` in one object.
    """
    raw = await contract_read_body(request, service.settings)
    job, result = await run_sync(service.accept, caller.holder, *question, raw, idempotency_key)
    headers = {"Location": f"/v1/studies/{job.id}"}
    wait = route_prefer_wait_s(request)
    if job.open and wait is not None:
        headers["Preference-Applied"] = f"wait={min(wait, service.settings.wait_max_s):g}"
        job = await service.ended(job, wait, request)
    if job.open:
        return route_json_response(
            contract_study_state(job), 202, headers | route_retry_after_headers(job)
        )
    if result is None:  # it ended while the call was held
        result = await run_sync(service.result, job)
    return route_json_response(contract_state_with_result(job, result), 200, headers)


@router.get(
    "",
    operation_id="list_studies",
    summary="List your studies, newest first",
    response_model=StudyList,
    response_model_exclude_none=True,
    responses=route_problems(422),
)
async def list_studies(
    service: ServiceDep,
    caller: CallerDep,
    state: Annotated[State | None, Query(description="Only those in this state.")] = None,
    cursor: Cursor = None,
    limit: Limit = 50,
) -> dict[str, Any]:
    """List what you have submitted and has not expired."""
    before = None if cursor is None else int(cursor)
    jobs = await run_sync(service.store.listed, caller.holder, state, before, limit + 1)
    page: dict[str, Any] = {"studies": [contract_study_state(job) for job in jobs[:limit]]}
    if len(jobs) > limit:
        page["next"] = str(jobs[limit - 1].number)
    return page


@router.get(
    "/{study_id}",
    operation_id="get_study",
    summary="Read how a study stands",
    response_model=StudyState,
    responses={304: {"description": "As you know it"}, **route_problems(404)},
)
async def get_study(
    study_id: str, request: Request, service: ServiceDep, caller: CallerDep
) -> Response:
    """Read state, progress and, where it failed, the problem."""
    job = await service.find(study_id, caller)
    etag = f'W/"{job.id}-{job.last_event}"'
    if route_matches_entity_tag(request, etag):
        return Response(status_code=304, headers={"ETag": etag})
    return route_json_response(
        contract_study_state(job),
        200,
        {"ETag": etag, "Cache-Control": "no-cache"} | route_retry_after_headers(job),
    )


async def result_response(
    study_id: str, find: Find, request: Request, service: Service, caller: CallerDep
) -> Response:
    """Return what was found, byte for byte as stored, with its hash as entity tag."""
    job = await service.find(study_id, caller)
    if job.kind != find:
        raise Problem("not-found", f"This study was submitted with find={job.kind}.")
    if job.open:
        raise Problem("not-ready", headers=route_retry_after_headers(job))
    if job.result is None:
        raise Problem("no-result", f"The study has {job.state}.")
    headers = {"ETag": f'"{job.result}"', "Cache-Control": "private, max-age=31536000, immutable"}
    if route_matches_entity_tag(request, headers["ETag"]):
        return Response(status_code=304, headers=headers)
    return route_json_response(await run_sync(service.kept, job.result), 200, headers)


_FETCH: dict[int | str, dict[str, Any]] = {
    304: {"description": "As you have it"},
    **route_problems(404, 409),
}


#: What is found of a study, each fetched under its own name: its model, a summary, a description.
_RESULTS: tuple[tuple[Find, type[BaseModel], str, str], ...] = (
    (
        "answer", Answer, "Fetch the answer",
        "Fetch the answer: every ring with budget, margins and proof. It never changes.",
    ),
    (
        "certificate", CertifiedAnswer, "Fetch the answer with its certificate",
        "Fetch the answer with the proofs of its wishes, of a study with `find=certificate`.\n\n"
        "Anybody can check them: send study, answer and certificate to `/v1/judgements`, or give study and "
        "this file, which stands for both others, to `ringset judge`.",
    ),
    (
        "steps", WishSteps, "Fetch the steps of the wishes",
        "Fetch what one step more of every wish but the last would buy, of a study with `find=steps`.",
    ),
    (
        "losses", Losses, "Fetch what losses cost",
        "Fetch the best answer without each cutter, head, ring part and stock size of the answer, and what "
        "that costs, of a study with `find=losses`.",
    ),
    (
        "front", Front, "Fetch the front",
        "Fetch every answer that no other beats on the wishes asked for, of a study with `find=front`.",
    ),
    (
        "blockers", Explanation, "Fetch blockers and reliefs",
        "Fetch which limits collide and what would free them, or what each costs (`find=blockers`).",
    ),
    (
        "assumptions", Assumptions, "Fetch what decides the answer",
        "Fetch the assumed inputs, those that decide the answer first (`find=assumptions`).",
    ),
    (
        "band", Band, "Fetch the band",
        "Fetch the answers at the hopeful and the careful end of all assumed inputs (`find=band`).",
    ),
)  # fmt: skip


def _add_result(find: Find, model: type[BaseModel], summary: str, description: str) -> None:
    async def fetch(
        study_id: str, request: Request, service: ServiceDep, caller: CallerDep
    ) -> Response:
        return await result_response(study_id, find, request, service, caller)

    router.add_api_route(
        f"/{{study_id}}/{find}",
        fetch,
        operation_id=f"get_{find}",
        summary=summary,
        description=description,
        response_model=model,
        responses=_FETCH,
    )


for _result in _RESULTS:
    _add_result(*_result)


@router.post(
    "/{study_id}/cancel",
    operation_id="cancel_study",
    summary="Cancel a study",
    status_code=202,
    response_model=StudyState,
    responses={
        200: {"model": StudyState, "description": "It had ended, or has now"},
        202: {"description": "The search is being stopped; it takes less than a second"},
        **route_problems(404),
    },
)
async def cancel_study(study_id: str, service: ServiceDep, caller: CallerDep) -> Response:
    """Stop the work on a study; one that has ended stays as it is. May be repeated."""
    job = await service.find(study_id, caller)
    if job.open:
        await run_sync(service.store.cancel, job.number)
        service.supervisor.wake()
        service.notifications.changed(job.id)
        job = await service.find(study_id, caller)
    return route_json_response(
        contract_study_state(job), 202 if job.open else 200, route_retry_after_headers(job)
    )


async def _known(study_id: str, service: ServiceDep, caller: CallerDep) -> Job:
    return await service.find(study_id, caller)


@router.get(
    "/{study_id}/events",
    operation_id="follow_study",
    summary="Follow a study",
    response_class=EventSourceResponse,
    responses={
        200: {
            "description": "Server-sent events: `queued`, `running`, `progress`, `point` (a cell of a "
            "front found), then `done`, `failed` or `cancelled`",
        },
        **route_problems(404, 422),
    },
)
async def follow_study(
    service: ServiceDep,
    job: Annotated[Job, Depends(_known)],
    last_event_id: LastEventId = None,
) -> AsyncIterator[ServerSentEvent]:
    """Follow what happens until the study has ended; a reader that comes back misses nothing that lasts.

    Of progress only the latest is kept; every other event is.
    """
    seen = int(last_event_id or 0)
    with service.notifications.watch(job.id) as flag:
        while not service.notifications.stopping.is_set():
            now = await run_sync(service.store.get, job.id, job.holder)
            for seq, name, data in await run_sync(service.store.events, job.number, seen):
                seen = seq
                yield ServerSentEvent(raw_data=data, event=name, id=str(seq))
            if now is None or not now.open:
                return
            await service_await_notification(flag, LOOK_S)
