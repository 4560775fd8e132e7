"""The queue as those who work on it see it: fair turns, progress, ends, and services that died.

Each service has a pulse, a number it raises every second. Another service that sees it stand still for
`takeover_s` by its own steady clock counts it as dead: no wall clock decides, so none can mislead.
"""

from __future__ import annotations

import json
import secrets
import time
from collections.abc import Callable, Container
from typing import Any

from sqlalchemy import Connection, and_, case, delete, exists, func, insert, select, update

from ringset.api.store.connections import Connections
from ringset.api.store.hashing import stored_sha256
from ringset.api.store.process_identity import process_may_live, this_process_identity
from ringset.api.store.records import ROW, Job, Outcome, store_document, store_event
from ringset.api.store.schema import document, event, job, service, turn

#: Added to the number of a job that waits behind all studies; far above any number.
_AFTER_STUDIES = 1 << 60


class WorkQueue:
    """The work of one service on the store; `owner` is its name there."""

    def __init__(
        self,
        connections: Connections,
        clock: Callable[[], float],
        steady: Callable[[], float] = time.monotonic,
    ) -> None:
        self.connections, self.clock, self.steady = connections, clock, steady
        self.owner = secrets.token_hex(8)
        self._seen: dict[str, tuple[int, float]] = {}

    def claim(self) -> tuple[Job, bytes] | None:
        """Take the next job and its document in fair turn.

        First comes the holder with the fewest running, then who was not served for longest, then the
        oldest job; of one holder's the studies go before the rows of sweeps.
        """
        with self.connections.read() as c:
            if not c.execute(select(exists().where(job.c.state == "queued"))).scalar():
                return None
        with self.connections.write() as c:
            number = _next_in_turn(c)
            if number is None:
                return None
            values = {
                "state": "running", "owner": self.owner, "attempts": job.c.attempts + 1,
                "started": self.clock(), "progress": None,
            }  # fmt: skip
            c.execute(update(job).where(job.c.number == number).values(**values))
            taken = store_event(c, number, "running", {"state": "running"})
            body = select(document.c.bytes).where(document.c.sha256 == taken.body)
            return taken, bytes(c.execute(body).scalar_one())

    def progress(self, number: int, name: str, data: dict[str, Any]) -> None:
        """Note how far a job has come; of each name only the last is kept, save `point`."""
        with self.connections.write() as c:
            mine = and_(job.c.number == number, job.c.owner == self.owner, job.c.state == "running")
            if c.execute(select(exists().where(mine))).scalar():
                if name == "progress":
                    c.execute(delete(event).where(event.c.job == number, event.c.name == name))
                    c.execute(update(job).where(mine).values(progress=json.dumps(data)))
                store_event(c, number, name, data)

    def finish(self, number: int, outcome: Outcome) -> bool:
        """End a job that is still this service's; a job that was taken over is left alone."""
        with self.connections.write() as c:
            mine = and_(job.c.number == number, job.c.owner == self.owner, job.c.state == "running")
            result = None
            if outcome.result is not None:
                result = stored_sha256(outcome.result)
                store_document(c, result, outcome.result)
            problem = None if outcome.problem is None else json.dumps(outcome.problem)
            ended = c.execute(
                update(job)
                .where(mine)
                .values(
                    state=outcome.state,
                    result=result,
                    status=outcome.status,
                    ended=self.clock(),
                    reusable=int(outcome.reusable),
                    problem=problem,
                    owner=None,
                )
            )
            if ended.rowcount == 1:
                store_event(
                    c, number, outcome.state, {"state": outcome.state, "status": outcome.status}
                )
            return ended.rowcount == 1

    def cancel_wanted(self) -> set[int]:
        """Return the numbers of this service's jobs that somebody wants to end."""
        query = select(job.c.number).where(
            job.c.state == "running", job.c.owner == self.owner, job.c.cancel_wanted == 1
        )
        with self.connections.read() as c:
            return set(c.execute(query).scalars())

    def requeue(
        self,
        owner: str,
        problem: dict[str, Any] | None,
        attempts_max: int,
        held: Container[int] = (),
    ) -> list[str]:
        """Put back what an owner was working on, save what is still `held`; returns the ids.

        With a problem the owner died: the attempt counts, and one too many fails the job with it.
        """
        with self.connections.write() as c:
            query = select(job).where(job.c.state == "running", job.c.owner == owner)
            lost = [Job(*row) for row in c.execute(query) if row.number not in held]
            for row in lost:
                if row.cancel_wanted:
                    values: dict[str, Any] = {"state": "cancelled", "ended": self.clock()}
                elif problem is not None and row.attempts >= attempts_max:
                    values = {
                        "state": "failed",
                        "ended": self.clock(),
                        "problem": json.dumps(problem),
                    }
                else:
                    attempts = row.attempts - (problem is None)
                    values = {"state": "queued", "attempts": attempts}
                c.execute(
                    update(job).where(job.c.number == row.number).values(owner=None, **values)
                )
                store_event(c, row.number, values["state"], {"state": values["state"]})
        return [row.id for row in lost]

    def pulse(self) -> None:
        """Show that this service lives."""
        with self.connections.write() as c:
            mine = service.c.id == self.owner
            raised = c.execute(update(service).where(mine).values(pulse=service.c.pulse + 1))
            if raised.rowcount == 0:
                place, pid = this_process_identity()
                c.execute(insert(service).values(id=self.owner, place=place, pid=pid, pulse=1))

    def dead(self, takeover_s: float) -> list[str]:
        """Return the services that have died: gone from this machine, or silent for too long."""
        now, found = self.steady(), []
        with self.connections.read() as c:
            rows = c.execute(select(service).where(service.c.id != self.owner)).all()
            known = {row.id for row in rows} | {self.owner}
            strays = c.execute(
                select(job.c.owner).where(job.c.state == "running").distinct()
            ).scalars()
            found += [owner for owner in strays if owner is not None and owner not in known]
        for row in rows:
            pulse, since = self._seen.get(row.id, (-1, now))
            if pulse != row.pulse:
                since = now
            self._seen[row.id] = (row.pulse, since)
            gone = not process_may_live(row.place, row.pid)
            if gone or now - since >= takeover_s:
                found.append(row.id)
        return found

    def bury(self, owner: str, attempts_max: int, problem: dict[str, Any]) -> None:
        """Put back the work of a dead service and forget it."""
        self.requeue(owner, problem, attempts_max)
        with self.connections.write() as c:
            c.execute(delete(service).where(service.c.id == owner))

    def leave(self) -> None:
        """Put back what this service was working on and forget it: an orderly stop."""
        self.requeue(self.owner, None, 0)
        with self.connections.write() as c:
            c.execute(delete(service).where(service.c.id == self.owner))


def _next_in_turn(c: Connection) -> int | None:
    """Return the number of the job whose turn it is, and note that its holder is served."""
    place = job.c.number + case((job.c.kind == ROW, _AFTER_STUDIES), else_=0)
    first = select(job.c.holder, func.min(place)).where(job.c.state == "queued")
    waiting: dict[str, int] = {row[0]: row[1] for row in c.execute(first.group_by(job.c.holder))}
    if not waiting:
        return None
    busy = select(job.c.holder, func.count()).where(job.c.state == "running")
    running: dict[str, int] = {row[0]: row[1] for row in c.execute(busy.group_by(job.c.holder))}
    served: dict[str, int] = {row.holder: row.served for row in c.execute(select(turn))}
    holder = min(waiting, key=lambda h: (running.get(h, 0), served.get(h, 0), waiting[h]))
    latest = max(served.values(), default=0) + 1
    if holder in served:
        c.execute(update(turn).where(turn.c.holder == holder).values(served=latest))
    else:
        c.execute(insert(turn).values(holder=holder, served=latest))
    return waiting[holder] % _AFTER_STUDIES
