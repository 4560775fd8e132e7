"""Multiple-choice knapsacks with published optima: groups are joints, items are rows, capacities are sums.

One item of every group is taken; what a knapsack holds is a sum with a limit; profit is turned into
material by taking it from the group's largest. A 0-1 knapsack has the groups "in, out", a multiple
knapsack "out, first, second", an assignment problem one choice of knapsack per object. Sources, each
with its printed optimum:

- "Kreher, Stinson": D. Kreher, D. Stinson, Combinatorial Algorithms, CRC 1998, as instance P08 of
  J. Burkardt's collection knapsack_01 (people.sc.fsu.edu/~jburkardt/datasets/knapsack_01), 13549094.
- "Martello, Toth": S. Martello, P. Toth, Knapsack Problems, Wiley 1990, with the output of their routines
  MT1 (900), MTM (333) and MTG (40) as J. Burkardt prints it in knapsack_prb_output.txt (library KNAPSACK).
"""

from dataclasses import dataclass

import numpy as np
import pytest

from ringset.reduction.table import Sums, Table
from ringset.reduction.units import Units
from ringset.schema.study import Search
from ringset.search.wishes_in_turn import minimise_wishes
from tests.published.locations import table_of_choices

Line = tuple[int, ...]


@dataclass(frozen=True)
class Knapsacks:
    """Groups of items (profit, weight in each knapsack ...), capacities, and the printed optimum."""

    name: str
    groups: tuple[tuple[Line, ...], ...]
    capacities: Line
    optimum: int

    def table(self) -> tuple[Table, int]:
        """Return the rows and the constant: profit = constant - material."""
        items = np.array([item for group in self.groups for item in group])
        joint = np.repeat(np.arange(len(self.groups)), [len(group) for group in self.groups])
        most = np.array([max(item[0] for item in group) for group in self.groups])
        sums = tuple(
            Sums(
                names=(f"knapsack {number}",),
                limits=np.array([float(capacity)]),
                group=np.zeros(len(self.groups), dtype=np.int64),
                values=items[:, 1 + number].astype(float),
            )
            for number, capacity in enumerate(self.capacities)
        )
        material = (most[joint] - items[:, 0]).astype(float)
        nothing = np.zeros(len(items))
        rings = np.arange(len(items))
        return table_of_choices(joint, rings, material, nothing, nothing, sums), int(most.sum())


def _subsets(profits: Line, weights: Line, knapsacks: int) -> tuple[tuple[Line, ...], ...]:
    """Return the groups of a 0-1 problem: every object is left out or put into one knapsack."""
    out = (0,) * (knapsacks + 1)
    return tuple(
        (out, *((p, *(w if k == here else 0 for k in range(knapsacks))) for here in range(knapsacks)))
        for p, w in zip(profits, weights, strict=True)
    )  # fmt: skip


def _assignments(
    profits: tuple[Line, ...], weights: tuple[Line, ...]
) -> tuple[tuple[Line, ...], ...]:
    """Return the groups of an assignment problem; profits and weights by knapsack, then object."""
    knapsacks = range(len(profits))
    return tuple(
        tuple(
            (profits[here][j], *(weights[k][j] if k == here else 0 for k in knapsacks))
            for here in knapsacks
        )
        for j in range(len(profits[0]))
    )


P08_WEIGHTS = (
    382745, 799601, 909247, 729069, 467902, 44328, 34610, 698150, 823460, 903959, 853665, 551830,
    610856, 670702, 488960, 951111, 323046, 446298, 931161, 31385, 496951, 264724, 224916, 169684,
)  # fmt: skip
P08_PROFITS = (
    825594, 1677009, 1676628, 1523970, 943972, 97426, 69666, 1296457, 1679693, 1902996, 1844992,
    1049289, 1252836, 1319836, 953277, 2067538, 675367, 853655, 1826027, 65731, 901489, 577243,
    466257, 369261,
)  # fmt: skip
PROBLEMS = [
    Knapsacks("P08 (Kreher, Stinson)", _subsets(P08_PROFITS, P08_WEIGHTS, 1), (6404180,), 13549094),
    Knapsacks(
        "MT1 (Martello, Toth)",
        _subsets((350, 400, 450, 20, 70, 8, 5, 5), (25, 35, 45, 5, 25, 3, 2, 2), 1), (104,), 900,
    ),
    Knapsacks(
        "MTM (Martello, Toth)",
        _subsets(
            (92, 57, 49, 68, 60, 43, 67, 84, 87, 72), (23, 31, 29, 44, 53, 38, 63, 85, 89, 82), 2
        ),
        (70, 127), 333,
    ),
    Knapsacks(
        "MTG (Martello, Toth)",
        _assignments(
            ((6, 9, 4, 2, 10, 3, 6), (4, 8, 9, 1, 7, 5, 4)),
            ((4, 1, 2, 1, 4, 3, 8), (9, 9, 8, 1, 3, 8, 7)),
        ),
        (11, 22), 40,
    ),
]  # fmt: skip


@pytest.mark.parametrize("given", PROBLEMS, ids=lambda p: p.name)
def test_the_printed_optimum_is_reached_and_proven(
    given: Knapsacks,
) -> None:
    table, constant = given.table()
    choice = minimise_wishes(table, Units(1.0, 1.0), ["material"], {}, Search(time_limit_s=60.0))
    assert choice.status == "proven", choice.reasons
    (stage,) = choice.stages
    assert constant - stage.value == given.optimum
    assert constant - stage.bound == given.optimum


@pytest.mark.parametrize("given", PROBLEMS, ids=lambda p: p.name)
def test_the_chosen_items_fit_and_come_to_the_printed_optimum(
    given: Knapsacks,
) -> None:
    table, _ = given.table()
    choice = minimise_wishes(table, Units(1.0, 1.0), ["material"], {}, Search(time_limit_s=60.0))
    items = np.array([item for group in given.groups for item in group])[choice.rows]
    assert np.array_equal(np.sort(table.joint[choice.rows]), np.arange(table.joints))
    assert np.all(items[:, 1:].sum(axis=0) <= given.capacities)
    assert items[:, 0].sum() == given.optimum
