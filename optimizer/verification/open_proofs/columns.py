"""The 0/1 variables of an open proof: one number each over all wishes, and what they stand for.

A variable says that a joint takes a row, that a ring part is made, that a cutter is bought, or that the
joints of a robot have just these numbers of heads (a head pattern, of which exactly one is true).
"""

from __future__ import annotations

import csv
import io
import itertools
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ringset.arrays import Ints, Mask
from ringset.rating.rated import Rated
from ringset.reduction.table import FirstRows, Sums, Table
from ringset.verification.certificate.duality import PATTERNS_MAX
from ringset.verification.certificate.names import Names

#: The (joint, heads) of every joint of a group.
HeadPattern = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class OpenColumns:
    """Numbers of the variables, from 0: rows, ring parts, cutters, and head patterns, group by group.

    `patterns` are all ways of heads over the joints of a group, whether they keep its limit or not: it has
    none of a group with more than `PATTERNS_MAX` ways.
    """

    rows: int
    rings: int
    cutters: int
    patterns: dict[int, list[HeadPattern]]

    @property
    def count(self) -> int:
        """How many variables there are."""
        return self.rows + self.rings + self.cutters + sum(map(len, self.patterns.values()))

    def of_ring(self, ring: Ints | int) -> Ints:
        """Return the variables of ring parts."""
        return np.asarray(ring, dtype=np.int64) + self.rows

    def of_cutter(self, cutter: Ints | int) -> Ints:
        """Return the variables of cutters."""
        return np.asarray(cutter, dtype=np.int64) + self.rows + self.rings

    @cached_property
    def of_group(self) -> dict[int, Ints]:
        """The variables of every group's head patterns, in their order."""
        first, found = self.rows + self.rings + self.cutters, {}
        for group, patterns in self.patterns.items():
            found[group] = np.arange(first, first + len(patterns))
            first += len(patterns)
        return found


def open_head_sums(table: Table) -> Sums | None:
    """Return the sums whose groups' head patterns a certificate may price, if there are any."""
    return next((s for s in table.sums if len(s.names) and not s.follows_heads), None)


def open_columns(table: Table) -> OpenColumns:
    """Return the variables of a study's table of rows."""
    patterns: dict[int, list[HeadPattern]] = {}
    sums = open_head_sums(table)
    known = sorted({*zip(table.joint.tolist(), table.heads.tolist(), strict=True)})
    for group in range(len(sums.names) if sums is not None else 0):
        joints = [] if sums is None else np.flatnonzero(sums.group == group).tolist()
        options = [[pair for pair in known if pair[0] == joint] for joint in joints]
        if joints and np.prod([float(len(one)) for one in options]) <= PATTERNS_MAX:
            patterns[group] = list(itertools.product(*options))
    return OpenColumns(len(table), len(table.part_cost), len(table.cutter_cost), patterns)


def open_column_names(
    columns: OpenColumns, rated: Rated, names: Names, table: Table, chosen: FirstRows, used: Mask
) -> str:
    """Return as CSV what every used variable stands for, and its value in the answer (its chosen rows)."""
    text = io.StringIO()
    head = "variable", "kind", "joint", "module_mm", "teeth", "bore_mm", "heads", "second_teeth"
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*head, "in_answer"])
    true = open_columns_of_answer(columns, table, chosen)
    rows = rated.catalogue
    facts = list(
        zip(
            (names.joints[joint] for joint in rows.joint.tolist()), rows.module_mm().tolist(),
            rows.teeth.tolist(), rows.bore_mm().tolist(), table.heads.tolist(),
            (teeth or "" for teeth in rows.partner_teeth().tolist()), strict=True,
        )
    )  # fmt: skip

    def write(column: int, kind: str, *told: object) -> None:
        if used[column]:
            blank = [""] * (len(head) - 2 - len(told))
            writer.writerow([f"x{column + 1}", kind, *told, *blank, int(column in true)])

    for column, fact in enumerate(facts):
        write(column, "row", *fact)
    for ring, (module, teeth, bore) in _ring_sizes(rated, table).items():
        write(int(columns.of_ring(ring)), "ring part", "", module, teeth, bore)
    for cutter, name in names.cutters.items():
        write(int(columns.of_cutter(cutter)), f"cutter {name}")
    for group, patterns in columns.patterns.items():
        for column, pattern in zip(columns.of_group[group].tolist(), patterns, strict=True):
            told = ", ".join(f"{names.joints[joint]} {heads}" for joint, heads in pattern)
            write(column, "heads", told)
    return text.getvalue()


def _ring_sizes(rated: Rated, table: Table) -> dict[int, tuple[float, int, float]]:
    """Return module in mm, teeth and bore in mm of every ring part by its number."""
    rows = rated.catalogue
    found: dict[int, tuple[float, int, float]] = {}
    for keys, teeth in ((table.ring, rows.teeth), (table.second, rows.partner_teeth())):
        if keys is not None:
            sizes = zip(
                rows.module_mm().tolist(), teeth.tolist(), rows.bore_mm().tolist(), strict=True
            )
            found |= dict(zip(keys.tolist(), sizes, strict=True))
    return {ring: found[ring] for ring in sorted(found) if ring >= 0}


def open_columns_of_answer(columns: OpenColumns, table: Table, chosen: FirstRows) -> set[int]:
    """Return the variables that are 1 where an answer takes the `chosen` rows."""
    true = {*chosen.tolist(), *columns.of_ring(table.ring[chosen]).tolist()}
    if table.second is not None:
        second = table.second[chosen]
        true |= {*columns.of_ring(second[second >= 0]).tolist()}
    cutter = table.cutter[chosen]
    true |= {*columns.of_cutter(cutter[cutter >= 0]).tolist()}
    taken = {*zip(table.joint[chosen].tolist(), table.heads[chosen].tolist(), strict=True)}
    for group, patterns in columns.patterns.items():
        numbers = columns.of_group[group].tolist()
        true |= {n for n, p in zip(numbers, patterns, strict=True) if taken.issuperset(p)}
    return true
