"""Which numbers of heads the joints of a robot can have together, as a list per robot.

A tool-point target leaves few ways to spread heads over a robot's joints, and one relaxation of both
would mix them: half of a second head here, half there. So where heads count, the ways are listed.

Theorem (head patterns). Let e(j, h) be the least value of joint j's rows with h heads. An answer within a
sum's limit has, on the joints of that sum, head counts h_j with sum of e(j, h_j) within the limit. If the
heads of all that is built have a ceiling, the pattern's heads with the fewest of all other joints keep it.
Rows of (joint, heads) in no such pattern are in no answer.

Corollary (room). An answer shows one of its robot's patterns and takes on every other joint j at least
e(j, h_j). So a row of (joint, heads) whose value passes, in every pattern that holds the pair, the limit less
the least values of the other joints is in no answer.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from ringset.arrays import Floats, Ints, Mask
from ringset.reduction.table import (
    Sums,
    Table,
    table_joint_heads,
    table_joint_heads_key,
    table_least_per_joint,
)


@dataclass(frozen=True)
class Patterns:
    """Every row's (joint, heads) pair, -1 where none counts, and per robot its patterns of such pairs.

    `key` holds every pair as one number, see `table_joint_heads_key`.
    """

    choice: Ints
    key: Ints
    groups: tuple[Ints, ...]

    @property
    def choices(self) -> int:
        """Pairs of joint and heads that some pattern holds."""
        return len(self.key)

    @property
    def size(self) -> int:
        """Patterns of all robots."""
        return sum(len(group) for group in self.groups)


def reduction_no_patterns(table: Table) -> Patterns:
    """Return patterns that say nothing."""
    return Patterns(np.full(len(table), -1, dtype=np.int64), np.empty(0, dtype=np.int64), ())


def reduction_head_patterns(
    table: Table, heads_max: int | None, patterns_max: int
) -> tuple[Table, Patterns]:  # fmt: skip
    """Return the rows that some pattern holds, and the patterns; `heads_max` counts all that is built.

    Patterns of a robot that has more than `patterns_max` are not listed.
    """
    sums = next((s for s in table.sums if len(s.names) and not s.follows_heads), None)
    if sums is None:
        return table, reduction_no_patterns(table)
    key = table_joint_heads_key(table.joint, table.heads)
    pairs, choice = np.unique(key, return_inverse=True)
    least = np.full(len(pairs), np.inf)
    np.minimum.at(least, choice, sums.values)
    listed = _listed(table, sums, pairs, least, patterns_max)
    if heads_max is not None:
        listed = _within(table, pairs, listed, heads_max)
    if not listed:
        return table, reduction_no_patterns(table)
    joint, _ = table_joint_heads(pairs)
    in_group = np.isin(joint, joint[np.concatenate([g[0] for g in listed])])
    in_pattern = np.zeros(len(pairs), dtype=np.bool_)
    in_pattern[np.concatenate([group.ravel() for group in listed])] = True
    keep = (in_pattern | ~in_group)[choice]
    # pairs that no group lists say nothing
    number = np.where(in_pattern, np.cumsum(in_pattern) - 1, -1)
    groups = tuple(number[group] for group in listed)
    return table.take(keep), Patterns(number[choice[keep]], pairs[in_pattern], groups)


def reduced_to_patterns(table: Table, patterns: Patterns) -> Mask:
    """Return the rows that some pattern leaves room for, by the corollary; all rows of no pattern stay."""
    keep = np.ones(len(table), dtype=np.bool_)
    if not patterns.size:
        return keep
    sums = next(s for s in table.sums if len(s.names) and not s.follows_heads)
    mine = np.flatnonzero(patterns.choice >= 0)
    choice, values = patterns.choice[mine], sums.values[mine]
    least = table_least_per_joint(values, choice, patterns.choices)
    room = np.full(patterns.choices, -np.inf)
    for group in patterns.groups:
        number = sums.group[table_joint_heads(patterns.key[group[0]])[0][0]]
        limit = float(sums.limits[number])
        # the same slack as of the patterns themselves
        spare = limit + 1e-9 * abs(limit) - least[group].sum(axis=1)
        np.maximum.at(room, group.ravel(), (spare[:, np.newaxis] + least[group]).ravel())
    keep[mine] = values <= room[choice]
    return keep


def _listed(
    table: Table, sums: Sums, pairs: Ints, least: Floats, patterns_max: int
) -> list[Ints]:  # fmt: skip
    """Return, per group that has few enough, the patterns within its limit as lines of pairs."""
    listed, (joint_of_pair, _) = [], table_joint_heads(pairs)
    for number in range(len(sums.names)):
        joints = np.flatnonzero(sums.group == number)
        options = [np.flatnonzero(joint_of_pair == joint) for joint in joints]
        ways = float(np.prod([float(len(o)) for o in options]))
        if not options or ways > patterns_max or ways <= 1.0:
            continue
        patterns = np.array(list(itertools.product(*options)), dtype=np.int64)
        limit = float(sums.limits[number])
        # far below one counting unit, so that no pattern that keeps the limit exactly is lost
        fits = least[patterns].sum(axis=1) <= limit + 1e-9 * abs(limit)
        if fits.any():
            listed.append(patterns[fits])
    return listed


def _within(table: Table, pairs: Ints, listed: list[Ints], heads_max: int) -> list[Ints]:
    """Drop the patterns whose heads, with the fewest of all other joints, pass the ceiling."""
    joint, each = table_joint_heads(pairs)
    built = each * table.weight[joint]
    fewest = np.full(table.joints, np.iinfo(np.int64).max)
    np.minimum.at(fewest, joint, built)
    grouped = [joint[group[0]] for group in listed]
    outside = np.setdiff1d(np.arange(table.joints), np.concatenate([[-1], *grouped]))
    heads = [built[group].sum(axis=1) for group in listed]
    spare = heads_max - int(fewest[outside].sum()) - sum(int(h.min()) for h in heads)
    return [
        group[h - h.min() <= spare] if spare >= 0 else group
        for group, h in zip(listed, heads, strict=True)
    ]
