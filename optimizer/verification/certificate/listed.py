"""The few answers that multipliers leave, listed: whether one of them is below a claimed value."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints
from ringset.verification.certificate.constraints import ORDER_ROOM, Line, RowsInQuestion
from ringset.verification.certificate.duality import Priced

#: Most beginnings of answers kept in a list.
LISTED_MAX = 100_000


def certificate_better_listed(
    rest: RowsInQuestion, price: Priced, value: int, most: int | None = None
) -> bool | None:
    """Say whether some answer comes to `value` or less, by listing all that could; None if too many.

    `most` is how many beginnings are kept at once, if less than LISTED_MAX.

    An answer of `value` or less has rows whose `own` prices come to no more than K value - L. Joint by
    joint, all beginnings within that are kept which every line still allows.
    """
    table = rest.table
    most = LISTED_MAX if most is None else min(most, LISTED_MAX)
    left = price.scale * value - price.least
    if left < 0:
        return False
    rights = np.array([line.most(2.0 * ORDER_ROOM) for line in rest.lines])
    takes = np.stack([rest.least_numbers(line).astype(float) for line in rest.lines], axis=1) if (
        rest.lines
    ) else np.zeros((len(table), 0))  # fmt: skip
    joints = sorted(
        (np.flatnonzero(table.joint == joint) for joint in range(table.joints)), key=len
    )
    least = np.array([takes[rows].min(axis=0) for rows in joints])
    chosen = np.empty((1, 0), dtype=np.intp)
    paid, taken = np.zeros(1, dtype=np.int64), np.zeros((1, len(rights)))
    for turn, rows in enumerate(joints):
        if len(chosen) * len(rows) > 4 * most:
            return None
        paid = np.add.outer(paid, price.own[rows])
        taken = taken[:, np.newaxis, :] + takes[rows][np.newaxis, :, :]
        still = least[turn + 1 :].sum(axis=0)
        fits = (paid <= left) & np.all(taken + still <= rights, axis=2)
        which, row = np.nonzero(fits)
        if len(which) > most:
            return None
        chosen = np.concatenate([chosen[which], rows[row][:, np.newaxis]], axis=1)
        paid, taken = paid[fits], taken[fits]
    least_of_wish = rest.least_numbers(rest.wish)[chosen].sum(axis=1)
    chosen = chosen[least_of_wish <= value]
    for line, right in ((rest.wish, value), *((one, one.most(ORDER_ROOM)) for one in rest.lines)):
        chosen = chosen[_listed_totals(rest, line, chosen) <= right]
    return len(chosen) > 0


def _listed_totals(rest: RowsInQuestion, line: Line, chosen: NDArray[np.intp]) -> Ints | Floats:
    """Return what answers, one a line of `chosen`, come to in a line with the owners that they need."""
    table, totals = rest.table, line.rows[chosen].sum(axis=1)
    rings = table.ring[chosen]
    if table.second is not None:
        rings = np.concatenate([rings, table.second[chosen]], axis=1)
    for owners, numbers in ((rings, line.parts), (table.cutter[chosen], line.cutters)):
        if np.any(numbers):
            owners = np.sort(owners, axis=1)
            again = np.zeros(owners.shape, dtype=np.bool_)
            again[:, 1:] = owners[:, 1:] == owners[:, :-1]
            totals = totals + np.where(again | (owners < 0), 0, numbers[owners]).sum(axis=1)
    return np.asarray(totals)
