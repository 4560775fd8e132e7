"""Speed of a sweep of six-joint studies: the whole command, one process beside two.

Run on demand, from the root of the checkout: python -m tests.bench.bench_sweep [ROWS]. ROWS is 100 (by
default) or 1000. Every run starts with an empty journal; both tables must have the same bytes.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.support.places import ROOT

SCENARIO = ROOT / "scenarios" / "six_joint_arm.json"
GRID = ("joints.wrist.tip_max_mm=84:93:1", "joints.elbow.tip_max_mm=120:129:1")
THIRD = {100: "target.angle_target_arcsec=110", 1000: "target.angle_target_arcsec=106:115:1"}


def processor_s() -> float:
    """Return the processor seconds of all ended children and theirs."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def sweep(rows: int, processes: int, table: Path) -> float:
    """Return the seconds of one sweep into `table`."""
    vary = [word for option in (*GRID, THIRD[rows]) for word in ("--vary", option)]
    words = [*vary, "--table", str(table), "--processes", str(processes)]
    started = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", "ringset", "sweep", str(SCENARIO), *words],
        cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=True, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    return time.perf_counter() - started


def main() -> None:
    """Print the table."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    seconds, tables = {}, {}
    with tempfile.TemporaryDirectory() as place:
        for processes in (1, 2):
            table = Path(place) / f"{processes}.csv"
            before = processor_s()
            seconds[processes] = sweep(rows, processes, table)
            tables[processes] = table.read_bytes()
            each = 1000.0 * seconds[processes] / rows
            cpu = 1000.0 * (processor_s() - before) / rows
            print(
                f"{processes} processes: {seconds[processes]:.1f} s, {each:.0f} ms a study "
                f"({cpu:.0f} ms of a processor)"
            )
    print(f"ratio one process / two: {seconds[1] / seconds[2]:.2f}")
    if tables[1] != tables[2]:
        raise SystemExit("the tables differ")


if __name__ == "__main__":
    main()
