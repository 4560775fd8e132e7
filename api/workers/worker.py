"""The process that works on studies, one at a time; everything in and out is plain data.

It is forked from the fork server, which has imported the solver and never solved anything (no thread runs
in it), so a fresh worker is ready in some milliseconds. It ends when its service does.
"""

from __future__ import annotations

import importlib
import json
import multiprocessing
import os
import resource
import signal
import threading
import time
from collections.abc import Callable
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

from ringset import StudyError
from ringset.api.contract.questions import Options

#: Progress is told when something new is, and not more often than this, in seconds.
PROGRESS_EVERY_S = 0.25

Tell = Callable[[str, dict[str, Any]], None]
#: Status, whether it may answer an identical study, bytes of the result.
Found = tuple[str, bool, bytes]
#: (kind, document, options, tell) -> what was found
Perform = Callable[[str, bytes, Options, Tell], Found]


def work_on_queue(connection: Connection, perform: str, memory_mb: int) -> None:
    """Serve one job after another until the other end closes: (kind, document, options) in, messages out."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the service, which ends us
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=_end_with_the_service, daemon=True).start()
    _limit_memory(memory_mb)
    function = _find(perform)
    connection.send(("ready",))
    while True:
        try:
            kind, document, options = connection.recv()
        except (EOFError, OSError):
            return
        _one(connection, function, kind, document, json.loads(options))


def _one(
    connection: Connection, perform: Perform, kind: str, document: bytes, options: Options
) -> None:
    try:
        connection.send(("done", *perform(kind, document, options, Teller(connection))))
    except MemoryError:
        connection.send(
            ("failed", "out-of-memory", "The process ran out of the memory it is allowed.")
        )
    except StudyError as error:  # what no check before could see
        connection.send(("failed", "invalid", str(error)[:2000]))
    except Exception as error:
        connection.send(("failed", "faulty-result", f"{type(error).__name__}: {error}"[:2000]))


class Teller:
    """Passes progress on: at once when its stage or name changes, else now and then."""

    def __init__(self, connection: Connection) -> None:
        self.connection, self.last, self.stage = connection, 0.0, ""

    def __call__(self, name: str, data: dict[str, Any]) -> None:
        """Tell something that happened, by name."""
        now, stage = time.monotonic(), str(data.get("stage", ""))
        if name == "progress" and stage == self.stage and now - self.last < PROGRESS_EVERY_S:
            return
        self.last, self.stage = now, stage
        self.connection.send((name, data))


def _find(perform: str) -> Perform:
    module, _, name = perform.partition(":")
    function: Perform = getattr(importlib.import_module(module), name)
    return function


def _end_with_the_service() -> None:
    """End this process as soon as the service has, whatever it is doing."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _limit_memory(memory_mb: int) -> None:
    """Refuse a burst of memory that the service's own watch would see too late."""
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    most = pages * os.sysconf("SC_PAGE_SIZE") + 2 * memory_mb * 1_000_000
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
