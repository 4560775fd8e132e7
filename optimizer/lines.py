"""A program, or some of its rows, as the matrices that the linear and the second engine take."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from optimizer.catalogue import Floats, Ints
from optimizer.program import Owners, Program


@dataclass(frozen=True)
class Lines:
    """A program on some rows as matrices: upper x <= right, equal x = equal_right.

    x holds `columns` of the program, `owners` of them at the end, and then the head patterns, which weigh
    nothing.
    """

    columns: NDArray[np.intp]
    owners: int
    upper: sparse.csr_array
    right: Ints
    equal: sparse.csr_array
    equal_right: Floats
    patterns: int
    part_pairs: NDArray[np.intp]
    cutter_pairs: NDArray[np.intp]


def lines_of(program: Program, rows: NDArray[np.intp]) -> Lines:
    """Return the program on the given rows, with the parts and cutters that they need."""
    part = _asked(program.parts, rows)
    cutter = _asked(program.cutters, rows)
    columns = np.concatenate([rows, np.unique(part.owner), np.unique(cutter.owner)])
    place = np.full(program.columns, -1, dtype=np.int64)
    place[columns] = np.arange(len(columns))
    upper = [
        _pair_lines(asked, place, len(columns)) for asked in (part, cutter) if len(asked.pairs)
    ]
    upper.append(program.limits.weights[:, columns])
    right = np.concatenate(
        [np.zeros(len(part.pairs) + len(cutter.pairs), dtype=np.int64), program.limits.right]
    )
    one_each = _ones(program.joint[rows], np.arange(len(rows)), program.joints, len(columns))
    stacked = sparse.csr_array(sparse.vstack(upper))
    equal = [one_each, *_pattern_lines(program, rows, len(columns))]
    extra = program.patterns.size
    if extra:
        stacked.resize((stacked.shape[0], len(columns) + extra))
        equal[0].resize((program.joints, len(columns) + extra))
    equal_right = np.zeros(sum(block.shape[0] for block in equal))
    equal_right[: program.joints] = program.present
    equal_right[len(equal_right) - len(program.patterns.groups) :] = 1.0
    return Lines(
        columns, len(columns) - len(rows), stacked, right, sparse.csr_array(sparse.vstack(equal)),
        equal_right, extra, part.pairs, cutter.pairs,
    )  # fmt: skip


def _ones(line: Ints, column: Ints, lines: int, columns: int) -> sparse.csr_array:
    return sparse.csr_array((np.ones(len(line), np.int64), (line, column)), shape=(lines, columns))


def _pattern_lines(
    program: Program, rows: NDArray[np.intp], columns: int
) -> list[sparse.csr_array]:  # fmt: skip
    """Return lines by which rows show the head pattern taken, and by which one pattern is taken."""
    patterns = program.patterns
    if not patterns.size:
        return []
    choice = patterns.choice[rows]
    row = np.flatnonzero(choice >= 0)
    first = np.cumsum([0, *(len(group) for group in patterns.groups)])
    number = [
        np.repeat(np.arange(len(g)) + f, g.shape[1])
        for g, f in zip(patterns.groups, first[:-1], strict=True)
    ]
    shown = np.concatenate([group.ravel() for group in patterns.groups])
    width = columns + patterns.size
    show = _ones(choice[row], row, patterns.choices, width) - _ones(
        shown, columns + np.concatenate(number), patterns.choices, width
    )
    robot = np.repeat(np.arange(len(patterns.groups)), np.diff(first))
    take = _ones(robot, columns + np.arange(patterns.size), len(patterns.groups), width)
    return [show, take]


@dataclass(frozen=True)
class _Asked:
    """Pairs that some rows belong to: which, whose, and for every such row its place and line."""

    pairs: NDArray[np.intp]
    owner: Ints
    row: NDArray[np.intp]
    line: NDArray[np.intp]


def _asked(owners: Owners, rows: NDArray[np.intp]) -> _Asked:
    pair = owners.pair[rows]
    row = np.flatnonzero(pair >= 0)
    pairs, line = np.unique(pair[row], return_inverse=True)
    return _Asked(pairs, owners.owner[pairs] if len(pairs) else owners.owner[:0], row, line)


def _pair_lines(asked: _Asked, place: Ints, columns: int) -> sparse.csr_array:
    """Return one line per pair: 1 for each of its rows, -1 for the column it needs."""
    count = len(asked.pairs)
    value = np.concatenate([np.ones(len(asked.row), np.int64), np.full(count, -1)])
    line = np.concatenate([asked.line, np.arange(count)])
    column = np.concatenate([asked.row, place[asked.owner]])
    return sparse.csr_array((value, (line, column)), shape=(count, columns))
