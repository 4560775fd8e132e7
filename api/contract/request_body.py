"""A request body: its type, its size and its shape are looked at before it is read as JSON."""

from __future__ import annotations

import json
from typing import TypeVar

import numpy as np
import numpy.typing as npt
from anyio.to_thread import run_sync
from pydantic import BaseModel
from starlette.requests import Request

from ringset import Fault, Study, StudyError, load_model, study_faults
from ringset.api.problems import Problem, problem_fault_pointers, problem_of_study_error
from ringset.api.settings import Settings

Model = TypeVar("Model", bound=BaseModel)

Bytes = npt.NDArray[np.uint8]
Flags = npt.NDArray[np.bool_]

#: From here on a body is looked at beside the event loop.
_LARGE_BYTES = 100_000
#: What each byte does to the depth.
_STEPS = np.zeros(256, dtype=np.int8)
_STEPS[[ord("["), ord("{")]] = 1
_STEPS[[ord("]"), ord("}")]] = -1


async def contract_read_body(request: Request, settings: Settings) -> bytes:
    """Return the body of a JSON request; raises Problem with 413, 415 or 422."""
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    if kind != "application/json":
        raise Problem("wrong-type")
    raw = await request.body()
    if len(raw) < _LARGE_BYTES:
        contract_check_body_shape(raw, settings)
    else:  # it may take as long as several other calls
        await run_sync(contract_check_body_shape, raw, settings)
    return raw


def contract_check_body_shape(raw: bytes, settings: Settings) -> None:
    """Refuse a body of too many values or levels, at a small part of the cost of parsing it."""
    opens, commas = raw.count(b"[") + raw.count(b"{"), raw.count(b",")
    if opens <= settings.depth_max and opens + commas <= settings.values_max:
        return  # only now is it worth telling structure from what stands inside strings
    codes = np.frombuffer(raw, dtype=np.uint8)
    outside = ~_inside_strings(codes)
    steps = np.where(outside, _STEPS[codes], np.int8(0))
    if int(np.cumsum(steps, dtype=np.int32).max()) > settings.depth_max:
        raise Problem("too-large", f"The body is nested deeper than {settings.depth_max} levels.")
    values = np.count_nonzero(steps > 0) + np.count_nonzero(outside & (codes == ord(",")))
    if values > settings.values_max:
        raise Problem("too-large", f"The body holds more than {settings.values_max} values.")


def _inside_strings(codes: Bytes) -> Flags:
    """Return for every byte whether it lies inside a string; of the quotes only the opening does."""
    plain = np.flatnonzero(codes != ord("\\"))
    escapes = np.diff(plain, prepend=-1) - 1  # backslashes right before each other byte
    ends = plain[(codes[plain] == ord('"')) & (escapes % 2 == 0)]
    turns = np.zeros(codes.size, dtype=np.uint8)
    turns[ends] = 1
    return (np.cumsum(turns, dtype=np.uint8) & 1).astype(np.bool_)


def contract_read_study_body(raw: bytes, model: type[Model]) -> Model:
    """Return a body that holds a study under `study`; raises Problem."""
    try:
        body = load_model(model, raw)
    except StudyError as error:
        raise problem_of_study_error(error, raw) from None
    study: Study = body.study  # type: ignore[attr-defined]
    if faults := study_faults(study):
        named = [Fault(f"study.{fault.path}", fault.given, fault.allowed) for fault in faults]
        raise Problem(
            "invalid",
            "The study's fields do not agree.",
            problem_fault_pointers(named, json.loads(raw)),
        )
    return body
