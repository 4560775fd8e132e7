"""Certificates with trees, forced by leaving out rounds and lists, and what a forger may do to a tree.

A relaxation proves small studies at once. So forced trees take its multipliers only where few rows are left,
and split by whatever is drawn before: that makes nodes of every kind.

A tree forger may drop, double, swap and rewrite nodes, and let every node that is left state what the
verifier will find (`restated_tree`), so that only the covering of the answers can give him away.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import numpy as np
import pytest

from ringset.schema.answer import Answer
from ringset.schema.gives import Aim
from ringset.schema.study import Study
from ringset.search.bounds.column_generation import Relaxed
from ringset.search.bounds.lagrangian import Bound
from ringset.search.model.program import Program
from ringset.solving import certify as certify_module
from ringset.solving import proof_tree
from ringset.solving.certified_steps import solved_bound_as_step
from ringset.solving.certify import certify
from ringset.solving.proof_splits import solving_fractional_splits
from ringset.verification.certificate import listed
from ringset.verification.certificate.claims import Claim
from ringset.verification.certificate.constraints import RowsInQuestion
from ringset.verification.certificate.document import (
    NODES_MAX,
    AmountSplit,
    Certificate,
    CountSplit,
    HeadsSplit,
    Node,
    Split,
)
from ringset.verification.certificate.duality import NoProof, Step
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.rounds import certified_round_outcome, try_certificate_step
from ringset.verification.certificate.tree import certificate_count_lines, certificate_tree_children
from tests.support.studies import Json

#: Rows more than joints up to which the relaxation of a node is used in forced trees.
ROWS_MORE = 3
#: Most beginnings in the lists of forced trees: a node of one answer that no multipliers refute is listed.
LISTED_MAX = 4


@contextmanager
def forced_trees(seed: int = 0, rows_more: int = ROWS_MORE) -> Iterator[None]:
    """Leave out rounds before a tree, all but the shortest lists, and multipliers of many rows."""
    draw = random.Random(seed)

    def step(program: Program, wish: Aim, bound: Bound, *rows: RowsInQuestion) -> Step | None:
        many = len(rows[1].table) > rows[1].table.joints + rows_more
        return None if many else solved_bound_as_step(program, wish, bound, *rows)

    def splits(
        program: Program, relaxed: Relaxed, rest: RowsInQuestion, names: Names
    ) -> Iterator[Split]:
        if len(certificate_count_lines(rest)) < 3 and draw.random() < 0.5:
            yield from drawn_count(program, rest, names, draw)
        if len(rest.table) > rest.table.joints + rows_more:
            yield from drawn_rows(rest, names, draw)
        yield from solving_fractional_splits(program, relaxed, rest, names)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(certify_module, "ROUNDS", 0)
        patch.setattr(listed, "LISTED_MAX", LISTED_MAX)
        patch.setattr(proof_tree, "solved_bound_as_step", step)
        patch.setattr(proof_tree, "solving_fractional_splits", splits)
        yield


def drawn_count(
    program: Program, rest: RowsInQuestion, names: Names, draw: random.Random
) -> Iterator[CountSplit]:
    """Yield a split by a count of some cutters or ring parts, where the program knows of these."""
    table = rest.table
    most = draw.randrange(3)
    if len(program.cutters.owner) and draw.random() < 0.5:
        there = np.unique(table.cutter[table.cutter >= 0]).tolist()
        members = draw.sample(there, draw.randint(1, len(there)))
        yield CountSplit(by="cutters", members=[names.cutters[n] for n in members], most=most)
    elif not program.paired and any(np.any(line.parts) for line in (rest.wish, *rest.lines)):
        if draw.random() < 0.5:
            there = table.every_ring.tolist()
            members = draw.sample(there, draw.randint(1, len(there)))
            yield CountSplit(by="ring_parts", members=[names.parts[n] for n in members], most=most)
        else:
            joints = draw.sample(names.joints, draw.randint(1, len(names.joints)))
            yield CountSplit(by="joints", members=joints, most=most)


def drawn_rows(
    rest: RowsInQuestion, names: Names, draw: random.Random
) -> Iterator[HeadsSplit | AmountSplit]:
    """Yield a split of the rows of some joint by their heads or by an amount of some line."""
    table = rest.table
    joint = draw.choice([j for j in range(table.joints) if np.sum(table.joint == j) > 1])
    mine = np.flatnonzero(table.joint == joint)
    heads = sorted(set(table.heads[mine].tolist()))
    if len(heads) > 1 and draw.random() < 0.5:
        asked = draw.sample(heads, draw.randint(1, len(heads) - 1))
        yield HeadsSplit(by="heads", joint=names.joints[joint], heads=asked)
        return
    line = draw.choice((rest.wish, *rest.lines))
    amounts = rest.row_numbers(line)[mine].astype(float)
    order = np.lexsort((table.index[mine], amounts))
    row = order[draw.randrange(len(order) - 1)]
    yield AmountSplit(
        by="amount", joint=names.joints[joint], line=line.name, amount=float(amounts[row]),
        row=int(table.index[mine[row]]),
    )  # fmt: skip


def certificate_of_trees(study: Study, answer: Answer, nodes: int = NODES_MAX) -> Certificate:
    """Return the certificate of an answer whose stages are proven by trees."""
    with forced_trees():
        return certify(study, answer, nodes)


# -- what a forger does to the nodes of a tree -------------------------------------------------------


def ends_of_subtrees(nodes: list[Json]) -> list[int]:
    """Return, for every node, where the nodes below it end."""
    ends = [0] * len(nodes)
    for place in range(len(nodes) - 1, -1, -1):
        end = place + 1
        if nodes[place]["closed"] == "split":
            end = ends[end] if end < len(nodes) else end
            end = ends[end] if end < len(nodes) else end
        ends[place] = end
    return ends


def drop_node(nodes: list[Json], draw: random.Random) -> None:
    """A node is left out."""
    del nodes[draw.randrange(len(nodes))]


def drop_subtree(nodes: list[Json], draw: random.Random) -> None:
    """A child is left out with all below it."""
    place = draw.randrange(len(nodes))
    del nodes[place : ends_of_subtrees(nodes)[place]]


def double_node(nodes: list[Json], draw: random.Random) -> None:
    """A node is given twice."""
    place = draw.randrange(len(nodes))
    nodes.insert(place, json.loads(json.dumps(nodes[place])))


def one_more(nodes: list[Json], draw: random.Random) -> None:
    """A node is given after the tree is complete."""
    nodes.append(json.loads(json.dumps(draw.choice(nodes))))


def close_early(nodes: list[Json], draw: random.Random) -> None:
    """A node that is split is said to be closed, and all below it left out."""
    places = [place for place, node in enumerate(nodes) if node["closed"] == "split"]
    place = draw.choice(places)
    del nodes[place + 1 : ends_of_subtrees(nodes)[place]]
    nodes[place].pop("split")
    nodes[place]["closed"] = draw.choice(("multipliers", "listing", "empty"))


def other_closing(nodes: list[Json], draw: random.Random) -> None:
    """A node is said to be closed in another way."""
    node = draw.choice(nodes)
    kinds = ("multipliers", "listing", "empty", "split")
    node["closed"] = draw.choice([kind for kind in kinds if kind != node["closed"]])


def swap_children(nodes: list[Json], draw: random.Random) -> None:
    """The two children of a node change places."""
    places = [place for place, node in enumerate(nodes) if node["closed"] == "split"]
    first, ends = draw.choice(places) + 1, ends_of_subtrees(nodes)
    second = ends[first]
    end = ends[second]
    nodes[first:end] = nodes[second:end] + nodes[first:second]


def other_split(nodes: list[Json], draw: random.Random) -> None:
    """A split asks something else: another joint, amount, count or member."""
    split = draw.choice([node for node in nodes if node["closed"] == "split"])["split"]
    if split["by"] == "heads":
        split["heads"] = [heads % 8 + 1 for heads in split["heads"]]
    elif split["by"] == "amount":
        name = draw.choice(("amount", "row"))
        split[name] += draw.choice((-1, 1))
        split["row"] = max(-1, split["row"])
    else:
        split["most"] += 1


def unknown_name(nodes: list[Json], draw: random.Random) -> None:
    """A split names what the study does not know."""
    split = draw.choice([node for node in nodes if node["closed"] == "split"])["split"]
    if "members" in split:
        split["members"] = ["nothing known"]
    elif split["by"] == "heads":
        split["joint"] = "no/joint"
    else:
        split[draw.choice(("joint", "line"))] = "no/joint"


def changed_digit(nodes: list[Json], draw: random.Random) -> None:
    """What a round of a node is said to come to is one more or less."""
    step = draw.choice([step for node in nodes for step in node.get("steps", [])])
    step[draw.choice(("lower_bound_scaled", "rows_left"))] += 1


TreeForger = Callable[[list[Json], random.Random], None]
#: Whatever of these is done to a tree, the certificate must be refused.
REFUSED: tuple[TreeForger, ...] = (
    drop_node, drop_subtree, double_node, one_more, close_early, other_closing, unknown_name,
    changed_digit,
)  # fmt: skip
#: These may leave a tree that proves the same, by luck; what is verified must be true.
REWRITTEN: tuple[TreeForger, ...] = (swap_children, other_split)


def restated_tree(
    rest: RowsInQuestion, names: Names, claim: Claim, nodes: list[Json], draw: random.Random
) -> list[Json]:
    """Return a tree of which every node states what the verifier finds, as long as it finds anything.

    A node that its rounds do not close is said to be listed, empty or proven, whatever the forger draws.
    """
    made, waiting = [], [rest]
    for data in json.loads(json.dumps(nodes)):
        if not waiting:
            break
        rows, node, proven = waiting.pop(), Node.model_validate_json(json.dumps(data)), False
        if rows.empty:
            made.append({"closed": "empty"})
            continue
        steps = []
        for given, told in zip(node.steps, data.get("steps", []), strict=True):
            try:
                tried = try_certificate_step(rows, names.read(given), claim, given.bounds)
            except NoProof:
                continue
            told["lower_bound_scaled"], told["rows_left"] = certified_round_outcome(tried)
            steps.append(told)
            rows, proven = tried.left, tried.proven
            if proven:
                break
        data["steps"] = steps
        if proven:
            data["closed"] = "multipliers"
            data.pop("split", None)
        elif node.split is not None:
            waiting += reversed(certificate_tree_children(rows, names, claim, node.split))
        else:
            data["closed"] = draw.choice(("multipliers", "listing", "empty"))
        made.append(data)
    return made
