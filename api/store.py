"""What the service remembers: studies, their results, events, and who may call.

Every method is one short transaction. A study is written before its caller hears of it, a result
before its study counts as done.
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, and_, delete, exists, func, insert, or_, select, update

from api.engines import Engines
from api.rows import OPEN, Job, get_job, put_document, sha256, tell
from api.tables import document, event, job, migrate, repeat


@dataclass(frozen=True)
class Limits:
    """How many may wait."""

    queue_max: int
    queue_per_key: int


class QueueFull(Exception):
    """Too many are waiting: of this holder, or in all."""

    def __init__(self, in_all: bool) -> None:
        self.in_all = in_all


class KeyReused(Exception):
    """An idempotency key came with another body."""


class Store:
    """The store of one service; safe to use from several threads."""

    def __init__(self, url: str, clock: Callable[[], float] = time.time) -> None:
        self.engines = Engines(url)
        self.clock = clock
        try:
            with self.engines.write() as connection:
                migrate(connection)
        except BaseException:
            self.engines.close()
            raise

    def close(self) -> None:
        """Close every connection."""
        self.engines.close()

    def submit(
        self,
        holder: str,
        kind: str,
        content: str,
        body: bytes,
        limits: Limits,
        repeat_key: str | None = None,
        oldest_key: float = 0.0,
        options: str = "{}",
    ) -> tuple[Job, bool]:
        """Accept a study; returns its job and whether it is new.

        The same study of the same holder is the same job while it is open or its result may be
        reused; another holder's result answers it at once. Raises QueueFull, KeyReused.
        """
        digest = sha256(body)
        said = sha256(f"{kind} {options} {digest}".encode())
        with self.engines.write() as c:
            if repeat_key is not None:
                c.execute(delete(repeat).where(repeat.c.made < oldest_key))
                known = c.execute(
                    select(repeat.c.body, repeat.c.job).where(
                        repeat.c.holder == holder, repeat.c.key == repeat_key
                    )
                ).first()
                if known and known.body != said:
                    raise KeyReused
                if known and (same := get_job(c, job.c.id == known.job)):
                    return same, False
            found = _same(c, content, holder)
            fresh = found is None or found.holder != holder
            if fresh:
                put_document(c, digest, body)
                asked = {
                    "holder": holder, "kind": kind, "options": options, "content": content,
                    "body": digest,
                }  # fmt: skip
                found = self._insert(c, asked, found, limits)
            assert found is not None
            if repeat_key is not None:
                c.execute(
                    delete(repeat).where(repeat.c.holder == holder, repeat.c.key == repeat_key)
                )
                c.execute(
                    insert(repeat).values(
                        holder=holder, key=repeat_key, body=said, job=found.id, made=self.clock()
                    )
                )
            return found, fresh

    def _insert(
        self, c: Connection, asked: dict[str, Any], answered: Job | None, limits: Limits
    ) -> Job:
        now = self.clock()
        row = {**asked, "id": secrets.token_hex(12), "state": "queued", "created": now}
        if answered is not None:
            row |= {
                "state": "done", "result": answered.result, "status": answered.status, "reusable": 1,
                "started": now, "ended": now,
            }  # fmt: skip
        else:
            waiting = select(func.count()).select_from(job).where(job.c.state == "queued")
            own = waiting.where(job.c.holder == asked["holder"])
            if c.execute(own).scalar_one() >= limits.queue_per_key:
                raise QueueFull(in_all=False)
            if c.execute(waiting).scalar_one() >= limits.queue_max:
                raise QueueFull(in_all=True)
        c.execute(insert(job).values(**row))
        made = get_job(c, job.c.id == row["id"])
        assert made is not None
        return tell(c, made.number, made.state, {"state": made.state})

    def same(self, content: str, holder: str) -> tuple[Job, bytes | None] | None:
        """Return the holder's job for an identical study with its result, if there is one."""
        with self.engines.read() as c:
            found = _same(c, content, holder)
            if found is None or found.holder != holder:
                return None
            if found.result is None:
                return found, None
            body = select(document.c.bytes).where(document.c.sha256 == found.result)
            return found, bytes(c.execute(body).scalar_one())

    def get(self, identity: str, holder: str | None = None) -> Job | None:
        """Return a job of a holder (of anyone where None)."""
        with self.engines.read() as c:
            mine = [] if holder is None else [job.c.holder == holder]
            return get_job(c, and_(job.c.id == identity, *mine))

    def listed(self, holder: str, state: str | None, before: int | None, limit: int) -> list[Job]:
        """Return a holder's jobs, newest first, older than the number `before`."""
        query = select(job).where(job.c.holder == holder).order_by(job.c.number.desc()).limit(limit)
        if state is not None:
            query = query.where(job.c.state == state)
        if before is not None:
            query = query.where(job.c.number < before)
        with self.engines.read() as c:
            return [Job(*row) for row in c.execute(query)]

    def document(self, digest: str) -> bytes:
        """Return the bytes of a document."""
        with self.engines.read() as c:
            return bytes(
                c.execute(select(document.c.bytes).where(document.c.sha256 == digest)).scalar_one()
            )

    def events(self, number: int, after: int) -> list[tuple[int, str, str]]:
        """Return (sequence number, name, JSON) of what happened to a job after a number."""
        query = (
            select(event.c.seq, event.c.name, event.c.data)
            .where(event.c.job == number, event.c.seq > after)
            .order_by(event.c.seq)
        )
        with self.engines.read() as c:
            return [(seq, name, data) for seq, name, data in c.execute(query)]

    def counts(self) -> dict[str, int]:
        """Return the number of open jobs by state."""
        query = select(job.c.state, func.count()).where(job.c.state.in_(OPEN)).group_by(job.c.state)
        with self.engines.read() as c:
            found: dict[str, int] = {row[0]: row[1] for row in c.execute(query)}
        return {state: found.get(state, 0) for state in OPEN}

    def cancel(self, number: int) -> None:
        """Cancel a waiting job at once, wish it for a running one; an ended one stays as it is."""
        with self.engines.write() as c:
            ended = c.execute(
                update(job)
                .where(job.c.number == number, job.c.state == "queued")
                .values(state="cancelled", ended=self.clock())
            )
            if ended.rowcount == 1:
                tell(c, number, "cancelled", {"state": "cancelled"})
            c.execute(
                update(job)
                .where(job.c.number == number, job.c.state == "running")
                .values(cancel_wanted=1)
            )

    def expire(self, before: float, most: int = 500) -> int:
        """Forget jobs that ended before a time, with what only they used; returns how many."""
        with self.engines.read() as c:
            old = select(job).where(job.c.ended < before).limit(most)
            rows = [Job(*row) for row in c.execute(old)]
        if not rows:
            return 0
        numbers = [row.number for row in rows]
        with self.engines.write() as c:
            c.execute(delete(event).where(event.c.job.in_(numbers)))
            c.execute(delete(repeat).where(repeat.c.job.in_([row.id for row in rows])))
            c.execute(delete(job).where(job.c.number.in_(numbers)))
            for digest in {d for row in rows for d in (row.body, row.result) if d}:
                used = exists().where(or_(job.c.body == digest, job.c.result == digest))
                c.execute(delete(document).where(document.c.sha256 == digest, ~used))
        return len(rows)


def _same(c: Connection, content: str, holder: str) -> Job | None:
    """Return the holder's own job of this content, else anyone's whose result may be reused."""
    usable = or_(
        and_(job.c.holder == holder, job.c.state.in_(OPEN), job.c.cancel_wanted == 0),
        and_(job.c.state == "done", job.c.reusable == 1),
    )
    rows = c.execute(
        select(job)
        .where(job.c.content == content, usable)
        .order_by((job.c.holder == holder).desc(), job.c.number.desc())
        .limit(1)
    ).first()
    return None if rows is None else Job(*rows)
