"""The whole line beside plain HiGHS on all rows: random studies, one after another, whose values must agree.

Run on demand: python -m tests.bench.bench_agreement [studies of each kind, 250 by default]. Kinds: random
studies of two to four joints with shared limits, the same with prices, the same with batteries, and arms of
two and three joints with some thousand rows and a tool-point target (a tenth as many). Every answer passes
the judge; its stage values are those of `scipy.optimize.milp` on every row inside its limits, which knows
nothing of table, reduction or search (`tests/solving/test_brute_force.py`). What differs is printed with its
seed.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections import Counter
from collections.abc import Callable

from ringset.schema.study import Study
from ringset.search.engines.quiet_stdout import quiet_stdout
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.bench import instances
from tests.solving.test_brute_force import milp_best, table
from tests.support.electronic_studies import with_batteries
from tests.support.studies import load, priced_study, random_study

FIRST_SEED = 20_000


def arm(seed: int) -> Study:
    """Return an arm of two or three joints with a tool-point target."""
    shop = {"bore_step_mm": 1.0, "modules": [0.8, 1.0, 1.25, 1.5]}
    return instances.with_tool_points(instances.study(2 + seed % 2, seed, shop=shop))


KINDS: dict[str, Callable[[int], Study]] = {
    "random": lambda seed: load(random_study(seed)),
    "with prices": lambda seed: load(priced_study(seed)),
    "with batteries": lambda seed: load(with_batteries(seed)),
    "larger arms": arm,
}


def compare(study: Study) -> tuple[str, bool, float, float]:
    """Return the status, whether both agree, and the seconds of the line and of the plain way."""
    started = time.perf_counter()
    answer = solve(study)
    ours = time.perf_counter() - started
    agree = judge(study, answer) == [] and answer.status in ("proven", "impossible")
    rows = table(study)
    started = time.perf_counter()
    with quiet_stdout():
        best = milp_best(rows, answer.proof.material_unit_kg or 1e-6)
    plain = time.perf_counter() - started
    reached = {stage.wish: stage.value for stage in answer.proof.stages}
    return answer.status, agree and (reached or None) == best, ours, plain


def main(each: int) -> int:
    """Print a line per kind; return how many studies do not agree."""
    print(
        f"{'kind':16s} {'studies':>8s} {'agree':>6s} {'proven':>7s} {'ours s':>8s} {'plain s':>8s}"
    )
    different = 0
    for kind, make in KINDS.items():
        seen: Counter[str] = Counter()
        times = []
        for seed in range(FIRST_SEED, FIRST_SEED + (each // 10 if kind == "larger arms" else each)):
            status, agree, ours, plain = compare(make(seed))
            seen[status] += 1
            seen["agree"] += agree
            times.append((ours, plain))
            if not agree:
                different += 1
                print(f"{kind}: seed {seed} differs ({status})", flush=True)
        ours_s, plain_s = (statistics.median(column) for column in zip(*times, strict=True))
        print(
            f"{kind:16s} {len(times):8d} {seen['agree']:6d} {seen['proven']:7d}"
            f" {ours_s:8.3f} {plain_s:8.3f}",
            flush=True,
        )
    return different


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 250) > 0)
