"""Sweeps in the store: submitted whole, worked on row by row, told by how their rows stand.

A row is a job like any other, of the kind `row`: it waits in the same queue, survives what a study
survives, and fails alone. So a sweep has no state of its own but whether it was cancelled.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, and_, exists, func, insert, select, update

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
    store_require_queue_room,
    stored_reusable_job,
)
from ringset.api.store.schema import document, job, sweep, sweep_row


@dataclass(frozen=True)
class RowSubmission:
    """A row as it comes in: its values, what changes as JSON, and the hash of what decides its line."""

    cells: list[Any]
    options: str
    content: str


@dataclass(frozen=True)
class SweepSubmission:
    """A sweep as it comes in; `request_hash` is the hash of the body."""

    holder: str
    content: str
    study: bytes
    paths: list[str]
    rows: Sequence[RowSubmission]
    request_hash: str
    idempotency_key: IdempotencyKey | None = None


@dataclass(frozen=True)
class Sweep:
    """A sweep and how its rows stand; `stopping` of them are being ended."""

    number: int
    id: str
    holder: str
    content: str
    study: str
    paths: list[str]
    cancelled: bool
    created: float
    counts: dict[str, int]
    stopping: int
    started: float | None
    ended: float | None

    @property
    def open(self) -> bool:
        """Whether a row has not ended; those that only another sweep still wants do not count."""
        if self.cancelled:
            return self.stopping > 0
        return any(self.counts[state] for state in OPEN)

    @property
    def state(self) -> str:
        """How it stands, in the words for a study; rows that failed do not fail a sweep."""
        if not self.open:
            return "cancelled" if self.cancelled else "done"
        waiting = self.counts["queued"] == sum(self.counts.values())
        return "queued" if waiting else "running"


@dataclass(frozen=True)
class RowOf:
    """One row of a sweep: its place, its values, its job and the line found."""

    place: int
    cells: list[Any]
    job: Job
    line: dict[str, Any] | None


class SweepStore:
    """The sweeps of a store; every method is one short transaction."""

    def __init__(self, connections: Connections, clock: Callable[[], float]) -> None:
        self.connections, self.clock = connections, clock

    def submit(self, new: SweepSubmission, limits: Limits) -> tuple[Sweep, bool]:
        """Accept a sweep; returns it and whether it is new.

        The same sweep of the same holder is the same resource unless a row has failed or it was
        cancelled; rows known from other sweeps are not solved again. Raises QueueFull, KeyReused.
        """
        with self.connections.write() as c:
            known = recall_idempotency_key(c, new.holder, new.idempotency_key, new.request_hash)
            if known is not None and (again := _find(c, sweep.c.id == known)):
                return again, False
            equal = and_(sweep.c.holder == new.holder, sweep.c.content == new.content)
            found = _find(c, equal)
            if found and (found.cancelled or found.counts["failed"] or found.counts["cancelled"]):
                found = None
            fresh = found is None
            if found is None:
                found = self._insert(c, new, limits)
            remember_idempotency_key(
                c, new.holder, new.idempotency_key, new.request_hash, found.id, self.clock()
            )
            return found, fresh

    def _insert(self, c: Connection, new: SweepSubmission, limits: Limits) -> Sweep:
        study, identity = stored_sha256(new.study), secrets.token_hex(12)
        store_document(c, study, new.study)
        jobs = self._jobs(c, new, study, limits)
        values = {
            "id": identity, "holder": new.holder, "content": new.content, "study": study,
            "paths": json.dumps(new.paths), "created": self.clock(),
        }  # fmt: skip
        c.execute(insert(sweep).values(**values))
        made = _find(c, sweep.c.id == identity)
        assert made is not None
        rows = [
            {"sweep": made.number, "place": place, "cells": json.dumps(row.cells),
             "job": jobs[row.content]}
            for place, row in enumerate(new.rows)
        ]  # fmt: skip
        c.execute(insert(sweep_row), rows)
        whole = _find(c, sweep.c.id == identity)
        assert whole is not None
        return whole

    def _jobs(
        self, c: Connection, new: SweepSubmission, study: str, limits: Limits
    ) -> dict[str, int]:
        """Return the job of every row by its content; what is not known is put into the queue."""
        options = {row.content: row.options for row in new.rows}
        equal = and_(job.c.kind == ROW, job.c.content.in_(options))
        contents = select(job.c.content, job.c.number)
        query = contents.where(equal, stored_reusable_job(new.holder)).order_by(job.c.number)
        known: dict[str, int] = {row[0]: row[1] for row in c.execute(query)}
        fresh = [content for content in options if content not in known]
        if not fresh:
            return known
        mine = (job.c.holder == new.holder, job.c.kind == ROW)
        store_require_queue_room(c, limits.rows_max, *mine, needed=len(fresh))
        store_require_queue_room(c, limits.queue_max, needed=len(fresh))
        now = self.clock()
        rows = [
            {"id": secrets.token_hex(12), "holder": new.holder, "kind": ROW, "content": content,
             "options": options[content], "body": study, "state": "queued", "created": now}
            for content in fresh
        ]  # fmt: skip
        c.execute(insert(job), rows)
        made = contents.where(job.c.id.in_([row["id"] for row in rows]))
        return known | {row[0]: row[1] for row in c.execute(made)}

    def get(self, identity: str, holder: str) -> Sweep | None:
        """Return a sweep of a holder."""
        with self.connections.read() as c:
            return _find(c, and_(sweep.c.id == identity, sweep.c.holder == holder))

    def listed(self, holder: str, before: int | None, limit: int) -> list[Sweep]:
        """Return a holder's sweeps, newest first, older than the number `before`."""
        query = select(sweep).where(sweep.c.holder == holder)
        if before is not None:
            query = query.where(sweep.c.number < before)
        with self.connections.read() as c:
            rows = c.execute(query.order_by(sweep.c.number.desc()).limit(limit)).all()
            return [_standing(c, row) for row in rows]

    def rows(self, number: int, first: int = 0, limit: int | None = None) -> list[RowOf]:
        """Return rows of a sweep by their places from `first` on."""
        joined = sweep_row.join(job, job.c.number == sweep_row.c.job).outerjoin(
            document, document.c.sha256 == job.c.result
        )
        query = (
            select(sweep_row.c.place, sweep_row.c.cells, document.c.bytes, job)
            .select_from(joined)
            .where(sweep_row.c.sweep == number, sweep_row.c.place >= first)
            .order_by(sweep_row.c.place)
            .limit(limit)
        )
        with self.connections.read() as c:
            return [
                RowOf(
                    place, json.loads(cells), Job(*rest), None if line is None else json.loads(line)
                )
                for place, cells, line, *rest in c.execute(query)
            ]

    def cancel(self, number: int) -> None:
        """End the work on a sweep that has not ended, save on rows that another sweep wants."""
        mine = select(sweep_row.c.job).where(sweep_row.c.sweep == number)
        others = sweep_row.join(sweep, sweep.c.number == sweep_row.c.sweep)
        elsewhere = and_(sweep.c.cancelled == 0, sweep.c.number != number)
        wanted = select(1).select_from(others).where(elsewhere, sweep_row.c.job == job.c.number)
        unwanted = and_(job.c.number.in_(mine), ~wanted.exists())
        is_open = exists().where(job.c.number.in_(mine), job.c.state.in_(OPEN))
        with self.connections.write() as c:
            c.execute(update(sweep).where(sweep.c.number == number, is_open).values(cancelled=1))
            queued = update(job).where(unwanted, job.c.state == "queued")
            c.execute(queued.values(state="cancelled", ended=self.clock()))
            running = update(job).where(unwanted, job.c.state == "running")
            c.execute(running.values(cancel_wanted=1))


def _find(c: Connection, where: Any) -> Sweep | None:
    """Return the newest sweep of a condition."""
    row = c.execute(select(sweep).where(where).order_by(sweep.c.number.desc()).limit(1)).first()
    return None if row is None else _standing(c, row)


def _standing(c: Connection, row: Any) -> Sweep:
    """Return a sweep with how its rows stand."""
    counted = (
        select(job.c.state, job.c.cancel_wanted, func.count(), func.min(job.c.started),
               func.max(job.c.ended))
        .select_from(sweep_row.join(job, job.c.number == sweep_row.c.job))
        .where(sweep_row.c.sweep == row.number)
        .group_by(job.c.state, job.c.cancel_wanted)
    )  # fmt: skip
    counts = dict.fromkeys(("queued", "running", "done", "failed", "cancelled"), 0)
    stopping, started, ended = 0, [], []
    for state, wanted, number, first, last in c.execute(counted):
        counts[state] += number
        stopping += number if state == "running" and wanted else 0
        started += [] if first is None else [first]
        ended += [] if last is None else [last]
    is_open = bool(counts["queued"] or counts["running"])
    return Sweep(
        row.number, row.id, row.holder, row.content, row.study, json.loads(row.paths),
        bool(row.cancelled), row.created, counts, stopping, min(started, default=None),
        None if is_open else max(ended, default=None),
    )  # fmt: skip
