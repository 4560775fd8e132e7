"""The second opinion: what HiGHS says of a program that CP-SAT is to prove something of."""

from __future__ import annotations

import time

from ringset.arrays import Ints
from ringset.search.engines.highs import highs
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program


def highs_optimum(program: Program, objective: Objective, ends: float) -> Ints | None:
    """Return the best answer that HiGHS finds on the same rows, or None if it does not finish.

    Like CP-SAT it may find an answer that the rounded limits let pass and the real ones do not.
    """
    while time.monotonic() < ends:
        # half of what is left: the wishes that follow need time as well
        until = min(ends, time.monotonic() + max(5.0, 0.5 * (ends - time.monotonic())))
        found = highs(program, objective, until)
        if found.status == "INFEASIBLE":
            # a false "infeasible" of the presolve (ERGO-Code/HiGHS#2585): an answer is at hand
            found = highs(program, objective, until, presolve=False)
        if found.status != "OPTIMAL" or found.x is None:
            return None
        if program.allowed(found.x):
            return found.x
        program = program.without(found.x)
    return None


def highs_infeasible(program: Program, ends: float) -> bool:
    """Say whether HiGHS too, with and without its presolve, finds no answer possible.

    Like CP-SAT it may find an answer that the rounded limits let pass and the real ones do not.
    """
    for presolve in (True, False):
        left = program
        while (found := highs(left, None, ends, presolve=presolve)).status != "INFEASIBLE":
            if found.x is None or left.allowed(found.x) or time.monotonic() >= ends:
                return False
            left = left.without(found.x)
    return True
