"""The 0/1 program that an open proof refutes: all rows of a wish, its limits, and "one unit better".

Every constraint reads sum of numbers times variables <= right, in whole numbers. Wishes are whole already.
A limit in real numbers is counted in 1/2^k, with k such that its right side has 53 bits: the numbers of rows
are rounded down and the right side up, so that no allowed answer is cut off. A ring part that one joint alone
could take counts with its rows, as in the certificate; every other one, and every cutter, has a variable of
its own wherever some limit or the wish counts them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints, Mask
from ringset.reduction.table import Table
from ringset.verification.certificate.claims import Claim
from ringset.verification.certificate.constraints import (
    ORDER_ROOM,
    Line,
    RowsInQuestion,
    certificate_rows,
)
from ringset.verification.open_proofs.columns import OpenColumns, open_head_sums

#: Python's own integers in an array: nothing overflows.
Wholes = NDArray[np.object_]
#: Bits of the right side of a limit in real numbers, and most places behind its point.
RIGHT_BITS, PLACES_MAX = 53, 200


@dataclass(frozen=True)
class LessEqual:
    """sum of numbers x <= right; `number` is that of the constraint in the formula or the proof, from 1."""

    number: int
    columns: Ints
    numbers: Wholes
    right: int


@dataclass(frozen=True)
class Equation:
    """An equation as the two constraints that it is, `at_least` with all signs turned."""

    at_most: LessEqual
    at_least: LessEqual


@dataclass(frozen=True)
class OpenLimit:
    """A limit of an answer; its numbers are counted in 1/2^`places` of those of the certificate."""

    row: LessEqual
    places: int
    whole: bool


@dataclass(frozen=True)
class ProgramNeeds:
    """What a proof needs beside rows and limits: patterns of heads of groups, and what its splits count."""

    groups: frozenset[int] = frozenset()
    rings: bool = False
    cutters: bool = False
    splits: int = 0


@dataclass(frozen=True)
class HeadCount:
    """Rows of a joint with so many heads, and the patterns of heads that show it: as many of each are 1."""

    equation: Equation
    rows: Ints
    ways: Ints


@dataclass
class OpenProgram:
    """The constraints in their order, and where each kind of them stands.

    `rest` are the rows in question, `column` their variables. `cutter_links` say by (cutter, joint), and
    `ring_links` by (ring part, joint), that a joint's rows need them; `needs`, by variable, that no cutter
    and no ring part counts which no row needs. Behind the variables of `columns` there is one for every split
    of a tree, of which the formula knows nothing.
    """

    columns: OpenColumns
    rest: RowsInQuestion
    column: Ints
    splits: int
    all: list[tuple[str, LessEqual]] = field(default_factory=list)
    joints: list[Equation] = field(default_factory=list)
    cutter_links: dict[tuple[int, int], LessEqual] = field(default_factory=dict)
    ring_links: dict[tuple[int, int], LessEqual] = field(default_factory=dict)
    needs: dict[int, LessEqual] = field(default_factory=dict)
    heads: dict[tuple[int, int], HeadCount] = field(default_factory=dict)
    groups: dict[int, Equation] = field(default_factory=dict)
    limits: dict[str, OpenLimit] = field(default_factory=dict)

    def add(self, told: str, columns: Ints, numbers: Wholes, right: int) -> LessEqual:
        """Take a constraint and give it its number; `told` says what it is."""
        made = LessEqual(len(self.all) + 1, columns, numbers, right)
        self.all.append((told, made))
        return made

    def add_equation(self, told: str, columns: Ints, numbers: Wholes, right: int) -> Equation:
        """Take an equation as two constraints."""
        return Equation(
            self.add(told, columns, numbers, right), self.add(told, columns, -numbers, -right)
        )

    @property
    def better(self) -> LessEqual:
        """The last constraint: "one unit better"."""
        return self.all[-1][1]

    @property
    def variables(self) -> int:
        """How many variables there are, with those of splits."""
        return self.columns.count + self.splits

    @property
    def used(self) -> Mask:
        """Which variables the formula has."""
        used = np.zeros(self.variables, dtype=np.bool_)
        for _, row in self.all:
            used[row.columns] = True
        return used

    def name(self, column: int) -> str:
        """Return the name of a variable."""
        own = column - self.columns.count
        return f"x{column + 1}" if own < 0 else f"split{own + 1}"

    def column_of(self, name: str) -> int:
        """Return the variable of a name."""
        first = self.columns.count if name.startswith("split") else 0
        return first + int(name.removeprefix("split").removeprefix("x")) - 1


def open_whole_numbers(numbers: Ints | Floats) -> Wholes:
    """Return whole numbers as Python's own integers."""
    return np.array([int(number) for number in numbers.tolist()], dtype=np.object_)


def open_program(
    claim: Claim, table: Table, columns: OpenColumns, names: list[str], needs: ProgramNeeds
) -> OpenProgram:
    """Return the program of a claim over the rows of a table; `names` are those of the joints."""
    rest = _with_owners(claim.rest(table), needs)
    column = np.asarray(table.index, dtype=np.int64)
    program = OpenProgram(columns, rest, column, needs.splits)
    for joint, rows in enumerate(_by_number(table.joint, table.joints)):
        program.joints.append(
            program.add_equation(f"{names[joint]} takes one row", column[rows], _ones(len(rows)), 1)
        )
    _add_links(program, names, needs)
    _add_patterns(program, names, needs.groups)
    for line in rest.lines:
        program.limits[line.name] = _limit(program, line)
    told = f"better: {claim.wish} of {claim.value - 1} or less"
    program.add(told, *_whole(program, rest.wish), claim.value - 1)
    return program


def _with_owners(rest: RowsInQuestion, needs: ProgramNeeds) -> RowsInQuestion:
    """Return the rows in question with ring parts told apart where a proof splits by them."""
    if not needs.rings:
        return rest
    parts = np.ones_like(rest.wish.parts)
    rows, cutters = np.zeros_like(rest.wish.rows), np.zeros_like(rest.wish.cutters)
    every = certificate_rows(
        rest.table, rest.wish, [*rest.lines, Line("", rows, parts, cutters, math.inf)]
    )
    return replace(every, lines=rest.lines)


def _ones(count: int) -> Wholes:
    return open_whole_numbers(np.ones(count, dtype=np.int64))


def _by_number(numbers: Ints, count: int) -> list[Ints]:
    """Return where every number from 0 stands."""
    order = np.argsort(numbers, kind="stable")
    return np.split(order, np.searchsorted(numbers[order], np.arange(1, count)))


def _grouped(first: Ints, second: Ints) -> Iterator[tuple[tuple[int, int], Ints]]:
    """Yield every pair of numbers that occurs, with the places where it does."""
    if not len(first):
        return
    order = np.lexsort((second, first))
    one, other = first[order], second[order]
    ends = np.flatnonzero((np.diff(one) != 0) | (np.diff(other) != 0)) + 1
    for places in np.split(order, ends):
        yield (int(first[places[0]]), int(second[places[0]])), places


def _counted(program: OpenProgram, kind: str) -> bool:
    """Say whether the wish or some limit counts parts or cutters."""
    rest = program.rest
    return any(bool(np.any(getattr(line, kind))) for line in (rest.wish, *rest.lines))


def _add_links(program: OpenProgram, names: list[str], needs: ProgramNeeds) -> None:
    """Add that rows need their cutters and their ring parts, and that nothing counts which no row needs."""
    table, columns = program.rest.table, program.columns
    if needs.cutters or _counted(program, "cutters"):
        rows = np.flatnonzero(table.cutter >= 0)
        owners = columns.of_cutter(table.cutter[rows])
        links = _link(program, rows, owners, names, "a cutter")
        program.cutter_links = {
            (owner - int(columns.of_cutter(0)), joint): link for (owner, joint), link in links
        }
    ring, row = table.ring, np.arange(len(table))
    if table.second is not None:
        ring, row = np.concatenate([ring, table.second]), np.concatenate([row, row])
    shared = np.isin(ring, program.rest.rings)
    owners = columns.of_ring(ring[shared])
    links = _link(program, row[shared], owners, names, "a ring part")
    program.ring_links = {
        (owner - int(columns.of_ring(0)), joint): link for (owner, joint), link in links
    }


def _link(
    program: OpenProgram, rows: Ints, owners: Ints, names: list[str], what: str
) -> list[tuple[tuple[int, int], LessEqual]]:
    """Add rows <= owner for every owner (a variable) and joint, and owner <= all rows that need it."""
    joint, links = program.rest.table.joint[rows], []
    for (owner, number), found in _grouped(owners, joint):
        cells = np.append(program.column[rows[found]], owner)
        told = f"{names[number]} needs {what}"
        numbers = np.append(_ones(len(found)), -1)
        links.append(((owner, number), program.add(told, cells, numbers, 0)))
    for (owner, _), found in _grouped(owners, np.zeros_like(owners)):
        cells = np.append(owner, program.column[rows[found]])
        numbers = np.append(1, -_ones(len(found)))
        told = f"{what} that no row needs does not count"
        program.needs[owner] = program.add(told, cells, numbers, 0)
    return links


def _add_patterns(program: OpenProgram, names: list[str], groups: frozenset[int]) -> None:
    """Add that exactly one way of heads of every wanted group is true, and which rows show it."""
    table, columns = program.rest.table, program.columns
    for group in sorted(groups):
        cells, patterns = columns.of_group[group], columns.patterns[group]
        joints = ", ".join(names[joint] for joint, _ in patterns[0])
        program.groups[group] = program.add_equation(
            f"{joints} have one pattern of heads", cells, _ones(len(cells)), 1
        )
        for place, (joint, _) in enumerate(patterns[0]):
            shown = np.array([pattern[place][1] for pattern in patterns])
            for heads in np.unique(shown).tolist():
                rows = program.column[(table.joint == joint) & (table.heads == heads)]
                ways = cells[shown == heads]
                made = program.add_equation(
                    f"{names[joint]} has {heads} heads where the pattern shows it",
                    np.concatenate([rows, ways]),
                    np.concatenate([_ones(len(rows)), -_ones(len(ways))]),
                    0,
                )
                program.heads[joint, heads] = HeadCount(made, rows, ways)


def open_joint_groups(table: Table, joints: set[int]) -> set[int]:
    """Return the groups of head patterns in which joints count."""
    sums = open_head_sums(table)
    return set() if sums is None else {int(sums.group[j]) for j in joints} - {-1}


def _whole(program: OpenProgram, line: Line) -> tuple[Ints, Wholes]:
    """Return the variables and numbers of a line in whole numbers."""
    return _sparse(program, *(open_whole_numbers(one) for one in _parts(program, line)))


def _parts(program: OpenProgram, line: Line) -> tuple[Ints | Floats, Ints | Floats, Ints | Floats]:
    """Return a line's numbers of rows, of the ring parts that have a variable, and of cutters."""
    rest = program.rest
    cutters = sorted({cutter for cutter, _ in program.cutter_links})
    return rest.row_numbers(line), line.parts[rest.rings], line.cutters[cutters]


def _sparse(
    program: OpenProgram, rows: Wholes, rings: Wholes, cutters: Wholes
) -> tuple[Ints, Wholes]:
    known = np.array(sorted({cutter for cutter, _ in program.cutter_links}), dtype=np.int64)
    cells = np.concatenate(
        [
            program.column,
            program.columns.of_ring(program.rest.rings),
            program.columns.of_cutter(known),
        ]
    )
    numbers = np.concatenate([rows, rings, cutters])
    counts = numbers != 0
    return cells[counts], numbers[counts]


def _limit(program: OpenProgram, line: Line) -> OpenLimit:
    """Add a limit, rounded to the safe side where its numbers are real."""
    if line.whole:
        return OpenLimit(program.add(line.name, *_whole(program, line), int(line.right)), 0, True)
    most = line.right * (1.0 + ORDER_ROOM)
    places = min(PLACES_MAX, RIGHT_BITS - math.frexp(most)[1]) if most > 0.0 else RIGHT_BITS
    down = (open_whole_numbers(np.floor(np.ldexp(one, places))) for one in _parts(program, line))
    right = math.ceil(math.ldexp(most, places))
    told = f"{line.name} in 1/2^{places}: rows rounded down, the limit {line.right!r} up"
    return OpenLimit(program.add(told, *_sparse(program, *down), right), places, False)
