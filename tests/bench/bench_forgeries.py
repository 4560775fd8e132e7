"""Forged certificates held against the list of all answers: none may be verified that is not true.

Run on demand: python -m tests.bench.bench_forgeries [forgeries of each kind, 500 by default]. Ten kinds
(`tests/support/forgeries.py`), sealed anew, on random studies of two to four joints, every second one with
prices. Every forgery claims what is not so: that an answer is the best that is not, or in another unit. A
certificate counts as verified if `ringset judge --certificate` would end with 0. Prints a line per kind.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter

from tests.support.forgeries import KINDS, cases, found

FIRST_SEED = 40_000
#: Forgeries of each kind that one study gives.
OF_A_STUDY = 10


def main(each: int) -> int:
    """Print a line per kind; return how many forgeries were taken for true."""
    seen: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    started = time.perf_counter()
    studies = 0
    for case in cases(FIRST_SEED):
        draw = random.Random(case.seed)
        studies += 1
        for kind, forge in KINDS.items():
            for _ in range(min(OF_A_STUDY, each - seen[kind].total())):
                made = forge(case, draw)
                if made is None:
                    break
                told = found(case, made)
                seen[kind][told] += 1
                if told in ("true", "FORGED"):
                    print(f"{kind}: seed {case.seed}: {told}", flush=True)
        if all(counted.total() >= each for counted in seen.values()):
            break
    names = ("unreadable", "refused", "not verified", "true", "FORGED")
    print(f"{'kind':14s} {'forged':>7s}" + "".join(f" {name:>12s}" for name in names))
    for kind, counted in seen.items():
        print(f"{kind:14s} {counted.total():7d}" + "".join(f" {counted[n]:12d}" for n in names))
    print(f"{studies} studies, {time.perf_counter() - started:.0f} s")
    return sum(counted["FORGED"] + counted["true"] for counted in seen.values())


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 500) > 0)
