"""A program, or some of its rows, as the one matrix that the linear and the second engine take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NewType

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ringset.arrays import Ints
from ringset.reduction.table import TableRows
from ringset.search.model.program import Program
from ringset.search.model.variables import Columns, Owners

#: Places in the x of a matrix: which of its own columns, not of the program's.
Places = NewType("Places", NDArray[np.intp])


@dataclass(frozen=True)
class ConstraintMatrix:
    """A program on some rows as a matrix: `most` lines of matrix x <= right, then those of matrix x = right.

    x holds `columns` of the program, `owners` of them at the end, and then the head patterns, which weigh
    nothing. The first lines are those of `part_pairs`, `cutter_pairs`, `second_pairs` and the limits; the
    equal ones those of the joints, and of the patterns.
    """

    columns: Columns
    owners: int
    matrix: sparse.csr_array
    right: Ints
    most: int
    patterns: int
    part_pairs: NDArray[np.intp]
    cutter_pairs: NDArray[np.intp]
    second_pairs: NDArray[np.intp]


class Entries:
    """Collects the entries of a matrix, one block of lines after another."""

    def __init__(self) -> None:
        self.lines = 0
        self._line: list[Ints] = []
        self._column: list[Ints] = []
        self._value: list[Ints] = []

    def add(self, line: Ints, column: Ints, value: Ints | int) -> None:
        """Add entries of the block that comes next, by line within it."""
        self._line.append(line + self.lines)
        self._column.append(column)
        self._value.append(np.broadcast_to(np.asarray(value, dtype=np.int64), line.shape))

    def close(self, lines: int) -> None:
        """End a block of so many lines."""
        self.lines += lines

    def matrix(self, columns: int) -> sparse.csr_array:
        """Return all lines; no entry may have been added twice."""
        line, column, value = (
            np.concatenate(part) if part else np.empty(0, np.int64)
            for part in (self._line, self._column, self._value)
        )
        return sparse.csr_array((value, (line, column)), shape=(self.lines, columns))


def search_constraint_matrix(program: Program, rows: TableRows) -> ConstraintMatrix:
    """Return the program on the given rows, with the parts and cutters that they need."""
    part, cutter = _asked(program.parts, rows), _asked(program.cutters, rows)
    second = _asked(program.seconds, rows)
    parts = np.union1d(part.owner, second.owner)
    columns = np.concatenate([rows, parts, np.unique(cutter.owner)])
    place = np.full(program.columns, -1, dtype=np.int64)
    place[columns] = np.arange(len(columns))
    entries = Entries()
    for asked in (part, cutter, second):
        entries.add(asked.line, asked.row, 1)
        entries.add(np.arange(len(asked.pairs)), place[asked.owner], -1)
        entries.close(len(asked.pairs))
    _add_limits(entries, program, place)
    most = entries.lines
    entries.add(program.joint[rows], np.arange(len(rows)), 1)
    entries.close(program.joints)
    _add_patterns(entries, program, rows, len(columns))
    right = np.zeros(entries.lines, dtype=np.int64)
    right[most - len(program.limits.right) : most] = program.limits.right
    right[most : most + program.joints] = program.present
    right[entries.lines - len(program.patterns.groups) :] = 1
    matrix = entries.matrix(len(columns) + program.patterns.size)
    owners = len(columns) - len(rows)
    return ConstraintMatrix(
        Columns(columns),
        owners,
        matrix,
        right,
        most,
        program.patterns.size,
        part.pairs,
        cutter.pairs,
        second.pairs,
    )


def _add_limits(entries: Entries, program: Program, place: Ints) -> None:
    limits = program.limits.weights
    line = np.repeat(np.arange(limits.shape[0]), np.diff(limits.indptr))
    column = place[limits.indices]
    here = np.flatnonzero(column >= 0)
    entries.add(line[here], column[here], limits.data[here])
    entries.close(limits.shape[0])


def _add_patterns(
    entries: Entries, program: Program, rows: TableRows, columns: int
) -> None:  # fmt: skip
    """Add lines by which rows show the head pattern taken, and by which one pattern is taken."""
    patterns = program.patterns
    if not patterns.size:
        return
    choice = patterns.choice[rows]
    row = np.flatnonzero(choice >= 0)
    first = np.cumsum([0, *(len(group) for group in patterns.groups)])
    number = [
        np.repeat(np.arange(len(g)) + f, g.shape[1])
        for g, f in zip(patterns.groups, first[:-1], strict=True)
    ]
    shown = np.concatenate([group.ravel() for group in patterns.groups])
    entries.add(choice[row], row, 1)
    entries.add(shown, columns + np.concatenate(number), -1)
    entries.close(patterns.choices)
    robot = np.repeat(np.arange(len(patterns.groups)), np.diff(first))
    entries.add(robot, columns + np.arange(patterns.size), 1)
    entries.close(len(patterns.groups))


@dataclass(frozen=True)
class _Asked:
    """Pairs that some rows belong to: which, whose, and for every such row its place and line."""

    pairs: NDArray[np.intp]
    owner: Ints
    row: Places
    line: NDArray[np.intp]


def _asked(owners: Owners, rows: TableRows) -> _Asked:
    pair = owners.pair[rows]
    row = np.flatnonzero(pair >= 0)
    pairs, line = np.unique(pair[row], return_inverse=True)
    return _Asked(pairs, owners.owner[pairs] if len(pairs) else owners.owner[:0], Places(row), line)
