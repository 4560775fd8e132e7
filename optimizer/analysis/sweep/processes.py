"""Solves the studies of a sweep in processes of this machine, one study and one thread each.

A pool of our own for its one duty that the library's lack: a worker that dies (out of memory, say)
takes only its own study down. That study goes to another worker once more; if that dies too, the
study is told as lost and the others go on.
"""

from __future__ import annotations

import contextlib
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator
from itertools import islice
from multiprocessing import connection, get_context, parent_process, resource_tracker
from multiprocessing.connection import Connection
from typing import Any, NamedTuple

from ringset.analysis.sweep.worker import solve_sweep_line, sweep_line_plain

#: How many workers a study may cost, and how many in a row may die before they have begun.
TRIES = 2
#: Settings by which numerical libraries start one thread, not one per core and worker.
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
_READY = "ready"

#: Turns the text of a study into its line of the table.
Work = Callable[[str], dict[str, Any]]


class Task(NamedTuple):
    """A study to solve: its fingerprint and its JSON text."""

    key: str
    study: str


class Solved(NamedTuple):
    """A study that is done with: its line, and whether its workers were lost over it."""

    key: str
    line: dict[str, Any]
    lost: bool = False


class EngineError(RuntimeError):
    """What runs the workers cannot go on; worded for people."""


def sweep_in_processes(
    tasks: Iterator[Task], processes: int, work: Work = solve_sweep_line
) -> Iterator[Solved]:
    """Yield the line of every task as it is done, in any order; closing it ends all workers at once.

    `work` runs in fresh processes started by spawn. Raises EngineError if no worker can begin.
    """
    pool = _Pool(tasks, processes, work)
    try:
        while pool.unfinished():
            yield from pool.step()
    finally:
        pool.end()


class _Worker:
    """A process, the line to it, and the study it is at, if any."""

    def __init__(self, work: Work) -> None:
        context = get_context("spawn")
        self.line, theirs = context.Pipe()
        self.process = context.Process(
            target=_work, args=(theirs, work), daemon=True, name="ringset sweep"
        )
        with _as_a_worker_starts():
            self.process.start()
        theirs.close()  # so that the line ends when the process does
        self.ready = False
        self.task: Task | None = None

    def give(self, task: Task) -> None:
        self.task = task
        with contextlib.suppress(OSError):  # just died: its line tells so when it is read
            self.line.send(task.study)

    def receive(self) -> Any:
        """Return what it sent, or None if it died."""
        try:
            return self.line.recv()
        except (EOFError, OSError):
            return None

    def end(self) -> None:
        self.process.kill()
        self.process.join()
        self.line.close()


class _Pool:
    """Workers at work, with as many studies made ready as there are workers."""

    def __init__(self, tasks: Iterator[Task], processes: int, work: Work) -> None:
        self.tasks, self.processes, self.work = tasks, processes, work
        self.workers: list[_Worker] = []
        self.next: deque[Task] = deque()
        self.tries: dict[str, int] = {}
        self.stillborn = 0

    def unfinished(self) -> bool:
        """Make tasks and workers ready; says whether anything is left to do."""
        self.next.extend(islice(self.tasks, max(0, self.processes - len(self.next))))
        busy = sum(worker.task is not None for worker in self.workers)
        while len(self.workers) < min(self.processes, busy + len(self.next)):
            try:
                self.workers.append(_Worker(self.work))
            except OSError as error:
                raise EngineError(f"a worker cannot be started ({error.strerror})") from None
        for worker in self.workers:
            self._give(worker)
        return bool(busy or self.next or any(worker.task for worker in self.workers))

    def step(self) -> Iterator[Solved]:
        """Wait until a worker says something; yield what is solved or lost."""
        for line in connection.wait([worker.line for worker in self.workers]):
            (worker,) = (worker for worker in self.workers if worker.line is line)
            told_line = worker.receive()
            task = worker.task
            if told_line is None:
                yield from self._bury(worker)
            elif told_line == _READY:
                worker.ready, self.stillborn = True, 0
                self._give(worker)
            elif task is not None:
                worker.task = None
                self._give(worker)  # before the line is kept: nobody waits for the disk
                yield Solved(task.key, told_line)

    def _give(self, worker: _Worker) -> None:
        if worker.ready and worker.task is None and self.next:
            worker.give(self.next.popleft())

    def _bury(self, worker: _Worker) -> Iterator[Solved]:
        """Take a dead worker out; its study is tried once more or told as lost."""
        self.workers.remove(worker)
        worker.end()
        code, task = worker.process.exitcode or 0, worker.task
        how = signal.Signals(-code).name if code < 0 else f"exit code {code}"
        if not worker.ready:
            self.stillborn += 1
            if self.stillborn >= TRIES:
                raise EngineError(f"workers die before they can begin ({how})")
        if task is None:
            return
        self.tries[task.key] = self.tries.get(task.key, 0) + 1
        if self.tries[task.key] < TRIES:
            self.next.appendleft(task)
            return
        reason = f"{TRIES} workers died over this study ({how}); memory may be short"
        yield Solved(task.key, sweep_line_plain("failed", [reason]), lost=True)

    def end(self) -> None:
        """End every worker at once."""
        for worker in self.workers:
            worker.process.kill()
        for worker in self.workers:
            worker.end()


@contextlib.contextmanager
def _as_a_worker_starts() -> Iterator[None]:
    """Set what a process begun here inherits.

    Its libraries start one thread, unless the user says otherwise. It does not see interrupts: those of
    a terminal reach every process, and the sweep ends its workers itself.
    """
    resource_tracker.ensure_running()  # else started with the worker, and it unblocks interrupts
    names = [name for name in _ONE_THREAD if name not in os.environ]
    os.environ.update(dict.fromkeys(names, "1"))
    mask = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, mask)
        for name in names:
            os.environ.pop(name, None)


def _work(line: Connection, work: Work) -> None:
    """Be a worker: say when ready, then turn studies into lines until the line ends."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    import ringset.solving.pipeline  # noqa: F401  (warm before the first study)

    told: object = _READY
    while True:
        try:
            line.send(told)
            text = line.recv()
        except (EOFError, OSError):
            return  # the sweep is gone: nobody is left to tell of it
        try:
            told = work(text)
        except MemoryError:
            os._exit(1)  # a fresh process may do better


def _end_with_parent() -> None:
    """End this process at once when the sweep is gone, even in the middle of a long search."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
