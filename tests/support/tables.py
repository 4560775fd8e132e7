"""Tables of rows made by hand or by a seed, and every answer they allow, listed.

A seeded table is more general than any study gives: mass and money of a ring may differ by joint and
heads, cutters may be missing, two sums may pull against each other. All amounts are multiples of a power
of two, so that sums of them are exact and a limit can be met exactly or missed by one step. The listing
knows nothing of the program, the reduction or the search.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ringset.arrays import Floats
from ringset.physics.limit_rule import number_at_most, number_in_whole_units
from ringset.reduction.table import FirstRows, Sums, Table
from ringset.reduction.units import Units
from ringset.schema.study import WISHES, Wish

#: Amounts are multiples of this; sums of them lose nothing.
STEP = 1.0 / 8.0
#: Or, of some summed values, of this: far below the units in which a program counts.
FINE_STEP = 2.0**-36


class Row(NamedTuple):
    """One row; mass and money are those of a piece, without the heads' money."""

    joint: int
    ring: int
    heads: int = 1
    kg: float = 1.0
    value: float = 0.0
    cutter: int = 0
    piece_cost: float = 0.0
    error: float = 0.0


def table(
    rows: Sequence[Row], limit: float | None = None, *, weight: Sequence[int] | None = None,
    sums: Sequence[Sums] = (), part_cost: Sequence[float] | None = None,
    cutter_cost: Sequence[float] | None = None, head_cost: float = 0.0,
) -> Table:  # fmt: skip
    """Return a table of rows in the order given; with `limit` their values are summed over all joints."""
    column = {name: np.array([getattr(row, name) for row in rows]) for name in Row._fields}
    joints = int(column["joint"].max()) + 1
    built = np.array([1] * joints if weight is None else weight, dtype=np.int64)
    of_row = built[column["joint"]]
    if limit is not None:
        every = np.zeros(joints, dtype=np.int64)
        sums = [Sums(("sum",), np.array([limit]), every, column["value"].astype(float)), *sums]
    rings, cutters = int(column["ring"].max()) + 1, int(column["cutter"].max(initial=-1)) + 1
    return Table(
        joints=joints, weight=built, joint=column["joint"], ring=column["ring"],
        cutter=column["cutter"], heads=column["heads"],
        material_kg=column["kg"] * of_row,
        cost=(column["piece_cost"] + head_cost * column["heads"]) * of_row,
        error=column["error"].astype(float), index=FirstRows(np.arange(len(rows))),
        part_cost=np.array(part_cost or [0.0] * rings),
        cutter_cost=np.array(cutter_cost or [0.0] * cutters),
        head_cost=head_cost, sums=tuple(sums),
    )  # fmt: skip


# -- tables by seed --------------------------------------------------------------------------------


def steps(rng: np.random.Generator, low: int, high: int, size: int | None = None) -> Floats:
    """Return random multiples of STEP."""
    return np.asarray(rng.integers(low, high, size) * STEP)


def random_table(seed: int, joints: int | None = None, money: bool = True) -> Table:
    """Return the small table of `seed`."""
    rng = np.random.default_rng(seed)
    joints = int(rng.integers(2, 5)) if joints is None else joints
    rings = int(rng.integers(3, 8))
    cutter = np.sort(rng.integers(-1 if rng.random() < 0.3 else 0, 3, rings))
    kg, piece = steps(rng, 4, 20, rings), steps(rng, 0, 30, rings)
    differs = bool(rng.random() < 0.4)  # mass and money of a ring differ by joint and heads
    rows = []
    for joint in range(joints):
        fitting = np.flatnonzero(rng.random(rings) < 0.65)
        counts = rng.choice(4, int(rng.integers(1, 4)), replace=False) + 1
        for ring in fitting if len(fitting) else [0]:
            always = int(rng.choice(counts))
            for heads in sorted(counts):
                if rng.random() < 0.7 or heads == always:
                    more = steps(rng, 0, 6, 2) if differs else (0.0, 0.0)
                    value = float(steps(rng, 4, 60)) / (heads if rng.random() < 0.8 else 1)
                    rows.append(
                        Row(joint, int(ring), int(heads), float(kg[ring] + more[0]),
                            round(value / STEP) * STEP, int(cutter[ring]),
                            float(piece[ring] + more[1]), float(rng.integers(0, 5)))
                    )  # fmt: skip
    part_cost = steps(rng, 0, 80, rings).tolist() if money and rng.random() < 0.5 else None
    cutter_cost = steps(rng, 0, 200, 3).tolist() if money and rng.random() < 0.5 else None
    made = table(
        rows,
        weight=rng.choice((1, 1, 2, 5), joints).tolist(),
        part_cost=part_cost,
        cutter_cost=cutter_cost,
        head_cost=float(steps(rng, 0, 20)) if money and rng.random() < 0.6 else 0.0,
    )
    return with_sums(made, np.array([row.value for row in rows]), rng)


def with_sums(made: Table, values: np.ndarray, rng: np.random.Generator) -> Table:
    """Return the table with a tool point or two, and a battery, or none of them."""
    sums = []
    if rng.random() < 0.3:
        values = values + FINE_STEP * rng.integers(0, 4, len(values))
    if rng.random() < 0.6:
        group = rng.integers(-1, 1 + int(rng.random() < 0.4), made.joints)
        sums.append(_sums("tool point", made, group, values, rng, follows_heads=False))
    if rng.random() < 0.35:
        current = steps(rng, 1, 9, made.joints)
        group = np.zeros(made.joints, dtype=np.int64)
        sums.append(
            _sums("battery", made, group, made.heads * current[made.joint], rng, follows_heads=True)
        )
    return Table(**{**made.__dict__, "sums": tuple(sums)})


def _sums(
    name: str, made: Table, group: np.ndarray, values: np.ndarray, rng: np.random.Generator,
    follows_heads: bool,
) -> Sums:  # fmt: skip
    groups = int(group.max()) + 1
    limits = np.zeros(groups)
    for number in range(groups):
        mine = [values[made.joint == joint] for joint in np.flatnonzero(group == number)]
        least = sum(float(some.min()) for some in mine)
        most = sum(float(some.max()) for some in mine)
        # near the least that is possible, or what just some answer takes; a few are impossible
        spread = np.round((most - least) * rng.choice((0.0, 0.1, 0.25, 0.4)) / STEP) * STEP
        limit = least + spread - (STEP if rng.random() < 0.05 else 0.0)
        if rng.random() < 0.4:
            taken = [np.sort(some)[: 1 + len(some) // 2] for some in mine]
            limit = sum(float(rng.choice(some)) for some in taken)
            limit -= FINE_STEP * int(rng.integers(0, 2))
        limits[number] = max(STEP, limit)
    counted = group[made.joint] >= 0
    names = tuple(f"{name} {number}" for number in range(groups))
    return Sums(names, limits, group, np.where(counted, values, 0.0), follows_heads)


def random_order(rng: np.random.Generator, money: bool = True) -> list[Wish]:
    """Return some of the wishes in some order."""
    known = len(WISHES) if money else len(WISHES) - 1
    return [WISHES[i] for i in rng.permutation(known)[: int(rng.integers(1, known + 1))]]


# -- every answer, listed --------------------------------------------------------------------------


@dataclass(frozen=True)
class Listed:
    """Every way to give each joint a row: rows by joint, value of each wish, whether limits hold."""

    picks: np.ndarray
    values: dict[Wish, np.ndarray]
    real: dict[Wish, np.ndarray]
    within_sums: np.ndarray

    def allowed(self, ceilings: Mapping[Wish, float]) -> np.ndarray:
        """Say which answers keep the sums and the ceilings."""
        kept = self.within_sums.copy()
        for wish, most in ceilings.items():
            kept &= number_at_most(self.real[wish], most)
        return kept

    def best(self, order: Sequence[Wish], ceilings: Mapping[Wish, float]) -> list[int] | None:
        """Return the best values of the wishes, one after another; None if nothing is allowed."""
        alive, best = self.allowed(ceilings), []
        if not alive.any():
            return None
        for wish in order:
            best.append(int(self.values[wish][alive].min()))
            alive &= self.values[wish] == best[-1]
        return best


def listed(made: Table, units: Units) -> Listed:
    """List every answer of a table."""
    of = [np.flatnonzero(made.joint == joint) for joint in range(made.joints)]
    picks = np.array(list(itertools.product(*of)), dtype=np.int64).reshape(-1, made.joints)
    asked = made.ring[picks]
    if made.second is not None:
        asked = np.concatenate([asked, made.second[picks]], axis=1)
    rings, cutters = (
        _used(asked, made.part_cost),
        _used(made.cutter[picks], made.cutter_cost),
    )
    kg, money = made.material_kg[picks].sum(axis=1), made.cost[picks].sum(axis=1)
    money = money + rings @ made.part_cost + cutters @ made.cutter_cost
    heads = made.built_heads[picks].sum(axis=1)
    counts: dict[Wish, np.ndarray] = {
        "cutters": cutters.sum(axis=1), "ring_parts": (rings * _counted(made)).sum(axis=1), "heads": heads,
    }  # fmt: skip
    whole_money = number_in_whole_units(made.cost, units.cost)[picks].sum(axis=1)
    whole_money = whole_money + rings @ number_in_whole_units(made.part_cost, units.cost)
    whole_money = whole_money + cutters @ number_in_whole_units(made.cutter_cost, units.cost)
    whole_kg = number_in_whole_units(made.material_kg, units.material_kg)[picks].sum(axis=1)
    within = np.ones(len(picks), dtype=bool)
    for sums in made.sums:
        for number, limit in enumerate(sums.limits):
            counted = sums.group[made.joint] == number
            within &= np.where(counted, sums.values, 0.0)[picks].sum(axis=1) <= limit
    return Listed(
        picks, {**counts, "material": whole_kg, "cost": whole_money},
        {**counts, "material": kg, "cost": money}, within,
    )  # fmt: skip


def _counted(made: Table) -> np.ndarray:
    """Return by ring part whether it counts (1), or stands already (0)."""
    known = len(made.part_cost)
    return (
        np.ones(known, dtype=int)
        if made.counted_part is None
        else np.where(made.counted_part, 1, 0)
    )


def _used(chosen: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Return, per answer, which of the known pieces it uses (1 or 0); -1 is none."""
    used = np.zeros((len(chosen), len(known)), dtype=np.int64)
    for place in range(chosen.shape[1]):
        asks = chosen[:, place] >= 0
        used[np.flatnonzero(asks), chosen[asks, place]] = 1
    return used


def random_ceilings(rng: np.random.Generator, all_answers: Listed) -> dict[Wish, float]:
    """Return ceilings near what answers reach, many of them met exactly by some answer."""
    ceilings: dict[Wish, float] = {}
    for wish in WISHES:
        if rng.random() < 0.25:
            reached = np.unique(all_answers.real[wish])
            most = float(reached[min(len(reached) - 1, int(rng.geometric(0.3)) - 1)])
            if rng.random() < 0.3:
                most -= STEP / 2 if wish in ("material", "cost") else 1
            ceilings[wish] = max(0.0, most)
    return ceilings


def side_by_side(tables: Sequence[Table]) -> Table:
    """Return the joints of several tables in one, which share cutters but no ring and no sum."""
    joints = np.cumsum([0, *(made.joints for made in tables)])
    rings = np.cumsum([0, *(len(made.part_cost) for made in tables)])
    rows = np.cumsum([0, *(len(made) for made in tables)])
    cutters = max(len(made.cutter_cost) for made in tables)
    sums = []
    for number, made in enumerate(tables):
        for one in made.sums:
            group = np.full(joints[-1], -1, dtype=np.int64)
            group[joints[number] : joints[number + 1]] = one.group
            values = np.zeros(rows[-1])
            values[rows[number] : rows[number + 1]] = one.values
            names = tuple(f"{name} of {number}" for name in one.names)
            sums.append(Sums(names, one.limits, group, values, one.follows_heads))

    def joined(name: str) -> np.ndarray:
        return np.concatenate([getattr(made, name) for made in tables])

    return Table(
        joints=int(joints[-1]), weight=joined("weight"),
        joint=np.concatenate([made.joint + first for made, first in zip(tables, joints, strict=False)]),
        ring=np.concatenate([made.ring + first for made, first in zip(tables, rings, strict=False)]),
        cutter=joined("cutter"), heads=joined("heads"), material_kg=joined("material_kg"),
        cost=joined("cost"), error=joined("error"), index=FirstRows(np.arange(rows[-1])),
        part_cost=joined("part_cost"), cutter_cost=np.zeros(cutters), head_cost=0.0,
        sums=tuple(sums),
    )  # fmt: skip
