"""Solves the studies of a sweep on a cluster that runs already (Dask distributed, extra `cluster`).

The scheduler gives a lost worker's studies to another. Scheduler and workers must have the versions of
the sweep; a worker that has not ends the sweep, for its answers might differ.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Iterator
from concurrent import futures
from itertools import islice
from typing import Any

from ringset._version import versions
from ringset.analysis.sweep.processes import EngineError, Solved, Task
from ringset.analysis.sweep.worker import OtherVersions, solve_sweep_on_cluster, sweep_line_plain

#: Seconds to wait for the scheduler, and for its first worker.
CONNECT_S, FIRST_WORKER_S = 10.0, 60.0
#: Studies handed over per thread of the cluster, so that no worker waits for the next.
AHEAD = 3


def sweep_on_cluster(tasks: Iterator[Task], address: str) -> Iterator[Solved]:
    """Yield the line of every task as it is done, in any order; closing it cancels the rest.

    Raises EngineError if the scheduler cannot be reached, is lost, has no worker, or a worker has
    other versions.
    """
    from distributed import Client

    _quieten()
    try:
        client = Client(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, ValueError, ImportError) as error:
        raise EngineError(f"{address}: no scheduler answers there ({_first_line(error)})") from None
    try:
        with _while_reachable(address):
            try:
                client.wait_for_workers(1, timeout=FIRST_WORKER_S)
            except TimeoutError:
                raise EngineError(
                    f"{address}: no worker joined in {FIRST_WORKER_S:.0f} s"
                ) from None
        yield from _solved(client, tasks, address)
    finally:
        with contextlib.suppress(Exception):
            client.close(timeout=2)


def _quieten() -> None:
    """Silence the library's loggers: lost workers are replaced, and a lost scheduler is told by us."""
    for name in [
        name for name in logging.root.manager.loggerDict if name.startswith("distributed")
    ]:
        logging.getLogger(name).setLevel(logging.CRITICAL)  # each has a level of its own


def _solved(client: Any, tasks: Iterator[Task], address: str) -> Iterator[Solved]:
    from distributed import as_completed

    here = versions()
    keys: dict[Any, str] = {}
    done = as_completed(loop=client.loop)

    def hand_over() -> None:
        with _while_reachable(address):
            threads = sum(client.ncores().values())  # workers come and go
        for task in islice(tasks, max(0, AHEAD * max(1, threads) - len(keys))):
            with _while_reachable(address):
                future = client.submit(
                    solve_sweep_on_cluster, task.study, here, key=f"ringset-{task.key}", pure=False
                )
            keys[future] = task.key
            done.add(future)

    hand_over()
    for future in done:
        with _while_reachable(address):
            solved = _told(future, keys.pop(future), address)
        # kept first: should the scheduler be lost now, this study is not
        yield solved
        hand_over()


@contextlib.contextmanager
def _while_reachable(address: str) -> Iterator[None]:
    """Tell that the scheduler is lost, in whichever way the library says so."""
    try:
        yield
    except (OSError, TimeoutError, futures.CancelledError, asyncio.CancelledError):
        raise _lost(address) from None


def _lost(address: str) -> EngineError:
    return EngineError(f"{address}: the scheduler is lost")


def _told(future: Any, key: str, address: str) -> Solved:
    """Return what became of a study on the cluster."""
    from distributed import KilledWorker

    if future.status == "finished":
        return Solved(key, future.result())
    if future.status != "error":
        raise _lost(address)
    error = future.exception()
    if isinstance(error, OtherVersions | ModuleNotFoundError):
        raise EngineError(f"{address}: {error}; install the same versions on every worker")
    if isinstance(error, KilledWorker):
        reason = "worker after worker died over this study; memory may be short"
    else:
        reason = f"{type(error).__name__}: {_first_line(error)}"
    return Solved(key, sweep_line_plain("failed", [reason]), lost=True)


def _first_line(error: BaseException) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]
