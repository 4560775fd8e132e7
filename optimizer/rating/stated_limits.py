"""The limits that a study states: each entry of the table (`limits.py`) with its number, path and words.

A limit on single rings is a field with a number: a row needs at most, or at least, some value of it
(`need`), and keeps it if the study's value grants that. The value of such a limit decides nothing else,
so a row rated once tells what every value of every limit would do. Limits over several joints (ceilings,
tool points, batteries) are sums over rows, which only a search can judge.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from ringset.arrays import Floats, Mask
from ringset.catalogue.joints import JointRef, catalogue_joints
from ringset.catalogue.limits import Owner, Side
from ringset.physics.limit_rule import number_at_least, number_at_most
from ringset.rating.limits import ACCURACY_TARGETS, RULE_OF, RULES
from ringset.schema.study import Study, Wish


@dataclass(frozen=True)
class Limit:
    """One limit: where it stands in the study, what it says, and how finely it matters.

    `joint` is the joint's place in the canonical study, None for one of head, shop or target; `head`
    the name of the head it belongs to, "" for the shared one. A limit over joints has the `wish` whose
    ceiling it is, or the `robot` whose sum it bounds. `words` holds {} for the value.
    """

    path: str
    field: str
    words: str
    given: float
    side: Side
    step: float
    unit: str = ""
    joint: int | None = None
    head: str | None = None
    counts: tuple[float, ...] = ()
    wish: Wish | None = None
    robot: str | None = None

    @property
    def shared(self) -> bool:
        """Whether joints share the limit: a ceiling, or a sum over a robot."""
        return self.wish is not None or self.robot is not None

    @property
    def bounds(self) -> tuple[object, ...]:
        """What a limit over joints is about: its wish, or its robot and the part of it."""
        part, _, _ = self.field.rpartition(".")
        return self.wish, self.robot, part if self.robot is not None else ""

    @property
    def polled(self) -> bool:
        """Whether it bounds the time to poll a line, which no ring changes."""
        return self.field.endswith("cycle_max_us")

    @property
    def text(self) -> str:
        """The limit with the value given, as people read it."""
        return self.say(self.given)

    def say(self, value: float) -> str:
        """Return the limit with another value, as people read it."""
        if self.side == "counts" and self.words:
            return self.words.format(", ".join(f"{one:.10g}" for one in self.with_count(value)))
        if self.side == "counts":
            return rated_limit_counts_text(self.with_count(value))
        return self.words.format(f"{value:.10g}")

    def with_count(self, count: float) -> tuple[float, ...]:
        """Return the list with one more; whole numbers as such."""
        return tuple(int(one) if one == int(one) else one for one in sorted({*self.counts, count}))

    def json_value(self, value: float) -> float | list[float]:
        """Return a value of the limit as the study holds it."""
        if self.side == "counts":
            return list(self.with_count(value))
        return int(value) if float(self.step) == 1.0 and value == int(value) else value

    def rounded(self, need: float) -> float:
        """Return the value nearest to the given one, on the step, that grants what a row needs."""
        if self.side == "counts":
            return need
        if self.side == "multiples":
            return float(math.gcd(int(self.given), int(need)))
        steps = need / self.step
        whole = np.ceil(steps - 1e-6) if self.side == "at most" else np.floor(steps + 1e-6)
        return round(float(whole) * self.step, 9)

    def one_less(self, value: float) -> float:
        """Return the value one step nearer to the given one, or the given one."""
        if self.side == "multiples":
            given, tried = int(self.given), range(int(value) + 1, int(self.given))
            return float(next((one for one in tried if given % one == 0), given))
        if self.side == "at most":
            return max(self.given, round(value - self.step, 9))
        return min(self.given, round(value + self.step, 9))

    def away(self, values: Floats) -> Floats:
        """Return how far values are from the one given; of a list, from the nearest of its own."""
        own = np.array(self.counts or (self.given,))
        return np.asarray(np.min(np.abs(np.subtract.outer(values, own)), axis=-1))

    def change(self, value: float) -> float:
        """Return how much a value asks, relative to the one given."""
        return float(self.away(np.array(value))) / max(abs(self.given), self.step)


def rated_limit_counts_text(counts: tuple[float, ...]) -> str:
    """Return head counts as people read them: one head, 1 or 2 heads."""
    if counts == (1,):
        return "one head"
    first = ", ".join(str(count) for count in counts[:-1])
    return f"{first} or {counts[-1]} heads" if first else f"{counts[0]} heads"


def rated_limit_path(*names: str) -> str:
    """Return a path of the study; names with a dot, an equals sign or a quote stand in quotes."""
    return ".".join(
        json.dumps(name, ensure_ascii=False) if set(name) & set('".=') else name for name in names
    )


def rated_ring_limits(study: Study) -> list[Limit]:
    """Return every limit that a canonical study sets on single rings: of joints, heads, shop, target."""
    refs = catalogue_joints(study)
    found = [limit for index, ref in enumerate(refs) for limit in _of_joint(study, index, ref)]
    shared = []
    for name in sorted({ref.joint.head or "" for ref in refs}):
        owner = ("heads", name) if name else ("head",)
        head = study.heads[name] if name else study.head
        gap = f"{head.gap_mm:g}"
        if head.gap_min_mm is not None and head.gap_max_mm is not None:
            gap = f"{head.gap_min_mm:g} to {head.gap_max_mm:g}"
        for limit in _stated("head", head, owner):
            words = limit.words.replace("GAP", gap)
            shared.append(replace(limit, head=name, words=words))
    shared += _stated("shop", study.shop, ("shop",))
    shared += _stated("target", study.target, ("target",))
    found += [one for one in shared if any(rated_limit_applies(study, one, ref) for ref in refs)]
    return [_with_reserve_told(study, one) for one in found]


def _with_reserve_told(study: Study, limit: Limit) -> Limit:
    """Return the limit with the study's reserve in its words, where that is kept below it."""
    if limit.field not in ACCURACY_TARGETS:
        return limit
    return replace(limit, words=limit.words + study.target.reserve_words)


def _of_joint(study: Study, index: int, ref: JointRef) -> Iterator[Limit]:
    owner = ("robots", ref.robot.name, "joints", ref.joint.name)
    for limit in _stated("joint", ref.joint, owner):
        yield replace(limit, joint=index, step=limit.step or study.shop.bore_step_mm)


def _stated(owner: Owner, part: object, path: tuple[str, ...]) -> list[Limit]:
    """Return the limits on single rings that a part of the study states."""
    found = []
    for rule in sorted((r for r in RULES if r.owner == owner), key=lambda rule: rule.listed):
        stated = getattr(part, rule.name)
        if stated is None or stated is False:
            continue
        counts = tuple(sorted(stated)) if rule.side == "counts" else ()
        number = max(counts, default=0.0) if isinstance(stated, list) else stated
        words = rule.words
        if isinstance(stated, str):  # a name has no number to be eased
            number, words = 1.0, rule.words.format(stated.replace("{", "{{").replace("}", "}}"))
        found.append(
            Limit(
                rated_limit_path(*path, rule.name), rule.field, words, float(number), rule.side,
                rule.step, rule.unit, counts=counts,
            )
        )  # fmt: skip
    return found


def rated_limit_applies(study: Study, limit: Limit, ref: JointRef) -> bool:
    """Say whether a limit of head, shop or target bears on the rows of one joint."""
    if limit.head is not None and (ref.joint.head or "") != limit.head:
        return False
    return RULE_OF[limit.field].number(study, ref) is not None


def rated_limit_keeps(limit: Limit, need: Floats, value: float) -> Mask:
    """Return which needs a value of the limit grants, by the one rule of `physics.limit_rule`.

    `need` is one float64 per row, in the unit of the field, as `reduction_needs` returns it.
    """
    if limit.side == "counts":
        return np.isin(np.round(need, 9), np.round(limit.with_count(value), 9))
    if limit.side == "multiples":
        return np.asarray(need % value == 0.0)
    if limit.side == "at most":
        return number_at_most(need, value)
    return number_at_least(need, value)


#: Words, step and unit of each ceiling among the wishes.
_CEILINGS: dict[Wish, tuple[str, float, str]] = {
    "cutters": ("cutters at most {}", 1.0, "cutters"),
    "ring_parts": ("ring parts at most {}", 1.0, "ring parts"),
    "heads": ("heads at most {}", 1.0, "heads"),
    "material": ("material at most {} kg", 0.001, "kg"),
    "cost": ("cost at most {}", 0.01, "of the currency"),
}


#: Limits over the joints of a robot, by their fields below it: words, side, step, unit.
ROBOT_LIMITS: dict[str, tuple[str, Side, float, str]] = {
    "tool_point_target_um": ("tool point {} um", "at most", 0.1, "um"),
    "battery.life_min_years": ("battery life {} years", "at least", 0.01, "years"),
    "line.cycle_max_us": ("line polled in {} us", "at most", 0.1, "us"),
    "rings_mass_max_kg": ("rings of a robot at most {} kg", "at most", 0.001, "kg"),
    "rings_inertia_max_kg_m2": (
        "inertia of a robot's rings at most {} kg m2", "at most", 1e-8, "kg m2"
    ),
    "tool_point_repeatability_target_um": ("tool-point repeatability {} um", "at most", 0.1, "um"),
}  # fmt: skip


def rated_shared_limits(study: Study) -> list[Limit]:
    """Return every limit over several joints: ceilings, and those of robots over their joints."""
    found = []
    for wish, most in study.wishes.ceilings().items():
        words, step, unit = _CEILINGS[wish]
        field = rated_ceiling_field(wish)
        found.append(Limit(field, field, words, float(most), "at most", step, unit, wish=wish))
    for robot in study.robots:
        for path, (words, side, step, unit) in ROBOT_LIMITS.items():
            part, _, name = path.rpartition(".")
            given = getattr(getattr(robot, part) if part else robot, name, None)
            if given is not None:
                where = rated_limit_path("robots", robot.name, *path.split("."))
                found.append(
                    Limit(where, path, words, float(given), side, step, unit, robot=robot.name)
                )
    return [_with_reserve_told(study, limit) for limit in found]


def rated_ceiling_field(wish: Wish) -> str:
    """Return the field that holds the ceiling of a wish."""
    return "wishes.material_max_kg" if wish == "material" else f"wishes.{wish}_max"


#: What a limit of a robot is paid from, by the field of the limit: words, side, step, unit.
_SUPPLIES: dict[str, tuple[str, Side, float, str]] = {
    "battery.capacity_ah": ("battery of {} Ah", "at most", 0.01, "Ah"),
    "line.bit_rate_mbit_per_s": ("line at {} Mbit/s", "at most", 0.1, "Mbit/s"),
}


def rated_limit_supply(study: Study, limit: Limit) -> Limit | None:
    """Return the input that a limit of a robot is paid from, as a limit: more of it helps as well."""
    for field, (words, side, step, unit) in _SUPPLIES.items():
        part, _, name = field.partition(".")
        if limit.robot is not None and limit.field.startswith(f"{part}."):
            (robot,) = (robot for robot in study.robots if robot.name == limit.robot)
            given = float(getattr(getattr(robot, part), name))
            path = rated_limit_path("robots", robot.name, part, name)
            return Limit(path, field, words, given, side, step, unit, robot=robot.name)
    return None
