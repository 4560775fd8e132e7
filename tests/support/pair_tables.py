"""Tables of rows by a seed in which some joints ask for two ring parts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ringset.reduction.table import FirstRows, Table
from tests.support.tables import STEP, Row, steps, table, with_sums


def paired_table(seed: int) -> Table:
    """Return the small table of `seed`: every joint asks one ring part or two, and parts are shared at will.

    Rings of a pair are of one cutter; mass, money and heads of a row are those of both.
    """
    rng = np.random.default_rng(seed)
    joints, rings = int(rng.integers(2, 5)), int(rng.integers(4, 8))
    cutter = np.sort(rng.integers(-1 if rng.random() < 0.2 else 0, 2, rings))
    kg, piece = steps(rng, 4, 20, rings), steps(rng, 0, 30, rings)
    rows, second = [], []
    for joint in range(joints):
        fitting = np.flatnonzero(rng.random(rings) < 0.7)
        couples = [(int(a), int(b)) for a in fitting for b in fitting if a != b]
        couples = [(a, b) for a, b in couples if cutter[a] == cutter[b] and rng.random() < 0.5]
        if joint > 0 and (rng.random() < 0.4 or not couples):
            couples = [(int(a), -1) for a in fitting] or [(0, -1)]
        for a, b in couples or [(rings - 1, rings - 2)]:
            for heads in sorted(rng.choice(3, int(rng.integers(1, 3)), replace=False) + 1):
                value = round(float(steps(rng, 4, 60)) / heads / STEP) * STEP
                both = kg[a] + (kg[b] if b >= 0 else 0.0)
                money = piece[a] + (piece[b] if b >= 0 else 0.0)
                rows.append(
                    Row(joint, a, int(heads) + (b >= 0), float(both), value, int(cutter[a]), float(money),
                        float(rng.integers(0, 5)))
                )  # fmt: skip
                second.append(b)
    costs = rng.random()
    made = table(
        rows,
        weight=rng.choice((1, 1, 2, 5), joints).tolist(),
        part_cost=steps(rng, 0, 80, rings).tolist()
        if costs < 0.3
        else [5.0 * (costs < 0.6)] * rings,
        cutter_cost=steps(rng, 0, 200, 3).tolist() if rng.random() < 0.5 else [0.0] * 3,
        head_cost=float(steps(rng, 0, 20)) if rng.random() < 0.5 else 0.0,
    )
    made = with_sums(made, np.array([row.value for row in rows]), rng)
    order = np.argsort(made.joint, kind="stable")
    made = replace(made, second=np.array(second, dtype=np.int64)).take(order)  # type: ignore[arg-type]
    return replace(made, index=FirstRows(np.arange(len(made))))
