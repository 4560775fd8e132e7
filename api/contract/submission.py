"""What is submitted: a study by itself, or beside the answer to an earlier revision whose names are kept."""

from __future__ import annotations

import json

from pydantic import Field

from ringset import (
    Answer,
    Fault,
    Study,
    StudyError,
    load_model,
    load_study,
    previous_faults,
    standing_name_faults,
    study_faults,
)
from ringset.api.contract.base import RequestModel


class StudyRequest(RequestModel):
    """A study, and the answer to an earlier revision of it whose ring parts keep their names."""

    study: Study
    previous: Answer | None = Field(
        default=None,
        description="The last answer that has rings: equal rings keep its names, and no number that was ever "
        "used is used again. With find=answer, certificate or sheets.",
    )


def contract_read_submission(raw: bytes) -> StudyRequest:
    """Return what a document submits; one without `study` is a study itself. Raises StudyError."""
    if not contract_path_to_study(raw):
        return StudyRequest(study=load_study(raw))
    body = load_model(StudyRequest, raw)
    before = body.previous
    inside = study_faults(body.study)
    inside += [] if before is None else standing_name_faults(body.study, before)
    faults = [Fault(f"study.{fault.path}", fault.given, fault.allowed) for fault in inside]
    faults += [] if before is None else previous_faults(before)
    if faults:
        raise StudyError(faults)
    return body


def contract_path_to_study(raw: bytes) -> str:
    """Return the path that leads to the study of a document: empty for a study alone, else `study.`."""
    if b'"study"' not in raw:  # no study has such a field
        return ""
    try:
        tree = json.loads(raw)
    except (ValueError, RecursionError):
        return ""  # reading it as a study names what is wrong
    return "study." if isinstance(tree, dict) and "study" in tree else ""
