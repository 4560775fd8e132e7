"""Open proofs: how large they are, how long they take, and whether any of 1,000 untrue ones is accepted.

Run on demand: python -m tests.bench.bench_open_proofs [untrue proofs, 1000 by default; 0 leaves them out]
[scenarios, all by default]. The first table has a line for every proof of a scenario: rows, lines of the
proof, bytes of both files, seconds to write it (with the check of its certificate) and seconds of the small
checker (`tests/support/cutting_planes.py`). The second spoils the proofs of random studies. Formulas that the
answer meets must be refused whatever the proof; a spoiled proof of a true formula may still do.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter

from ringset.schema.loading import load_study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.open_proofs.proofs import open_proofs
from tests.support.open_proofs import (
    SPOILED,
    UNTRUE,
    accepted,
    open_proofs_of,
    proven_stages,
    tampered,
)
from tests.support.places import SCENARIOS
from tests.support.studies import random_study, without_money

FIRST_SEED = 50_000


def _sizes(names: list[str]) -> int:
    """Print a line per proof of some scenarios; return how many the checker refuses."""
    print(f"{'scenario':22s} {'wish':12s}    rows  lines  opb bytes  pbp bytes  write s  check s")
    refused = 0
    for path in sorted(SCENARIOS.glob("*.json")):
        if names and path.stem not in names:
            continue
        study = load_study(path.read_text())
        answer = solve(study)
        certificate = certify(study, answer) if answer.rings else None
        for name in proven_stages(certificate) if certificate is not None else ():
            assert certificate is not None
            begun = time.perf_counter()
            (made,) = open_proofs(study, answer, certificate, only=[name]).stages
            written = time.perf_counter()
            good = accepted(made)
            refused += not good
            print(
                f"{path.stem:22s} {name:12s} {made.rows:7d} {made.lines:6d} {len(made.formula):10d} "
                f"{len(made.proof):10d} {written - begun:8.1f} {time.perf_counter() - written:8.1f}"
                f"{'' if good else '  REFUSED'}",
                flush=True,
            )
    return refused


def _tampering(wanted: int) -> int:
    """Print what becomes of spoiled proofs, kind by kind; return how many untrue ones are accepted."""
    draw, seen, taken = random.Random(FIRST_SEED), Counter[str](), Counter[str]()
    seed = FIRST_SEED
    while sum(seen[kind] for kind in UNTRUE) < wanted:
        made = open_proofs_of(without_money(random_study(seed)))
        seed += 1
        for stage in made[2].stages if made is not None else ():
            for kind, told in tampered(stage, UNTRUE | SPOILED, draw, 2):
                seen[kind] += 1
                taken[kind] += told
    print(f"\n{'spoiled':48s} {'proofs':>7s} {'accepted':>9s}")
    for kind in (*UNTRUE, *SPOILED):
        print(f"{kind:48s} {seen[kind]:7d} {taken[kind]:9d}")
    return sum(taken[kind] for kind in UNTRUE)


def main(wanted: int, names: list[str]) -> int:
    """Print both tables; return what should be 0."""
    refused = _sizes(names)
    return refused + (_tampering(wanted) if wanted else 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000, sys.argv[2:]) > 0)
