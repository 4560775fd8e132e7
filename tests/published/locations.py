"""The location problems of tests/data/orlib as tables of rows: customers are joints, sites ring parts.

Uncapacitated facility location: a row's `cost` is the cost of serving the customer from the site, the
part's own cost that of opening the site. p-median: a row's material is the length of the shortest path,
and at most p ring parts are allowed. What a problem does not know (cutters, heads, sums) is absent.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from ringset.reduction.table import FirstRows, Sums, Table
from ringset.reduction.units import Units
from ringset.schema.study import Wish
from tests.published.tables import read_rows
from tests.support.places import DATA

FOLDER = DATA / "orlib"


@dataclass(frozen=True)
class Problem:
    """A published problem and its published optimum, in digits as printed."""

    name: str
    table: Table
    units: Units
    wish: Wish
    ceilings: dict[Wish, float]
    optimum: str

    @property
    def unit(self) -> float:
        """Size of the whole units in which the objective is counted."""
        return self.units.cost if self.wish == "cost" else self.units.material_kg

    @property
    def tolerance(self) -> float:
        """Half the last printed digit of the optimum."""
        return 0.5 * 10.0 ** -len(self.optimum.partition(".")[2])


def known_optima() -> dict[str, str]:
    """Return the published optimum of every file, as printed."""
    return {row["file"]: row["optimum"] for row in read_rows("orlib/known_optima.csv")}


def problem(file: str) -> Problem:
    """Return a problem by its file name."""
    load = facility_location if file.startswith("cap") else p_median
    return load(file, known_optima()[file])


def table_of_choices(
    joint: np.ndarray, ring: np.ndarray, material: np.ndarray, cost: np.ndarray,
    part_cost: np.ndarray, sums: tuple[Sums, ...] = (),
) -> Table:  # fmt: skip
    """Return rows that need no cutter and carry one head each; joints are built once."""
    count = len(joint)
    joints = int(joint.max()) + 1
    return Table(
        joints=joints, weight=np.ones(joints, np.int64), joint=joint, ring=ring,
        cutter=np.full(count, -1), heads=np.ones(count, np.int64), material_kg=material, cost=cost,
        error=np.zeros(count), index=FirstRows(np.arange(count)), part_cost=part_cost,
        cutter_cost=np.zeros(0), head_cost=0.0, sums=sums,
    )  # fmt: skip


def facility_location(file: str, optimum: str) -> Problem:
    """Return an uncapacitated problem; all costs are whole multiples of 1e-5."""
    numbers = (FOLDER / file).read_text().split()
    sites, customers = int(numbers[0]), int(numbers[1])
    opening = np.array(numbers[3 : 2 + 2 * sites : 2], dtype=float)
    rest = np.array(numbers[2 + 2 * sites :], dtype=float).reshape(customers, sites + 1)
    serving = rest[:, 1:]  # the first number of each customer is its demand
    joint, ring = np.divmod(np.arange(customers * sites), sites)
    table = table_of_choices(joint, ring, np.zeros(len(joint)), serving.ravel(), opening)
    return Problem(file, table, Units(material_kg=1.0, cost=1e-5), "cost", {}, optimum)


def p_median(file: str, optimum: str) -> Problem:
    """Return a p-median problem over the shortest paths of its graph; lengths are whole."""
    lines = [[int(n) for n in line.split()] for line in (FOLDER / file).read_text().splitlines()]
    nodes, _, p = lines[0]
    length = np.zeros((nodes, nodes))
    for i, j, this in lines[1:]:  # of an edge listed twice the last line counts
        length[i - 1, j - 1] = length[j - 1, i - 1] = this
    paths = csgraph.shortest_path(sparse.csr_array(length), directed=False)
    assert np.isfinite(paths).all()
    joint, ring = np.divmod(np.arange(nodes * nodes), nodes)
    table = table_of_choices(joint, ring, paths.ravel(), np.zeros(len(joint)), np.zeros(nodes))
    return Problem(file, table, Units(1.0, 1.0), "material", {"ring_parts": p}, optimum)
