"""What decides an answer: how many of the strongest inputs the screen finds, and what it takes.

`python -m tests.bench.bench_assumptions` prints both: seconds for the six-joint scenario and for six invented
joints with tool points (seeds 1 to 10), and 50 random studies against full solves of both ends of all inputs.
"""

from __future__ import annotations

import time

from ringset.analysis.assumptions.effects import rank_assumptions
from ringset.analysis.assumptions.helper import Helper
from ringset.cli.assumptions import EXTRA_S
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.bench import instances
from tests.support.assumption_studies import screened_shares
from tests.support.places import ROOT

SEEDS, RANDOM = range(1, 11), range(50)


def measured(name: str, study: Study, helper: Helper) -> None:
    """Print what an answer and its ranking take, and how many inputs the command's time leaves open."""
    cpu, wall = time.process_time(), time.perf_counter()
    answer = solve(study)
    cells = [name, f"{time.process_time() - cpu:.2f}", f"{time.perf_counter() - wall:.2f}"]
    cpu = time.process_time()
    rank_assumptions(study, answer)
    cells.append(f"{time.process_time() - cpu:.2f}")
    wall = time.perf_counter()
    found = rank_assumptions(study, answer, EXTRA_S, helper)
    cells += [f"{time.perf_counter() - wall:.2f}", str(len(found.open))]
    print("| " + " | ".join(cells) + " |", flush=True)


def main() -> None:
    """Print both."""
    helper = Helper()
    time.sleep(3.0)  # it has loaded the solver
    print("| study | solve, CPU s | solve, s | whole ranking, CPU s | within the time, s | open |")
    print("| --- | --- | --- | --- | --- | --- |")
    text = (ROOT / "scenarios" / "six_joint_arm.json").read_text()
    measured("six-joint arm", load_study(text), helper)
    for seed in SEEDS:
        study = instances.with_tool_points(instances.study(6, seed))
        measured(f"six joints, seed {seed}", study, helper)
    helper.end()
    share = screened_shares(RANDOM)
    print(
        f"{share.found} of the {share.strongest} strongest inputs were among those solved;", end=" "
    )
    print(f"all of the five strongest in {share.whole} of {share.studies} studies")


if __name__ == "__main__":
    main()
