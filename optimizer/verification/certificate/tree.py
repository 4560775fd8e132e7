"""Proofs by splitting: rows in question are split in two, again and again, until every part is closed.

Theorem (covering). A node is a set of rows under lines; its answers are those that take its rows and keep
its lines. It is split by one question that every answer answers with yes or no: whether a joint's row has
one of these head counts, whether it is among the first of the joint's rows by what they take of a line, or
whether at most so many of some ring parts or cutters are used. The first child holds the answers with yes,
the second those with no. A certificate states the question alone; both children are made from it here, so
together they hold every answer of the node, and none can be left out. Where all nodes are closed (`rounds`,
or a joint has no row left), no answer below the claimed value is left.

A count is one line more, in whole numbers: members used <= k, or -(members used) <= -(k + 1). An answer uses
just the ring parts and cutters that its rows need, so `duality` holds for such lines whatever their signs. Of
at most 0, the rows that need a member leave.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ringset.arrays import Ints, Mask
from ringset.verification.certificate.claims import Claim
from ringset.verification.certificate.constraints import (
    Line,
    RowsInQuestion,
    certificate_rows,
)
from ringset.verification.certificate.document import (
    NODES_MAX,
    AmountSplit,
    CountSplit,
    HeadsSplit,
    Node,
    Split,
)
from ringset.verification.certificate.duality import NoProof, certified_allowed_rows
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.rounds import replayed_certificate_rounds

#: How the lines of counts are called; they are numbered from 0 on the way down from the root.
COUNT = "count "


def replay_certificate_tree(
    rest: RowsInQuestion, names: Names, claim: Claim, nodes: Sequence[Node]
) -> None:  # fmt: skip
    """Check a tree on the rows in question; raises NoProof, with the node, where it proves nothing."""
    if len(nodes) > NODES_MAX:
        raise NoProof(f"a tree of more than {NODES_MAX} nodes")
    waiting = [rest]
    for number, node in enumerate(nodes, start=1):
        if not waiting:
            raise NoProof(f"node {number}: given after the tree was complete")
        try:
            waiting += reversed(_replayed_node(waiting.pop(), names, claim, node))
        except NoProof as error:
            raise NoProof(f"node {number}: {error}") from None
    if waiting:
        raise NoProof(f"{len(waiting)} nodes are not given, so what they hold is not settled")


def _replayed_node(
    rest: RowsInQuestion, names: Names, claim: Claim, node: Node
) -> tuple[RowsInQuestion, ...]:
    """Return the children of a node, none where it is closed; raises NoProof where it is not as stated."""
    if (node.closed == "split") != (node.split is not None):
        raise NoProof("a split is stated where none is given, or the other way round")
    if node.closed == "empty":
        if not rest.empty or node.steps:
            raise NoProof(f"said to be empty; found {len(rest.table)} rows")
        return ()
    if rest.empty:
        raise NoProof("a joint has no row left, and more is stated")
    replayed = replayed_certificate_rounds(rest, names, claim, node.steps)
    if node.split is not None:
        if replayed.last is not None and replayed.last.proven:
            raise NoProof("a split is given after the proof was complete")
        return certificate_tree_children(replayed.rest, names, claim, node.split)
    if node.closed == "multipliers":
        replayed.refuse_unproven()
    else:
        replayed.refuse_unlisted(claim)
    return ()


def certificate_tree_children(
    rest: RowsInQuestion, names: Names, claim: Claim, split: Split
) -> tuple[RowsInQuestion, RowsInQuestion]:
    """Return the rows of both children of a node, by the theorem above; raises NoProof for unknown names."""
    if isinstance(split, CountSplit):
        yes, no = _by_count(rest, names, split)
    else:
        (joint,) = names.numbers("joints", [split.joint])
        of_joint = rest.table.joint == joint
        first = of_joint & certified_first_of_split(rest, split)
        yes, no = rest.take(first | ~of_joint), rest.take(~first)
    return certified_allowed_rows(yes, claim.heads_max), certified_allowed_rows(no, claim.heads_max)


def certified_first_of_split(rest: RowsInQuestion, split: HeadsSplit | AmountSplit) -> Mask:
    """Return which rows are those of the first child, if they are of the joint."""
    if isinstance(split, HeadsSplit):
        return np.isin(rest.table.heads, split.heads)
    line = next((line for line in (rest.wish, *rest.lines) if line.name == split.line), None)
    if line is None:
        raise NoProof(f"a split by {split.line!r}, which is no limit of the rows")
    amounts = rest.row_numbers(line).astype(np.float64)
    as_much = (amounts == split.amount) & (rest.table.index <= split.row)
    return np.asarray((amounts < split.amount) | as_much)


def _by_count(
    rest: RowsInQuestion, names: Names, split: CountSplit
) -> tuple[RowsInQuestion, RowsInQuestion]:
    members = names.numbers(split.by, split.members)
    if split.by == "joints":
        mine = rest.table.take(np.isin(rest.table.joint, members))
        members = mine.every_ring
    of_cutters = split.by == "cutters"
    lines = [_count_line(rest, of_cutters, members, split.most, sign) for sign in (1, -1)]
    at_most, at_least = (
        certificate_rows(rest.table, rest.wish, [*rest.lines, line]) for line in lines
    )
    if split.most == 0:
        at_most = at_most.take(~_needs(rest, of_cutters, members))
    return at_most, at_least


def _count_line(
    rest: RowsInQuestion, of_cutters: bool, members: Ints, most: int, sign: int
) -> Line:  # fmt: skip
    """Return the line of at most so many of the members (sign 1), or of more of them (-1)."""
    parts, cutters = np.zeros_like(rest.wish.parts), np.zeros_like(rest.wish.cutters)
    (cutters if of_cutters else parts)[members] = sign
    name = f"{COUNT}{len(certificate_count_lines(rest))}"
    rows = np.zeros(len(rest.table), dtype=np.int64)
    return Line(name, rows, parts, cutters, float(most if sign > 0 else -(most + 1)))


def certificate_count_lines(rest: RowsInQuestion) -> list[Line]:
    """Return the lines of counts among those of the rows."""
    return [line for line in rest.lines if line.name.startswith(COUNT)]


def _needs(rest: RowsInQuestion, of_cutters: bool, members: Ints) -> Mask:
    """Return which rows need a member."""
    table = rest.table
    needs = np.isin(table.cutter if of_cutters else table.ring, members)
    if table.second is not None and not of_cutters:
        needs |= np.isin(table.second, members)
    return needs
