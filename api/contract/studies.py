"""What the service answers, as models for the OpenAPI document; studies and answers are the optimizer's."""

from __future__ import annotations

import json
from typing import Any, Literal

from pydantic import Field

from ringset import (
    Answer,
    Assumptions,
    Band,
    Certificate,
    CertifiedAnswer,
    Explanation,
    Front,
    JointRing,
    Losses,
    Sheets,
    Study,
    WishSteps,
)
from ringset.api.contract.base import (
    RequestModel,
    ResponseModel,
    SecondTeeth,
    State,
    contract_time_text,
)
from ringset.api.store.records import Job


class Links(ResponseModel):
    """Paths of what belongs to a study; `result` once it is there."""

    state: str
    events: str
    cancel: str
    result: str


class Progress(ResponseModel):
    """How far the search has come."""

    stage: str | None = Field(default=None, description="Wish being searched.")
    best: float | None = Field(default=None, description="Best value so far.")
    bound: float | None = Field(default=None, description="Nothing below this is possible.")
    unit: str | None = None
    gap_percent: float | None = Field(
        default=None, description="By how much the bound is below the best value, in percent of it."
    )


class StudyState(ResponseModel):
    """A submitted study: how it stands."""

    id: str
    find: str = Field(description="What was asked.")
    state: State
    status: str | None = Field(default=None, description="Status of the answer, once there is one.")
    content_sha256: str = Field(description="The same for the same study, question and versions.")
    created: str
    started: str | None = None
    ended: str | None = None
    attempts: int = Field(description="How often work on it was begun.")
    progress: Progress | None = None
    problem: dict[str, Any] | None = Field(default=None, description="Why it failed (RFC 9457).")
    links: Links


class AnsweredStudy(StudyState):
    """A submitted study, with its answer when the call brought it."""

    answer: Answer | None = Field(default=None, description="Present if it was asked and found.")
    steps: WishSteps | None = Field(
        default=None, description="Present if they were asked and found."
    )
    losses: Losses | None = Field(default=None, description="Present if they were asked and found.")
    certificate: CertifiedAnswer | None = Field(
        default=None, description="Present, with the answer in it, if it was asked and found."
    )
    front: Front | None = Field(default=None, description="Present if it was asked and found.")
    blockers: Explanation | None = Field(
        default=None, description="Present if they were asked and found."
    )
    assumptions: Assumptions | None = Field(
        default=None, description="Present if they were asked and found."
    )
    band: Band | None = Field(default=None, description="Present if it was asked and found.")
    sheets: Sheets | None = Field(default=None, description="Present if they were asked and found.")


class StudyList(ResponseModel):
    """One page of submitted studies, newest first."""

    studies: list[StudyState]
    next: str | None = Field(
        default=None, description="Cursor of the next page; absent on the last."
    )


class RateRequest(RequestModel):
    """One ring on one joint: teeth or tip, bore or rim."""

    study: Study
    joint: str = Field(max_length=200, description="Name of the joint.")
    robot: str | None = Field(
        default=None, max_length=200, description="Robot, where joints of several share a name."
    )
    module_mm: float = Field(ge=0.05, le=50.0)
    teeth: int | None = Field(default=None, ge=1, le=10_000, description="Tooth count, or tip_mm.")
    tip_mm: float | None = Field(
        default=None, ge=1.0, le=5000.0, description="Largest tip diameter."
    )
    bore_mm: float | None = Field(default=None, gt=0.0, le=5000.0, description="Bore, or rim_mm.")
    rim_mm: float | None = Field(
        default=None, ge=0.0, le=5000.0, description="Rim between root and bore."
    )
    heads: int | None = Field(
        default=None, ge=1, le=8, description="Number of heads; the joint's fewest by default."
    )
    second_teeth: SecondTeeth = None


class Rating(ResponseModel):
    """One ring on one joint, rated."""

    ring: JointRing
    broken: list[str] = Field(description="Every limit that the ring breaks; empty if it would do.")


class JudgeRequest(RequestModel):
    """An answer and the study it claims to answer."""

    study: Study
    answer: Answer
    certificate: Certificate | None = Field(
        default=None, description="A certificate of the answer, to be checked as well."
    )
    previous: Answer | None = Field(
        default=None,
        description="The earlier answer whose names of ring parts it must keep; its numbers are used up.",
    )


class CertificateStage(ResponseModel):
    """What is found of the proof of one wish."""

    wish: str
    state: Literal["verified", "not verified", "refused"] = Field(
        description="not verified: no proof is stated, or it is stated that there is none."
    )
    text: str


class CertificateCheck(ResponseModel):
    """What a check without any solver finds of a certificate."""

    complete: bool = Field(description="Whether the bound of every wish is verified.")
    refused: bool = Field(description="Whether something is stated that is not so.")
    faults: list[str] = Field(description="What is wrong with the whole; empty if nothing.")
    stages: list[CertificateStage]


class Judgement(ResponseModel):
    """What a judge without any solver finds."""

    violations: list[str] = Field(
        description="Every limit and total that is not as the answer says."
    )
    sound: bool = Field(description="Whether there are none.")
    certificate: CertificateCheck | None = Field(
        default=None, description="What the certificate that was sent along proves."
    )


class CompareEntry(RequestModel):
    """One answer to compare: given, or that of a study submitted here."""

    name: str = Field(min_length=1, max_length=200, description="Name of its column.")
    study_id: str | None = Field(
        default=None, max_length=100, description="A study that has been answered here; or answer."
    )
    answer: Answer | None = Field(default=None, description="An answer; or study_id.")


class CompareRequest(RequestModel):
    """Answers to set side by side; differences are against the first that holds rings."""

    entries: list[CompareEntry] = Field(min_length=2, max_length=10)


class TableList(ResponseModel):
    """The tables of published standards that the optimizer uses."""

    tables: list[str]


class StandardsTable(ResponseModel):
    """One table, a source in every row."""

    name: str
    columns: list[str]
    rows: list[dict[str, str]]


class About(ResponseModel):
    """Versions and limits of this service."""

    versions: dict[str, str]
    schema_version: int
    finds: list[str] = Field(description="What can be asked of a study.")
    limits: dict[str, float]
    expiry: str = Field(description="When ended studies are forgotten.")


class Health(ResponseModel):
    """Whether the service lives, or is ready."""

    status: Literal["ok"]


class ProblemType(ResponseModel):
    """What a kind of problem means."""

    code: str
    title: str
    status: int
    advice: str


def contract_study_state(job: Job) -> dict[str, Any]:
    """Return the state document of a job; what is not known is absent."""
    here = f"/v1/studies/{job.id}"
    members = {
        "id": job.id,
        "find": job.kind,
        "state": job.state,
        "status": job.status,
        "content_sha256": job.content,
        "created": contract_time_text(job.created),
        "started": contract_time_text(job.started) if job.state != "queued" else None,
        "ended": contract_time_text(job.ended),
        "attempts": job.attempts,
        "progress": json.loads(job.progress) if job.progress else None,
        "problem": json.loads(job.problem) if job.problem else None,
        "links": {
            "state": here,
            "events": f"{here}/events",
            "cancel": f"{here}/cancel",
            "result": f"{here}/{job.kind}",
        },
    }
    return {name: value for name, value in members.items() if value is not None}


def contract_state_with_result(job: Job, result: bytes | None) -> bytes:
    """Return the state document of a job with its result, whose bytes stay as they are."""
    state = json.dumps(contract_study_state(job)).encode()
    return (
        state
        if result is None
        else state[:-1] + b', "' + job.kind.encode() + b'": ' + result + b"}"
    )
