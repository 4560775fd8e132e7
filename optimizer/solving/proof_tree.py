"""Finds the tree of a claim that rounds leave open: branch and bound on the certificate's own rows.

Every node is a set of rows under lines as `verify_certificate` will see it. Its linear relaxation, begun with
the multipliers of its parent, gives a round, which is tried as `verify_certificate` will try it. What that
leaves is listed, or else split by what the relaxation takes in fractions (`proof_splits`): of a few ways to
split, the one whose children's relaxations come nearest to closing both. That takes several relaxations a
node, and makes trees of 30 joints many times smaller. Nodes are worked through depth first, in the order in
which they are written: as the value is known from the start, no other order would make a smaller tree.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace

import numpy as np

from ringset.reduction.reduce import reduce
from ringset.reduction.units import Units
from ringset.schema.gives import Aim
from ringset.search.bounds.column_generation import Relaxed, guided_relaxation
from ringset.search.bounds.lagrangian import NamedMultipliers, named_multipliers
from ringset.search.exact.branch_and_bound import program_with_counts
from ringset.search.model.program import Program, build_search_program
from ringset.solving.certified_steps import solved_bound_as_step
from ringset.solving.proof_splits import (
    solving_cutter_split,
    solving_fractional_splits,
    solving_halving_split,
    solving_one_cutter_step,
    solving_split_counts,
)
from ringset.verification.certificate.claims import Claim
from ringset.verification.certificate.constraints import Line, RowsInQuestion, certificate_rows
from ringset.verification.certificate.document import NODES_MAX, Multipliers, Node, Split
from ringset.verification.certificate.duality import NoProof, Step
from ringset.verification.certificate.listed import certificate_better_listed
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.rounds import (
    Round,
    certified_round_outcome,
    try_certificate_step,
)
from ringset.verification.certificate.tree import (
    COUNT,
    certificate_count_lines,
    certificate_tree_children,
)

#: Rows up to which the relaxation of a node has all of them, not only those that the reduction leaves.
WHOLE_ROWS = 5_000
#: Most beginnings of answers kept in the list of a node; beyond that splitting takes less time.
LISTED_IN_A_NODE = 5_000
#: Rounds on the rows of a node; each but the last must drop this share of them.
NODE_ROUNDS, WORTH_A_NODES_ROUND = 2, 0.2

#: Rows up to which ways to split a node are compared; with more, the first is taken.
COMPARED_ROWS = 2_000
#: Share of a tree of which the rest may be a long chain of nodes, each of which ends one child at once.
ENDED_NEARLY = 0.9
#: What a child counts for whose relaxation is no better than its parent's: little, and not nothing.
LEAST_GAIN = 1e-3


class GivenUp(RuntimeError):
    """A tree that was not ended; `why` is a word of `document.SEARCHED`."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


@dataclass(frozen=True)
class _Looked:
    """What the relaxation of a node gave: its program, and what it takes."""

    program: Program
    relaxed: Relaxed
    known: NamedMultipliers
    bound: int


@dataclass(frozen=True)
class _Child:
    """Rows that a node is to be written of, and what is known of them: multipliers, or the relaxation.

    `share` is that of the tree if every split left half to each child.
    """

    rest: RowsInQuestion
    known: NamedMultipliers | None = None
    looked: _Looked | None = None
    share: float = 1.0

    def closeness(self, parent: _Looked, value: int) -> float:
        """Return how much of the way from the parent's bound to the claimed value the relaxation goes."""
        if self.looked is None:
            return 1.0 if self.rest.empty else LEAST_GAIN
        gap = value - parent.bound
        return max(LEAST_GAIN, min(1.0, (self.looked.bound - parent.bound) / max(gap, 1)))


@dataclass
class TreeWriter:
    """Writes the tree of one claim until `ends`, a time of `time.monotonic`, in so many bytes and nodes."""

    names: Names
    claim: Claim
    units: Units
    ends: float
    bytes_left: int
    nodes_most: int = NODES_MAX
    nodes: list[Node] = field(default_factory=list)

    def written_tree(self, rest: RowsInQuestion) -> list[Node]:
        """Return the nodes of a tree on the rows in question; raises GivenUp where it does not end."""
        waiting, ended = [_Child(rest)], [0.0]
        while waiting:
            if len(self.nodes) >= self.nodes_most or _stands_still(ended, self.nodes_most // 4):
                raise GivenUp("nodes")
            if time.monotonic() >= self.ends:
                raise GivenUp("time")
            child = waiting.pop()
            node, children = self._node(child)
            ended.append(ended[-1] + (0.0 if children else child.share))
            self.nodes.append(node)
            self.bytes_left -= 2 * len(node.model_dump_json())  # the file is indented
            if self.bytes_left < 0:
                raise GivenUp("size")
            waiting += [replace(one, share=child.share / 2) for one in reversed(children)]
        return self.nodes

    def _node(self, child: _Child) -> tuple[Node, tuple[_Child, ...]]:
        """Return a node as it is written, and its children with what is known of them."""
        rest, known = child.rest, child.known
        if rest.empty:
            return Node(closed="empty"), ()
        split = solving_cutter_split(rest, self.names)
        if split is not None:
            children = tuple(_Child(one) for one in self._children(rest, split))
            return Node(closed="split", split=split), children
        steps: list[Multipliers] = []
        rest = self._of_one_cutter(rest, steps)
        looked, last = None if steps else child.looked, None
        for _ in range(NODE_ROUNDS):
            looked = looked or self._look(rest, known)
            if looked is None:
                break
            known = looked.known
            step = self._step(looked, rest)
            tried = None if step is None else _tried(rest, step, self.claim)
            if step is None or tried is None:
                break
            written = solving_written_round(self.names, self.claim.wish, step, rest, tried)
            if tried.proven:
                return Node(steps=[*steps, written], closed="multipliers"), ()
            better = certificate_better_listed(
                tried.left, tried.priced, tried.below, LISTED_IN_A_NODE
            )
            if better is not None:
                if better:
                    raise GivenUp("")  # the claim is not true
                return Node(steps=[*steps, written], closed="listing"), ()
            before, rest = len(rest.table), tried.left
            if len(rest.table) < before:
                steps.append(written)
            if len(rest.table) > (1.0 - WORTH_A_NODES_ROUND) * before:
                break
            last, looked = looked, None
        split, children = self._split(rest, looked or last)
        return Node(steps=steps, closed="split", split=split), children

    def _look(self, rest: RowsInQuestion, known: NamedMultipliers | None) -> _Looked | None:
        """Solve the relaxation of a node; None where there is none in the time."""
        claim, lines = self.claim, _open_counts(rest)
        # multipliers of few rows may be worth little on all of them, and counts change what rings are worth
        few = len(rest.table) <= WHOLE_ROWS or lines
        table = rest.table if few else reduce(rest.table, claim.needed)
        program = build_search_program(table, self.units, claim.wish, claim.ceilings, claim.held)
        for line, count in zip(lines, solving_split_counts(lines), strict=True):
            # a line keeps its name where another was left out: its multiplier is found by it
            program = program_with_counts(program, (count,), int(line.name.removeprefix(COUNT)))
        if not program.present.all():
            return None
        objective = program.objectives[claim.wish]
        worth = objective.weight_of(claim.value)
        relaxed = guided_relaxation(program, objective, known, worth, self.ends)
        if relaxed is None:
            return None
        named = named_multipliers(program, objective, relaxed.bound.multipliers)
        bound = objective.offset + objective.scale * relaxed.bound.least
        return _Looked(program, relaxed, named, bound)

    def _step(self, looked: _Looked, rest: RowsInQuestion) -> Step | None:
        """Return the multipliers of a node's relaxation as a step on its rows."""
        program = looked.program
        mine = self.claim.rest(program.table)
        mine = certificate_rows(
            program.table,
            mine.wish,
            [*mine.lines, *(_on(program, line) for line in _open_counts(rest))],
        )
        return solved_bound_as_step(program, self.claim.wish, looked.relaxed.bound, mine, rest)

    def _split(
        self, rest: RowsInQuestion, looked: _Looked | None
    ) -> tuple[Split, tuple[_Child, _Child]]:
        """Return a split of the rows left that changes something, and its children."""
        best: tuple[float, Split, tuple[_Child, _Child]] | None = None
        if looked is not None:
            for split in solving_fractional_splits(
                looked.program, looked.relaxed, rest, self.names
            ):
                first, second = self._children(rest, split)
                if len(rest.table) > COMPARED_ROWS:
                    return split, (_Child(first, looked.known), _Child(second, looked.known))
                children = self._known(first, looked), self._known(second, looked)
                gain = children[0].closeness(looked, self.claim.value)
                gain *= children[1].closeness(looked, self.claim.value)
                if best is None or gain > best[0]:
                    best = gain, split, children
                if gain >= 1.0:
                    break
        if best is not None:
            return best[1:]
        half = solving_halving_split(rest, self.names)
        if half is None:
            raise GivenUp("")  # one answer is left, and no multipliers refute it
        first, second = self._children(rest, half)
        known = None if looked is None else looked.known
        return half, (_Child(first, known), _Child(second, known))

    def _known(self, rest: RowsInQuestion, looked: _Looked) -> _Child:
        """Return a child of a node with its relaxation."""
        mine = None if rest.empty else self._look(rest, looked.known)
        return _Child(rest, looked.known, mine)

    def _children(
        self, rest: RowsInQuestion, split: Split
    ) -> tuple[RowsInQuestion, RowsInQuestion]:
        return certificate_tree_children(rest, self.names, self.claim, split)

    def _of_one_cutter(self, rest: RowsInQuestion, steps: list[Multipliers]) -> RowsInQuestion:
        """Return the rows of the cutter that must be used where there is only one, by a round of its own."""
        step = solving_one_cutter_step(rest, self.claim.value)
        tried = None if step is None else _tried(rest, step, self.claim)
        if step is None or tried is None or tried.proven:
            return rest
        steps.append(solving_written_round(self.names, self.claim.wish, step, rest, tried))
        return tried.left


def _stands_still(ended: list[float], nodes: int) -> bool:
    """Say whether the share of a tree that has ended is what it was so many nodes ago, and not nearly all."""
    long_ago = len(ended) - 1 - nodes
    return long_ago > 0 and ended[-1] < ENDED_NEARLY and ended[-1] - ended[long_ago] < LEAST_GAIN


def _tried(rest: RowsInQuestion, step: Step, claim: Claim) -> Round | None:
    try:
        return try_certificate_step(rest, step, claim)
    except NoProof:
        return None


def _open_counts(rest: RowsInQuestion) -> list[Line]:
    """Return the lines of counts but those that all rows of some joint keep: at least one cutter."""
    table = rest.table
    lines = []
    for line in certificate_count_lines(rest):
        needs = np.isin(table.cutter, np.flatnonzero(line.cutters < 0))
        kept = np.bincount(table.joint[~needs], minlength=table.joints) == 0
        if line.right != -1.0 or not kept.any():
            lines.append(line)
    return lines


def _on(program: Program, line: Line) -> Line:
    """Return the line of a count for the rows of a program."""
    rows = np.zeros(program.rows, dtype=np.int64)
    return Line(line.name, rows, line.parts, line.cutters, line.right)


def solving_written_round(
    names: Names, aim: Aim, step: Step, rest: RowsInQuestion, tried: Round
) -> Multipliers:
    """Return a round that was tried on rows, with names and with what it comes to."""
    whole = {line.name for line in rest.lines if line.whole}
    bound, left = certified_round_outcome(tried)
    stated = {"lower_bound_scaled": bound, "rows_left": left}
    return names.written(aim, step, whole).model_copy(update=stated)
