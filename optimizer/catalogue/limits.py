"""Limits on the size of a ring: the part of the table of limits by which the catalogue is made.

`rating/limits.py` holds the rest of the table and says how a limit is added.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property, reduce
from operator import and_, attrgetter
from typing import Generic, Literal, TypeVar

import numpy as np

from ringset.arrays import Floats, Ints, Mask
from ringset.catalogue.check import Check
from ringset.catalogue.joints import JointRef
from ringset.catalogue.ring_sizes import RingSizes, catalogue_ring_sizes
from ringset.catalogue.rows import Catalogue
from ringset.physics.limit_rule import number_at_least, number_at_most
from ringset.physics.root_fillet import finest_wire_radius_mm
from ringset.physics.tooth_factors import largest_prime_factor_of_teeth
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Study

#: at most, at least: the value bounds a number; counts: a list (head counts, modules) that may be added to;
#: multiples: a number that whole numbers must be multiples of; kept: a limit without a number to be eased.
Side = Literal["at most", "at least", "counts", "multiples", "kept"]
#: The part of a study that states a limit.
Owner = Literal["joint", "head", "shop", "target"]
Rings = TypeVar("Rings")


@dataclass(frozen=True)
class LimitRule(Generic[Rings]):
    """One limit on single rings: where a study states it, and what every ring has and may have of it.

    `Rings` is what values are read from: `RingSizes` or `Rated`. Every function of a rule returns one
    float64 per ring. A value is held against a limit in the terms of the ring; where those are not the
    terms of the field (a share of the run-out, against micrometres), `allowed` says what the number of
    the field allows each ring, and `need` what number of the field would allow a ring its value.

    owner, name
        Part of the study and its field, `None` where a study states nothing.
    words
        The limit as people read it, {} for the number; `GAP` in those of a head for its gap.
    side, step, unit
        Which way the number bounds; the step by which it is changed, 0 for the shop's bore step; its unit.
    value
        What every ring has, of a study and its rings.
    bound
        Number that bears on the rings of a joint, None where it does not; the field by default.
    row_side, row_unit
        Side and unit in the terms of the ring, where they are not those of the field.
    best
        Unit in which reasons tell the best value reached, in the terms of the field; empty: `row_unit`.
    told_as
        Field under which answers name the limit, which then covers this one; empty: its own.
    listed
        Limits of one owner are listed in the order of the table, those with a higher number after them.
    window
        It only cuts the windows of sizes: what every gap that a head allows asks of a ring. The limit that
        is told has the same field, and is one on rated rings.
    """

    owner: Owner
    name: str
    words: str
    side: Side
    step: float
    unit: str
    value: Callable[[Study, Rings], Floats]
    bound: Callable[[Study, JointRef], float | None] | None = None
    allowed: Callable[[Study, Rings, Floats], Floats] | None = None
    need: Callable[[Study, Rings, Floats], Floats] | None = None
    row_side: Literal["at most", "at least", ""] = ""
    row_unit: str | None = None
    best: str = ""
    told_as: str = ""
    listed: int = 0
    window: bool = False

    @cached_property
    def field(self) -> str:
        """The limit as answers and explanations name it: the field, its owner before it but for joints."""
        return self.name if self.owner == "joint" else f"{self.owner}.{self.name}"

    @cached_property
    def _stated(self) -> Callable[[object], float | None]:
        """Reads the field off a joint's reference, or off a study."""
        return attrgetter(f"{self.owner}.{self.name}")

    @property
    def sign(self) -> int:
        """1 where a ring may have at most what is allowed, -1 where it must have at least that."""
        return 1 if (self.row_side or self.side) == "at most" else -1

    def number(self, study: Study, ref: JointRef) -> float | None:
        """Return the number that bears on a joint's rings, in the unit of the field; None for none."""
        if self.bound is not None:
            return self.bound(study, ref)
        return self._stated(ref if self.owner in ("joint", "head") else study)

    def numbers(self, study: Study, refs: Iterable[JointRef]) -> Floats:
        """Return the number that bears on each joint, one float64 for each in their order; NaN for none."""
        return np.array([self.number(study, ref) for ref in refs], dtype=np.float64)

    def needed(self, study: Study, rings: Rings) -> Floats:
        """Return the number of the field that each ring needs, in the unit of the field."""
        value = self.value(study, rings)
        return value if self.need is None else self.need(study, rings, value)

    def limit(self, study: Study, rings: Rings, numbers: Floats) -> Floats:
        """Return what each ring may have (or must have at least) where the field holds `numbers`."""
        return numbers if self.allowed is None else self.allowed(study, rings, numbers)

    def check(self, study: Study, rows: Catalogue, rings: Rings) -> Check | None:
        """Return the limit on every row of a catalogue; None if it bears on no joint.

        `rings` are those of the rows, in their order.
        """
        numbers = self.numbers(study, rows.joints)
        none = np.isnan(numbers)
        if none.all():
            return None
        limit = self.limit(study, rings, numbers[rows.joint])
        if none.any():
            limit = np.where(none[rows.joint], self.sign * np.inf, limit)
        unit = self.unit if self.row_unit is None else self.row_unit
        return Check(self.value(study, rings), limit, unit, self.sign)


def catalogue_size_limits(
    study: Study, rows: Catalogue, rings: Rings, rules: Iterable[LimitRule[Rings]]
) -> dict[str, Check]:
    """Return those of some limits that bear on a joint, held against all rows of a catalogue, by field."""
    found = {rule.field: rule.check(study, rows, rings) for rule in rules}
    return {field: check for field, check in found.items() if check is not None}


def catalogue_least_rim_mm(shop: Shop, depth_mm: Floats | float) -> Floats:
    """Return the thinnest rim in mm that the shop allows below teeth cut so deep (mm, any shape)."""
    return np.maximum(shop.rim_min_mm, shop.rim_min_depths * np.asarray(depth_mm))


def catalogue_heads_allowed(joint: Joint, heads: int) -> bool:
    """Say whether a joint may have so many heads."""
    return heads in joint.head_counts


def catalogue_bore_steps(study: Study, ref: JointRef) -> Ints | None:
    """Return the bores that a joint may have in whole bore steps (int64, ascending), None for any."""
    listed = study.bores_of(ref.joint)
    if listed is None:
        return None
    return np.unique(np.round(np.array(listed) / study.shop.bore_step_mm).astype(np.int64))


# -- the table ----------------------------------------------------------------------------------------

#: A size of rings, as `RingSizes` names it, by which limits are grouped.
Size = Literal["module", "teeth", "largest_prime", "tip", "housing", "root_radius", "bore", "rim"]


def _wire(study: Study, _: JointRef) -> float | None:
    return study.shop.wire_diameter_mm if study.shop.cutting == "wire" else None


def _left_by_wire(study: Study, _: RingSizes, wire_mm: Floats) -> Floats:
    return np.asarray(finest_wire_radius_mm(wire_mm, study.shop.spark_gap_mm))


def _widest_wire(study: Study, _: RingSizes, radius_mm: Floats) -> Floats:
    return np.asarray(2.0 * (radius_mm - study.shop.spark_gap_mm))


def _of(size: str) -> Callable[[Study, RingSizes], Floats]:
    return lambda _, rings: np.asarray(getattr(rings, size), dtype=np.float64)


def catalogue_housing_limit(
    value: Callable[[Study, Rings], Floats], window: bool = False
) -> LimitRule[Rings]:  # fmt: skip
    """Return the limit on the housing's inner diameter, with what every ring and its heads need of it."""
    return LimitRule(
        "joint", "housing_max_mm", "housing {} mm", "at most", 0.01, "mm", value, window=window
    )


def _longest_own(_: Study, ref: JointRef) -> float | None:
    return None if ref.joint.bores_mm is None else max(ref.joint.bores_mm)


def _longest_shared(study: Study, ref: JointRef) -> float | None:
    shared = study.shop.bores_mm
    return None if shared is None or ref.joint.bores_mm is not None else max(shared)


SIZE_LIMITS: dict[Size, tuple[LimitRule[RingSizes], ...]] = {
    "tip": (
        LimitRule("joint", "tip_max_mm", "tip limit {} mm", "at most", 0.01, "mm", _of("tip")),
        LimitRule("joint", "tip_min_mm", "tips at least {} mm", "at least", 0.01, "mm", _of("tip")),
    ),
    "housing": (catalogue_housing_limit(_of("housing"), window=True),),
    "bore": (
        LimitRule("joint", "bore_min_mm", "bore at least {} mm", "at least", 0.0, "mm", _of("bore")),
        LimitRule("joint", "bore_max_mm", "bore at most {} mm", "at most", 0.0, "mm", _of("bore")),
    ),
    "module": (
        LimitRule(
            "head", "module_min_mm", "module at least {} mm", "at least", 0.01, "mm", _of("module")
        ),
        LimitRule(
            "head", "module_max_mm", "module at most {} mm", "at most", 0.01, "mm", _of("module")
        ),
    ),
    "teeth": (
        LimitRule("head", "teeth_min", "at least {} teeth", "at least", 1.0, "teeth", _of("teeth")),
        LimitRule("head", "teeth_max", "at most {} teeth", "at most", 1.0, "teeth", _of("teeth")),
    ),
    "largest_prime": (
        LimitRule(
            "shop", "teeth_largest_prime", "no prime factor of the teeth above {}", "at most", 1.0,
            "largest factor", _of("largest_prime"),
        ),
    ),
    "root_radius": (
        LimitRule(
            "shop", "wire_diameter_mm", "wire of {} mm", "at least", 0.01, "mm", _of("root_radius"),
            bound=_wire, allowed=_left_by_wire, need=_widest_wire,
        ),
    ),
    "rim": (
        LimitRule("shop", "rim_min_mm", "rim at least {} mm", "at least", 0.01, "mm", _of("rim")),
        LimitRule(
            "shop", "rim_min_depths", "rim at least {} tooth depths", "at least", 0.01, "depths",
            _of("rim"), row_unit="mm",
            allowed=lambda _, rings, depths: depths * rings.depth,
            need=lambda _, rings, rim_mm: rim_mm / rings.depth,
        ),
        LimitRule("shop", "rim_max_mm", "rim at most {} mm", "at most", 0.01, "mm", _of("rim")),
    ),
}  # fmt: skip
#: Heads are no size, and a list of counts bounds them: only enumerating rings holds that.
HEAD_COUNTS: LimitRule[RingSizes] = LimitRule(
    "joint", "head_counts", "", "counts", 1.0, "heads", _of("heads"), listed=2,
    bound=lambda _, ref: max(ref.joint.head_counts),
)  # fmt: skip
#: Lists of bores: they name sizes, and bound none.
BORE_LISTS: tuple[LimitRule[RingSizes], ...] = (
    LimitRule(
        "joint", "bores_mm", "bores {} mm", "counts", 0.0, "mm", _of("bore"), bound=_longest_own
    ),
    LimitRule(
        "shop", "bores_mm", "bores {} mm", "counts", 0.01, "mm", _of("bore"), bound=_longest_shared
    ),
)  # fmt: skip
#: Which tooth counts a shop cuts: no interval either, and without a margin that could be told.
TOOTH_COUNTS: tuple[LimitRule[RingSizes], ...] = (
    LimitRule(
        "shop", "teeth_allowed", "teeth {}", "counts", 1.0, "teeth", _of("teeth"),
        bound=lambda study, _: max(study.shop.teeth_allowed) if study.shop.teeth_allowed else None,
    ),
    LimitRule(
        "shop", "teeth_multiple_of", "teeth a multiple of {}", "multiples", 1.0, "teeth", _of("teeth"),
    ),
)  # fmt: skip
COUNT_RULES = (HEAD_COUNTS, *TOOTH_COUNTS)
SIZE_RULES = tuple(rule for rules in SIZE_LIMITS.values() for rule in rules)
TOLD_SIZE_RULES = tuple(rule for rule in SIZE_RULES if not rule.window)
_NO_LEAST, _NO_MOST = np.array(-np.inf), np.array(np.inf)


def catalogue_size_interval(
    study: Study, ref: JointRef, size: Size, rings: RingSizes
) -> tuple[Floats, Floats]:
    """Return the least and the largest of a size that a joint lets pass.

    One float64 for every ring, or one for all (no axis) where the limits do not depend on the ring;
    infinite where nothing is stated.
    """
    low, high = _NO_LEAST, _NO_MOST
    for rule, limit in _limits(study, ref, size, rings):
        if rule.sign > 0:
            high = limit if high is _NO_MOST else np.asarray(np.minimum(high, limit))
        else:
            low = limit if low is _NO_LEAST else np.asarray(np.maximum(low, limit))
    return low, high


def catalogue_keeps_size_limits(study: Study, ref: JointRef, size: Size, rings: RingSizes) -> Mask:
    """Return which rings keep the limits of a joint on one size, by the one rule of `physics.limit_rule`."""
    value = getattr(rings, size)
    masks = [
        number_at_most(value, limit) if rule.sign > 0 else number_at_least(value, limit)
        for rule, limit in _limits(study, ref, size, rings)
    ]
    return reduce(and_, masks, np.ones(np.shape(value), dtype=np.bool_))


def _limits(
    study: Study, ref: JointRef, size: Size, rings: RingSizes
) -> Iterator[tuple[LimitRule[RingSizes], Floats]]:
    """Yield the limits of a joint on one size that are stated, each with what it lets rings have."""
    for rule in SIZE_LIMITS[size]:
        number = rule.number(study, ref)
        if number is not None:
            yield rule, rule.limit(study, rings, np.array(number, dtype=np.float64))


def catalogue_size_checks(study: Study, rows: Catalogue) -> dict[str, Check]:
    """Return every limit of size that bears on a joint, held against all rows, by field."""
    return catalogue_size_limits(
        study, rows, catalogue_ring_sizes(study.shop, rows), TOLD_SIZE_RULES
    )


def catalogue_sizes_kept(study: Study, rows: Catalogue) -> Mask:
    """Return which rows keep every limit of size, as those of the catalogue do; heads are not looked at."""
    checks = catalogue_size_limits(study, rows, catalogue_ring_sizes(study.shop, rows), SIZE_RULES)
    listed = [catalogue_bore_steps(study, ref) for ref in rows.joints]
    masks = [check.kept for check in checks.values()]
    for index, steps in enumerate(listed):
        if steps is not None:
            masks.append((rows.joint != index) | np.isin(rows.bore_steps, steps))
    return reduce(and_, masks, catalogue_teeth_cut(study.shop, rows.teeth))


def catalogue_teeth_cut(shop: Shop, teeth: Ints) -> Mask:
    """Return which tooth counts (int64) the shop cuts: by its list, by multiples, by their prime factors."""
    kept = catalogue_tooth_counts_kept(shop, teeth).values()
    return reduce(and_, kept, np.ones(len(teeth), dtype=np.bool_))


def catalogue_tooth_counts_kept(shop: Shop, teeth: Ints) -> dict[str, Mask]:
    """Return which tooth counts keep each limit on them that the shop states, by its field."""
    found = {}
    if shop.teeth_allowed is not None:
        found["shop.teeth_allowed"] = np.isin(teeth, shop.teeth_allowed)
    if shop.teeth_multiple_of is not None:
        found["shop.teeth_multiple_of"] = teeth % shop.teeth_multiple_of == 0
    if shop.teeth_largest_prime is not None:
        largest = largest_prime_factor_of_teeth(teeth)
        found["shop.teeth_largest_prime"] = number_at_most(largest, shop.teeth_largest_prime)
    return found


def catalogue_roots_kept(study: Study, ref: JointRef, rings: RingSizes) -> Mask:
    """Return which toothings have roots that the shop's wire gets into; all where no wire is stated."""
    if study.shop.wire_diameter_mm is None:
        return np.ones(len(rings.teeth), dtype=np.bool_)
    return catalogue_keeps_size_limits(study, ref, "root_radius", rings)


def catalogue_toothings_made(study: Study, ref: JointRef, rings: RingSizes) -> Mask:
    """Return which toothings the shop can make: by their counts, and by the roots that a wire leaves."""
    return catalogue_teeth_cut(study.shop, rings.teeth) & catalogue_roots_kept(study, ref, rings)


def catalogue_next_teeth(shop: Shop, teeth: int, step: int, most: int = 1) -> list[int]:
    """Return the next counts that the shop cuts from `teeth` on, upwards (step 1) or downwards (-1).

    At most so many, no further away than the count itself, and none below 1.
    """
    counts = np.arange(teeth + step, 2 * teeth + 1 if step > 0 else 0, step, dtype=np.int64)
    found: list[int] = counts[catalogue_teeth_cut(shop, counts)][:most].tolist()
    return found


def catalogue_teeth_not_cut(shop: Shop, teeth: int) -> Iterator[tuple[str, int]]:
    """Yield the limits on counts without a margin that a count breaks, each with the nearest count cut."""
    kept = catalogue_tooth_counts_kept(shop, np.array([teeth]))
    for rule in TOOTH_COUNTS:
        if rule.field in kept and not kept[rule.field][0]:
            near = [*catalogue_next_teeth(shop, teeth, -1), *catalogue_next_teeth(shop, teeth, 1)]
            yield rule.field, min(near, key=lambda count: abs(count - teeth), default=teeth)


def catalogue_size_needs(study: Study, rows: Catalogue) -> dict[str, Floats]:
    """Return what number of each limit of size every row needs, by field, in the unit of the field."""
    rings = catalogue_ring_sizes(study.shop, rows)
    rules = (*SIZE_RULES, *BORE_LISTS, *COUNT_RULES)
    return {rule.field: rule.needed(study, rings) for rule in rules}
