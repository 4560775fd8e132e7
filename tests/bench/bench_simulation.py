"""Simulated turns of the six-joint scenario: seconds and peak memory, two processes beside one.

Run on demand: python -m tests.bench.bench_simulation. Each turn of each joint has 4,096 samples of two
channels of every head, with noise, decoded and reduced to its half range.
"""

from __future__ import annotations

import resource
import time

from ringset.analysis.simulation.monte_carlo import SAMPLES, simulate_yield
from ringset.schema.loading import load_study
from ringset.solving.pipeline import solve
from tests.support.places import SCENARIOS

SCENARIO = SCENARIOS / "six_joint_arm.json"
TURNS = 10_000


def main() -> None:
    """Print the table."""
    study = load_study(SCENARIO.read_text())
    answer = solve(study)
    heads = sum(ring.heads for ring in answer.rings)
    print(f"{len(answer.rings)} joints, {heads} heads, {SAMPLES} samples a turn")
    simulate_yield(study, answer, 64, seed=1)  # warm
    seconds = {}
    for processes in (2, 1):
        turns = TURNS if processes == 2 else TURNS // 4
        started = time.perf_counter()
        simulate_yield(study, answer, turns, seed=1, processes=processes)
        seconds[processes] = (time.perf_counter() - started) / turns
        per_robot = f"{seconds[processes] * TURNS:6.1f} s for {TURNS} turns of the robot"
        print(f"{processes} processes: {per_robot} ({turns} measured)")
    print(f"ratio one process / two: {seconds[1] / seconds[2]:.2f}")
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    child = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
    print(f"peak memory {(own + 2 * child) / 1024:.0f} MB (this process and two more)")


if __name__ == "__main__":
    main()
