"""A request body: its type, its size and its shape are looked at before it is read as JSON."""

from __future__ import annotations

import json
import re
from typing import TypeVar

import numpy as np
from pydantic import BaseModel
from starlette.requests import Request

from api.problems import Problem, map_faults, of_study_error
from api.settings import Settings
from optimizer import Fault, Study, StudyError, load_piece, study_faults

Model = TypeVar("Model", bound=BaseModel)

_ESCAPES = re.compile(rb"\\.", re.DOTALL)
_STRINGS = re.compile(rb'"[^"]*"?')
_NO_STRUCTURE = bytes(set(range(256)) - set(b"[]{},"))


async def read_body(request: Request, settings: Settings) -> bytes:
    """Return the body of a JSON request; raises Problem with 413, 415 or 422."""
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    if kind != "application/json":
        raise Problem("wrong-type")
    raw = await request.body()
    check_shape(raw, settings)
    return raw


def check_shape(raw: bytes, settings: Settings) -> None:
    """Refuse a body of too many values or levels, at a small part of the cost of parsing it."""
    marks = raw
    if (
        raw.count(b"[") + raw.count(b"{") > settings.depth_max
        or raw.count(b",") > settings.values_max
    ):
        # only now is it worth looking outside strings
        marks = _STRINGS.sub(b"", _ESCAPES.sub(b"", raw)).translate(None, _NO_STRUCTURE)
        codes = np.frombuffer(marks, dtype=np.uint8)
        opens = np.isin(codes, (ord("["), ord("{")))
        closes = np.isin(codes, (ord("]"), ord("}")))
        depth = np.cumsum(opens.astype(np.int64) - closes)
        if depth.size and int(depth.max()) > settings.depth_max:
            raise Problem(
                "too-large", f"The body is nested deeper than {settings.depth_max} levels."
            )
        if int((~closes).sum()) > settings.values_max:
            raise Problem("too-large", f"The body holds more than {settings.values_max} values.")


def read_with_study(raw: bytes, model: type[Model]) -> Model:
    """Return a body that holds a study under `study`; raises Problem."""
    try:
        body = load_piece(model, raw)
    except StudyError as error:
        raise of_study_error(error, raw) from None
    study: Study = body.study  # type: ignore[attr-defined]
    if faults := study_faults(study):
        named = [Fault(f"study.{fault.path}", fault.given, fault.allowed) for fault in faults]
        raise Problem(
            "invalid", "The study's fields do not agree.", map_faults(named, json.loads(raw))
        )
    return body
