"""Keep a library's stray prints away from standard output."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_lock = threading.Lock()
#: How many blocks are inside at once, and standard output as it was before the first of them.
_inside, _kept = 0, -1


@contextmanager
def quiet_stdout() -> Iterator[None]:
    """Keep the C++ side off standard output: HiGHS in scipy 1.17 prints a stray debug line there.

    Several threads may be inside at once: the first turns it off, the last turns it on again.
    """
    _enter()
    try:
        yield
    finally:
        _leave()


def _enter() -> None:
    global _inside, _kept
    with _lock:
        if _inside == 0:
            _kept = _turned_off()
        _inside += 1


def _leave() -> None:
    global _inside
    with _lock:
        _inside -= 1
        if _inside == 0 and _kept >= 0:
            os.dup2(_kept, 1)
            os.close(_kept)


def _turned_off() -> int:
    """Send standard output nowhere and return what it was, -1 if it is closed: nothing to keep quiet."""
    if sys.stdout is not None:
        sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:
        return -1
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
    return kept
