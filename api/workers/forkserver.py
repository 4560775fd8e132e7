"""Starting the fork server of the workers as early as can be: it imports beside the service."""

from __future__ import annotations

import multiprocessing
import os
from multiprocessing import forkserver
from multiprocessing.context import ForkServerContext


def forkserver_context() -> ForkServerContext:
    """Return the context whose fork server is running, or has begun to."""
    # numpy's helper threads would make forking unsafe, and two slots share the processors anyway
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["ringset.api.workers.preload"])
    forkserver.ensure_running()
    return context
