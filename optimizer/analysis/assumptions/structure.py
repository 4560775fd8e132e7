"""An estimate of the best answer among rated rows, group by group of joints that share a ring.

For given groups the best ring of each is found alone, and what groups share, the tool points, is held by a
price: of every group the ring is taken that comes to least with its share of the tool points at their
prices, and those are raised until the tool points are kept. Mass and inertia of a robot's rings, where they
are bounded, are held in the same way. Where the groups given cannot be served, joints
are grouped anew: a ring that serves most of the joints left is taken, again and again, among the rings of one
module if one serves all. Nothing here proves anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.rating.rated import Weighed
from ringset.rating.robot_sums import rated_pieces_money, rated_tool_point_shares
from ringset.schema.study import Study
from ringset.solving.chosen_rings import (
    chosen_ring_numbers,
    chosen_robot_ring_sums,
    chosen_tool_point_sums,
)

#: Halvings of the price of a tool point, rounds over robots, least and largest price, what counts as kept.
HALVINGS, ROUNDS, PRICE_LEAST, PRICE_MOST, KEPT = 30, 2, 1e-12, 1e6, 1.0 + 1e-9
#: Sums of robots (targets at tool points, mass, inertia) beyond which those are left out of the estimate.
ROBOTS_MOST = 16
#: Joints beyond which they are not grouped anew: every joint of a broken group then stands alone.
JOINTS_MOST = 200
#: What comes before another wish counts so many times more, in one number.
RANK = 1e6


@dataclass(frozen=True)
class Served:
    """What groups come to: how many there are, of how many modules, and their sums over all built."""

    parts: int
    modules: int
    heads: float
    material_kg: float
    money: float


@dataclass(frozen=True)
class _Options:
    """The ways to serve a group, one entry each: ring, module, and what it comes to."""

    ring: Ints
    module: Ints
    heads: Floats
    material_kg: Floats
    money: Floats
    value: Floats
    share: Floats


class Structure:
    """Rated rows inside all limits of their joints, ready to be grouped."""

    def __init__(self, study: Study, rows: Weighed) -> None:
        names = rows.catalogue
        self.joints = len(names.joints)
        built = np.array([ref.robot.count for ref in names.joints], dtype=np.int64)[names.joint]
        self.joint, self.module, self.count = names.joint, names.module, names.heads
        self.ring, self.cutter = chosen_ring_numbers(names), rows.cutter
        self.heads = (built * rows.all_heads).astype(np.float64)
        self.material = built * rows.blank_kg
        self.money = rated_pieces_money(study, rows, built)
        points = chosen_tool_point_sums(study, names.joints)
        sums = [
            (mine, limit, rated_tool_point_shares(rows, field)) for mine, limit, _, field in points
        ]
        sums += [(one.mine, one.limit, one.values) for one in chosen_robot_ring_sums(study, names)]
        sums = sums if len(sums) <= ROBOTS_MOST else []
        #: Of every row what it takes of each target at a tool point or other sum, 1 being all of it.
        self.share = np.zeros((len(names), len(sums)))
        for place, (mine, limit, values) in enumerate(sums):
            self.share[:, place] = np.where(mine[names.joint], values / limit, 0.0)
        amounts = {"heads": self.heads, "material": self.material, "cost": self.money}
        order = [wish for wish in study.wishes.order if wish in amounts]
        order += [wish for wish in ("heads", "material") if wish not in order]
        #: What a row counts in one number, earlier wishes of the study before later ones.
        self.value = np.zeros(len(names))
        for place, wish in enumerate(reversed(order)):
            size = max(float(amounts[wish].mean()), 1e-12) if len(names) else 1.0
            self.value += amounts[wish] / size * RANK ** (place - len(order) + 1)

    def served(self, groups: Sequence[Ints], module: int | None = None) -> Served | None:
        """Return what groups come to; None where a group has no ring, or a tool point cannot be kept."""
        options = []
        for group in groups:
            found = self._options(group, module)
            if found is None:
                return None
            options.append(found)
        taken = self._taken(options)
        if taken is None:
            return None
        pairs = list(zip(options, taken, strict=True))
        return Served(
            len(groups),
            len({int(o.module[at]) for o, at in pairs}),
            sum(float(o.heads[at]) for o, at in pairs),
            sum(float(o.material_kg[at]) for o, at in pairs),
            sum(float(o.money[at]) for o, at in pairs),
        )

    def mergeable(self, groups: Sequence[Ints]) -> bool:
        """Say whether two groups have a ring in common that all joints of both have inside."""
        rings = [self._common(group, None) for group in groups]
        every = np.concatenate([np.empty(0, dtype=np.int64), *rings])
        return len(np.unique(every)) < len(every)

    def served_by_one_cutter(self) -> bool:
        """Say whether the rows of one cutter serve every joint."""
        pairs = np.unique(self.cutter * (self.joints + 1) + self.joint)
        _, joints = np.unique(pairs // (self.joints + 1), return_counts=True)
        return bool(np.any(joints == self.joints))

    def regrouped(self, groups: Sequence[Ints]) -> Served | None:
        """Return the best found with other groups, of one module if one serves all; None if nothing is."""
        singles = [np.array([joint]) for joint in range(self.joints)]
        best: Served | None = None
        for module in [*np.unique(self.module).tolist(), None]:
            if module is None and best is not None:
                break
            few = self._grouped_anew(groups, module)
            found = None if few is None else self.served(few, module)
            if found is None and few is not None:
                alone = self.served(singles, module)
                if alone is not None:
                    found = replace(alone, parts=min(len(few) + 1, len(singles)))
            if found is not None and (best is None or _key(found) < _key(best)):
                best = found
        return best

    # -- groups -------------------------------------------------------------------------------------------

    def _rows_of(self, group: Ints, module: int | None) -> Ints:
        """Return the rows of a group's joints, of one module or of all."""
        ends = np.searchsorted(self.joint, np.stack([group, group + 1]))
        rows = np.concatenate([np.arange(first, last) for first, last in ends.T])
        return rows if module is None else rows[self.module[rows] == module]

    def _common(self, group: Ints, module: int | None) -> Ints:
        """Return the rings that all joints of a group have inside."""
        rows = self._rows_of(group, module)
        if len(group) == 1:
            return np.unique(self.ring[rows])
        pairs = np.unique(np.stack([self.ring[rows], self.joint[rows]]), axis=1)
        rings, times = np.unique(pairs[0], return_counts=True)
        return np.asarray(rings[times == len(group)])

    def _options(self, group: Ints, module: int | None) -> _Options | None:
        """Return the ways to serve a group: a common ring, and most heads of a joint; None without any."""
        rows = self._rows_of(group, module)
        if len(group) > 1:
            rows = rows[np.isin(self.ring[rows], self._common(group, module))]
        if len(rows) == 0:
            return None
        parts: list[tuple[Ints, Ints]] = []  # of every option a mark, and a row of each joint
        for most in np.unique(self.count[rows]).tolist():
            some = rows[self.count[rows] <= most]
            # of every ring and joint the row with most heads
            order = some[np.lexsort((-self.count[some], self.joint[some], self.ring[some]))]
            fresh = np.ones(len(order), dtype=np.bool_)
            fresh[1:] = np.diff(self.ring[order]) != 0
            fresh[1:] |= np.diff(self.joint[order]) != 0
            parts.append((np.full(int(fresh.sum()), most), order[fresh]))
        level, row = (np.concatenate(column) for column in zip(*parts, strict=True))
        rings, ring = np.unique(self.ring[row], return_inverse=True)
        mark, place, times = np.unique(
            level * len(rings) + ring, return_inverse=True, return_counts=True
        )
        whole = times == len(group)  # with most heads every common ring is

        def total(values: Floats) -> Floats:
            return np.asarray(np.bincount(place, values[row])[whole], dtype=np.float64)

        module_of = np.zeros(len(mark), dtype=np.int64)
        module_of[place] = self.module[row]
        return _Options(
            rings[mark[whole] % len(rings)], module_of[whole], total(self.heads), total(self.material),
            total(self.money), total(self.value),
            np.stack([total(column) for column in self.share.T], axis=1)
            if self.share.shape[1]
            else np.zeros((int(whole.sum()), 0)),
        )  # fmt: skip

    def _taken(self, options: list[_Options]) -> list[int] | None:
        """Return the option taken of every group so that tool points are kept; None if they are not."""

        def load(taken: list[int]) -> Floats:
            loads = [o.share[at] for o, at in zip(options, taken, strict=True)]
            return np.asarray(np.sum(loads, axis=0))

        def priced(prices: Floats) -> list[int]:
            return [int(np.argmin(o.value + o.share @ prices)) for o in options]

        prices = np.zeros(self.share.shape[1])
        best = priced(prices)
        if (load(best) <= KEPT).all():
            return best
        for robot in [*range(len(prices))] * (ROUNDS if len(prices) > 1 else 1):
            low, high = PRICE_LEAST, PRICE_MOST
            for _ in range(HALVINGS):
                prices[robot] = np.sqrt(low * high)
                if load(priced(prices))[robot] <= KEPT:
                    high = prices[robot]
                else:
                    low = prices[robot]
            prices[robot] = high
        best = priced(prices)
        if (load(best) > KEPT).any():
            best = [int(np.argmin(o.share.sum(axis=1))) for o in options]
            if (load(best) > KEPT).any():
                return None
        for place in [*range(len(options))] * 2:  # what is left of the tool points is used up
            one, at = options[place], best[place]
            room = KEPT - load(best) + one.share[at]
            within = (one.share <= room).all(axis=1)
            within[at] = True
            best[place] = int(np.argmin(np.where(within, one.value, np.inf)))
        return best

    def _grouped_anew(self, groups: Sequence[Ints], module: int | None) -> list[Ints] | None:
        """Return groups of few rings that serve all joints; None if some joint has no row."""
        if self.joints > JOINTS_MOST:
            kept = [g for g in groups if len(self._common(g, module))]
            left = np.setdiff1d(np.arange(self.joints), np.concatenate([np.empty(0, int), *kept]))
            return [*kept, *(np.array([joint]) for joint in left)]
        rows = np.arange(len(self.joint))
        if module is not None:
            rows = rows[self.module == module]
        rings, ring = np.unique(self.ring[rows], return_inverse=True)
        serves = np.zeros((len(rings), self.joints), dtype=np.bool_)
        serves[ring, self.joint[rows]] = True
        if not serves.any(axis=0).all():
            return None
        weight = np.zeros(len(rings))
        weight[ring] = self.material[rows]
        left, found = np.ones(self.joints, dtype=np.bool_), []
        while left.any():
            new = serves[:, left].sum(axis=1)
            at = int(np.lexsort((weight, -new))[0])
            found.append(np.flatnonzero(serves[at] & left))
            left &= ~serves[at]
        return found


def _key(one: Served) -> tuple[float, ...]:
    return one.modules, one.parts, one.heads, one.material_kg
