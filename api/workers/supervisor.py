"""The supervisor: a thread that takes studies from the queue and gives them to worker processes.

The server process itself never imports a solver. A study that kills its worker, eats its memory or its
time ends as failed, with the reason; the next study gets a fresh worker.
"""

from __future__ import annotations

import contextlib
import logging
import os
import threading
import time
from collections.abc import Callable
from multiprocessing.connection import wait
from typing import Any

from ringset.api.problems import problem_of_failed_study
from ringset.api.settings import Settings
from ringset.api.store.connections import StoreUnavailable
from ringset.api.store.records import Job, Outcome
from ringset.api.store.studies import Store
from ringset.api.store.work_queue import WorkQueue
from ringset.api.workers.process import Worker, WorkerFactory

log = logging.getLogger("ringset")

#: Seconds between looks at time and memory of busy workers, at the queue, and at other services.
WATCH_S, QUEUE_S, PULSE_S, EXPIRE_S = 0.1, 0.3, 1.0, 30.0
#: Seconds between two notes of the progress of one study, and before its first.
NEWS_S = 0.25
#: Seconds before another try when a worker could not start.
RESTART_S = 2.0
DEFAULT_PERFORM = "ringset.api.workers.tasks:perform_task"


class Supervisor:
    """Runs the workers of one service; `changed` is told the id of every job that moved."""

    def __init__(
        self,
        store: Store,
        settings: Settings,
        changed: Callable[[str], None],
        perform: str = DEFAULT_PERFORM,
    ) -> None:
        self.store, self.settings, self.changed = store, settings, changed
        self.queue = WorkQueue(store.connections, store.clock)
        self.factory = WorkerFactory(perform, settings.memory_max_mb)
        self.workers: list[Worker] = []
        self.unsaved: list[tuple[Job, Outcome]] = []  # ended while the store could not be written
        self.deaths = 0
        self._pulsed = float("-inf")  # when the store was last written, by the steady clock
        self._due: dict[str, float] = {}
        self._start_after = float("-inf")
        self._look = True  # whether the queue may hold something new
        self._stop = threading.Event()
        self._awake, self._wake = os.pipe()
        os.set_blocking(self._awake, False)
        os.set_blocking(self._wake, False)
        self._thread = threading.Thread(target=self._run, name="supervisor", daemon=True)

    def start(self) -> None:
        """Start the thread."""
        self._thread.start()

    def wake(self) -> None:
        """Look at the queue now; may be called from any thread."""
        with contextlib.suppress(BlockingIOError):  # full of wakes already
            os.write(self._wake, b"x")

    def stop(self) -> None:
        """Stop in order: kill the workers and put their studies back into the queue."""
        self._stop.set()
        self.wake()
        self._thread.join(10.0)
        for worker in self.workers:
            worker.kill()
        try:
            self.queue.leave()
        except StoreUnavailable as error:  # the next start puts them back
            log.error("store", extra={"fault": str(error)})

    @property
    def ready(self) -> bool:
        """Whether the store was written a moment ago and a worker is at hand."""
        fresh = time.monotonic() - self._pulsed < 5.0 * PULSE_S
        return fresh and self._thread.is_alive() and any(worker.ready for worker in self.workers)

    @property
    def busy(self) -> int:
        """Number of studies being worked on."""
        return sum(worker.job is not None for worker in self.workers)

    def _run(self) -> None:
        while not self._stop.is_set():
            try:
                self._round()
            except StoreUnavailable as error:
                log.error("store", extra={"fault": str(error)})
                self._stop.wait(0.5)
            except Exception:  # a fault of ours must not stop all work for good
                log.exception("supervisor")
                self._stop.wait(0.5)

    def _round(self) -> None:
        """Hear and watch the workers, then let each duty at the store that is due have its turn."""
        self._wait()
        for worker in list(self.workers):
            self._hear(worker)
        self._watch()
        self._tell_news()
        if self._due_now("cancel", QUEUE_S):
            self._cancel()
        self._save()
        if self._due_now("pulse", PULSE_S):
            self._show_and_look_for_the_dead()
        if self._due_now("expire", EXPIRE_S):
            self.store.expire(self.store.clock() - 86400.0 * self.settings.keep_days)
        if self._look or self._due_now("queue", QUEUE_S):
            self._look = False
            self._hand_out()

    def _wait(self) -> None:
        """Fill the slots and wait until a worker says something, a call wakes, or a look is due."""
        while len(self.workers) < self.settings.slots and time.monotonic() >= self._start_after:
            self.workers.append(self.factory.start())
        ends = [worker.connection for worker in self.workers] + [self._awake]
        if self._awake in wait(ends, WATCH_S if self.busy else QUEUE_S):
            os.read(self._awake, 4096)
            self._look = True
            self._due.pop("cancel", None)

    def _due_now(self, duty: str, every_s: float) -> bool:
        now = time.monotonic()
        if now < self._due.get(duty, float("-inf")):
            return False
        self._due[duty] = now + every_s
        return True

    def _hand_out(self) -> None:
        if self._pulsed == float("-inf"):
            return  # a service that has not shown itself counts as dead to the others
        for worker in self.workers:
            if worker.ready and worker.job is None:
                claimed = self.queue.claim()
                if claimed is None:
                    return
                job, body = claimed
                self.changed(job.id)
                with contextlib.suppress(OSError):  # it died; the next pulse puts the job back
                    worker.take(job, body, NEWS_S)

    def _hear(self, worker: Worker) -> None:
        dead = worker.dead  # asked first, so that its last words are not missed
        for message in worker.messages():
            match message:
                case ("ready",):
                    worker.ready, self._look = True, True
                case ("done", str(status), bool(reusable), bytes(result)):
                    self._end(worker, Outcome("done", result, status, reusable))
                case ("failed", str(code), str(detail)):
                    self._end(
                        worker, Outcome("failed", problem=problem_of_failed_study(code, detail))
                    )
                case ("progress", dict(data)):
                    worker.news = data
                case (str(name), dict(data)) if worker.job is not None:
                    self._note(worker.job, name, data)
        if dead and worker in self.workers:
            self.deaths += 1
            if not worker.ready:  # it could not even start: do not try again all the time
                self._start_after = time.monotonic() + RESTART_S
                log.error("worker cannot start", extra={"fault": worker.last_words()})
            detail = f"It ended with {worker.last_words()}."
            self._end(
                worker,
                Outcome("failed", problem=problem_of_failed_study("worker-died", detail)),
                kill=True,
            )

    def _end(self, worker: Worker, outcome: Outcome, kill: bool = False) -> None:
        """Take the job from a worker, to be saved; one that failed, or has done enough, is replaced."""
        worker.jobs_done += 1
        enough = worker.jobs_done >= self.settings.worker_jobs
        if worker.job is not None:
            self.unsaved.append((worker.job, outcome))
            worker.job = None
        if kill or enough or outcome.state != "done":
            worker.kill()
            self.workers.remove(worker)
        self._look = True

    def _save(self) -> None:
        """Write what has ended; it stays here until the store takes it."""
        while self.unsaved:
            job, outcome = self.unsaved[0]
            self.queue.finish(job.number, outcome)
            self.unsaved.pop(0)
            self.changed(job.id)

    def _tell_news(self) -> None:
        """Note the latest progress of every worker, but not at every step: each costs a write."""
        now = time.monotonic()
        for worker in self.workers:
            if worker.job is not None and worker.news is not None and now >= worker.news_due:
                self._note(worker.job, "progress", worker.news)
                worker.news, worker.news_due = None, now + NEWS_S

    def _note(self, job: Job, name: str, data: dict[str, Any]) -> None:
        try:
            self.queue.progress(job.number, name, data)
        except StoreUnavailable as error:  # the result matters, news does not
            log.error("store", extra={"fault": str(error)})
        self.changed(job.id)

    def _watch(self) -> None:
        """End workers that use too much time or memory."""
        for worker in [worker for worker in self.workers if worker.job is not None]:
            longest, most = self.settings.study_time_max_s, self.settings.memory_max_mb
            if time.monotonic() - worker.started > longest:
                problem = problem_of_failed_study(
                    "out-of-time", f"It took longer than {longest:g} s."
                )
            elif worker.resident_mb > most:
                problem = problem_of_failed_study(
                    "out-of-memory", f"It needed more than {most} MB."
                )
            else:
                continue
            self._end(worker, Outcome("failed", problem=problem), kill=True)

    def _cancel(self) -> None:
        if not self.busy:
            return
        wanted = self.queue.cancel_wanted()
        for worker in list(self.workers):
            if worker.job is not None and worker.job.number in wanted:
                self._end(worker, Outcome("cancelled"), kill=True)

    def _show_and_look_for_the_dead(self) -> None:
        self.queue.pulse()
        self._pulsed = time.monotonic()
        held = {worker.job.number for worker in self.workers if worker.job is not None}
        held |= {job.number for job, _ in self.unsaved}
        # claimed, but lost on the way to a worker, as when the store fails in the middle
        self._look = bool(self.queue.requeue(self.queue.owner, None, 0, held)) or self._look
        for owner in self.queue.dead(self.settings.takeover_s):
            detail = f"It was started {self.settings.attempts_max} times."
            self.queue.bury(
                owner, self.settings.attempts_max, problem_of_failed_study("service-died", detail)
            )
            log.warning("takeover", extra={"owner": owner})
            self._look = True
