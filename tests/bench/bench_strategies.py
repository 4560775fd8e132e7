"""Every strategy of the search switched off in turn, over parts of the bench, as ratios in one run.

Run on demand: python -m tests.bench.bench_strategies [part ...], all parts by default: six, front, thirty,
heads, hundred, thousand. For each seed the whole search runs first, then once without each strategy, then
with one HiGHS call for each wish on the reduced rows. Printed are the processor seconds over the seeds,
divided by those of the whole search, and how many were proven if not all: other work on the machine does not
count. A search that ends without proof would have taken longer, so such a ratio is a least one. `README.md`
beside holds the table.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

from ringset.analysis.front.front import find_front
from ringset.reduction.reduce import reduce
from ringset.reduction.units import reduction_units
from ringset.schema.study import Study, Wish
from ringset.search.engines.highs import highs
from ringset.search.model.program import build_search_program
from ringset.search.tuning import STRATEGIES, search_tuned
from ringset.search.wishes_in_turn import minimise_wishes
from tests.bench import instances
from tests.bench.bench_search import least_parts, table_for

#: Processor seconds, all threads together, and whether all was proven.
Outcome = tuple[float, bool]


@dataclass(frozen=True)
class Part:
    """Seeds of a part of the bench, what is asked of each, and the seconds given."""

    seeds: range
    made: Callable[[int], tuple[Study, list[Wish], dict[Wish, float]]]
    limit_s: float
    as_front: bool = False


def searched(part: Part, study: Study, order: list[Wish], ceilings: dict[Wish, float]) -> Outcome:
    """Return the seconds from catalogue to chosen rows (of a front: to judged answers), and the proof."""
    study = study.model_copy(
        update={"search": study.search.model_copy(update={"time_limit_s": part.limit_s})}
    )
    started = time.process_time()
    if part.as_front:
        proven = find_front(study, order).complete
    else:
        table = table_for(study)
        proven = (
            minimise_wishes(table, reduction_units(table), order, ceilings, study.search).status
            == "proven"
        )
    return time.process_time() - started, proven


def one_call(part: Part, study: Study, order: list[Wish], ceilings: dict[Wish, float]) -> Outcome:
    """Return the same of one HiGHS call for each wish on the reduced rows."""
    started = time.process_time()
    table, held, proven = table_for(study), dict[Wish, int](), True
    units = reduction_units(table)
    for number, wish in enumerate(order):
        rows = reduce(table, frozenset(order[: number + 1]) | frozenset(ceilings))
        program = build_search_program(rows, units, wish, ceilings, held)
        objective = program.objectives[wish]
        found = highs(program, objective, time.monotonic() + part.limit_s)
        if found.x is None or found.status != "OPTIMAL":
            return time.process_time() - started, False
        held[wish] = objective.value(found.x)
    return time.process_time() - started, proven


def six(seed: int) -> tuple[Study, list[Wish], dict[Wish, float]]:
    """Six joints with a tool point, default wishes."""
    study = instances.with_tool_points(instances.study(6, seed))
    return study, study.wishes.order, {}


def fronts(seed: int) -> tuple[Study, list[Wish], dict[Wish, float]]:
    """The front of six joints with a tool point."""
    return six(seed)[0], ["cutters", "ring_parts", "material"], {}


def thirty(seed: int) -> tuple[Study, list[Wish], dict[Wish, float]]:
    """Thirty joints with tool points, heads no wish."""
    study = instances.with_tool_points(instances.study(30, seed))
    return study, ["cutters", "ring_parts", "material"], {}


def heads(seed: int) -> tuple[Study, list[Wish], dict[Wish, float]]:
    """Thirty joints with tool points, heads held before material."""
    study = thirty(seed)[0]
    return study, ["cutters", "ring_parts", "heads", "material"], {}


def hundred(seed: int) -> tuple[Study, list[Wish], dict[Wish, float]]:
    """A hundred joints under ceilings of cutters and ring parts."""
    study = instances.study(100, seed, make=instances.house_arm)
    return study, ["material"], {"cutters": 4, "ring_parts": max(15, least_parts(study))}


def thousand(seed: int) -> tuple[Study, list[Wish], dict[Wish, float]]:
    """A thousand joints under ceilings of cutters and ring parts."""
    study = instances.study(1000, seed, make=instances.house_arm)
    return study, ["material"], {"cutters": 4, "ring_parts": 60}


PARTS = {
    "six": Part(range(1, 9), six, 30.0),
    "front": Part(range(1, 5), fronts, 30.0, as_front=True),
    "thirty": Part(range(1, 6), thirty, 40.0),
    "heads": Part(range(1, 4), heads, 60.0),
    "hundred": Part(range(1, 7), hundred, 30.0),
    "thousand": Part(range(1, 2), thousand, 60.0),
}


def main(names: list[str]) -> None:
    """Print a block for each part named."""
    study, order, ceilings = six(99)
    searched(PARTS["six"], study, order, ceilings)  # warm
    for name in names or PARTS:
        part = PARTS[name]
        asked = [part.made(seed) for seed in part.seeds]
        whole = [searched(part, *one) for one in asked]
        base = sum(seconds for seconds, _ in whole)
        proven = sum(done for _, done in whole)
        print(f"{name}: {len(asked)} seeds, {base:.2f} s in all, {proven} proven", flush=True)
        for strategy in sorted(STRATEGIES):
            with search_tuned(without=frozenset({strategy})):
                told(f"without {strategy}", [searched(part, *one) for one in asked], base)
        if not part.as_front:
            told("one HiGHS call a wish", [one_call(part, *one) for one in asked], base)


def told(name: str, outcomes: list[Outcome], base: float) -> None:
    """Print one line: the ratio, and how many were proven if not all."""
    ratio, proven = sum(seconds for seconds, _ in outcomes) / base, sum(p for _, p in outcomes)
    more = "" if proven == len(outcomes) else f"   {proven} of {len(outcomes)} proven"
    print(f"  {name:32s} {ratio:8.2f}{more}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
