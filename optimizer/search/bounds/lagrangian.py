"""Bounds that anyone can check: multipliers of the limits, in whole numbers.

Theorem (weak duality). Let x take one row of every joint, let every row need its ring part and its
cutter, and let A x <= b. Take any u >= 0 for the limits, any v for the joints and any t >= 0 for the
pairs of joint and cutter, any z for the pairs of joint and head count of which an answer must show one
of a robot's listed patterns, and count everything in 1/K. With the row prices

    s_k = K w_k + (A'u)_k + v_joint(k) + t_pair(k) + z_pair(k)

the joints with a ring part p want at most d_p = sum over its joints of max(0, -min s), so the part's
price is r_p = K w_p + (A'u)_p - d_p; a cutter's is r_q = K w_q + (A'u)_q - (sum of its t). Then

    K w.x  >=  L = -u.b - sum(v) + sum over joints of min(0, least s of its own rows)
                   + sum of min(0, r_p) + sum of min(0, r_q) + sum over robots of min over patterns of -z.

A row may need a second ring part. Its pairs of joint and second part have multipliers t of their own, as
those of joint and cutter have, which its price adds and the part's price r_p loses.

Proof: add u.(A x - b) <= 0, v.(E x - 1) = 0, t.(pair of x - cutter of x) <= 0 and z of the rows less z of
the pattern they show, which is 0, to K w.x; what is left is a sum of terms of which each part of an answer
takes either nothing or at least its minimum. So w.x >= L / K. A joint without rows (`reduce`, theorem 4)
takes none and is in no sum. A row whose own price, less that minimum, with the positive prices of the part
and the cutter it needs, lifts L above K t is in no x with w.x <= t. Nothing is asked of u, v and t but
their signs: a linear program supplies good ones, they are rounded to whole numbers, and the rest is
integers.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ringset.arrays import Floats, Ints
from ringset.reduction.head_patterns import Patterns
from ringset.reduction.table import FirstRows, table_joint_heads, table_joint_heads_key
from ringset.search.model.objective import Objective
from ringset.search.model.program import Program

#: Every intermediate sum must stay below this, well inside 64 bits.
LARGEST = 2.0**60
#: Multipliers are counted in 1/K, K a power of two of at most this exponent.
FINEST = 40


class BoundBroken(RuntimeError):
    """An allowed answer is better than what was proven: a defect of our own, never shown as an answer."""


def refuse_beaten_bound(what: str, value: int, bound: int) -> None:
    """Raise BoundBroken if an allowed answer's `value` is below a `bound` proven for all answers."""
    if value < bound:
        raise BoundBroken(
            f"{what}: an allowed answer comes to {value}, but {bound} was proven least"
        )


def refuse_dropped(answer: FirstRows, left: FirstRows) -> None:
    """Raise BoundBroken if a row of an allowed answer is not among the rows left for answers as good."""
    if not np.all(np.isin(answer, left)):
        raise BoundBroken("rows of an allowed answer were dropped as being in none as good")


@dataclass(frozen=True)
class Multipliers:
    """Real multipliers: of limits (>= 0), joints, pairs of joint and cutter (>= 0), joint and heads.

    `seconds` (>= 0) are those of joint and second ring part.
    """

    limits: Floats
    joints: Floats
    cutters: Floats
    heads: Floats
    seconds: Floats = field(default_factory=lambda: np.empty(0))

    def parts(self) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Return all of them, in the order of the fields."""
        return self.limits, self.joints, self.cutters, self.heads, self.seconds


def no_multipliers(program: Program) -> Multipliers:
    """Return 0 for all, to begin with where nothing is known."""
    sizes = len(program.limits.names), program.joints, len(program.cutters.owner)
    more = program.patterns.choices, len(program.seconds.owner)
    return Multipliers(*(np.zeros(size) for size in (*sizes, *more)))


@dataclass(frozen=True)
class IntegerMultipliers:
    """Multipliers in whole numbers over `scale`."""

    scale: int
    limits: Ints
    joints: Ints
    cutters: Ints
    heads: Ints
    seconds: Ints = field(default_factory=lambda: np.empty(0, dtype=np.int64))


@dataclass(frozen=True)
class NamedMultipliers:
    """Multipliers in terms that programs of other rows of the same joints understand: by name and by key.

    All are in whole units of the wish, those of the limits by real unit. Those of the joints are for rows
    counted as in the program that they come from, from `least` in the wish and in its limits.
    """

    limits: dict[str, float]
    joints: Floats
    cutters: tuple[Ints, Floats]
    heads: tuple[Ints, Floats]
    seconds: tuple[Ints, Floats]
    least: tuple[Ints | int, sparse.csr_array]

    def renamed(self, limit: str, other: str) -> NamedMultipliers:
        """Return the multipliers with that of a limit as that of another one, counted from the same."""
        limits = {other if name == limit else name: each for name, each in self.limits.items()}
        return replace(self, limits=limits)


def named_multipliers(
    program: Program, objective: Objective, multipliers: IntegerMultipliers
) -> NamedMultipliers:
    """Return multipliers in terms that other rows of the same joints understand."""
    scale, size, limits = multipliers.scale, objective.scale, program.limits
    per_unit = multipliers.limits / scale * size * limits.units
    return NamedMultipliers(
        limits=dict(zip(limits.names, per_unit.tolist(), strict=True)),
        joints=multipliers.joints / scale * size,
        cutters=(program.cutters.key, multipliers.cutters / scale * size),
        heads=(program.patterns.key, multipliers.heads / scale * size),
        seconds=(program.seconds.key, multipliers.seconds / scale * size),
        least=(_least(objective), limits.least),
    )


def multipliers_for_program(
    program: Program, objective: Objective, given: NamedMultipliers
) -> Multipliers:
    """Return multipliers for a program; what they do not know is 0, which is always allowed."""
    limits, size = program.limits, objective.scale
    per_unit = np.array([given.limits.get(name, 0.0) for name in limits.names])
    least, of_limits = given.least
    joints = given.joints + (_least(objective) - least)
    if given.limits:
        place = {name: line for line, name in enumerate(given.limits)}
        same = [place.get(name, 0) for name in limits.names]  # of others the price is 0
        joints = joints + (limits.least - of_limits[same]).T @ per_unit
    if len(given.heads[0]):
        joints = joints + _of_single_counts(program, given)
    return Multipliers(
        limits=per_unit / limits.units / size,
        joints=joints / size,
        cutters=_looked_up(program.cutters.key, *given.cutters) / size,
        heads=_looked_up(program.patterns.key, *given.heads) / size,
        seconds=_looked_up(program.seconds.key, *given.seconds) / size,
    )


def _of_single_counts(program: Program, given: NamedMultipliers) -> Floats:
    """Return per joint the multiplier of its one head count, where no pattern tells it any more."""
    open_ones = program.patterns.choice < 0
    pairs = np.unique(
        table_joint_heads_key(program.joint[open_ones], program.table.heads[open_ones])
    )
    joint, first, many = np.unique(
        table_joint_heads(pairs)[0], return_index=True, return_counts=True
    )
    prices = np.zeros(program.joints)
    prices[joint[many == 1]] = _looked_up(pairs[first[many == 1]], *given.heads)
    return prices


def _least(objective: Objective) -> Ints | int:
    return 0 if objective.least is None else objective.least


def _looked_up(keys: Ints, known: Ints, values: Floats) -> Floats:
    if len(known) == 0:
        return np.zeros(len(keys))
    place = np.minimum(np.searchsorted(known, keys), len(known) - 1)
    return np.where(known[place] == keys, values[place], 0.0)


@dataclass(frozen=True)
class Bound:
    """An exact bound: w.x >= least, with the scaled L and the price of using each row behind it.

    `own_costs` are those prices without the part's and the cutter's, which several rows may share;
    `certificate_row_prices` (s) and `part_prices` (r) tell what a linear program with more rows would gain.
    """

    multipliers: IntegerMultipliers
    scaled: int
    costs: Ints
    own_costs: Ints
    row_prices: Ints
    part_prices: Ints

    @property
    def least(self) -> int:
        """Smallest whole number that w.x could be."""
        return -(-self.scaled // self.multipliers.scale)

    @property
    def value(self) -> float:
        """The bound as a real number."""
        return self.scaled / self.multipliers.scale

    def usable(self, best: int) -> NDArray[np.bool_]:
        """Return which rows could be in an answer with w.x <= best."""
        room = self.multipliers.scale * best - self.scaled
        return np.asarray(self.costs <= min(max(room, -1), 2**62))


def whole_multipliers(
    program: Program, objective: Objective, real: Multipliers
) -> IntegerMultipliers | None:
    """Return multipliers as whole numbers, as fine as 64 bits allow; None if none are coarse enough."""
    limits = np.maximum(0.0, _tame(real.limits))
    joints = _tame(real.joints)
    cutters = np.maximum(0.0, _tame(real.cutters))
    heads = _tame(real.heads)
    seconds = np.maximum(0.0, _tame(real.seconds))
    # what the largest sum could come to, in units of w: every price at its largest, all at once
    size = float(np.abs(objective.weights).max(initial=0)) * (program.joints + 1)
    size += float(np.abs(objective.weights[program.rows :]).sum(dtype=np.float64))
    size += float(program.limits.totals @ limits)
    size += float(np.abs(program.limits.right).astype(np.float64) @ limits)
    size += float(limits.max(initial=0.0))  # of a limit that weighs nothing
    size += 3.0 * float(np.abs(joints).sum() + cutters.sum() + np.abs(heads).sum())
    size += 3.0 * float(seconds.sum())
    size = max(size, 1.0)
    exponent = int(np.floor(np.log2(LARGEST / size))) - 2
    if exponent < 4:
        return None
    scale = 2 ** min(FINEST, exponent)
    return IntegerMultipliers(
        scale,
        *(np.rint(m * scale).astype(np.int64) for m in (limits, joints, cutters, heads, seconds)),
    )


def lagrangian_bound(
    program: Program, objective: Objective, multipliers: IntegerMultipliers
) -> Bound:
    """Return the exact bound that multipliers prove, by the theorem above, over all rows."""
    n, parts, cutters = program.rows, program.parts, program.cutters
    prices = multipliers.scale * objective.weights + program.limits.weights.T @ multipliers.limits
    s = prices[:n] + multipliers.joints[program.joint]
    has_cutter = cutters.pair >= 0
    s[has_cutter] += multipliers.cutters[cutters.pair[has_cutter]]
    seconds = program.seconds
    has_second = seconds.pair >= 0
    s[has_second] += multipliers.seconds[seconds.pair[has_second]]
    has_choice = program.patterns.choice >= 0
    s[has_choice] += multipliers.heads[program.patterns.choice[has_choice]]
    scaled = -int(multipliers.limits @ program.limits.right)
    scaled -= lagrangian_exact_sum(
        multipliers.joints[program.present]
    )  # a joint without rows takes none
    taken, detour = _pattern_prices(program.patterns, multipliers.heads)
    scaled += taken
    # rows of their own ring part
    single = parts.pair < 0
    own = np.zeros(program.joints, dtype=np.int64)
    np.minimum.at(own, program.joint[single], s[single])
    scaled += lagrangian_exact_sum(own)
    # rows of a shared ring part
    wanted = np.zeros(len(parts.owner), dtype=np.int64)
    np.minimum.at(wanted, parts.pair[~single], s[~single])
    owners = prices[n:].copy()
    np.add.at(owners, parts.owner - n, wanted)
    np.subtract.at(owners, cutters.owner - n, multipliers.cutters)
    np.subtract.at(owners, seconds.owner - n, multipliers.seconds)
    scaled += lagrangian_exact_sum(np.minimum(owners, 0))
    gain = np.zeros(n, dtype=np.int64)
    gain[~single] = wanted[parts.pair[~single]]
    own_costs = s - gain - own[program.joint] * single
    paid = np.maximum(np.append(owners, 0), 0)  # the last stands for no owner
    costs = own_costs + np.append(detour, 0)[program.patterns.choice]
    asks = (parts.columns(), cutters.columns())
    for asked in (*asks, seconds.columns()) if program.paired else asks:
        costs = costs + paid[np.where(asked >= 0, asked - n, len(owners))]
    return Bound(multipliers, scaled, costs, own_costs, s, owners)


def _pattern_prices(patterns: Patterns, heads: Ints) -> tuple[int, Ints]:
    """Return the least that the patterns take back, and what each pair of joint and heads adds to it."""
    detour = np.zeros(patterns.choices, dtype=np.int64)
    taken = 0
    for group in patterns.groups:
        price = -heads[group].sum(axis=1)
        taken += int(price.min())
        least = np.full(patterns.choices, np.iinfo(np.int64).max)
        np.minimum.at(least, group.ravel(), np.repeat(price - price.min(), group.shape[1]))
        here = np.unique(group)
        detour[here] = least[here]
    return taken, detour


def lagrangian_exact_sum(values: Ints) -> int:
    """Return the sum of 64-bit numbers without any overflow."""
    return (int(np.sum(values >> 32)) << 32) + int(np.sum(values & 0xFFFFFFFF))


def _tame(values: Floats) -> Floats:
    """Return the values with NaN as 0 and infinities as numbers too large to be used."""
    return np.nan_to_num(values, nan=0.0, posinf=LARGEST, neginf=-LARGEST)
