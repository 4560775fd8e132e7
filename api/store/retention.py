"""What is old is forgotten: studies and sweeps some time after they ended, and what only they used."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, delete, exists, or_, select

from ringset.api.store.connections import Connections
from ringset.api.store.records import OPEN
from ringset.api.store.schema import document, event, idempotency_key, job, sweep, sweep_row


def expire_records(connections: Connections, before: float, most: int = 500) -> int:
    """Forget what ended before a time; returns how many studies and sweeps.

    What has not ended is never forgotten, and a row of a sweep is kept as long as the sweep.
    """
    with connections.read() as c:  # mostly there is nothing, and no writer need wait for that
        if not _old_sweeps(c, before, 1) and not _old_jobs(c, before, 1):
            return 0
    with connections.write() as c:
        sweeps = _old_sweeps(c, before, most)
        numbers = [row.number for row in sweeps]
        c.execute(delete(sweep_row).where(sweep_row.c.sweep.in_(numbers)))
        c.execute(delete(sweep).where(sweep.c.number.in_(numbers)))
        jobs = _old_jobs(c, before, most)
        numbers = [row.number for row in jobs]
        c.execute(delete(event).where(event.c.job.in_(numbers)))
        c.execute(delete(job).where(job.c.number.in_(numbers)))
        c.execute(
            delete(idempotency_key).where(
                idempotency_key.c.job.in_([row.id for row in (*sweeps, *jobs)])
            )
        )
        digests = {row.study for row in sweeps} | {
            d for row in jobs for d in (row.body, row.result)
        }
        for digest in digests - {None}:
            _forget_unused(c, digest)
    return len(sweeps) + len(jobs)


def _old_sweeps(c: Connection, before: float, most: int) -> list[Any]:
    """Return sweeps all rows of which ended before a time."""
    rows = sweep_row.join(job, job.c.number == sweep_row.c.job)
    late = or_(job.c.state.in_(OPEN), job.c.ended >= before)
    kept = select(1).select_from(rows).where(sweep_row.c.sweep == sweep.c.number, late).exists()
    return list(c.execute(select(sweep).where(sweep.c.created < before, ~kept).limit(most)))


def _old_jobs(c: Connection, before: float, most: int) -> list[Any]:
    """Return jobs that ended before a time and are no row of a sweep."""
    held = exists().where(sweep_row.c.job == job.c.number)
    return list(c.execute(select(job).where(job.c.ended < before, ~held).limit(most)))


def _forget_unused(c: Connection, digest: str) -> None:
    used = or_(
        exists().where(or_(job.c.body == digest, job.c.result == digest)),
        exists().where(sweep.c.study == digest),
    )
    c.execute(delete(document).where(document.c.sha256 == digest, ~used))
