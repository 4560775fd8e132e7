"""One wish minimised: a bound by multipliers, rows dropped round by round, the rest listed or split.

The order in which strategies are tried stands here; each of them is told the incumbent and says what came
of it. `README.md` of this folder has the same as pseudo-code.
"""

from __future__ import annotations

from ringset.schema.gives import study_plain_wishes
from ringset.search.bounds.column_generation import Relaxed, relax_program, search_relaxed_answer
from ringset.search.bounds.lagrangian import named_multipliers
from ringset.search.exact.branch_and_bound import branching_nodes, settle_by_branching
from ringset.search.exact.by_component import settle_by_component
from ringset.search.exact.by_cutter import (
    settling_one_of_several_cutters,
    settling_parts_left,
    settling_rows_of_equal_cutters,
)
from ringset.search.exact.by_engines import prove_by_engines
from ringset.search.exact.enumeration import Enumerated, best_enumerated, nearest_enumerated
from ringset.search.exact.greedy import greedy_incumbent
from ringset.search.exact.improvement import Improvement
from ringset.search.exact.neighbourhoods import improve_incumbent_nearby
from ringset.search.state.incumbent import Incumbent
from ringset.search.state.result import StageResult
from ringset.search.tuning import search_tuning


def minimise_wish(run: Incumbent) -> StageResult:
    """Bring a wish down as far as it goes; `run.best` then holds the rows that reach the result's value."""
    tune = search_tuning()
    run.prove(run.objective.offset)  # the lightest row of every joint
    if _wants_greedy(run):
        run.take(run.program, greedy_incumbent(run.program, run.objective))
    if (
        tune.large_rows <= run.program.rows < tune.huge_rows and run.stop is None and settle_by_component(run)
    ):  # fmt: skip
        return run.result("halves")
    if (
        run.program.rows >= tune.mixed_rows
        and run.stop is None
        and settling_one_of_several_cutters(run)
    ):
        return _by_cutter(run)
    improvement, thorough = Improvement(run.left.joints), False
    for _ in range(tune.rounds):
        if run.enough():
            return run.result("nothing")
        relaxed = _relaxed(run, thorough)
        if relaxed is None:
            break
        if not (run.settled or run.enough()):
            if _enumerated(
                run, relaxed, nearest_enumerated
            ):  # sooner than any better answer is found
                return run.result("listing")
            improvement.look(run, relaxed)
        run.tell(run.low)
        run.keep(run.program.table.take(relaxed.bound.usable(run.worth)))
        if run.settled or run.enough():
            return run.result("multipliers")
        if len(run.left) >= tune.huge_rows:
            return run.result("nothing")
        if _enumerated(run, relaxed, best_enumerated):
            return run.result("listing")
        if settling_one_of_several_cutters(run):
            return _by_cutter(run)
        large = run.program.rows >= tune.large_rows and len(run.left) <= tune.whole_rows
        large = large and not run.program.paired  # which no nodes settle
        if large or not tune.uses("rounds"):
            run.narrow()
            break  # nodes settle what is left sooner than more rounds
        if len(run.left) > (1.0 - tune.round_drops) * run.program.rows:
            if thorough and not improvement.grow(run.program.rows):
                break
            thorough = True
        run.narrow()
    improve_incumbent_nearby(run, run.left, run.last)
    if settle_by_branching(run, branching_nodes(run)):
        return run.result("halves")
    return run.result(prove_by_engines(run, [(run.program, run.low, None)]))


def _wants_greedy(run: Incumbent) -> bool:
    """Say whether an answer soon is worth more than what it costs to look for one."""
    program, tune = run.program, search_tuning()
    owned = len(program.parts.owner) > 0 or (
        "cutters" in study_plain_wishes([run.wish]) and len(program.cutters.owner) > 0
    )
    soon = run.stop is not None or program.rows >= tune.large_rows
    wanted = owned and not run.enough() and soon and tune.uses("greedy")
    return wanted and not program.paired  # it gives every joint one part


def _relaxed(run: Incumbent, thorough: bool) -> Relaxed | None:
    """Solve the relaxation, and take its bound and the answer that it shows, if any."""
    program, objective = run.program, run.objective
    start = program.taken(run.columns(program))
    relaxed = relax_program(program, objective, start, run.context.clock.ends, thorough)
    if relaxed is None:
        return None
    run.learn(named_multipliers(program, objective, relaxed.bound.multipliers))
    run.prove(objective.offset + objective.scale * relaxed.bound.least)
    run.take(program, search_relaxed_answer(program, relaxed))
    return relaxed


def _enumerated(run: Incumbent, relaxed: Relaxed, enumerated: Enumerated) -> bool:
    """List all better answers, if they are few, take the best, and leave rows of answers as good."""
    listed, x = enumerated(run.program, run.objective, relaxed.bound, run.worth)
    if listed:
        run.take(run.program, x)
        run.keep(run.program.table.take(relaxed.bound.usable(run.worth)))
        run.close()
    return listed


def _by_cutter(run: Incumbent) -> StageResult:
    """Settle what is left cutter by cutter."""
    parts = settling_parts_left(run)
    if run.enough():
        result = run.result("nothing")
    elif not parts:
        run.close()
        result = run.result("halves")
    else:
        run.tell(min(run.value, *(part.low for part in parts)))
        programs = [(run.build(part.table), part.low, part.highs_value) for part in parts]
        result = run.result(prove_by_engines(run, programs))
    run.keep(settling_rows_of_equal_cutters(run))
    return result
