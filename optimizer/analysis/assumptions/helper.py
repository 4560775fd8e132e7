"""A second process that solves ends beside the first. What an end comes to does not depend on who solves it.

It is begun by spawn, so that nothing of a solver is in it, and loads the solver while the first process
answers the study. It ends with its parent.
"""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections import deque
from collections.abc import Sequence
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection
from typing import NamedTuple

from ringset.analysis.assumptions.outcome import Outcome
from ringset.schema.study import Study

TYPE_CHECKING = False
if TYPE_CHECKING:
    from ringset.analysis.assumptions.ends import Known

_READY = "ready"


class EndTask(NamedTuple):
    """A study to solve, and what the known answer's rings have left of the nearest target there."""

    study: Study
    margin: float | None


class Helper:
    """The process and the line to it."""

    def __init__(self) -> None:
        context = get_context("spawn")
        self.line, theirs = context.Pipe()
        self.process = context.Process(
            target=_work, args=(theirs,), daemon=True, name="ringset ends"
        )
        self.process.start()
        theirs.close()  # so that the line ends when the process does

    def end(self) -> None:
        """End it at once."""
        self.process.kill()
        self.process.join()
        self.line.close()


def solve_ends(
    tasks: Sequence[EndTask], known: Known | None, seconds: float, helper: Helper | None = None
) -> list[Outcome | None]:
    """Return what every task comes to, None for those that were not begun within `seconds`.

    The first tasks are begun first; a helper takes them from the other end.
    """
    from ringset.analysis.assumptions.ends import solved_at

    ends, found = time.monotonic() + seconds, dict[int, Outcome]()
    left = deque(range(len(tasks)))
    beside = _Beside(helper, known, tasks, ends) if helper is not None else None
    while left or (beside is not None and beside.at is not None):
        if beside is not None:
            beside.step(left, found, wait=not left)
            if beside.lost:
                beside = None
        if time.monotonic() >= ends:
            break
        if left:
            at = left.popleft()
            found[at] = solved_at(*_args(tasks[at], known, ends))
    return [found.get(at) for at in range(len(tasks))]


def _args(
    task: EndTask, known: Known | None, ends: float
) -> tuple[Study, Known | None, float | None, float]:
    return task.study, known, task.margin, ends - time.monotonic()


class _Beside:
    """A helper at work on some tasks."""

    def __init__(
        self, helper: Helper, known: Known | None, tasks: Sequence[EndTask], ends: float
    ) -> None:
        self.helper, self.known, self.tasks, self.ends = helper, known, tasks, ends
        self.at: int | None = None
        self.ready, self.lost = False, False

    def step(self, left: deque[int], found: dict[int, Outcome], wait: bool) -> None:
        """Take what it has found, and give it another task; `wait` for it when nothing else is to do."""
        try:
            timeout = max(0.0, self.ends - time.monotonic()) if wait else 0.0
            while self.helper.line.poll(timeout):
                told = self.helper.line.recv()
                if self.at is not None:
                    found[self.at], self.at = told, None
                self.ready, timeout = True, 0.0
                self._give(left)
        except (EOFError, OSError):  # it died: its task is done here
            self.lost = True
            if self.at is not None:
                left.append(self.at)

    def _give(self, left: deque[int]) -> None:
        if len(left) > 1 or (left and self.ready):
            self.at = left.pop()
            self.helper.line.send((_args(self.tasks[self.at], None, self.ends), self.known))
            self.known = None  # it has it now


def _work(line: Connection) -> None:
    """Be the helper: say when ready, then solve until the line ends."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    from ringset.analysis.assumptions.ends import solved_at

    known: Known | None = None
    told: object = _READY
    with contextlib.suppress(EOFError, OSError):
        while True:
            line.send(told)
            (study, _, margin, seconds), fresh = line.recv()
            known = known if fresh is None else fresh
            told = solved_at(study, known, margin, seconds)


def _end_with_parent() -> None:
    """End this process at once when the first one is gone, even in the middle of a search."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
