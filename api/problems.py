"""Errors as problem details (RFC 9457): one shape for every path, and never the input itself.

`type` is a stable relative URI that can be fetched, `title` is constant for it, `detail` speaks of
this case, `errors` names fields by JSON Pointer (RFC 6901).
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response

from ringset import Fault, StudyError

MEDIA_TYPE = "application/problem+json"

#: code: (HTTP status, title, what to do about it)
PROBLEMS: dict[str, tuple[int, str, str]] = {
    "not-json": (400, "The body is not JSON", "Send one JSON document in UTF-8."),
    "bad-request": (400, "The request cannot be understood", "See detail."),
    "wrong-host": (400, "Not a name of this service", "Call it by a name in the setting `hosts`."),
    "no-key": (401, "A valid key is needed", "Send `Authorization: Bearer KEY`."),
    "not-found": (404, "There is nothing here", "Check path and id; what has expired is gone."),
    "wrong-method": (405, "This method is not possible here", "See the header Allow."),
    "too-slow": (408, "The body took too long to arrive", "Send it faster."),
    "not-ready": (409, "The study has not ended yet", "Wait; see Retry-After, or follow events."),
    "no-result": (409, "The study ended without this result", "Read its state."),
    "too-large": (413, "The body is too large", "Send less; the limits are in `/v1/about`."),
    "wrong-type": (415, "The body must be application/json", "Set Content-Type."),
    "invalid": (422, "The document is not valid", "Put right the fields in `errors`."),
    "key-reused": (422, "Idempotency-Key was used with another body", "Take a new key."),
    "too-many-calls": (429, "Too many calls", "Wait as long as Retry-After says."),
    "queue-full": (429, "Too many studies of this key are waiting", "Wait, or cancel some."),
    "internal": (500, "A fault of the service", "Tell whoever runs it, with the request id."),
    "busy": (503, "Too many studies are waiting in all", "Try again later."),
    "store-unavailable": (503, "The store cannot be used now", "Try again later."),
    "stopping": (503, "The service is stopping", "Try again soon."),
}

#: What a study that failed carries in its state; not an HTTP error.
FAILURES: dict[str, str] = {
    "worker-died": "The process that worked on the study died",
    "out-of-memory": "The study needed more memory than is allowed",
    "out-of-time": "The study needed more time than is allowed",
    "faulty-result": "The result did not pass its own checks",
    "service-died": "The service died too often while working on the study",
    "invalid": "The document is not valid",
}


class FieldProblem(BaseModel):
    """One field that is wrong."""

    pointer: str = Field(description="JSON Pointer (RFC 6901) into the body; empty for the whole.")
    detail: str = Field(description="What is allowed.")


class ProblemDetails(BaseModel):
    """RFC 9457."""

    model_config = ConfigDict(extra="allow")

    type: str = Field(description="Stable relative URI of the kind of problem.")
    title: str = Field(description="The same for every problem of the type.")
    status: int = Field(description="HTTP status.")
    detail: str = Field(description="What went wrong this time.")
    code: str = Field(description="Last part of the type.")
    request_id: str | None = Field(default=None, description="As in the header X-Request-Id.")
    errors: list[FieldProblem] = Field(default=[], description="Fields, where fields are wrong.")


class Problem(Exception):
    """Raised anywhere in a request; becomes a problem document."""

    def __init__(
        self,
        code: str,
        detail: str = "",
        errors: Iterable[FieldProblem] = (),
        headers: dict[str, str] | None = None,
    ) -> None:
        self.code, self.errors, self.headers = code, list(errors), headers or {}
        self.status, self.title, advice = PROBLEMS[code]
        self.detail = detail or advice
        super().__init__(f"{code}: {self.detail}")


def problem_response(problem: Problem, request_id: str | None) -> Response:
    """Return the response that carries a problem."""
    content = problem_document(
        problem.code, problem.title, problem.status, problem.detail, problem.errors
    )
    if request_id:
        content["request_id"] = request_id
    headers = {"Cache-Control": "no-store", **problem.headers}
    if problem.status == 401:
        headers["WWW-Authenticate"] = 'Bearer realm="ringset"'
    return Response(json.dumps(content), problem.status, headers, media_type=MEDIA_TYPE)


def problem_document(
    code: str, title: str, status: int, detail: str, errors: Iterable[FieldProblem] = ()
) -> dict[str, Any]:
    """Return the members of a problem document."""
    content: dict[str, Any] = {
        "type": f"/v1/problems/{code}",
        "title": title,
        "status": status,
        "detail": detail,
        "code": code,
    }
    if named := [error.model_dump() for error in errors]:
        content["errors"] = named
    return content


def problem_of_failed_study(code: str, detail: str) -> dict[str, Any]:
    """Return the problem that a failed study carries (status 200: reading it is no error)."""
    return problem_document(code, FAILURES[code], 200, detail)


def problem_of_study_error(error: StudyError, raw: bytes) -> Problem:
    """Return the problem of a document that was refused: not JSON, or JSON with wrong fields."""
    try:
        parsed = json.loads(raw)
    except (ValueError, RecursionError):
        return Problem("not-json", error.faults[0].allowed)
    return Problem(
        "invalid", _count(len(error.faults)), problem_fault_pointers(error.faults, parsed)
    )


def problem_of_faults(title: str, error: StudyError, raw: bytes) -> Problem:
    """Return the problem of a readable body whose fields do not go together, under a title of its own."""
    return Problem("invalid", title, problem_fault_pointers(error.faults, json.loads(raw)))


def problem_fault_pointers(
    faults: Iterable[Fault], parsed: Any, most: int = 100
) -> list[FieldProblem]:
    """Return the first faults with their paths as JSON Pointers into the parsed body."""
    return [
        FieldProblem(
            pointer=problem_pointer(fault.path, parsed), detail=f"allowed: {fault.allowed}"
        )
        for fault in list(faults)[:most]
    ]


def _count(number: int) -> str:
    return "1 field is wrong." if number == 1 else f"{number} fields are wrong."


def problem_pointer(path: str, parsed: Any) -> str:
    """Return a path such as `robots[0].name` as a JSON Pointer, read along the parsed body.

    A member name may hold dots and brackets of its own, so the longest name that is really there wins.
    """
    parts: list[str] = []
    here: Any = parsed
    rest = "" if path == "study" and not (isinstance(parsed, dict) and "study" in parsed) else path
    while rest:
        if rest.startswith("[") and (end := rest.find("]")) > 0:
            part, rest = rest[1:end], rest[end + 1 :]
            index = int(part) if part.isdigit() else -1
            here = here[index] if isinstance(here, list) and 0 <= index < len(here) else None
        else:
            part = _member(rest, here)
            rest = rest[len(part) :]
            here = here.get(part) if isinstance(here, dict) else None
        rest = rest.removeprefix(".")
        parts.append(part.replace("~", "~0").replace("/", "~1"))
    return "".join(f"/{part}" for part in parts)


def _member(rest: str, here: Any) -> str:
    """Return the member name at the head of a path."""
    known: list[str] = list(here) if isinstance(here, dict) else []
    fitting = [
        k for k in known if k and rest.startswith(k) and rest[len(k) : len(k) + 1] in ("", ".", "[")
    ]
    if fitting:
        return max(fitting, key=len)
    ends = [place for place in (rest.find("."), rest.find("[")) if place > 0]
    return rest[: min(ends)] if ends else rest
