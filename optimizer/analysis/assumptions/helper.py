"""A second process that does a share of the work. What a task comes to does not depend on who does it.

It is begun by spawn, so that nothing of a solver is in it, and loads the solver while the first process
answers the study. It ends with its parent.
"""

from __future__ import annotations

import contextlib
import os
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection
from typing import Any, Generic, TypeVar

Context = TypeVar("Context")
Task = TypeVar("Task")
Result = TypeVar("Result")
#: Does one task in what all tasks share, within so many seconds; a function of a module.
Run = Callable[[Context, Task, float], Result]

_READY = "ready"
#: Tasks that a helper holds at once, so that it never waits for the next one.
_HELD = 2


class Helper:
    """The process and the line to it."""

    def __init__(self) -> None:
        context = get_context("spawn")
        self.line, theirs = context.Pipe()
        self.ready = False
        self.process = context.Process(
            target=_work, args=(theirs,), daemon=True, name="ringset helper"
        )
        self.process.start()
        theirs.close()  # so that the line ends when the process does

    def end(self) -> None:
        """End it at once."""
        self.process.kill()
        self.process.join()
        self.line.close()


def assumption_shared_work(
    run: Run[Context, Task, Result], context: Context, tasks: Sequence[Task], seconds: float,
    helper: Helper | None = None,
) -> list[Result | None]:  # fmt: skip
    """Return what every task comes to, None for those that were not begun within `seconds`.

    The first tasks are begun first; a helper takes them from the other end.
    """
    ends, found = time.monotonic() + seconds, dict[int, Result]()
    left = deque(range(len(tasks)))
    beside = None if helper is None else _Beside(helper, run, context, tasks, ends)
    while left or (beside is not None and beside.held):
        if beside is not None:
            beside.step(left, found, wait=not left)
            beside = None if beside.lost else beside
        if time.monotonic() >= ends:
            break
        if left:
            at = left.popleft()
            found[at] = run(context, tasks[at], ends - time.monotonic())
    if beside is not None:
        beside.drop(found)
    return [found.get(at) for at in range(len(tasks))]


class _Beside(Generic[Context, Task, Result]):
    """A helper at work on some tasks."""

    def __init__(
        self, helper: Helper, run: Run[Context, Task, Result], context: Context,
        tasks: Sequence[Task], ends: float,
    ) -> None:  # fmt: skip
        self.helper, self.run, self.tasks, self.ends = helper, run, tasks, ends
        self.fresh: tuple[Context] | None = (context,)
        self.held: deque[int] = deque()
        self.lost = False

    def step(self, left: deque[int], found: dict[int, Result], wait: bool) -> None:
        """Take what it has found, and give it more; `wait` for it when nothing else is to do."""
        try:
            timeout = max(0.0, self.ends - time.monotonic()) if wait else 0.0
            while self.helper.line.poll(timeout):
                told, timeout = self.helper.line.recv(), 0.0
                if self.helper.ready:
                    found[self.held.popleft()] = told
                self.helper.ready = True
            while self.helper.ready and len(left) > 1 and len(self.held) < _HELD:
                at = left.pop()
                self.held.append(at)
                message = self.run, self.fresh, self.tasks[at], self.ends - time.monotonic()
                self.helper.line.send(message)
                self.fresh = None  # it has it now
        except (EOFError, OSError):  # it died: its tasks are done here
            self.lost = True
            left.extend(self.held)

    def drop(self, found: dict[int, Result]) -> None:
        """Take what it still does when the time is over, so that its next tasks begin afresh."""
        with contextlib.suppress(EOFError, OSError):
            while self.held:
                found[self.held[0]] = self.helper.line.recv()
                self.held.popleft()


def _work(line: Connection) -> None:
    """Be the helper: say when ready, then do tasks until the line ends."""
    threading.Thread(target=_end_with_parent, daemon=True).start()
    # warm before the first task
    import ringset.analysis.assumptions.ends
    import ringset.analysis.assumptions.screen  # noqa: F401

    context: Any = None
    told: object = _READY
    with contextlib.suppress(EOFError, OSError):
        while True:
            line.send(told)
            run, fresh, task, seconds = line.recv()
            context = context if fresh is None else fresh[0]
            told = run(context, task, seconds)


def _end_with_parent() -> None:
    """End this process at once when the first one is gone, even in the middle of a search."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
