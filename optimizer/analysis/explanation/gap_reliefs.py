"""Reliefs of a gap that closes: a wider gap, or a finer tolerance of it.

The gap is no limit but an input: it moves the signal as well, so rows must be rated again. What is left of
the gap is linear in both, which gives the least step that could do; from there studies are rated whole,
step by step, until one is possible.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from ringset.analysis.explanation.feasibility import Feasibility
from ringset.analysis.explanation.reliefs import Relief
from ringset.catalogue.limits import Side
from ringset.infeasibility.models import Blocker
from ringset.rating.limits import ACCURACY_TARGETS
from ringset.rating.stated_limits import Limit, rated_limit_path
from ringset.schema.equipment import Head

#: Step of gaps in mm, and how many steps beyond the least that could do are tried.
STEP_MM, TRIED = 0.01, 8


def explained_gap_reliefs(
    feasibility: Feasibility, blockers: list[Blocker], possible: Callable[[Relief], bool]
) -> list[Relief]:
    """Return a wider gap and a finer tolerance, where either clears all blockers.

    It may clear more than those that name the gap: with the gap the signal changes too.
    """
    found = []
    for limit in feasibility.world.limits:
        if limit.field != "head.gap_left_min_mm":
            continue
        if not any(feasibility.numbers[limit] in blocker.limits for blocker in blockers):
            continue
        short = _short_mm(feasibility, limit)
        for field in _inputs(feasibility, limit) if short is not None else ():
            first = int(np.ceil(short / field.step - 1e-6)) if short is not None else 1
            sign = 1.0 if field.side == "at most" else -1.0
            for steps in range(max(1, first), max(1, first) + TRIED):
                value = round(field.given + sign * steps * field.step, 9)
                relief = Relief(((field, value),))
                if value >= 0.0 and possible(relief):
                    found.append(relief)
                    break
    return found


def _inputs(feasibility: Feasibility, limit: Limit) -> Iterator[Limit]:
    """Yield the inputs of a head that decide what is left of its gap."""
    study = feasibility.study
    head: Head = study.heads[limit.head] if limit.head else study.head
    owner = ("heads", limit.head) if limit.head else ("head",)
    wide = "gap_mm" if head.gap_max_mm is None else "gap_max_mm"
    step = STEP_MM if head.gap_max_mm is None else head.gap_step_mm
    inputs: tuple[tuple[str, Side, float, str], ...] = (
        (wide, "at most", step, "gap of {} mm"),
        ("gap_tolerance_mm", "at least", STEP_MM, "gap tolerance {} mm"),
    )
    for name, side, size, words in inputs:
        path, given = rated_limit_path(*owner, name), float(getattr(head, name))
        yield Limit(path, f"head.{name}", words, given, side, size, "mm", head=limit.head)


def _short_mm(feasibility: Feasibility, limit: Limit) -> float | None:
    """Return by how much more gap some row of every joint would keep the limit; None if none would."""
    number, world = feasibility.numbers[limit], feasibility.world
    physics = {
        i
        for i, other in enumerate(world.limits)
        if other.field in ACCURACY_TARGETS or other.field.startswith("target.") or i == number
    }
    short = 0.0
    for joint in world.joints:
        if number not in joint.limits or joint.within(frozenset()).any():
            continue
        need = joint.need[joint.limits.index(number), joint.within(frozenset(physics))]
        if len(need) == 0:
            return None
        short = max(short, limit.given - float(need.max()))
    return short
