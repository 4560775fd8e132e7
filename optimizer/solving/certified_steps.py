"""The multipliers of a program as a step of a certificate: in real units, counted from 0, by names."""

from __future__ import annotations

import numpy as np

from ringset.reduction.table import HEADS_BASE, Table, table_joint_heads, table_joint_heads_key
from ringset.schema.gives import Aim
from ringset.search.bounds.lagrangian import Bound
from ringset.search.model.program import Program
from ringset.verification.certificate.constraints import RowsInQuestion
from ringset.verification.certificate.duality import (
    PRICE_MAX,
    NoProof,
    Step,
    certificate_row_prices,
    refuse_unusable_certificate_step,
)

#: Multipliers are counted in 1/2^SCALE, or coarser where the numbers are large.
SCALE = 40


def solved_bound_as_step(
    program: Program, wish: Aim, bound: Bound, mine: RowsInQuestion, rest: RowsInQuestion
) -> Step | None:
    """Return a bound's multipliers in real units, as fine as 64 bits allow; None if none are coarse enough.

    `mine` are the rows of the program, `rest` those that the step is for, under the same lines.
    """
    for exponent in range(SCALE, 3, -2):
        try:
            step = _counted(program, wish, bound, rest, mine, 2**exponent)
            refuse_unusable_certificate_step(mine, step)
            refuse_unusable_certificate_step(rest, step)
        except NoProof:  # too fine for 64 bits
            continue
        return step
    return None


def _counted(
    program: Program,
    wish: Aim,
    bound: Bound,
    rest: RowsInQuestion,
    mine: RowsInQuestion,
    scale: int,
) -> Step:
    """Return multipliers in 1/scale of the wish's whole units.

    Those of the joints follow from the price of one row each: the program counts every line less each
    joint's least, which only shifts them.
    """
    limits, multipliers = program.limits, bound.multipliers
    size = scale * program.objectives[wish].scale / multipliers.scale
    is_whole = {line.name: line.whole for line in mine.lines}
    lines: dict[str, int | float] = {}
    for name, many in zip(
        limits.names, (multipliers.limits * size * limits.units).tolist(), strict=True
    ):
        if many > 0.0:
            lines[name] = round(many) if is_whole[name] else many
    joints = program.joints
    cutters = {
        (key // joints, key % joints): round(many * size)
        for key, many in zip(
            program.cutters.key.tolist(), multipliers.cutters.tolist(), strict=True
        )
        if many > 0
    }
    seconds = {
        (key // joints, key % joints): round(many * size)
        for key, many in zip(
            program.seconds.key.tolist(), multipliers.seconds.tolist(), strict=True
        )
        if many > 0
    }
    known = dict(zip(program.patterns.key.tolist(), multipliers.heads.tolist(), strict=True))
    heads = _heads_of_all(known, rest.table, size)
    start = Step(scale, lines, np.zeros(joints, dtype=np.int64), cutters, heads, seconds)
    order = np.lexsort((bound.row_prices, program.joint))
    row = order[np.searchsorted(program.joint[order], np.arange(joints))]
    prices = bound.row_prices[row] * size
    if np.abs(prices).max(initial=0.0) >= PRICE_MAX:
        raise NoProof("numbers too large to be added safely")
    wanted = np.rint(prices).astype(np.int64)
    return Step(
        scale, lines, wanted - certificate_row_prices(mine, start)[row], cutters, heads, seconds
    )


def _heads_of_all(known: dict[int, int], table: Table, size: float) -> dict[tuple[int, int], int]:
    """Return multipliers of every head count: one that the program lacks is like the next fewer."""
    if not known:
        return {}
    by_joint: dict[int, dict[int, int]] = {}
    for key, many in known.items():
        joint, count = divmod(key, HEADS_BASE)
        by_joint.setdefault(joint, {})[count] = round(many * size)
    heads: dict[tuple[int, int], int] = {}
    there = table_joint_heads(np.unique(table_joint_heads_key(table.joint, table.heads)))
    for joint, count in zip(*(part.tolist() for part in there), strict=True):
        if joint in by_joint:
            fewer = [h for h in by_joint[joint] if h <= count]
            heads[joint, count] = by_joint[joint][max(fewer, default=min(by_joint[joint]))]
    return heads
