"""Keep a library's stray prints away from standard output."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def quiet_stdout() -> Iterator[None]:
    """Keep the C++ side off standard output: HiGHS in scipy 1.17 prints a stray debug line there."""
    if sys.stdout is not None:
        sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # closed: there is nothing to keep quiet
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
