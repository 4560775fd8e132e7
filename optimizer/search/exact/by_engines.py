"""What no bound settles goes to both engines: CP-SAT proves it, and HiGHS must find the same optimum."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from ringset.search.engines.cross_check import highs_infeasible, highs_optimum
from ringset.search.model.program import Program
from ringset.search.state.incumbent import Incumbent
from ringset.search.state.result import Confirmation


def prove_by_engines(
    run: Incumbent, programs: list[tuple[Program, int, int | None]]
) -> Confirmation:  # fmt: skip
    """Let CP-SAT prove that programs hold nothing better, and HiGHS confirm it.

    Beside each stands what is known to be least in it, and the least that HiGHS found in it, if it has
    been asked. No answer is better but theirs.
    """
    said = [_proven_by_both(run, *one) for one in programs]
    run.prove(min(run.value, *(low for low, _ in said)))
    return "second engine" if run.settled and all(confirmed for _, confirmed in said) else "nothing"


def _proven_by_both(
    run: Incumbent, program: Program, low: int, highs_value: int | None
) -> tuple[int, bool]:  # fmt: skip
    """Return the least that a program may hold, capped at the value, and whether HiGHS says so too.

    A bound of CP-SAT is one engine's word: where an answer beats it, it is withdrawn.
    """
    if low >= run.value:
        return run.value, True
    objective, context = program.objectives[run.wish], run.context
    if context.clock.over():
        return low, False  # to hand a large program to the engines takes seconds by itself
    hint = run.columns(program) if run.within(program) else None
    with ThreadPoolExecutor(1) as beside:
        # both are needed, and each runs outside Python
        asked = None
        if highs_value is None:
            asked = beside.submit(highs_optimum, program, objective, context.clock.ends)
        solved = context.answer(
            program, objective, str(run.wish), hint, run.value, run.low, least=low
        )
        other = None if asked is None else asked.result()
    context.clock.watch()
    run.stopped_by(solved.reason)
    run.take(program, solved.x, low)
    within = run.within(program)
    nothing = solved.status in ("INFEASIBLE", "NOTHING WITHIN") and not within
    bound = run.value if solved.bound is None else solved.bound
    if within and bound > run.value:
        return low, False  # an answer at hand beats it
    bound = min(bound, run.value)
    if not nothing and (solved.status != "OPTIMAL" or bound < run.value):
        return low if solved.bound is None else max(low, bound), False
    if highs_value is None:
        if other is None:
            return run.value, not within and highs_infeasible(program, context.clock.ends)
        highs_value = objective.value(other)
        run.take(program, other, low)
        # CP-SAT found none at all, or none as good as the answer at hand
        if solved.status == "INFEASIBLE" or (nothing and highs_value <= run.value):
            return low, False
    if highs_value < bound:
        return low, False
    return run.value, not within or highs_value == run.value
