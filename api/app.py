"""The application: routes, gateway and problems, and what starts and stops with it."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import cache
from typing import Any

from anyio.to_thread import run_sync
from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.middleware.cors import CORSMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Match

import ringset
from ringset.api.gateway.middleware import Gateway
from ringset.api.gateway.telemetry import Metrics
from ringset.api.openapi import TITLE, openapi_document
from ringset.api.problems import FieldProblem, Problem, problem_response
from ringset.api.routes import ROUTERS
from ringset.api.service.notifications import Notifications
from ringset.api.service.service import Service
from ringset.api.settings import Settings
from ringset.api.store.studies import Store
from ringset.api.store.sweeps import SweepStore
from ringset.api.workers.supervisor import DEFAULT_PERFORM, Supervisor

#: What pages of the origins in `cors_origins` may send and read.
_CORS: dict[str, Any] = {
    "allow_methods": ["GET", "POST"],
    "allow_headers": [
        "Authorization", "Content-Type", "Idempotency-Key", "Prefer", "Last-Event-ID",
    ],
    "expose_headers": [
        "Location", "Retry-After", "ETag", "X-Request-Id", "Preference-Applied",
    ],
}  # fmt: skip


def create_app(
    settings: Settings, perform: str = DEFAULT_PERFORM, store: Store | None = None
) -> FastAPI:
    """Return the application on its store; workers start with its lifespan."""
    store = store or Store(settings.store_url)
    # what moved is told to those who wait, once the event loop runs
    app = FastAPI(
        title=TITLE,
        version=ringset.__version__,
        lifespan=_lifespan,
        docs_url=None,  # its page would load from a foreign host
        redoc_url=None,
        openapi_url="/v1/openapi.json",
        redirect_slashes=False,
        separate_input_output_schemas=False,
    )
    supervisor = Supervisor(store, settings, lambda identity: _changed(app, identity), perform)
    app.state.settings, app.state.store, app.state.supervisor = settings, store, supervisor
    app.state.metrics = Metrics(store, supervisor)
    app.state.service = None
    for router in ROUTERS:
        app.include_router(router)
    app.add_middleware(Gateway, store=store, settings=settings, metrics=app.state.metrics)
    if settings.cors_origins:
        app.add_middleware(CORSMiddleware, allow_origins=settings.cors_origins, **_CORS)
    app.add_exception_handler(Problem, _problem)
    app.add_exception_handler(HTTPException, _http_problem)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.openapi = cache(lambda: openapi_document(app.routes))  # type: ignore[method-assign]
    return app


def _changed(app: FastAPI, identity: str) -> None:
    if app.state.service is not None:
        app.state.service.notifications.changed(identity)


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    state = app.state
    sweeps = SweepStore(state.store.connections, state.store.clock)
    state.service = Service(state.settings, state.store, sweeps, state.supervisor, Notifications())
    state.supervisor.start()
    yield
    state.service.notifications.stopping.set()
    await run_sync(state.supervisor.stop)
    state.store.close()


def _request_id(request: Request) -> str | None:
    identity: str | None = getattr(request.state, "request_id", None)
    return identity


async def _problem(request: Request, error: Exception) -> Response:
    assert isinstance(error, Problem)
    return problem_response(error, _request_id(request))


async def _http_problem(request: Request, error: Exception) -> Response:
    """Turn the framework's own errors into problems: no route, wrong method."""
    assert isinstance(error, HTTPException)
    code = {404: "not-found", 405: "wrong-method"}.get(error.status_code, "bad-request")
    headers = dict(error.headers or {})
    if error.status_code == 405:  # the framework names the methods of one route only
        headers["Allow"] = ", ".join(sorted(_methods(request)))
    return problem_response(Problem(code, headers=headers), _request_id(request))


def _methods(request: Request) -> set[str]:
    """Return every method that some route offers at this path."""
    ours = [route for router in ROUTERS for route in router.routes]
    return {
        method
        for route in (*request.app.routes, *ours)
        if route.matches(dict(request.scope))[0] != Match.NONE
        for method in getattr(route, "methods", None) or ()
    }


async def _invalid(request: Request, error: Exception) -> Response:
    """Turn faults of query and headers into a problem; the values given are never echoed."""
    assert isinstance(error, RequestValidationError)
    errors = [
        FieldProblem(pointer="", detail=f"{' '.join(map(str, fault['loc'][:2]))}: {fault['msg']}")
        for fault in error.errors()
    ]
    problem = Problem("invalid", "Query or headers are not valid.", errors)
    return problem_response(problem, _request_id(request))
