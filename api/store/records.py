"""Rows of the store and what every transaction on them shares."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, and_, exists, func, insert, or_, select, update

from ringset.api.store.schema import document, event, job

#: States of a job that has not ended.
OPEN = ("queued", "running")
#: Kind of the jobs that are rows of sweeps: they have no resource of their own.
ROW = "row"


@dataclass(frozen=True)
class Job:
    """One row of the table `job`."""

    number: int
    id: str
    holder: str
    kind: str
    options: str
    content: str
    body: str
    state: str
    owner: str | None
    attempts: int
    cancel_wanted: int
    result: str | None
    status: str | None
    reusable: int
    progress: str | None
    problem: str | None
    last_event: int
    created: float
    started: float | None
    ended: float | None

    @property
    def open(self) -> bool:
        """Whether it has not ended."""
        return self.state in OPEN


@dataclass(frozen=True)
class Outcome:
    """How work ended: `state` done with a result, or failed or cancelled."""

    state: str
    result: bytes | None = None
    status: str | None = None
    reusable: bool = False
    problem: dict[str, Any] | None = None


@dataclass(frozen=True)
class Limits:
    """How many may wait: jobs in all, studies of one holder, and rows of one holder's sweeps."""

    queue_max: int
    queue_per_key: int
    rows_max: int = 1000


class QueueFull(Exception):
    """Too many are waiting: of this holder, or in all."""

    def __init__(self, in_all: bool) -> None:
        self.in_all = in_all


def stored_job(c: Connection, where: Any) -> Job | None:
    """Return the job of a condition."""
    row = c.execute(select(job).where(where)).first()
    return None if row is None else Job(*row)


def store_document(c: Connection, digest: str, body: bytes) -> None:
    """Write a document once."""
    if not c.execute(select(exists().where(document.c.sha256 == digest))).scalar():
        c.execute(insert(document).values(sha256=digest, bytes=body))


def store_event(c: Connection, number: int, name: str, data: dict[str, Any]) -> Job:
    """Add an event to a job and return the job as it now is."""
    c.execute(update(job).where(job.c.number == number).values(last_event=job.c.last_event + 1))
    now = stored_job(c, job.c.number == number)
    assert now is not None
    c.execute(
        insert(event).values(job=number, seq=now.last_event, name=name, data=json.dumps(data))
    )
    return now


def store_require_queue_room(
    c: Connection, most: int, *which: ColumnElement[bool], needed: int = 1
) -> None:
    """Check that so many more jobs may wait beside those there are; raises QueueFull."""
    waiting = select(func.count()).select_from(job).where(job.c.state == "queued", *which)
    if c.execute(waiting).scalar_one() + needed > most:
        raise QueueFull(in_all=not which)


def stored_reusable_job(holder: str) -> ColumnElement[bool]:
    """Return the condition of a job that may answer for an equal one of a holder."""
    return or_(
        and_(job.c.holder == holder, job.c.state.in_(OPEN), job.c.cancel_wanted == 0),
        and_(job.c.state == "done", job.c.reusable == 1),
    )
