"""What the routes share: settings, store, supervisor, and the calls that wait."""

from __future__ import annotations

import asyncio
import json
from dataclasses import dataclass, field
from typing import Annotated, Any

from anyio.to_thread import run_sync
from fastapi import Depends, Request

from api.asked import check_paths
from api.content import Memo, content_hash
from api.doors import Caller
from api.hub import Hub, moved
from api.jobs import Supervisor
from api.kinds import Options
from api.problems import FieldProblem, Problem, of_study_error
from api.rows import Job
from api.settings import Settings
from api.store import KeyReused, Limits, QueueFull, Store
from optimizer import Study, StudyError, load_study

#: Seconds after which a waiting call looks at the store itself: another service may do the work.
LOOK_S = 0.5


@dataclass
class Service:
    """One running service."""

    settings: Settings
    store: Store
    supervisor: Supervisor
    hub: Hub
    memo: Memo = field(default_factory=Memo)

    def accept(
        self, holder: str, kind: str, options: Options, raw: bytes, repeat_key: str | None
    ) -> tuple[Job, bytes | None]:
        """Accept a study, or find the one that is the same, and the result of one that has ended.

        Raises Problem. Called in a thread.
        """
        told = json.dumps(options, sort_keys=True)
        content = self.memo.get(f"{kind} {told}", raw)
        if content is None:
            study = self.checked(raw)
            check_paths(study, options)
            content = content_hash(kind, study, options)
            self.memo.put(f"{kind} {told}", raw, content)
        if repeat_key is None and (known := self.store.same(content, holder)):
            return known
        if self.hub.stopping.is_set():
            raise Problem("stopping", headers={"Retry-After": "5"})
        settings = self.settings
        oldest = self.store.clock() - 3600.0 * settings.repeat_key_hours
        limits = Limits(settings.queue_max, settings.queue_per_key)
        try:
            job, new = self.store.submit(
                holder, kind, content, raw, limits, repeat_key, oldest, told
            )
        except QueueFull as full:
            code = "busy" if full.in_all else "queue-full"
            raise Problem(code, headers={"Retry-After": "10"}) from None
        except KeyReused:
            raise Problem("key-reused") from None
        if new:
            self.supervisor.wake()
        return job, None if job.result is None else self.store.document(job.result)

    def checked(self, raw: bytes) -> Study:
        """Return the study of a body if this service may work on it; raises Problem."""
        try:
            study = load_study(raw)
        except StudyError as error:
            raise of_study_error(error, raw) from None
        self.within_ceilings(study, "")
        return study

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
        job = await run_sync(self.store.get, identity, caller.holder)
        if job is None:
            raise Problem("not-found")
        return job

    async def ended(self, job: Job, wait_s: float) -> Job:
        """Return the job once it has ended or the time is over, or the service stops."""
        loop = asyncio.get_running_loop()
        until = loop.time() + min(wait_s, self.settings.wait_max_s)
        with self.hub.watch(job.id) as flag:
            while job.open and not self.hub.stopping.is_set():
                now = await run_sync(self.store.get, job.id, job.holder)
                if now is None:
                    raise Problem("not-found")  # expired meanwhile
                job = now
                left = until - loop.time()
                if not job.open or left <= 0.0:
                    break
                await moved(flag, min(left, LOOK_S))
        return job

    def about(self) -> dict[str, Any]:
        """Return limits of this service, as `/v1/about` tells them."""
        names = (
            "slots", "study_time_max_s", "memory_max_mb", "search_workers_max", "queue_max",
            "queue_per_key", "wait_max_s", "body_max_bytes", "depth_max", "values_max", "rate_per_s",
            "rate_burst", "keep_days", "repeat_key_hours",
        )  # fmt: skip
        limits: dict[str, Any] = json.loads(self.settings.model_dump_json(include=set(names)))
        return limits


async def _service(request: Request) -> Service:
    service: Service = request.app.state.service
    return service


async def _caller(request: Request) -> Caller:
    caller: Caller = request.state.caller
    return caller


Here = Annotated[Service, Depends(_service)]
Who = Annotated[Caller, Depends(_caller)]
