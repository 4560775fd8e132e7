"""The search over seeds: answers, fronts and large studies, beside the plain models.

Run on demand: python -m tests.bench.bench_search [part ...], all parts by default: plain, six, front,
thirty, families, hundred, thousand, curve, stairs. Instances come from `instances`, seeds 1 to SEEDS as
they fall; the median and the worst are printed, and how many are proven. All times are warm, in one
process, from the catalogue to the chosen rows (fronts: to the judged answers). The plain models get all rows
inside their limits: HiGHS by `scipy.optimize.milp`, CP-SAT with its defaults; they stop after PLAIN_LIMIT_S.
"""

from __future__ import annotations

import resource
import statistics
import sys
import time
from collections.abc import Callable
from functools import partial

import numpy as np
from ortools.sat.python import cp_model

from ringset.analysis.front.front import find_front
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.head_patterns import reduction_head_patterns, reduction_no_patterns
from ringset.reduction.reduce import reduce
from ringset.reduction.table import Table
from ringset.reduction.units import reduction_units
from ringset.schema.study import Study, Wish
from ringset.search.bounds.linear_program import linear_program
from ringset.search.bounds.radius_formulation import has_radius_formulation, radius_optimum
from ringset.search.engines import cp_sat, highs
from ringset.search.lexicographic import Solver
from ringset.search.model import program
from ringset.search.model.matrix import search_constraint_matrix
from ringset.search.model.objective import Objective
from ringset.search.state.context import Progress
from ringset.search.state.result import Choice
from ringset.search.wishes_in_turn import minimise_wishes
from ringset.solving.pipeline import solving_possible_rows
from tests.bench import instances

SEEDS = 20
PLAIN_LIMIT_S = 120.0
SEARCH_LIMIT_S = 60.0
#: Joints and seeds of families with tool points.
FAMILIES = {60: (1, 2, 3, 4, 5, 6, 201, 202), 100: (201, 202), 200: (201,)}
#: The least material known for such families with all wishes before it at their best known, by any route.
BEST_KNOWN_KG = {(60, 2): 45.393534, (60, 202): 134.939255, (100, 201): 118.7766}


def table_for(study: Study) -> Table:
    """Return the table of all rows inside their limits."""
    return reduction_table(study, solving_possible_rows(study)[0])


def timed(work: Callable[[], object]) -> float:
    """Return the seconds that some work takes."""
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def chosen(
    study: Study, order: list[Wish], ceilings: dict[Wish, float], progress: Progress | None = None
) -> tuple[float, Choice]:  # fmt: skip
    """Return seconds from catalogue to chosen rows, and the choice."""
    search = study.search.model_copy(update={"time_limit_s": SEARCH_LIMIT_S})
    started = time.perf_counter()
    table = table_for(study)
    choice = minimise_wishes(table, reduction_units(table), order, ceilings, search, progress)
    return time.perf_counter() - started, choice


def line(name: str, seconds: list[float], proven: int) -> None:
    """Print a line of the table."""
    median, worst = statistics.median(seconds), max(seconds)
    print(f"{name:58s} {median:8.2f} {worst:8.2f} {proven:4d} of {len(seconds)}", flush=True)


def plain_seconds(study: Study, engine: str) -> tuple[float, bool]:
    """Return the seconds of a plain model on all rows, wish after wish, and whether it proved them."""
    table = table_for(study)
    held: dict[Wish, int] = {}
    vars(program)["reduction_head_patterns"] = lambda rows, _: (rows, reduction_no_patterns(rows))
    started = time.perf_counter()
    try:
        for wish in study.wishes.order:
            model = program.build_search_program(table, reduction_units(table), wish, {}, held)
            objective = model.objectives[wish]
            ends = time.monotonic() + PLAIN_LIMIT_S - (time.perf_counter() - started)
            if engine == "HiGHS":
                found = highs.highs(model, objective, ends)
                value = None if found.x is None else objective.value(found.x)
                proven = found.status == "OPTIMAL"
            else:
                value, proven = _cp_sat_by_default(model, objective, ends)
            if not proven or value is None:
                return time.perf_counter() - started, False
            held[wish] = value
    finally:
        vars(program)["reduction_head_patterns"] = reduction_head_patterns
    return time.perf_counter() - started, True


def _cp_sat_by_default(
    model: program.Program, objective: Objective, ends: float
) -> tuple[int | None, bool]:
    plain, variables = cp_sat._model(model)
    used = [(v, int(w)) for v, w in zip(variables, objective.weights, strict=True) if w]
    plain.minimize(cp_model.LinearExpr.weighted_sum([v for v, _ in used], [w for _, w in used]))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = max(0.1, ends - time.monotonic())
    status = solver.status_name(solver.solve(plain))
    if status not in ("OPTIMAL", "FEASIBLE"):
        return None, False
    value = objective.offset + objective.scale * round(solver.objective_value)
    return value, status == "OPTIMAL"


def plain() -> None:
    """Six joints, fine bores: ours beside the plain models."""
    for seed in (1, 2, 3):
        study = instances.study(6, seed, shop={"bore_step_mm": 0.1})
        table = table_for(study)
        units = reduction_units(table)
        order = study.wishes.order
        search = partial(minimise_wishes, table, units, order, {}, study.search)
        search()
        mine = statistics.median(timed(search) for _ in range(5))
        text = f"six joints, seed {seed}, {len(table)} rows, search alone: {mine:.3f} s"
        for engine in ("HiGHS", "CP-SAT"):
            seconds, proven = plain_seconds(study, engine)
            more = "" if proven else " without proof"
            ratio = f"{'' if proven else '>'}{seconds / mine:.0f}"
            text += f"; plain {engine} {seconds:.1f} s{more}, ratio {ratio}"
        print(text, flush=True)


def six() -> None:
    """Six joints with a tool-point target, one answer."""
    material: list[Wish] = ["material"]
    for name, order in (("default wishes", None), ("material only", material)):
        seconds, proven = [], 0
        for seed in range(1, SEEDS + 1):
            study = instances.with_tool_points(instances.study(6, seed))
            taken, choice = chosen(study, order or study.wishes.order, {})
            seconds.append(taken)
            proven += choice.status == "proven"
        line(f"six joints with a tool point, {name}", seconds, proven)


def fronts() -> None:
    """The full front of six joints over cutters, ring parts and material."""
    axes: list[Wish] = ["cutters", "ring_parts", "material"]
    for name, with_target in (("without", False), ("with", True)):
        seconds, complete = [], 0
        for seed in range(1, SEEDS + 1):
            study = instances.study(6, seed)
            study = instances.with_tool_points(study) if with_target else study
            started = time.perf_counter()
            complete += find_front(study, axes).complete
            seconds.append(time.perf_counter() - started)
        line(f"front of six joints, {name} a tool point", seconds, complete)


def thirty() -> None:
    """Thirty joints, a tool-point target for each robot."""
    orders: tuple[list[Wish], ...] = (
        ["cutters", "ring_parts", "material"],
        ["cutters", "ring_parts", "heads", "material"],
    )
    for order in orders:
        seconds, proven = [], 0
        for seed in range(1, SEEDS + 1):
            study = instances.with_tool_points(instances.study(30, seed))
            taken, choice = chosen(study, order, {})
            seconds.append(taken)
            proven += choice.status == "proven"
        line(f"30 joints with tool points: {' '.join(order)}", seconds, proven)


def families() -> None:
    """Families of robots with tool points under the default wishes: what each wish came to, and how soon.

    A line has value, bound and gap of a wish, and what confirmed it. The last line has the seconds until
    the material first stood within 1 % of the end of this run, or of `BEST_KNOWN_KG` if that is less.
    """
    for joints, seeds in FAMILIES.items():
        for seed in seeds:
            study = instances.with_tool_points(instances.study(joints, seed))
            told: list[tuple[float, str, int]] = []
            note = partial(_note, told, time.perf_counter())
            seconds, choice = chosen(study, study.wishes.order, {}, note)
            print(f"{joints} joints, seed {seed}: {choice.status} in {seconds:.1f} s", flush=True)
            for stage in choice.stages:
                gap = 100.0 * (stage.value - stage.bound) / max(1, stage.value)
                what = f"{stage.value} with a bound of {stage.bound}, gap {gap:.2f} %"
                print(f"    {stage.wish}: {what}, by {stage.confirmed_by}")
            last, size = choice.stages[-1], reduction_units(table_for(study)).material_kg
            best = min(last.value, BEST_KNOWN_KG.get((joints, seed), np.inf) / size)
            soon = [s for s, wish, value in told if wish == last.wish and value <= 1.01 * best]
            near = f"after {min(soon):.1f} s" if soon else "not reached"
            print(f"    within 1 % of the best known, {best * size:.2f} kg: {near}", flush=True)


def _note(
    told: list[tuple[float, str, int]], started: float, wish: str, best: int | None, _: int | None
) -> None:  # fmt: skip
    """Keep what a search tells of a wish, and when."""
    if best is not None:
        told.append((time.perf_counter() - started, wish, best))


def hundred() -> None:
    """A hundred joints of a maker's ladder of sizes, few cutters and ring parts."""
    seconds, proven, parts = [], 0, []
    for seed in range(1, SEEDS + 1):
        study = instances.study(100, seed, make=instances.house_arm)
        ceilings: dict[Wish, float] = {"cutters": 4, "ring_parts": max(15, least_parts(study))}
        taken, choice = chosen(study, ["material"], ceilings)
        seconds.append(taken)
        parts.append(int(ceilings["ring_parts"]))
        proven += choice.status == "proven"
    line(f"100 joints, 4 cutters, 15 ring parts (least up to {max(parts)})", seconds, proven)


def least_parts(study: Study) -> int:
    """Return the fewest ring parts that four cutters allow."""
    table = table_for(study)
    solver = Solver(table, reduction_units(table), {"cutters": 4}, study.search)
    rows = solver.start().rows
    assert rows is not None
    return solver.minimise("ring_parts", {}, rows)[0].value


def thousand() -> None:
    """A thousand joints, four cutters and sixty ring parts."""
    seconds, proven = [], 0
    for seed in range(1, SEEDS + 1):
        study = instances.study(1000, seed, make=instances.house_arm)
        taken, choice = chosen(study, ["material"], {"cutters": 4, "ring_parts": 60})
        seconds.append(taken)
        proven += choice.status == "proven"
    line("1,000 joints, 4 cutters, 60 ring parts", seconds, proven)


def curve() -> None:
    """Growth with the number of joints: material under ceilings of cutters and ring parts."""
    for joints, parts in ((10, 10), (100, 20), (1000, 60), (10_000, 150)):
        study = instances.study(joints, 1, make=instances.house_arm)
        taken, choice = chosen(study, ["material"], {"cutters": 4, "ring_parts": parts})
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        gap = ""
        if choice.stages:
            stage = choice.stages[-1]
            gap = f", bound within {100.0 * (1.0 - stage.bound / stage.value):.3f} %"
        text = f"{joints} joints, 4 cutters, {parts} ring parts: {taken:.2f} s, {choice.status}"
        print(f"{text}{gap}, {peak:.0f} MB", flush=True)


def stairs() -> None:
    """Linear programs of stairs beside those with a column per row, same optimum."""
    for seed in range(1, 6):
        made = one_cutter(seed)
        model = program.build_search_program(
            made, reduction_units(made), "material", {"ring_parts": 60}, {}
        )
        objective = model.objectives["material"]
        if not has_radius_formulation(model, objective):
            raise RuntimeError(f"seed {seed}: ring parts are not all that counts")
        lines, worth = (
            search_constraint_matrix(model, model.every_row),
            float(objective.weights.sum()),
        )
        seconds, optima = [], []
        for solve in (
            partial(linear_program, objective, lines, SEARCH_LIMIT_S),
            partial(radius_optimum, model, objective, worth, SEARCH_LIMIT_S),
        ):
            started = time.perf_counter()
            solved = solve()
            seconds.append(time.perf_counter() - started)
            optima.append(float("nan") if solved is None else solved.optimum)
        same = (
            "same optimum"
            if np.isclose(optima[0], optima[1], rtol=1e-6)
            else f"optima differ: {optima}"
        )
        text = f"stairs, seed {seed}, {model.rows} rows: {seconds[1]:.2f} s"
        print(f"{text}, ratio {seconds[0] / seconds[1]:.1f}, {same}", flush=True)


def one_cutter(seed: int) -> Table:
    """Return the reduced rows of the cutter that has most of a thousand joints, for these joints."""
    table = table_for(instances.study(1000, seed, make=instances.house_arm))
    reduced = reduce(table, frozenset[Wish]({"material", "ring_parts"}))
    cutters = np.unique(reduced.cutter)
    joints = [len(np.unique(reduced.joint[reduced.cutter == cutter])) for cutter in cutters]
    return reduced.take(reduced.cutter == cutters[np.argmax(joints)])


PARTS = {
    "plain": plain, "six": six, "front": fronts, "thirty": thirty,
    "families": families, "hundred": hundred,
    "thousand": thousand, "curve": curve, "stairs": stairs,
}  # fmt: skip


def main(names: list[str]) -> None:
    """Print the parts named, all by default."""
    warm = instances.study(6, 99)
    chosen(instances.with_tool_points(warm), warm.wishes.order, {})
    print(f"{'':58s} {'median':>8s} {'worst s':>8s} proven")
    for name in names or PARTS:
        PARTS[name]()


if __name__ == "__main__":
    main(sys.argv[1:])
