"""Rows of the store and what every transaction on them shares."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, exists, insert, select, update

from api.tables import document, event, job

#: States of a job that has not ended.
OPEN = ("queued", "running")


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


def sha256(data: bytes) -> str:
    """Return the SHA-256 of bytes, as hex."""
    return hashlib.sha256(data).hexdigest()


def get_job(c: Connection, where: Any) -> Job | None:
    """Return the job of a condition."""
    row = c.execute(select(job).where(where)).first()
    return None if row is None else Job(*row)


def put_document(c: Connection, digest: str, body: bytes) -> None:
    """Write a document once."""
    if not c.execute(select(exists().where(document.c.sha256 == digest))).scalar():
        c.execute(insert(document).values(sha256=digest, bytes=body))


def tell(c: Connection, number: int, name: str, data: dict[str, Any]) -> Job:
    """Add an event to a job and return the job as it now is."""
    c.execute(update(job).where(job.c.number == number).values(last_event=job.c.last_event + 1))
    now = get_job(c, job.c.number == number)
    assert now is not None
    c.execute(
        insert(event).values(job=number, seq=now.last_event, name=name, data=json.dumps(data))
    )
    return now
