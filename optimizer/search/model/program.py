"""The integer program of a reduced table: the one place where real numbers become integers.

Columns: a Boolean per row (joint takes this ring with these heads), one per ring part that several joints
could share, one per cutter. A row with a second ring asks for two ring parts. Every coefficient is a small
integer. Real limits (tool point, material) are rounded so that no allowed answer is ever cut off, shares down
and limits up; an answer that slips through the rounding is caught by `Program.allowed`, in real numbers, and
cut off by name. So bounds hold for the real limits, and so do answers.

The pinned CP-SAT release can certify wrong optima once the coefficients of one row add up to more than
2^31 (google/or-tools#5293), so every row given to it is kept below 2^30 and checked (`guard`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ringset.arrays import Ints
from ringset.reduction.head_patterns import Patterns, reduction_head_patterns, reduction_no_patterns
from ringset.reduction.needs import reduction_needs
from ringset.reduction.table import Table, TableRows
from ringset.reduction.units import Units
from ringset.schema.gives import Aim, study_plain_wishes
from ringset.search.model.constraints import (
    Ceilings,
    Held,
    Limits,
    RealLimits,
    _limits,
    search_held_by_aim,
)
from ringset.search.model.objective import Objective
from ringset.search.model.variables import (
    Columns,
    Owners,
    Variables,
    no_search_variables,
    search_cutter_variables,
    search_part_variables,
    search_second_variables,
)
from ringset.search.tuning import search_tuning


@dataclass(frozen=True)
class Program:
    """Minimise a wish: one row per joint, rows ask for their part and cutter, and limits hold."""

    table: Table
    rows: int
    columns: int
    joints: int
    joint: Ints
    parts: Owners
    seconds: Owners
    cutters: Owners
    patterns: Patterns
    limits: Limits
    real: RealLimits
    objectives: dict[Aim, Objective]
    ranks: Ints

    def with_needed_columns(self, rows: TableRows) -> Ints:
        """Return a choice as 0 or 1 per column: its rows, and just the parts and cutters that they need."""
        x = np.zeros(self.columns, dtype=np.int64)
        x[rows] = 1
        for owners in (self.parts, self.seconds, self.cutters):
            asked = owners.columns()[rows]
            x[asked[asked >= 0]] = 1
        return x

    def taken(self, x: Ints) -> TableRows:
        """Return the rows that an answer, a value per column, takes."""
        return TableRows(np.flatnonzero(x[: self.rows]))

    @property
    def paired(self) -> bool:
        """Whether some row asks for two ring parts."""
        return len(self.seconds.owner) > 0

    @property
    def every_row(self) -> TableRows:
        """All rows of the table."""
        return TableRows(np.arange(self.rows))

    @property
    def present(self) -> NDArray[np.bool_]:
        """Joints that have rows; joints that follow others have none."""
        return np.bincount(self.joint, minlength=self.joints) > 0

    @property
    def ring_columns(self) -> Columns:
        """Columns that stand for a ring part each: rows of a ring of one joint only, and shared parts."""
        shared = np.concatenate([self.parts.owner, self.seconds.owner])
        return Columns(np.union1d(np.flatnonzero(self.parts.pair < 0), shared))

    def one_row_each(self, x: Ints) -> bool:
        """Say whether every joint that has rows has exactly one of them."""
        counts = np.bincount(self.joint[x[: self.rows] > 0], minlength=self.joints)
        return bool(np.all(counts == self.present))

    def allowed(self, x: Ints) -> bool:
        """Say whether the chosen rows keep every limit, the real ones not only rounded."""
        real = self.real.values @ x.astype(np.float64) <= self.real.right
        return bool(np.all(real) and np.all(self.limits.weights @ x <= self.limits.right))

    def without(self, x: Ints) -> Program:
        """Return the program with one choice of rows cut off: those of a real limit that they pass, or all.

        Values of limits are 0 or more, and the rows that a sum counts are one of each of its joints: whatever
        the other joints take, these pass the limit again.
        """
        rows = self.taken(x)
        passed = np.flatnonzero(self.real.values @ x.astype(np.float64) > self.real.right)
        if len(passed):
            counted = slice(*self.real.values.indptr[passed[0] : passed[0] + 2])
            rows = TableRows(np.intersect1d(rows, self.real.values.indices[counted]))
        line = sparse.csr_array(
            (np.ones(len(rows), np.int64), (np.zeros(len(rows), np.int64), rows)), (1, self.columns)
        )
        return replace(
            self, limits=self.limits.with_line("beyond a real limit", line, len(rows) - 1)
        )


def build_search_program(
    table: Table, units: Units, wish: Aim | None, ceilings: Ceilings, held: Held
) -> Program:  # fmt: skip
    """Return the program of reduced rows that minimises `wish` under `ceilings`, with wishes `held`."""
    kept = search_held_by_aim(held)
    needed: set[Aim] = {*ceilings, *kept, *([] if wish is None else [wish])}
    needs = reduction_needs(table, study_plain_wishes(needed))
    patterns = reduction_no_patterns(table)
    if needs.heads:
        limits_of_heads = (ceilings.get("heads"), kept.get("heads"))
        heads = [int(most) for most in limits_of_heads if most is not None]
        most = search_tuning().patterns_max if search_tuning().uses("head patterns") else 0
        table, patterns = reduction_head_patterns(table, min(heads, default=None), most)
    n = len(table)
    parts, ring_of = search_part_variables(table, n) if needs.ring_parts else no_search_variables(n)
    seconds = (
        search_second_variables(table, n, ring_of)
        if needs.ring_parts
        else no_search_variables(n)[0]
    )
    cutters, cutter_of = (
        search_cutter_variables(table, n + len(ring_of))
        if needs.cutters
        else no_search_variables(n)
    )
    columns = Variables(table, units, parts, ring_of, cutters, cutter_of)
    objectives = {aim: columns.objective(aim) for aim in sorted(needed, key=str)}
    limits, real = _limits(columns, objectives, ceilings, held)
    return Program(
        table=table,
        rows=n,
        columns=columns.total,
        joints=table.joints,
        joint=table.joint,
        parts=parts,
        seconds=seconds,
        cutters=cutters,
        patterns=patterns,
        limits=limits,
        real=real,
        objectives=objectives,
        ranks=np.pad(_ranks(table), (0, columns.total - n)),
    )


def _ranks(table: Table) -> Ints:
    """Return each row's place among its joint's rows by mass, heads, error and canonical order."""
    place = np.arange(len(table))
    order = np.lexsort((place, table.error, table.heads, table.material_kg, table.joint))
    ranks = np.empty(len(table), dtype=np.int64)
    first = np.searchsorted(table.joint[order], np.arange(table.joints))
    ranks[order] = place - first[table.joint[order]]
    return ranks
