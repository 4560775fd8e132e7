"""The user's own limits: which a study holds, in its own terms, and what each row asks of them.

A limit on single rings is a field with a number: a row needs at most, or at least, some value of it
(`need`), and keeps it if the study's value grants that. The value of such a limit decides nothing else,
so a row rated once tells what every value of every limit would do. Limits over several joints (ceilings,
tool points, batteries) are sums over rows, which only a search can judge.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ringset.catalogue.joints import JointRef, joint_refs
from ringset.schema.study import Study, Wish

#: at most, at least: the value bounds a number; counts: a list (head counts, modules) that may be added to;
#: kept: a limit without a number that could be eased.
Side = Literal["at most", "at least", "counts", "kept"]


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
            return counts_text(self.with_count(value))
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
        steps = need / self.step
        whole = np.ceil(steps - 1e-6) if self.side == "at most" else np.floor(steps + 1e-6)
        return round(float(whole) * self.step, 9)

    def one_less(self, value: float) -> float:
        """Return the value one step nearer to the given one, or the given one."""
        if self.side == "at most":
            return max(self.given, round(value - self.step, 9))
        return min(self.given, round(value + self.step, 9))

    def change(self, value: float) -> float:
        """Return how much a value asks, relative to the one given."""
        return abs(value - self.given) / max(abs(self.given), self.step)


def counts_text(counts: tuple[float, ...]) -> str:
    """Return head counts as people read them: one head, 1 or 2 heads."""
    if counts == (1,):
        return "one head"
    first = ", ".join(str(count) for count in counts[:-1])
    return f"{first} or {counts[-1]} heads" if first else f"{counts[0]} heads"


def path_of(*names: str) -> str:
    """Return a path of the study; names with a dot, an equals sign or a quote stand in quotes."""
    return ".".join(
        json.dumps(name, ensure_ascii=False) if set(name) & set('".=') else name for name in names
    )


#: Limits of a joint: words, side, step, unit. The step of bores is the shop's own.
_JOINT: dict[str, tuple[str, Side, float, str]] = {
    "tip_max_mm": ("tip limit {} mm", "at most", 0.01, "mm"),
    "tip_min_mm": ("tips at least {} mm", "at least", 0.01, "mm"),
    "bore_min_mm": ("bore at least {} mm", "at least", 0.0, "mm"),
    "bore_max_mm": ("bore at most {} mm", "at most", 0.0, "mm"),
    "angle_target_arcsec": ("angle target {} arcsec", "at most", 0.1, "arcsec"),
    "slip_safety_min": ("slip safety {}", "at least", 0.01, ""),
    "stress_safety_min": ("stress safety {}", "at least", 0.01, ""),
    "burst_safety_min": ("burst safety {}", "at least", 0.01, ""),
    "unpowered_speed_rpm": ("turned at {} rpm without power", "at least", 0.1, "rpm"),
}
_HEAD: dict[str, tuple[str, Side, float, str]] = {
    "module_min_mm": ("module at least {} mm", "at least", 0.01, "mm"),
    "module_max_mm": ("module at most {} mm", "at most", 0.01, "mm"),
    "teeth_min": ("at least {} teeth", "at least", 1.0, "teeth"),
    "teeth_max": ("at most {} teeth", "at most", 1.0, "teeth"),
    "gap_left_min_mm": ("at least {} mm left of a gap of GAP mm", "at least", 0.001, "mm"),
    "tooth_rate_max_hz": ("tooth rate at most {} Hz", "at most", 1.0, "Hz"),
    "width_mm": ("heads {} mm wide", "at least", 0.1, "mm"),
    "sample_rate_hz": ("{} samples a second", "at most", 1.0, "Hz"),
    "backup_counter_bits": ("back-up counter of {} bits", "at most", 1.0, "bits"),
}
_SHOP: dict[str, tuple[str, Side, float, str]] = {
    "rim_min_mm": ("rim at least {} mm", "at least", 0.01, "mm"),
    "rim_min_depths": ("rim at least {} tooth depths", "at least", 0.01, "depths"),
    "rim_max_mm": ("rim at most {} mm", "at most", 0.01, "mm"),
    "clamp_runout_share": ("clamping lobes at most {} of the run-out", "at most", 0.01, ""),
    "deeper_cut_below_mm": ("deeper cut below module {} mm", "kept", 0.01, "mm"),
}
_TARGET: dict[str, tuple[str, Side, float, str]] = {
    "angle_target_arcsec": _JOINT["angle_target_arcsec"],
    "resolution_bits": ("{} usable bits", "at least", 0.1, "bits"),
    "lag_max_arcsec": ("lag at most {} arcsec", "at most", 0.1, "arcsec"),
}


def limits_of(study: Study) -> list[Limit]:
    """Return every limit that a canonical study sets on single rings."""
    refs = joint_refs(study)
    found = [limit for index, ref in enumerate(refs) for limit in _of_joint(study, index, ref)]
    for name in sorted({ref.joint.head or "" for ref in refs}):
        owner = ("heads", name) if name else ("head",)
        head = study.heads[name] if name else study.head
        gap = f"{head.gap_mm:g}"
        if head.gap_min_mm is not None and head.gap_max_mm is not None:
            gap = f"{head.gap_min_mm:g} to {head.gap_max_mm:g}"
        for limit in _stated(_HEAD, head, owner):
            words = limit.words.replace("GAP", gap)
            found.append(replace(limit, head=name, words=words))
    found += _stated(_SHOP, study.shop, ("shop",))
    if any(ref.joint.fastening == "screws" for ref in refs):
        found.append(
            Limit("shop.screw_sizes", "shop.screw_sizes", "room for a screw", 0.0, "kept", 1.0)
        )
    own = all(ref.joint.angle_target_arcsec is not None for ref in refs)
    return found + [
        limit
        for limit in _stated(_TARGET, study.target, ("target",))
        if not (own and limit.field == "target.angle_target_arcsec")
    ]


def _of_joint(study: Study, index: int, ref: JointRef) -> Iterator[Limit]:
    owner = ("robots", ref.robot.name, "joints", ref.joint.name)
    for limit in _stated(_JOINT, ref.joint, owner):
        bore = limit.field.startswith("bore_m")
        yield replace(limit, joint=index, step=study.shop.bore_step_mm if bore else limit.step)
    counts = tuple(sorted(ref.joint.head_counts))
    yield Limit(
        path_of(*owner, "head_counts"), "head_counts", "", float(counts[-1]), "counts", 1.0,
        "heads", index, None, counts,
    )  # fmt: skip


def _stated(
    known: dict[str, tuple[str, Side, float, str]], part: object, owner: tuple[str, ...]
) -> list[Limit]:
    """Return the limits that a part of the study states."""
    prefix = {"heads": "head."}.get(owner[0], f"{owner[0]}.")
    if owner[0] == "robots":
        prefix = f"{owner[2]}." if len(owner) == 3 else ""
    return [
        Limit(path_of(*owner, name), prefix + name, words, float(value), side, step, unit)
        for name, (words, side, step, unit) in known.items()
        if (value := getattr(part, name)) is not None
    ]


def applies(limit: Limit, ref: JointRef) -> bool:
    """Say whether a limit of head, shop or target bears on the rows of one joint."""
    if limit.head is not None:
        return (ref.joint.head or "") == limit.head
    if limit.field == "target.angle_target_arcsec":
        return ref.joint.angle_target_arcsec is None
    if limit.field == "shop.screw_sizes":
        return ref.joint.fastening == "screws"
    return True


#: Words, step and unit of each ceiling among the wishes.
_CEILINGS: dict[Wish, tuple[str, float, str]] = {
    "cutters": ("cutters at most {}", 1.0, "cutters"),
    "ring_parts": ("ring parts at most {}", 1.0, "ring parts"),
    "heads": ("heads at most {}", 1.0, "heads"),
    "material": ("material at most {} kg", 0.001, "kg"),
    "cost": ("cost at most {}", 0.01, "of the currency"),
}


#: Limits of a robot: words, side, step, unit.
_ROBOT: dict[str, tuple[str, Side, float, str]] = {
    "tool_point_target_um": ("tool point {} um", "at most", 0.1, "um"),
    "life_min_years": ("battery life {} years", "at least", 0.01, "years"),
    "cycle_max_us": ("line polled in {} us", "at most", 0.1, "us"),
}


def shared_limits_of(study: Study) -> list[Limit]:
    """Return every limit over several joints: ceilings, tool points, battery lives, polling."""
    found = []
    for wish, most in study.wishes.ceilings().items():
        words, step, unit = _CEILINGS[wish]
        field = "wishes.material_max_kg" if wish == "material" else f"wishes.{wish}_max"
        found.append(Limit(field, field, words, float(most), "at most", step, unit, wish=wish))
    for robot in study.robots:
        for part, owner in ((robot, ()), (robot.battery, ("battery",)), (robot.line, ("line",))):
            known = {name: how for name, how in _ROBOT.items() if hasattr(part, name)}
            limits = _stated(known, part, ("robots", robot.name, *owner))
            found += [replace(limit, robot=robot.name) for limit in limits]
    return found


#: What a limit of a robot is paid from, by the field of the limit: words, side, step, unit.
_SUPPLIES: dict[str, tuple[str, Side, float, str]] = {
    "battery.capacity_ah": ("battery of {} Ah", "at most", 0.01, "Ah"),
    "line.bit_rate_mbit_per_s": ("line at {} Mbit/s", "at most", 0.1, "Mbit/s"),
}


def supply_of(study: Study, limit: Limit) -> Limit | None:
    """Return the input that a limit of a robot is paid from, as a limit: more of it helps as well."""
    for field, (words, side, step, unit) in _SUPPLIES.items():
        part, _, name = field.partition(".")
        if limit.robot is not None and limit.field.startswith(f"{part}."):
            (robot,) = (robot for robot in study.robots if robot.name == limit.robot)
            given = float(getattr(getattr(robot, part), name))
            path = path_of("robots", robot.name, part, name)
            return Limit(path, field, words, given, side, step, unit, robot=robot.name)
    return None
