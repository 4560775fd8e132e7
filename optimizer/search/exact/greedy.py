"""A good answer of a very large program, part by part, where engines would take minutes to find any.

Ring parts are opened one after another: first those that serve most joints that none serves yet, then
those that save most; at the end parts are exchanged one for one while that saves anything. Every step
looks at all rows at once. Nothing is claimed of the answer but that it is one: bounds come from elsewhere.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints
from ringset.reduction.table import TableRows
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program
from ringset.search.model.variables import Columns
from ringset.search.tuning import search_tuning

#: What a joint without a ring pays: more than any weight.
UNSERVED = 1e15


def greedy_incumbent(
    program: Program, objective: Objective, prices: Floats | None = None
) -> Ints | None:
    """Return the columns of an allowed answer, None if the steps lead to none.

    `prices` are those of the joints from good multipliers: they tell which parts to begin with.
    """
    run = _Opening(program, objective)
    for share in (0.0,) if prices is None else search_tuning().begin_shares:
        run.reopen([] if prices is None else run.worth_most(prices, share))
        if run.cover():
            run.save()
            run.exchange()
            x = program.with_needed_columns(run.chosen())
            return x if program.allowed(x) else None
    return None


class _Opening:
    """Which parts are open, and what every joint then pays at least.

    A part is a column that several joints need (a cutter where ring parts do not count), or a row that is its
    own part; arrays hold the lightest row of every pair of part and joint.
    """

    def __init__(self, program: Program, objective: Objective) -> None:
        self.program = program
        owners = program.parts if len(program.parts.owner) else program.cutters
        weight = objective.weights[: program.rows]
        columns, part = np.unique(owners.columns_or_rows(), return_inverse=True)
        order = np.lexsort((weight, program.joint, part))
        pair = part[order] * program.joints + program.joint[order]
        self.row = order[np.flatnonzero(np.diff(pair, prepend=np.int64(-1)))]
        self.part, self.joint = part[self.row], program.joint[self.row]
        self.weight = weight[self.row].astype(np.float64)
        self.parts = len(columns)
        shared = columns >= program.rows
        self.part_weight = np.where(shared, objective.weights[columns], 0).astype(np.float64)
        self.cutter = np.empty(self.parts, dtype=np.int64)
        self.cutter[self.part] = program.table.cutter[self.row]
        asked = program.cutters.columns()
        self.cutters_most = program.limits.most_of(
            Columns(np.unique(asked[asked >= 0])), search_tuning().opened_max
        )
        self.parts_most = program.limits.most_of(Columns(columns), search_tuning().opened_max)
        self.open: list[int] = []
        self.pays = np.where(program.present, np.inf, 0.0)

    def cover(self) -> bool:
        """Open parts until every joint is served; returns whether the ceilings allow it."""
        while True:
            rows = np.flatnonzero(np.isinf(self.pays[self.joint]))
            if not np.isinf(self.pays).any():
                return True
            if len(self.open) >= self.parts_most or not len(rows):
                return False
            serves = np.bincount(self.part[rows], minlength=self.parts) * self._allowed()
            amount = np.bincount(self.part[rows], self.weight[rows], self.parts)
            most = int(serves.max())
            if most == 0:
                return False
            near = np.flatnonzero(serves >= search_tuning().nearly_most * most)
            self._open(int(near[np.argmin(amount[near] / serves[near])]))

    def save(self) -> None:
        """Open parts as long as one saves something and the ceiling allows it."""
        while len(self.open) < self.parts_most:
            part, gain = self._best_to_open()
            if gain <= 0.0:
                return
            self._open(part)

    def exchange(self) -> None:
        """Close one of the parts that serve least and open another, as long as that saves something."""
        for _ in range(search_tuning().exchanges_max):
            best, gained = None, 0.0
            opened, pays = list(self.open), self.pays
            for closed, loss in self._least_served():
                self.reopen([part for part in opened if part != closed])
                part, gain = self._best_to_open()
                if gain - loss > gained:
                    best, gained = (closed, part), gain - loss
            self.open, self.pays = opened, pays
            if best is None:
                return
            self.reopen([part for part in opened if part != best[0]] + [best[1]])

    def worth_most(self, prices: Floats, share: float) -> list[int]:
        """Return a share of the parts allowed: those that joint prices (`lagrangian`) let gain most.

        They are parts of the cutters that gain most.
        """
        gain = np.maximum(-prices[self.joint] - self.weight, 0.0)
        gain = np.bincount(self.part, gain, self.parts) - self.part_weight
        most = int(min(self.parts_most, self.parts))
        order = np.argsort(-gain, kind="stable")[: 2 * most]
        cutters, which = np.unique(self.cutter[order], return_inverse=True)
        worth = np.bincount(which, np.maximum(gain[order], 0.0))
        allowed = cutters[np.argsort(-worth, kind="stable")[: self.cutters_most]]
        order = order[np.isin(self.cutter[order], allowed) & (gain[order] > 0.0)]
        return [int(part) for part in order[: int(share * most)]]

    def chosen(self) -> TableRows:
        """Return the row of every joint, the lightest of all open parts."""
        mine = np.flatnonzero(np.isin(self.part, self.open))
        mine = mine[np.lexsort((self.row[mine], self.weight[mine], self.joint[mine]))]
        _, first = np.unique(self.joint[mine], return_index=True)
        return TableRows(np.sort(self.row[mine[first]]))

    def _open(self, part: int) -> None:
        self.open.append(part)
        mine = self._rows_of(part)
        self.pays[self.joint[mine]] = np.minimum(self.pays[self.joint[mine]], self.weight[mine])

    def reopen(self, parts: list[int]) -> None:
        """Have just these parts open."""
        self.open, self.pays = [], np.where(self.program.present, np.inf, 0.0)
        for part in parts:
            self._open(part)

    def _rows_of(self, part: int) -> NDArray[np.intp]:
        return np.arange(*np.searchsorted(self.part, (part, part + 1)))

    def _allowed(self) -> NDArray[np.bool_]:
        """Return which parts may still be opened: a part may need one cutter more."""
        opened = np.unique(self.cutter[self.open])
        allowed = np.ones(self.parts, dtype=np.bool_)
        if np.sum(opened >= 0) >= self.cutters_most:
            allowed = np.isin(self.cutter, opened) | (self.cutter < 0)
        allowed[self.open] = False
        return allowed

    def _best_to_open(self) -> tuple[int, float]:
        rows = np.flatnonzero(self.weight < self.pays[self.joint])
        gain = np.minimum(self.pays[self.joint[rows]], UNSERVED) - self.weight[rows]
        total = np.bincount(self.part[rows], gain, self.parts) - self.part_weight
        total[~self._allowed()] = -np.inf
        part = int(np.argmax(total))
        return part, float(total[part])

    def _least_served(self) -> list[tuple[int, float]]:
        """Return the open parts that cost least to close, each with what joints then pay more."""
        mine = np.flatnonzero(np.isin(self.part, self.open))
        mine = mine[np.lexsort((self.weight[mine], self.joint[mine]))]
        joint, first = np.unique(self.joint[mine], return_index=True)
        following = np.minimum(first + 1, len(mine) - 1)
        other = (self.joint[mine[following]] == joint) & (following > first)
        more = np.where(other, self.weight[mine[following]] - self.weight[mine[first]], UNSERVED)
        loss = np.bincount(self.part[mine[first]], more, self.parts) - self.part_weight
        opened = sorted(self.open, key=lambda part: (loss[part], part))
        return [(part, float(loss[part])) for part in opened[: search_tuning().closed_at_once]]
