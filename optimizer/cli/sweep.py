"""The command that solves many changed studies."""

from __future__ import annotations

import argparse
import os
import re
import signal
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

from ringset.cli.files import read_input_file, read_study, refuse_option_clashes, write_whole
from ringset.errors import ANSWERED, Refused
from ringset.reporting.progress import RowsProgress

if TYPE_CHECKING:
    from ringset.analysis.sweep.sweep import Engine, SweepPlan
    from ringset.schema.study import Study

_ENDINGS = (".csv", ".parquet")
_SIGNALS = (signal.SIGINT, signal.SIGTERM)


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `sweep`."""
    sweep = commands.add_parser(
        "sweep",
        help="solve many changed studies into one table",
        description="Solve every combination of changed fields, or a list of them, side by side. What is "
        "solved is kept in a journal beside the table: after a stop or a kill the same command goes on.",
    )
    sweep.add_argument("study", metavar="STUDY", help="study, a JSON file; - reads standard input")
    sweep.add_argument(
        "--vary",
        action="append",
        default=[],
        metavar="PATH=VALUES",
        help="a field such as joints.wrist.tip_max_mm, and start:stop:step or a comma list; "
        "several make a grid",
    )
    sweep.add_argument(
        "--list",
        metavar="FILE.csv",
        help="or a table: paths in the first line, a study in every other",
    )
    sweep.add_argument(
        "--table", required=True, metavar="FILE", help="result, one row per study: .csv or .parquet"
    )
    sweep.add_argument(
        "--processes", type=int, metavar="N", help="processes on this machine (one per core)"
    )
    sweep.add_argument(
        "--scheduler", metavar="tcp://HOST:PORT", help="or a running Dask scheduler (extra cluster)"
    )
    sweep.set_defaults(run=_sweep)


def _sweep(options: argparse.Namespace) -> int:
    # until there are workers an interrupt ends the process at once
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    _check(options)
    study = read_study(options.study)
    plan = _plan(study, options)
    from ringset._version import versions
    from ringset.analysis.sweep.journal import Journal, JournalError
    from ringset.analysis.sweep.processes import EngineError
    from ringset.analysis.sweep.sweep import run_sweep, sweep_table, sweep_table_bytes

    result = Path(options.table)
    kept = result.with_name(f"{result.name}.journal")
    try:
        with _ending_at_once(), Journal(kept, versions()) as journal:
            before = len(journal.lines)
            rows = run_sweep(plan, journal, _engine(options), RowsProgress())
            solved = len(journal.lines) - before
    except JournalError as error:
        raise Refused(str(error)) from None
    except EngineError as error:
        raise Refused(f"{error}\nthe same command goes on with what is solved by now") from None
    write_whole(result, sweep_table_bytes(sweep_table(plan, rows), result.suffix))
    counts = Counter(row.line["status"] for row in rows)
    print(f"{result}: {len(rows)} rows, " + ", ".join(f"{n} {s}" for s, n in counts.most_common()))
    print(f"{solved} studies solved now", end="")
    print(f"; {kept} keeps all and may be deleted" if kept.exists() else "")
    return ANSWERED


def _check(options: argparse.Namespace) -> None:
    """Refuse what can be refused before any work."""
    if bool(options.vary) == (options.list is not None):
        given = "both" if options.vary else "neither"
        raise Refused(f"--vary, --list: given {given}; allowed: one of the two")
    result = Path(options.table)
    if result.suffix not in _ENDINGS:
        raise Refused(
            f"--table: given {options.table}; allowed: a name that ends with .csv or .parquet"
        )
    place = result.resolve().parent
    if (result.exists() and not result.is_file()) or not (
        place.is_dir() and os.access(place, os.W_OK)
    ):
        # told before the work, not after it
        raise Refused(f"--table: given {options.table}; allowed: a place that can be written")
    refuse_option_clashes(
        STUDY=options.study,
        list=options.list,
        table=options.table,
        journal=f"{options.table}.journal",
    )
    if options.list == "-" == options.study:
        raise Refused("--list: given - beside STUDY -; allowed: - once")
    if options.processes is not None and options.scheduler is not None:
        raise Refused("--processes: given beside --scheduler; allowed: one of the two")
    if options.processes is not None and not 1 <= options.processes <= 256:
        raise Refused(f"--processes: given {options.processes}; allowed: 1 to 256")
    if result.suffix == ".parquet":
        _needs("pyarrow", "--table FILE.parquet", "parquet")
    if options.scheduler is not None:
        if not re.fullmatch(r"(tcp|tls)://[^/\s]+:[0-9]+", options.scheduler):
            given = f"given {options.scheduler}; allowed: tcp://HOST:PORT or tls://HOST:PORT"
            raise Refused(f"--scheduler: {given}")
        _needs("distributed", "--scheduler", "cluster")


def _needs(module: str, option: str, extra: str) -> None:
    if find_spec(module) is None:
        raise Refused(f"{option}: needs {module}; install it with: pip install '.[{extra}]'")


def _plan(study: Study, options: argparse.Namespace) -> SweepPlan:
    from ringset.analysis.sweep.sweep import sweep_grid, sweep_list
    from ringset.errors import StudyError

    try:
        if options.vary:
            return sweep_grid(study, options.vary)
        try:
            text = read_input_file(options.list).decode("utf-8-sig")
        except UnicodeDecodeError:
            raise Refused(f"{options.list}: given text that is not UTF-8; allowed: UTF-8") from None
        return sweep_list(study, text)
    except StudyError as error:
        raise Refused(str(error)) from None


def _engine(options: argparse.Namespace) -> Engine:
    if options.scheduler is not None:
        from ringset.analysis.sweep.cluster import sweep_on_cluster

        return partial(sweep_on_cluster, address=options.scheduler)
    from ringset.analysis.sweep.processes import sweep_in_processes

    return partial(sweep_in_processes, processes=options.processes or _cores())


def _cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class _Stopped(BaseException):
    """An interrupt or a termination; not an error that anything may swallow."""


@contextmanager
def _ending_at_once() -> Iterator[None]:
    """End by the signal that came, after the workers are ended and the journal is left whole."""
    came: list[int] = []

    def stop(number: int, _: FrameType | None) -> None:
        for each in _SIGNALS:
            signal.signal(each, signal.SIG_IGN)  # one is enough
        came.append(number)
        raise _Stopped

    before = {each: signal.signal(each, stop) for each in _SIGNALS}
    try:
        yield
    except _Stopped:
        print("stopped; the same command goes on with what is solved by now", file=sys.stderr)
        sys.stderr.flush()
        signal.signal(came[0], signal.SIG_DFL)
        os.kill(os.getpid(), came[0])
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)
