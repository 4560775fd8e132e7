"""How routes speak: documented problems, cached documents, preferences of the caller."""

from __future__ import annotations

import json
import re
from typing import Annotated, Any

from fastapi import Header, Query
from starlette.requests import Request
from starlette.responses import Response

from ringset.api.problems import MEDIA_TYPE, PROBLEMS
from ringset.api.store.records import Job
from ringset.api.store.sweeps import Sweep

IdempotencyKey = Annotated[
    str | None,
    Header(
        alias="Idempotency-Key",
        min_length=1,
        max_length=200,
        pattern=r"^[\x21-\x7e]+$",
        description="Repeating a call with the same key and body repeats its answer, not its work.",
    ),
]
Prefer = Annotated[
    str | None,
    Header(description="`wait=N`: hold the call up to N seconds for the result (RFC 7240)."),
]
Cursor = Annotated[
    str | None, Query(pattern=r"^[0-9]{1,18}$", description="`next` of the page before.")
]
Limit = Annotated[int, Query(ge=1, le=200, description="Most on one page.")]
LastEventId = Annotated[
    str | None,
    Header(pattern=r"^[0-9]{1,9}$", description="Number of the last event you have seen."),
]

#: Any call may meet these at the gateway.
_ALWAYS = (400, 401, 429, 500, 503)


def route_problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return the OpenAPI entries of the problems a route may answer with."""
    entries: dict[int | str, dict[str, Any]] = {}
    for status in sorted({*statuses, *_ALWAYS}):
        titles = [title for number, title, _ in PROBLEMS.values() if number == status]
        entries[status] = {
            "description": "; or: ".join(titles),
            "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/ProblemDetails"}}},
        }
    return entries


def route_body_entry(
    schema: str, examples: dict[str, Any], or_else: str | None = None
) -> dict[str, Any]:
    """Return the OpenAPI entry of a body that the route reads itself: of one schema, or of another."""
    one, *other = [
        {"$ref": f"#/components/schemas/{name}"} for name in (schema, or_else) if name is not None
    ]
    content = {"schema": {"anyOf": [one, *other]} if other else one, "examples": examples}
    return {"requestBody": {"required": True, "content": {"application/json": content}}}


def route_json_response(
    content: Any, status: int = 200, headers: dict[str, str] | None = None
) -> Response:
    """Return a JSON response; NaN and infinity are refused."""
    data = content if isinstance(content, bytes) else json.dumps(content, allow_nan=False).encode()
    return Response(data, status, headers, media_type="application/json")


def route_retry_after_headers(work: Job | Sweep) -> dict[str, str]:
    """Return when to look again at what has not ended."""
    return {"Retry-After": "1"} if work.open else {}


def route_matches_entity_tag(request: Request, etag: str) -> bool:
    """Return whether the caller already has what this entity tag stands for (RFC 9110, 13.1.2)."""
    given = request.headers.get("if-none-match", "")
    bare = etag.removeprefix("W/")
    return any(
        tag.strip().removeprefix("W/") in (bare, "*") for tag in given.split(",") if tag.strip()
    )


def route_prefer_wait_s(request: Request) -> float | None:
    """Return the seconds of `Prefer: wait=N` (RFC 7240), None where there is none or it is malformed."""
    for line in request.headers.getlist("prefer"):
        for preference in line.split(","):
            found = re.fullmatch(r'\s*wait\s*=\s*"?(\d{1,6})"?\s*(;.*)?', preference, re.IGNORECASE)
            if found:
                return float(found[1])
    return None
