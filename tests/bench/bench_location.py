"""Times of the search core on 22 published location problems, beside plain HiGHS.

Run on demand: python -m tests.bench.bench_location [FILE ...]. Both get the same table of rows; plain HiGHS
(`scipy.optimize.milp`) gets all of it as one program, without reduction, multipliers or dropping of rows,
with gap 0 and PLAIN_LIMIT_S seconds. Medians of RUNS runs of ours, one of the plain way.
"""

from __future__ import annotations

import statistics
import sys
import time

import numpy as np
from scipy import optimize, sparse

from ringset.schema.study import Search
from ringset.search.engines.quiet_stdout import quiet_stdout
from ringset.search.wishes_in_turn import minimise_wishes
from tests.published.locations import Problem, known_optima, problem

RUNS = 3
PLAIN_LIMIT_S = 300.0
#: A problem that takes longer is run once.
LONG_S = 10.0


def plain(given: Problem) -> tuple[float, float | None]:
    """Return the seconds of plain HiGHS and its optimum, None if not proven in the time."""
    table = given.table
    rows, sites = len(table), len(table.part_cost)
    columns = rows + sites
    started = time.perf_counter()
    one, row = np.ones(rows), np.arange(rows)
    served = sparse.csr_array((one, (table.joint, row)), (table.joints, columns))
    asked = sparse.csr_array((one, (row, row)), (rows, columns)) - sparse.csr_array(
        (one, (row, rows + table.ring)), (rows, columns)
    )
    limits = [
        optimize.LinearConstraint(served, 1.0, 1.0),
        optimize.LinearConstraint(asked, -np.inf, 0.0),
    ]
    if "ring_parts" in given.ceilings:
        count = np.repeat([0.0, 1.0], [rows, sites])[np.newaxis, :]
        limits.append(optimize.LinearConstraint(count, -np.inf, given.ceilings["ring_parts"]))
    with quiet_stdout():
        result = optimize.milp(
            np.concatenate([table.cost + table.material_kg, table.part_cost]),
            integrality=np.ones(columns),
            bounds=optimize.Bounds(0.0, 1.0),
            constraints=limits,
            options={"mip_rel_gap": 0.0, "time_limit": PLAIN_LIMIT_S},
        )
    return time.perf_counter() - started, result.fun if result.status == 0 else None


def ours(given: Problem) -> tuple[float, str, str]:
    """Return the median seconds of the search core, its status, and what confirmed it."""
    seconds = []
    for _ in range(RUNS):
        started = time.perf_counter()
        choice = minimise_wishes(
            given.table, given.units, [given.wish], given.ceilings, Search(time_limit_s=300.0)
        )
        seconds.append(time.perf_counter() - started)
        if seconds[0] > LONG_S:
            break
    (stage,) = choice.stages
    if abs(stage.value * given.unit - float(given.optimum)) > given.tolerance:
        return statistics.median(seconds), f"{stage.value * given.unit:g} instead", choice.status
    return statistics.median(seconds), choice.status, stage.confirmed_by


def main() -> None:
    """Print the table."""
    print(f"{'problem':12s} {'rows':>6s} {'optimum':>12s} {'ours s':>8s}  {'plain s':>8s}  ours")
    for file in sys.argv[1:] or known_optima():
        given = problem(file)
        seconds, status, by = ours(given)
        theirs, value = plain(given)
        proved = value is not None and abs(value - float(given.optimum)) <= max(
            given.tolerance, 1e-9 * value
        )
        more = f"{status}, {by}" + ("" if proved else "; plain: no proof in the time")
        print(
            f"{file:12s} {len(given.table):6d} {given.optimum:>12s} {seconds:8.2f}  {theirs:8.2f}  {more}",
            flush=True,
        )


if __name__ == "__main__":
    main()
