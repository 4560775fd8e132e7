"""Writes out the tree of a certificate: every split as a variable of its own, every node as a clause.

A split asks one question, and the proof gives it a variable d that no constraint knows yet, with both
directions of what it means (`red` of the format: a new variable may be defined freely). Of rows A of a joint
it means sum of A >= d and sum of A <= |A| d; of a count of members, at most k, it means
count + (n - k) d <= n and count + (k + 1) d >= k + 1, with n all members. A node that is closed gives the
clause that its path cannot be, and the clauses of both children give that of their parent.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ringset.arrays import Ints
from ringset.verification.certificate.claims import Claim
from ringset.verification.certificate.constraints import Line, RowsInQuestion
from ringset.verification.certificate.document import CountSplit, Node, Split
from ringset.verification.certificate.duality import NoProof
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.rounds import replayed_certificate_rounds
from ringset.verification.certificate.tree import (
    certificate_tree_children,
    certified_first_of_split,
)
from ringset.verification.open_proofs.listing import write_open_listing
from ringset.verification.open_proofs.program import (
    LessEqual,
    OpenLimit,
    OpenProgram,
    open_whole_numbers,
)
from ringset.verification.open_proofs.refutation import Refutation


def write_open_tree(
    root: Refutation, rest: RowsInQuestion, names: Names, claim: Claim, nodes: Sequence[Node]
) -> None:
    """Close a node by the tree of a certificate; `rest` are its rows as the certificate sees them."""
    _Trees(names, claim, iter(nodes)).node(root, rest)


@dataclass
class _Trees:
    """The nodes that are still to be written, in their order."""

    names: Names
    claim: Claim
    nodes: Iterator[Node]
    splits: int = 0

    def node(self, mine: Refutation, rest: RowsInQuestion) -> None:
        """Write the next node and all below it."""
        given, first = next(self.nodes), mine.text.last
        for step in given.steps:
            aim = self.claim.aim_named(step.bounds)
            if not mine.closed and aim is not None:
                mine.round(self.names.read(step), aim)
        if mine.closed:
            self._skip(given)
            mine.text.conclude(mine.negated_path())
        elif given.split is not None:
            replayed = replayed_certificate_rounds(rest, self.names, self.claim, given.steps)
            self._split(mine, replayed.rest, given.split)
            mine.text.conclude(mine.negated_path())
        elif given.closed == "listing":
            write_open_listing(mine)
        else:
            raise NoProof("rounded to the safe side, a node of the tree does not close")
        if mine.path:
            mine.text.forget_since(first)

    def _skip(self, given: Node) -> None:
        """Leave out what a certificate has below a node that is closed already."""
        for _ in range(2 * (given.split is not None)):
            self._skip(next(self.nodes))

    def _split(self, mine: Refutation, rest: RowsInQuestion, split: Split) -> None:
        """Write both children of a node, the one with yes first."""
        yes, no = certificate_tree_children(rest, self.names, self.claim, split)
        self.splits += 1
        column = mine.program.columns.count + self.splits - 1
        mine.alive.may[column] = True
        if isinstance(split, CountSplit):
            children = _by_count(mine, column, yes.lines[-1], split.most)
        else:
            (joint,) = self.names.numbers("joints", [split.joint]).tolist()
            first = certified_first_of_split(rest, split) & (rest.table.joint == joint)
            children = _by_rows(mine, column, np.asarray(rest.table.index[first]), joint)
        for child, rows in zip(children, (yes, no), strict=True):
            child.use_limits()
            self.node(child, rows)
        mine.alive.may[column] = False


def _by_rows(
    mine: Refutation, column: int, first: Ints, joint: int
) -> tuple[Refutation, Refutation]:
    """Return the children of a split by rows of a joint: one of the first, or none of them."""
    first = mine.alive.among(first)
    equation = mine.program.joints[joint]
    one = _defined(mine, column, first, -1, 1, 0, 0)
    none = _defined(mine, column, first, 1, -len(first), 0, 1)
    mine.text.combine({one.number: 1, equation.at_most.number: 1})
    yes, no = _child(mine, column, 1), _child(mine, column, 0)
    yes.alive.may[np.setdiff1d(equation.at_most.columns, first)] = False
    no.alive.may[none.columns[:-1]] = False
    return yes, no


def _by_count(
    mine: Refutation, column: int, line: Line, most: int
) -> tuple[Refutation, Refutation]:
    """Return the children of a split by a count: at most so many members, or more of them."""
    program, members = mine.program, _members(mine.program, line)
    all_ = len(members)
    fewer = _defined(mine, column, members, 1, max(0, all_ - most), all_, 0)
    more = _defined(mine, column, members, -1, -(most + 1), -(most + 1), 1)
    yes, no = _child(mine, column, 1), _child(mine, column, 0)
    yes.limits[line.name] = OpenLimit(fewer, 0, True)
    no.limits[line.name] = OpenLimit(more, 0, True)
    if most == 0:
        yes.alive.may[members] = False
        for owner in members.tolist():
            if owner in program.needs:
                yes.alive.may[program.needs[owner].columns[1:]] = False
    return yes, no


def _members(program: OpenProgram, line: Line) -> Ints:
    """Return the variables that a line of a count counts: owners, and rows of ring parts without one."""
    rings = np.flatnonzero(line.parts)
    owned = program.columns.of_ring(rings)
    cutters = program.columns.of_cutter(np.flatnonzero(line.cutters))
    owners = np.array(sorted(program.needs), dtype=np.int64)
    alone = np.isin(program.rest.table.ring, rings[~np.isin(owned, owners)])
    return np.concatenate(
        [owned[np.isin(owned, owners)], cutters[np.isin(cutters, owners)], program.column[alone]]
    )


def _defined(
    mine: Refutation, column: int, cells: Ints, sign: int, own: int, right: int, value: int
) -> LessEqual:
    """Write sign (sum of cells) + own d <= right, which holds whatever the cells are where d is `value`."""
    columns = np.append(cells, column)
    numbers = open_whole_numbers(np.append(np.full(len(cells), sign), own))
    counts = (numbers != 0).astype(np.bool_)
    terms = [
        f"{-number:+d} {mine.program.name(int(cell))}"
        for number, cell in zip(numbers[counts].tolist(), columns[counts].tolist(), strict=True)
    ]
    number = mine.text.define(f"{' '.join(terms)} >= {-right}", mine.program.name(column), value)
    return LessEqual(number, columns[counts], numbers[counts], right)


def _child(mine: Refutation, column: int, value: int) -> Refutation:
    """Return a node whose path goes on with the variable of a split."""
    name = mine.program.name(column)
    alive = mine.alive.copy()
    alive.must[column], alive.may[column] = value == 1, value == 1
    return Refutation(
        mine.program, mine.claim, mine.text, mine.tightening, alive, dict(mine.limits),
        (*mine.path, name if value else f"~{name}"),
    )  # fmt: skip
