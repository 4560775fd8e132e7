"""What the service remembers: studies, their results, events, and who may call.

Every method is one short transaction. A study is written before its caller hears of it, a result
before its study counts as done.
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy import Connection, and_, func, insert, select, update

from ringset.api.store.connections import Connections
from ringset.api.store.hashing import stored_sha256
from ringset.api.store.idempotency import (
    IdempotencyKey,
    recall_idempotency_key,
    remember_idempotency_key,
)
from ringset.api.store.records import (
    OPEN,
    ROW,
    Job,
    Limits,
    store_document,
    store_event,
    store_require_queue_room,
    stored_job,
    stored_reusable_job,
)
from ringset.api.store.retention import expire_records
from ringset.api.store.schema import document, event, job, migrate_schema


@dataclass(frozen=True)
class Submission:
    """A study as it comes in: whose, what is asked of it with which options, and its bytes."""

    holder: str
    kind: str
    content: str  # SHA-256 of what decides the result
    body: bytes
    options: str = "{}"
    idempotency_key: IdempotencyKey | None = None


class Store:
    """The store of one service; safe to use from several threads."""

    def __init__(self, url: str, clock: Callable[[], float] = time.time) -> None:
        self.connections = Connections(url)
        self.clock = clock
        try:
            with self.connections.write() as connection:
                migrate_schema(connection)
        except BaseException:
            self.connections.close()
            raise

    def close(self) -> None:
        """Close every connection."""
        self.connections.close()

    def submit(self, new: Submission, limits: Limits) -> tuple[Job, bool]:
        """Accept a study; returns its job and whether it is new.

        The same study of the same holder is the same job while it is open or its result may be
        reused; another holder's result answers it at once. Raises QueueFull, KeyReused.
        """
        request_hash = stored_sha256(f"{new.kind} {new.options} {stored_sha256(new.body)}".encode())
        with self.connections.write() as c:
            known = recall_idempotency_key(c, new.holder, new.idempotency_key, request_hash)
            if known is not None and (again := stored_job(c, job.c.id == known)):
                return again, False
            found = _same(c, new.content, new.holder)
            fresh = found is None or found.holder != new.holder
            if found is None or fresh:
                found = self._insert(c, new, found, limits)
            remember_idempotency_key(
                c, new.holder, new.idempotency_key, request_hash, found.id, self.clock()
            )
            return found, fresh

    def _insert(self, c: Connection, new: Submission, answered: Job | None, limits: Limits) -> Job:
        """Write a new job: one that waits, or one that another's result has answered already."""
        now, body = self.clock(), stored_sha256(new.body)
        store_document(c, body, new.body)
        row = {
            "id": secrets.token_hex(12), "holder": new.holder, "kind": new.kind,
            "options": new.options, "content": new.content, "body": body, "state": "queued",
            "created": now,
        }  # fmt: skip
        if answered is not None:
            row |= {
                "state": "done", "result": answered.result, "status": answered.status, "reusable": 1,
                "started": now, "ended": now,
            }  # fmt: skip
        else:
            store_require_queue_room(
                c, limits.queue_per_key, job.c.holder == new.holder, job.c.kind != ROW
            )
            store_require_queue_room(c, limits.queue_max)
        c.execute(insert(job).values(**row))
        made = stored_job(c, job.c.id == row["id"])
        assert made is not None
        return store_event(c, made.number, made.state, {"state": made.state})

    def same(self, content: str, holder: str) -> tuple[Job, bytes | None] | None:
        """Return the holder's job for an identical study with its result, if there is one."""
        with self.connections.read() as c:
            found = _same(c, content, holder)
            if found is None or found.holder != holder:
                return None
            if found.result is None:
                return found, None
            query = select(document.c.bytes).where(document.c.sha256 == found.result)
            body = c.execute(query).scalar_one_or_none()
            return None if body is None else (found, bytes(body))  # it has expired this moment

    def get(self, identity: str, holder: str | None = None) -> Job | None:
        """Return a job of a holder (of anyone where None)."""
        with self.connections.read() as c:
            mine = [] if holder is None else [job.c.holder == holder]
            return stored_job(c, and_(job.c.id == identity, *mine))

    def listed(self, holder: str, state: str | None, before: int | None, limit: int) -> list[Job]:
        """Return a holder's jobs, newest first, older than the number `before`."""
        mine = and_(job.c.holder == holder, job.c.kind != ROW)
        query = select(job).where(mine).order_by(job.c.number.desc()).limit(limit)
        if state is not None:
            query = query.where(job.c.state == state)
        if before is not None:
            query = query.where(job.c.number < before)
        with self.connections.read() as c:
            return [Job(*row) for row in c.execute(query)]

    def document(self, digest: str) -> bytes | None:
        """Return the bytes of a document, None where there is none."""
        query = select(document.c.bytes).where(document.c.sha256 == digest)
        with self.connections.read() as c:
            body = c.execute(query).scalar_one_or_none()
        return None if body is None else bytes(body)

    def events(self, number: int, after: int) -> list[tuple[int, str, str]]:
        """Return (sequence number, name, JSON) of what happened to a job after a number."""
        query = (
            select(event.c.seq, event.c.name, event.c.data)
            .where(event.c.job == number, event.c.seq > after)
            .order_by(event.c.seq)
        )
        with self.connections.read() as c:
            return [(seq, name, data) for seq, name, data in c.execute(query)]

    def counts(self) -> dict[str, int]:
        """Return the number of open jobs by state."""
        query = select(job.c.state, func.count()).where(job.c.state.in_(OPEN)).group_by(job.c.state)
        with self.connections.read() as c:
            found: dict[str, int] = {row[0]: row[1] for row in c.execute(query)}
        return {state: found.get(state, 0) for state in OPEN}

    def cancel(self, number: int) -> None:
        """Cancel a waiting job at once, wish it for a running one; an ended one stays as it is."""
        with self.connections.write() as c:
            ended = c.execute(
                update(job)
                .where(job.c.number == number, job.c.state == "queued")
                .values(state="cancelled", ended=self.clock())
            )
            if ended.rowcount == 1:
                store_event(c, number, "cancelled", {"state": "cancelled"})
            c.execute(
                update(job)
                .where(job.c.number == number, job.c.state == "running")
                .values(cancel_wanted=1)
            )

    def expire(self, before: float) -> int:
        """Forget studies and sweeps that ended before a time; returns how many."""
        return expire_records(self.connections, before)


def _same(c: Connection, content: str, holder: str) -> Job | None:
    """Return the holder's own job of this content, else anyone's whose result may be reused."""
    rows = c.execute(
        select(job)
        .where(job.c.content == content, stored_reusable_job(holder))
        .order_by((job.c.holder == holder).desc(), job.c.number.desc())
        .limit(1)
    ).first()
    return None if rows is None else Job(*rows)
