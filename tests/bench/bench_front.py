"""Seconds of whole fronts over cutters x ring parts x material, in one process, warm.

Run on demand from the top folder: python -m tests.bench.bench_front. Twenty seeded studies of six joints
(`instances.study`), without and with a tool-point target, and the six-joint scenario as it is: study to
judged points, catalogue and rating included. Every front must be complete, or the bench fails.
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path

from optimizer.front import front
from optimizer.loading import load_study
from optimizer.study import Study, Wish
from tests.bench.instances import study, with_tool_points

SCENARIO = Path(__file__).parents[2] / "scenarios" / "six_joint_arm.json"
SEEDS = range(1, 21)
OVER: list[Wish] = ["cutters", "ring_parts", "material"]
RUNS = 3


def seconds(made: Study) -> tuple[float, int, int]:
    """Return the median seconds of a front, its points, and the cells searched."""
    taken = []
    for _ in range(RUNS + 1):
        started = time.perf_counter()
        found = front(made, OVER)
        taken.append(time.perf_counter() - started)
        if not found.complete or not found.points:
            sys.exit(f"not complete: {found.open} {found.impossible}")
    searched = sum(cell.wish == found.minimised for cell in found.cells)
    return statistics.median(taken[1:]), len(found.points), searched


def main() -> None:
    """Print the table."""
    plain = [study(6, seed) for seed in SEEDS]
    groups = {
        "six joints, no tool point (20 seeds)": plain,
        "six joints, tool-point target (20 seeds)": [with_tool_points(made) for made in plain],
        "scenarios/six_joint_arm.json": [load_study(SCENARIO.read_text())],
    }
    print(f"{'front over ' + ' x '.join(OVER):42s} {'median s':>9s} {'worst s':>9s} {'points':>8s}")
    for name, made in groups.items():
        rows = [seconds(one) for one in made]
        taken, points = [row[0] for row in rows], [row[1] for row in rows]
        span = f"{min(points)} to {max(points)}" if len(points) > 1 else str(points[0])
        print(f"{name:42s} {statistics.median(taken):9.2f} {max(taken):9.2f} {span:>8s}")


if __name__ == "__main__":
    main()
