"""Studies with every input that engineers write down, beside plain loops and a list of every combination.

Run on demand: python -m tests.bench.bench_inputs [studies of each kind, 300 by default [first seed]].

Kinds: everyday studies (housings, bores, room, mass and inertia, repeatability, own materials, wires, tooth
counts, pitches, inches; `tests/support/everyday.py`), whose rings are counted through one by one and rated by
the judge; and studies with second rings (`tests/support/second_rings.py`), whose pairs are made from rings
rated alone. Every answer passes the judge, and its values are those of the best of all combinations. What
differs is printed with its seed.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Callable

from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.solving.test_brute_force import listed_best
from tests.support import second_rings
from tests.support.everyday import everyday_study, plain_table
from tests.support.studies import load

Best = dict[str, int] | None


def _everyday(study: Study, answer: Answer) -> Best:
    return listed_best(plain_table(study), answer.proof.material_unit_kg or 1e-6)


def _paired(study: Study, answer: Answer) -> Best:
    units = (answer.proof.material_unit_kg or 1e-6, answer.proof.cost_unit or 1e-2)
    return second_rings.listed_best(study, second_rings.ways_of(study), *units)


KINDS: dict[str, tuple[Callable[[int], Study], Callable[[Study, Answer], Best]]] = {
    "everyday": (lambda seed: load(everyday_study(seed)), _everyday),
    "second rings": (lambda seed: load(second_rings.paired_study(seed)), _paired),
}


def main(each: int, first: int) -> int:
    """Print what each kind came to; 1 where some study differs."""
    wrong = 0
    for kind, (make, best_of) in KINDS.items():
        seen: Counter[str] = Counter()
        began = time.perf_counter()
        for seed in range(first, first + each):
            study = make(seed)
            answer = solve(study)
            reached = {stage.wish: stage.value for stage in answer.proof.stages}
            sound = answer.status in ("proven", "impossible") and judge(study, answer) == []
            if not sound or (reached or None) != best_of(study, answer):
                print(f"{kind}, seed {seed}: {answer.status}, {reached}", flush=True)
                wrong += 1
            seen[answer.status] += 1
        told = ", ".join(f"{count} {status}" for status, count in sorted(seen.items()))
        print(f"{kind}: {told}; {time.perf_counter() - began:.0f} s", flush=True)
    print(f"{wrong} differ")
    return min(wrong, 1)


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:3]]
    sys.exit(main(*(given + [300, 30_000][len(given) :])))
