"""Whole-process times of the scenarios, and the line beside the plain way of solving.

Run on demand: python -m tests.bench.bench_line. Each command is run five times after one warm-up; the
median is printed. The plain way gives HiGHS (`scipy.optimize.milp`) all rows inside their limits, without
reduction, multipliers or listing, wish after wish with the earlier ones held, and stops after PLAIN_LIMIT_S.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

from ringset.catalogue.enumerate import catalogue
from ringset.rating.rate import rate
from ringset.rating.rated import Rated
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.units import reduction_units
from ringset.schema.loading import load_study
from ringset.schema.study import Study, Wish
from ringset.search.engines.highs import highs
from ringset.search.model.program import build_search_program
from ringset.search.wishes_in_turn import minimise_wishes
from tests.support.places import SCENARIOS

RUNS = 5
PLAIN_LIMIT_S = 120.0


def process(arguments: list[str]) -> tuple[float, float]:
    """Return median wall seconds and largest peak memory in MB of a command."""
    seconds, peaks = [], []
    for _ in range(RUNS + 1):
        started = time.perf_counter()
        with subprocess.Popen(
            [str(Path(sys.executable).with_name("ringset")), *arguments],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        ) as run:
            _, _, usage = os.wait4(run.pid, 0)
            run.returncode = 0
        seconds.append(time.perf_counter() - started)
        peaks.append(usage.ru_maxrss / 1024.0)
    return statistics.median(seconds[1:]), max(peaks)


def plain(study: Study, rated: Rated) -> tuple[float, bool]:
    """Return the seconds of the plain way and whether it proved every wish."""
    table = reduction_table(study, rated)
    units, ceilings = reduction_units(table), study.wishes.ceilings()
    started = time.perf_counter()
    held: dict[Wish, int] = {}
    for wish in study.wishes.order:
        program = build_search_program(table, units, wish, ceilings, held)
        left = PLAIN_LIMIT_S - (time.perf_counter() - started)
        found = highs(program, program.objectives[wish], time.monotonic() + max(1.0, left))
        if found.status != "OPTIMAL" or found.x is None:
            return time.perf_counter() - started, False
        held[wish] = program.objectives[wish].value(found.x)
    return time.perf_counter() - started, True


def ours(study: Study, rated: Rated) -> float:
    """Return the seconds of table, reduction and search on the same rows, warm."""
    started = time.perf_counter()
    table = reduction_table(study, rated)
    minimise_wishes(
        table, reduction_units(table), study.wishes.order, study.wishes.ceilings(), study.search
    )
    return time.perf_counter() - started


def main() -> None:
    """Print the table."""
    print(f"whole process, median of {RUNS}")
    print(f"{'command':44s} {'seconds':>8s} {'peak MB':>8s}")
    seconds, peak = process(["--help"])
    print(f"{'ringset --help':44s} {seconds:8.3f} {peak:8.0f}")
    names = sorted(path.stem for path in SCENARIOS.glob("*.json"))
    for name in names:
        seconds, peak = process(["solve", str(SCENARIOS / f"{name}.json")])
        print(f"{'ringset solve ' + name:44s} {seconds:8.3f} {peak:8.0f}")
    print("\nsearch on the same rows, in one process: ours (with reduction) beside plain HiGHS")
    print(f"{'study':24s} {'rows':>8s} {'ours s':>8s} {'plain s':>9s} {'ratio':>8s}")
    for name in names:
        study = load_study((SCENARIOS / f"{name}.json").read_text()).canonical()
        rated = rate(study, catalogue(study))
        rated = rated.take(rated.inside)
        present = np.bincount(rated.catalogue.joint, minlength=len(rated.catalogue.joints))
        if not present.all():
            continue
        ours(study, rated)
        mine = statistics.median(ours(study, rated) for _ in range(3))
        theirs, proved = plain(study, rated)
        more = "" if proved else " (no proof in the time)"
        ratio = f"{'' if proved else '>'}{theirs / mine:.0f}"
        print(f"{name:24s} {len(rated.catalogue):8d} {mine:8.3f} {theirs:9.1f} {ratio:>8s}{more}")


if __name__ == "__main__":
    main()
