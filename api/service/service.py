"""What the routes share: settings, store, supervisor, and the calls that wait."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Annotated, Any, TypeVar

from anyio.to_thread import run_sync
from fastapi import Depends, Request

from ringset import Study, StudyError
from ringset.api.contract.caller import Caller
from ringset.api.contract.query_options import (
    contract_check_front,
    contract_check_names,
    contract_check_paths,
    contract_check_previous,
)
from ringset.api.contract.questions import Options
from ringset.api.contract.request_body import contract_read_study_body
from ringset.api.contract.submission import (
    StudyRequest,
    contract_path_to_study,
    contract_read_submission,
)
from ringset.api.contract.sweeps import SweepRequest
from ringset.api.problems import FieldProblem, Problem, problem_of_study_error
from ringset.api.service.content_hash import Memo, service_content_hash
from ringset.api.service.notifications import Notifications, service_await_notification
from ringset.api.service.sweep_plan import service_sweep_plan_of, service_sweep_submission
from ringset.api.settings import Settings
from ringset.api.store.idempotency import IdempotencyKey, KeyReused
from ringset.api.store.records import Job, Limits, QueueFull
from ringset.api.store.studies import Store, Submission
from ringset.api.store.sweeps import Sweep, SweepStore
from ringset.api.workers.supervisor import Supervisor

Found = TypeVar("Found")
Open = TypeVar("Open", Job, Sweep)

#: Seconds after which a waiting call looks at the store itself: another service may do the work.
LOOK_S = 0.5


@dataclass
class Service:
    """One running service."""

    settings: Settings
    store: Store
    sweeps: SweepStore
    supervisor: Supervisor
    notifications: Notifications
    memo: Memo = field(default_factory=Memo)

    def accept(
        self, holder: str, kind: str, options: Options, raw: bytes, idempotency_key: str | None
    ) -> tuple[Job, bytes | None]:
        """Accept a study, or find the one that is the same, and the result of one that has ended.

        Raises Problem. Called in a thread.
        """
        options_text = json.dumps(options, sort_keys=True)
        content = self.memo.get(f"{kind} {options_text}", raw)
        if content is None:
            body, inside = self.checked(raw)
            contract_check_paths(body.study, options)
            contract_check_front(body.study, kind, options)
            contract_check_names(body.study, kind, options, raw, inside)
            contract_check_previous(kind, body.previous is not None)
            content = service_content_hash(kind, body.study, options, body.previous)
            self.memo.put(f"{kind} {options_text}", raw, content)
        if idempotency_key is None and (known := self.store.same(content, holder)):
            return known
        submission = Submission(
            holder, kind, content, raw, options_text, self._remembered(idempotency_key)
        )
        with self._admitting():
            job, new = self.store.submit(submission, self._limits)
        if new:
            self.supervisor.wake()
        return job, self.result(job)

    def accept_sweep(self, holder: str, raw: bytes, idempotency_key: str | None) -> Sweep:
        """Accept a sweep, or find the one that is the same. Raises Problem. Called in a thread."""
        body = contract_read_study_body(raw, SweepRequest)
        self.within_ceilings(body.study, "/study")
        plan = service_sweep_plan_of(body, self.settings.sweep_rows_max)
        submission = service_sweep_submission(holder, plan, raw, self._remembered(idempotency_key))
        with self._admitting():
            made, new = self.sweeps.submit(submission, self._limits)
        if new:
            self.supervisor.wake()
        return made

    @contextmanager
    def _admitting(self) -> Iterator[None]:
        """Turn what stands against accepting work into problems."""
        if self.notifications.stopping.is_set():
            raise Problem("stopping", headers={"Retry-After": "5"})
        try:
            yield
        except QueueFull as full:
            code = "busy" if full.in_all else "queue-full"
            raise Problem(code, headers={"Retry-After": "10"}) from None
        except KeyReused:
            raise Problem("key-reused") from None

    @property
    def _limits(self) -> Limits:
        settings = self.settings
        return Limits(settings.queue_max, settings.queue_per_key, settings.sweep_rows_max)

    def _remembered(self, key: str | None) -> IdempotencyKey | None:
        oldest = self.store.clock() - 3600.0 * self.settings.repeat_key_hours
        return None if key is None else IdempotencyKey(key, oldest)

    def result(self, job: Job) -> bytes | None:
        """Return what was found for a job, None where there is nothing; raises Problem."""
        return None if job.result is None else self.kept(job.result)

    def kept(self, digest: str) -> bytes:
        """Return the bytes of a document; raises Problem if it has expired since its name was read."""
        body = self.store.document(digest)
        if body is None:
            raise Problem("not-found")
        return body

    def checked(self, raw: bytes) -> tuple[StudyRequest, str]:
        """Return what a body submits, if this service may work on it, and the path to its study.

        The path is empty, or `study.` where an earlier answer may stand beside it. Raises Problem.
        """
        try:
            body = contract_read_submission(raw)
        except StudyError as error:
            raise problem_of_study_error(error, raw) from None
        inside = contract_path_to_study(raw)
        self.within_ceilings(body.study, f"/{inside}".rstrip("./"))
        return body, inside

    def within_ceilings(self, study: Study, prefix: str) -> None:
        """Refuse a study that asks for more than this service gives; raises Problem."""
        search, settings, errors = study.search, self.settings, []
        if search.time_limit_s > settings.study_time_max_s:
            allowed = f"allowed: at most {settings.study_time_max_s:g} on this service"
            errors.append(FieldProblem(pointer=f"{prefix}/search/time_limit_s", detail=allowed))
        if search.workers > settings.search_workers_max:
            allowed = f"allowed: at most {settings.search_workers_max} on this service"
            errors.append(FieldProblem(pointer=f"{prefix}/search/workers", detail=allowed))
        if errors:
            raise Problem("invalid", "It asks for more than this service gives.", errors)

    async def find(self, identity: str, caller: Caller) -> Job:
        """Return a job of the caller; raises Problem not-found."""
        return _existing(await run_sync(self.store.get, identity, caller.holder))

    async def find_sweep(self, identity: str, caller: Caller) -> Sweep:
        """Return a sweep of the caller; raises Problem not-found."""
        return _existing(await run_sync(self.sweeps.get, identity, caller.holder))

    async def ended(self, work: Open, wait_s: float, request: Request) -> Open:
        """Return a job or a sweep once it has ended or the time is over.

        The wait is over, too, when the service stops and when the caller has hung up.
        """
        look: Any = self.store.get if isinstance(work, Job) else self.sweeps.get
        loop = asyncio.get_running_loop()
        until = loop.time() + min(wait_s, self.settings.wait_max_s)
        with self.notifications.watch(work.id) as flag:
            while work.open and not self.notifications.stopping.is_set():
                work = _existing(await run_sync(look, work.id, work.holder))
                left = until - loop.time()
                if not work.open or left <= 0.0 or await request.is_disconnected():
                    break
                await service_await_notification(flag, min(left, LOOK_S))
        return work

    def about(self) -> dict[str, Any]:
        """Return limits of this service, as `/v1/about` tells them."""
        names = (
            "slots", "study_time_max_s", "memory_max_mb", "search_workers_max", "queue_max",
            "queue_per_key", "sweep_rows_max", "wait_max_s", "body_max_bytes", "depth_max",
            "values_max", "rate_per_s", "rate_burst", "keep_days", "repeat_key_hours",
        )  # fmt: skip
        limits: dict[str, Any] = json.loads(self.settings.model_dump_json(include=set(names)))
        return limits


def _existing(found: Found | None) -> Found:
    """Return what was looked for; raises Problem where it never was, or has expired."""
    if found is None:
        raise Problem("not-found")
    return found


async def _service(request: Request) -> Service:
    service: Service = request.app.state.service
    return service


async def _caller(request: Request) -> Caller:
    caller: Caller = request.state.caller
    return caller


ServiceDep = Annotated[Service, Depends(_service)]
CallerDep = Annotated[Caller, Depends(_caller)]
