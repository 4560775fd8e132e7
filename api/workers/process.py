"""One worker process as the service sees it: send a job, hear of it, watch it, end it."""

from __future__ import annotations

import contextlib
import os
import time
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from ringset.api.store.records import Job
from ringset.api.workers.forkserver import forkserver_context
from ringset.api.workers.worker import work_on_queue

_PAGE = os.sysconf("SC_PAGE_SIZE")


class WorkerFactory:
    """Starts worker processes, each forked from the fork server."""

    def __init__(self, perform: str, memory_mb: int) -> None:
        self.context = forkserver_context()
        self.perform, self.memory_mb = perform, memory_mb

    def start(self) -> Worker:
        """Start one more worker; it says when it is ready."""
        ours, theirs = self.context.Pipe()
        process = self.context.Process(
            target=work_on_queue, args=(theirs, self.perform, self.memory_mb), daemon=True
        )
        process.start()
        theirs.close()
        return Worker(process, ours)


class Worker:
    """A worker process; `job` is what it works on, None while it waits."""

    def __init__(self, process: Any, connection: Connection) -> None:
        self.process, self.connection = process, connection
        self.ready, self.started, self.jobs_done = False, 0.0, 0
        self.job: Job | None = None
        self.news: dict[str, Any] | None = None  # progress that has not been noted yet
        self.news_due = 0.0

    def take(self, job: Job, document: bytes, news_s: float) -> None:
        """Give it a job, whose first progress is noted after some seconds."""
        self.connection.send((job.kind, document, job.options))
        self.job, self.started = job, time.monotonic()
        self.news, self.news_due = None, self.started + news_s

    def messages(self) -> list[tuple[Any, ...]]:
        """Return what it has said; a pipe that ended says nothing more."""
        heard: list[tuple[Any, ...]] = []
        with contextlib.suppress(EOFError, OSError):
            while self.connection.poll():
                heard.append(self.connection.recv())
        return heard

    @property
    def dead(self) -> bool:
        """Whether the process has ended."""
        return not self.process.is_alive()

    @property
    def resident_mb(self) -> float:
        """Memory it occupies now, in MB; 0 once it is gone."""
        try:
            pages = int(Path(f"/proc/{self.process.pid}/statm").read_text().split()[1])
        except (OSError, IndexError):
            return 0.0
        return pages * _PAGE / 1e6

    def last_words(self) -> str:
        """Return how a dead process ended."""
        code = self.process.exitcode
        return f"signal {-code}" if code is not None and code < 0 else f"exit code {code}"

    def kill(self) -> None:
        """End it at once."""
        self.process.kill()
        self.process.join(5.0)
        self.connection.close()
