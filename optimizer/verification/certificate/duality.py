"""Bounds by multipliers, checked from the rows alone: no solver, no program, no integer rounding of units.

An answer takes one row of every joint (x), the ring parts and cutters that these need (y), and keeps lines
a.(x, y) <= b. Let w be the wish in whole units, K a whole number, and U >= 0 a multiplier of every line, v
of every joint, t >= 0 of every pair of joint and cutter, z of every pair of joint and head count. Price
every row, ring part and cutter with

    s = K w + sum of U a + v(joint) + t(joint, cutter) + z(joint, heads),
    p = K w + sum of U a + sum over its joints of min(0, least s there),
    q = K w + sum of U a - sum over its joints of t.

Then K w.(x, y) >= L, the sum of: -U b over the lines, -v over the joints, min(0, least s of the rows whose
ring no other joint could take) over the joints, min(0, p) and min(0, q), and of every listed group of
joints the least -(z of a pattern) over its patterns (the head counts its limit lets it have together).

A row may need a second ring part: every pair of joint and second part has a multiplier r >= 0, which s of
such rows adds and p of the part loses, for r (rows of the pair - its part) <= 0.

Proof: U (a.(x, y) - b) <= 0, v (rows of the joint - 1) = 0, t (rows of the pair - its cutter) <= 0 and
z (rows of the pair - the pattern shows it) = 0 are added to K w.(x, y); what is left over falls apart into
the terms of L, each at its least. An answer with one row more expensive than its term's least by c has
K w.(x, y) >= L + c; so a row with L + c > K w0 is in no answer of w0 or less, and may be dropped.

Nothing is asked of the signs of w and a: an answer has just the ring parts and cutters that its rows need, so
each of these takes nothing or at least its p or q. (Counts of at least so many have a below 0, see `tree`.)
Those that no row needs are in no sum.

Lines in real numbers are priced row by row, U a rounded down and U b up, so that nothing of an allowed
answer is lost; they have no numbers below 0. All else is whole numbers of 64 bits, whose size is checked
before they are added.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats, Ints
from ringset.reduction.table import (
    Table,
    table_joint_heads,
    table_joint_heads_key,
    table_least_per_joint,
)
from ringset.verification.certificate.constraints import (
    ORDER_ROOM,
    Line,
    RowsInQuestion,
)

#: No price, added up over all joints, may reach this.
PRICE_MAX = 2.0**61
#: Most ways of heads over the joints of a group.
PATTERNS_MAX = 20_000


#: Room for the rounding of sums of least shares, far below what a limit decides.
SUM_ROOM = 1e-9


class NoProof(ValueError):
    """Multipliers that cannot be used: of the wrong sign, too large, or for what is not there."""


@dataclass(frozen=True)
class Step:
    """One round of multipliers in 1/scale: by line, joint, (cutter, joint), (joint, heads).

    `seconds` are those of (second ring part, joint).
    """

    scale: int
    lines: Mapping[str, int | float]
    joints: Ints
    cutters: Mapping[tuple[int, int], int] = field(default_factory=dict)
    heads: Mapping[tuple[int, int], int] = field(default_factory=dict)
    seconds: Mapping[tuple[int, int], int] = field(default_factory=dict)


@dataclass(frozen=True)
class Priced:
    """What one step proves: L, and by row what L grows by if the row is used, alone and with its owners."""

    scale: int
    least: int
    own: Ints
    cost: Ints

    def take(self, rows: NDArray[np.bool_]) -> Priced:
        """Return the same bound for some of the rows."""
        return Priced(self.scale, self.least, self.own[rows], self.cost[rows])

    def refutes(self, value: int) -> bool:
        """Say whether no answer comes to `value` or less."""
        return self.least > self.scale * value

    def possible(self, value: int) -> NDArray[np.bool_]:
        """Return which rows could be in an answer of `value` or less."""
        return np.asarray(self.cost <= min(self.scale * value - self.least, 2**62))


def certificate_row_prices(rest: RowsInQuestion, step: Step) -> Ints:
    """Return s of every row; raises NoProof where the multipliers cannot be used."""
    table, lines = rest.table, _by_name(rest)
    _refuse_unusable(rest, step)
    numbers = rest.row_numbers(rest.wish)
    extra = step.joints[table.joint]
    extra = extra + _looked_up(step.cutters, table.cutter, table.joint)
    extra = extra + _looked_up(step.heads, table.joint, table.heads)
    if table.second is not None:
        extra = extra + _looked_up(step.seconds, table.second, table.joint)
    size = np.abs(numbers.astype(np.float64)) * step.scale + np.abs(extra)
    s = numbers * np.int64(step.scale) + extra
    for name, many in step.lines.items():
        amounts = rest.row_numbers(lines[name])
        size = size + many * np.abs(amounts.astype(np.float64))
        _in_size(size, table.joints)
        s = s + _priced(many, amounts, lines[name].whole)
    _in_size(size, table.joints)
    return np.asarray(s)


def refuse_unusable_certificate_step(rest: RowsInQuestion, step: Step) -> None:
    """Raise NoProof where a step cannot be used on the rows in question."""
    certificate_row_prices(rest, step)
    _owners_in_size(rest, step)


def _by_name(rest: RowsInQuestion) -> dict[str, Line]:
    return {line.name: line for line in rest.lines}


def _refuse_unusable(rest: RowsInQuestion, step: Step) -> None:
    """Raise NoProof where multipliers have the wrong sign, are of nothing there, or too large."""
    joints, lines = rest.table.joints, _by_name(rest)
    if not set(step.lines) <= set(lines) or len(step.joints) != joints:
        raise NoProof("multipliers of limits or joints that are not there")
    if not 1 <= step.scale < PRICE_MAX:
        raise NoProof("a scale that is not a whole number from 1")
    for name, many in step.lines.items():
        if not 0 <= many < PRICE_MAX:
            raise NoProof(f"{name}: a multiplier below 0 or too large")
        if lines[name].whole and not isinstance(many, int):
            raise NoProof(f"{name}: a multiplier that is not a whole number")
    for (cutter, joint), many in step.cutters.items():
        if many < 0 or not 0 <= joint < joints or not 0 <= cutter < len(rest.wish.cutters):
            raise NoProof("a multiplier of a cutter: below 0, or of no cutter of the rows")
    for (ring, joint), many in step.seconds.items():
        if many < 0 or not 0 <= joint < joints or not 0 <= ring < len(rest.wish.parts):
            raise NoProof("a multiplier of a second ring: below 0, or of no ring of the rows")
    if any(not 0 <= joint < joints or heads < 0 for joint, heads in step.heads):
        raise NoProof("a multiplier of heads on no joint of the rows")
    pairs = [*step.joints.tolist(), *step.cutters.values(), *step.heads.values()]
    pairs += step.seconds.values()
    _in_size(np.abs(np.array(pairs, dtype=np.float64)), joints)


def _in_size(size: Floats, joints: int) -> None:
    if len(size) and not float(size.max()) * (joints + 4) < PRICE_MAX:
        raise NoProof("numbers too large to be added safely")


def _priced(many: int | float, amounts: Ints | Floats, whole: bool) -> Ints:
    """Return multiplier times amounts: exact if whole, else rounded down."""
    if whole:
        return np.asarray(amounts * np.int64(many))
    down = np.floor(np.nextafter(many * amounts, -np.inf))
    return np.maximum(0.0, down).astype(np.int64)


def _right(many: int | float, line: Line) -> int:
    """Return multiplier times right side: exact if whole, else rounded up."""
    if line.whole:
        return int(many) * int(line.right)
    return int(np.ceil(np.nextafter(many * line.right * (1.0 + ORDER_ROOM), np.inf)))


def _looked_up(known: Mapping[tuple[int, int], int], one: Ints, other: Ints) -> Ints:
    """Return what is known of every row's pair of numbers, else 0."""
    if not known:
        return np.zeros(len(one), dtype=np.int64)
    width = int(max(other.max(initial=0), *(second for _, second in known))) + 1
    order = sorted(known)
    keys = np.array([first * width + second for first, second in order], dtype=np.int64)
    many = np.array([known[pair] for pair in order], dtype=np.int64)
    place = np.minimum(np.searchsorted(keys, one * width + other), len(keys) - 1)
    return np.where(keys[place] == one * width + other, many[place], 0)


def certificate_outcome_of_prices(
    rest: RowsInQuestion, step: Step, heads_max: int | None
) -> Priced:
    """Return what a step proves about the rows in question, by the theorem above."""
    table, pair = rest.table, rest.pair
    s, lines = certificate_row_prices(rest, step), _by_name(rest)
    _owners_in_size(rest, step)
    parts = rest.wish.parts * np.int64(step.scale)
    cutters = rest.wish.cutters * np.int64(step.scale)
    least = -sum(step.joints.tolist())
    for name, many in step.lines.items():
        least -= _right(many, lines[name])
        parts = parts + _priced(many, lines[name].parts, lines[name].whole)
        cutters = cutters + _priced(many, lines[name].cutters, lines[name].whole)
    for (cutter, _), many in step.cutters.items():
        cutters[cutter] -= many
    for (ring, _), many in step.seconds.items():
        parts[ring] -= many
    alone = pair < 0
    own = np.zeros(table.joints, dtype=np.int64)
    np.minimum.at(own, table.joint[alone], s[alone])
    wanted = np.zeros(len(rest.pair_ring), dtype=np.int64)
    np.minimum.at(wanted, pair[~alone], s[~alone])
    np.add.at(parts, rest.pair_ring, wanted)
    used = table.cutter >= 0
    # parts and cutters that no row needs are in no answer; other parts are in their rows
    asked = _priced_rings(rest, step)
    there = np.unique(table.cutter[used])
    for terms in (own, np.minimum(parts[asked], 0), np.minimum(cutters[there], 0)):
        least += sum(terms.tolist())
    detour, patterns = _detours(rest, step, heads_max)
    own_cost = s - np.where(alone, own[table.joint], 0)
    own_cost[~alone] -= wanted[pair[~alone]]
    cost = own_cost + detour
    cost[~alone] += np.maximum(parts[table.ring[~alone]], 0)
    if table.second is not None and len(rest.rings):
        has = table.second >= 0
        cost[has] += np.maximum(parts[table.second[has]], 0)
    cost[used] += np.maximum(cutters[table.cutter[used]], 0)
    return Priced(step.scale, least + patterns, own_cost, cost)


def _priced_rings(rest: RowsInQuestion, step: Step) -> Ints:
    """Return the ring parts that have prices; raises NoProof where only second rings would have some."""
    if step.seconds and not len(rest.rings):
        raise NoProof("multipliers of second rings where no ring part counts")
    return rest.rings


def _owners_in_size(rest: RowsInQuestion, step: Step) -> None:
    """Raise NoProof where prices of parts or cutters are too large."""
    lines = _by_name(rest)
    for kind in ("parts", "cutters"):
        size = getattr(rest.wish, kind).astype(np.float64) * step.scale
        for name, many in step.lines.items():
            size = size + many * np.abs(getattr(lines[name], kind).astype(np.float64))
        _in_size(size, rest.table.joints)


def certified_allowed_rows(rest: RowsInQuestion, heads_max: int | None) -> RowsInQuestion:
    """Return the rows that some allowed answer might use.

    A row leaves if it passes a line even with the least that all other joints could take (`least_numbers`),
    or if its head count is in no pattern of its group.
    """
    before = -1
    while before != len(rest.table) and not rest.empty:
        before = len(rest.table)
        keep = np.ones(before, dtype=np.bool_)
        joint, joints = rest.table.joint, rest.table.joints
        for line in rest.lines:
            amounts = rest.least_numbers(line).astype(np.float64)
            least = table_least_per_joint(amounts, joint, joints)
            others = float(least.sum()) - least
            keep &= amounts + others[joint] <= line.most(SUM_ROOM)
        found = certificate_patterns(rest.table, heads_max)
        for group in found.groups:
            if not len(group):
                keep[:] = False
                break
            shown = np.isin(found.of_row, group)
            keep &= shown | ~np.isin(joint, found.joint[group])
        rest = rest if keep.all() else rest.take(keep)
    return rest


def _detours(rest: RowsInQuestion, step: Step, heads_max: int | None) -> tuple[Ints, int]:
    """Return by row what its head count adds to the least of its group's patterns, and those leasts."""
    detour = np.zeros(len(rest.table), dtype=np.int64)
    total = 0
    if not step.heads:
        return detour, total
    joints = {joint for joint, _ in step.heads}
    found = certificate_patterns(rest.table, heads_max)
    price = np.array([-step.heads.get(pair, 0) for pair in found.pairs()], dtype=np.int64)
    for group in found.groups:
        mine = set(found.joint[group].ravel().tolist())
        if not mine & joints:
            continue
        if not len(group):
            raise NoProof("multipliers of head counts where none can go together")
        joints -= mine
        of_pattern = price[group].sum(axis=1)
        best = of_pattern.min()
        total += int(best)
        least = np.full(len(price), np.iinfo(np.int64).max)
        np.minimum.at(least, group, of_pattern[:, np.newaxis])
        rows = np.isin(rest.table.joint, list(mine))
        detour[rows] = least[found.of_row[rows]] - best
    if joints:
        raise NoProof("multipliers of head counts on joints whose patterns are not listed")
    return detour, total


@dataclass(frozen=True)
class CertificatePatterns:
    """Pairs of joint and heads, the pair of every row, and which pairs of a group can go together.

    A group is an array of shape (patterns, joints of the group) of numbers of pairs.
    """

    joint: Ints
    heads: Ints
    of_row: Ints
    groups: list[Ints]

    def pairs(self) -> list[tuple[int, int]]:
        """Return every pair of joint and heads."""
        return list(zip(self.joint.tolist(), self.heads.tolist(), strict=True))


def certificate_patterns(table: Table, heads_max: int | None) -> CertificatePatterns:
    """Return the (joint, heads) of every group that can go together, of groups that have few enough ways.

    e(j, h) is the least share of joint j's rows with h heads: an answer within the limit has head
    counts whose e sum to no more. With a ceiling on heads, a pattern's heads stay within it together with
    the fewest of all other joints: of each other group its pattern with the fewest, of a joint in no group
    its row with the fewest. Where a group has no pattern, no answer is allowed.
    """
    keys, of_row = np.unique(table_joint_heads_key(table.joint, table.heads), return_inverse=True)
    joint, heads = table_joint_heads(keys)
    sums = next((s for s in table.sums if len(s.names) and not s.follows_heads), None)
    if sums is None:
        return CertificatePatterns(joint, heads, of_row, [])
    shares = np.full(len(keys), np.inf)
    np.minimum.at(shares, of_row, sums.values)
    groups = []
    for number in range(len(sums.names)):
        options = [np.flatnonzero(joint == one) for one in np.flatnonzero(sums.group == number)]
        if not options or float(np.prod([float(len(o)) for o in options])) > PATTERNS_MAX:
            continue
        ways = np.array(list(itertools.product(*options)), dtype=np.int64).reshape(-1, len(options))
        limit = float(sums.limits[number]) * (1.0 + SUM_ROOM)
        groups.append(ways[shares[ways].sum(axis=1) <= limit])
    if heads_max is not None:
        groups = _within_heads(groups, joint, heads * table.weight[joint], heads_max)
    return CertificatePatterns(joint, heads, of_row, groups)


def _within_heads(groups: list[Ints], joint: Ints, built: Ints, heads_max: int) -> list[Ints]:
    """Return the patterns that keep a ceiling on heads with the fewest of all others."""
    if not len(joint) or any(len(group) == 0 for group in groups):
        return groups
    fewest = np.full(int(joint.max()) + 1, np.iinfo(np.int64).max)
    np.minimum.at(fewest, joint, built)
    grouped = [joint[group[0]] for group in groups]
    alone = np.setdiff1d(joint, np.concatenate([[-1], *grouped]))
    heads = [built[group].sum(axis=1) for group in groups]
    spare = heads_max - int(fewest[alone].sum()) - sum(int(many.min()) for many in heads)
    return [group[many - many.min() <= spare] for group, many in zip(groups, heads, strict=True)]
