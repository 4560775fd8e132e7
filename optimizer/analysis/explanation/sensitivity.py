"""Sensitivity: how far each input of a study may drift before the chosen answer breaks a limit.

Only the chosen rings are rated, at many values at once. A coarse walk outward from the value given finds
where a limit is first broken, sections of that interval then give the value to a millionth of the drift. The
gap drifts where the rings stand, whatever gap the head's range would allow.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import get_args

import numpy as np
from pydantic import BaseModel

from ringset.arrays import Floats
from ringset.catalogue.joints import JointRef, catalogue_joints
from ringset.rating.limits import ACCURACY_TARGETS
from ringset.rating.rate import rate
from ringset.rating.robot_sums import rated_tool_point_shares
from ringset.rating.stated_limits import rated_limit_path
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.schema.targets import Target
from ringset.solving.chosen_rings import ToolPointSum, chosen_rows, chosen_tool_point_sums

#: Points of the walk outward, of each section, and how often sections are taken.
WALK, SECTION, ROUNDS = 48, 32, 4
#: First step of the walk, relative to the way to the field's bound.
FIRST = 1e-6

JOINT_FIELDS = (
    "seat_offset_um", "seat_tir_um", "hub_offset_um", "seat_ovality_um", "bearing_shift_um",
    "wobble_mrad", "temperature_gradient_k", "temperature_min_c", "temperature_max_c", "speed_max_rpm",
    "reach_mm", "angle_target_arcsec", "repeatability_target_arcsec",
)  # fmt: skip
#: Targets in arcsec that joints share or state themselves.
TARGETS = ("angle_target_arcsec", "repeatability_target_arcsec")
HEAD_FIELDS = (
    "gap_mm", "gap_tolerance_mm", "residual_offset", "residual_gain", "residual_quadrature_deg",
    "third_harmonic", "stray_field", "noise_ratio", "timing_jitter_us", "placement_tolerance_deg",
)  # fmt: skip
#: Fields of a head that count where a joint that it reads states the limit beside them.
HEAD_SIZES = {"height_above_tips_mm": "housing_max_mm", "axial_width_mm": "axial_room_mm"}
SHOP_FIELDS = ("flank_class", "clamp_force_n", "flank_line_mrad", "pitch_spectrum_exponent")
#: Fields by which an error is reckoned on each basis.
TARGET_FIELDS = {
    "expanded": ("coverage_factor",),
    "worst_case": ("worst_noise_sigmas", "worst_ring_percent"),
}


@dataclass(frozen=True)
class Sensitivity:
    """One input, up or down: the last value at which all holds, and what fails first beyond it.

    Where that is an accuracy target below which the study keeps a reserve, the input eats the reserve from
    there on; `target_holds_to` is the last value at which all holds with the whole target, and
    `target_limit` the limit that fails beyond it. None where nothing does, and without a reserve.
    """

    path: str
    given: float
    up: bool
    holds_to: float
    first: str
    limit: str
    target_holds_to: float | None = None
    target_limit: str | None = None


#: What a value of an input makes of the study: the study, its joints, and a shift of each joint's gap in mm.
Drift = tuple[Study, tuple[JointRef, ...], Floats]


@dataclass(frozen=True)
class _Input:
    """An input as a function of its value: the refs, study and gap that it makes of the chosen rings."""

    path: str
    given: float
    low: float
    high: float
    whole: bool
    at: Callable[[float], Drift]


class Sensitivities:
    """The chosen rings of an answer, rated at drifted inputs."""

    def __init__(self, study: Study, answer: Answer) -> None:
        self.study, self.answer = study.canonical(), answer
        self.refs = catalogue_joints(self.study)
        self.rows = chosen_rows(self.study, answer)
        rings = {(ring.robot, ring.joint): ring for ring in answer.rings}
        self.gap = np.array([rings[ref.robot.name, ref.joint.name].gap_mm for ref in self.refs])
        self.still = np.zeros(len(self.refs))

    def all(self) -> list[Sensitivity]:
        """Return every input with every direction in which something fails at last."""
        found = []
        whole = self._whole_targets
        others = {} if whole is None else {one.path: one for one in whole._inputs()}
        for one in self._inputs():
            for up in (False, True):
                sensitivity = self._sensitivity(one, up)
                if sensitivity is None:
                    continue
                if whole is not None and one.path in others:
                    sensitivity = _eaten(sensitivity, whole._sensitivity(others[one.path], up))
                found.append(sensitivity)
        return found

    @property
    def _whole_targets(self) -> Sensitivities | None:
        """The same rings under the targets as stated, without reserve; None where the study keeps none."""
        if not self.study.target.reserve_percent:
            return None
        target = self.study.target.model_copy(update={"reserve_percent": 0.0})
        return Sensitivities(self.study.model_copy(update={"target": target}), self.answer)

    # -- inputs -----------------------------------------------------------------------------------------

    def _inputs(self) -> Iterator[_Input]:
        for index, ref in enumerate(self.refs):
            owner = ("robots", ref.robot.name, "joints", ref.joint.name)
            for field in JOINT_FIELDS:
                value = self._joint_value(ref, field)
                if value is not None:
                    yield self._joint_input(index, field, value, rated_limit_path(*owner, field))
        for name in sorted({ref.joint.head or "" for ref in self.refs}):
            yield from self._head_inputs(name)
        for field in SHOP_FIELDS:
            if field != "pitch_spectrum_exponent" or (self.rows.heads > 1).any():
                yield self._shop_input(field)
        for field in self._conventions():
            yield self._convention_input(field)
        for field in TARGETS:
            shared = getattr(self.study.target, field)
            if shared is not None and any(getattr(ref.joint, field) is None for ref in self.refs):
                yield self._target_input(field, shared)
        if self.study.target.reserve_percent:
            yield self._reserve_input()

    def _joint_value(self, ref: JointRef, field: str) -> float | None:
        value = getattr(ref.joint, field)
        if field == "seat_offset_um" and ref.joint.dial_on and ref.joint.seat_tir_um is None:
            return ref.joint.set_offset_um
        if field == "hub_offset_um" and ref.joint.seat_fit is None:
            return None
        if field == "reach_mm" and value == 0.0:
            return None
        return None if value is None else float(value)

    def _joint_input(self, index: int, field: str, given: float, path: str) -> _Input:
        def at(value: float) -> Drift:
            ref = self.refs[index]
            joint = ref.joint.model_copy(update={field: value})
            changed = _asked_of(replace(ref, joint=joint), field, value)
            return self.study, (*self.refs[:index], changed, *self.refs[index + 1 :]), self.still

        low, high = explained_sensitivity_bounds(type(self.refs[index].joint), field)
        joint = self.refs[index].joint
        low = joint.temperature_min_c if field == "temperature_max_c" else low
        high = joint.temperature_max_c if field == "temperature_min_c" else high
        return _Input(path, given, low, high, False, at)

    def _head_inputs(self, name: str) -> Iterator[_Input]:
        head = self.study.heads[name] if name else self.study.head
        owner = ("heads", name) if name else ("head",)
        reads = np.array([(ref.joint.head or "") == name for ref in self.refs])
        smallest = float(self.gap[reads].min())
        joints = [ref.joint for ref, mine in zip(self.refs, reads, strict=True) if mine]
        sizes = [
            field
            for field, limit in HEAD_SIZES.items()
            if any(getattr(joint, limit) is not None for joint in joints)
        ]
        for field in (*HEAD_FIELDS, *sizes):
            given = smallest if field == "gap_mm" else float(getattr(head, field))

            def at(value: float, field: str = field, given: float = given) -> Drift:
                changed = head.model_copy(update={field: value})
                refs = tuple(
                    replace(ref, head=changed) if (ref.joint.head or "") == name else ref
                    for ref in self.refs
                )
                shift = (value - given) * reads if field == "gap_mm" else self.still
                return self.study, refs, shift

            low, high = explained_sensitivity_bounds(type(head), field)
            yield _Input(rated_limit_path(*owner, field), given, low, high, False, at)

    def _shop_input(self, field: str) -> _Input:
        def at(value: float) -> Drift:
            new = round(value) if field == "flank_class" else value
            shop = self.study.shop.model_copy(update={field: new})
            return self.study.model_copy(update={"shop": shop}), self.refs, self.still

        low, high = explained_sensitivity_bounds(type(self.study.shop), field)
        given = float(getattr(self.study.shop, field))
        return _Input(f"shop.{field}", given, low, high, field == "flank_class", at)

    def _conventions(self) -> tuple[str, ...]:
        """Return the fields of the target by which its basis and its bits are reckoned, where they count."""
        target = self.study.target
        bits = () if target.resolution_bits is None else ("noise_free_sigmas",)
        pairs = (
            TARGET_FIELDS["worst_case"] if self.rows.paired else ()
        )  # their tolerance is one of it
        return (*dict.fromkeys((*TARGET_FIELDS[target.basis], *pairs)), *bits)

    def _convention_input(self, field: str) -> _Input:
        def at(value: float) -> Drift:
            target = self.study.target.model_copy(update={field: value})
            return self.study.model_copy(update={"target": target}), self.refs, self.still

        low, high = explained_sensitivity_bounds(type(self.study.target), field)
        given = float(getattr(self.study.target, field))
        return _Input(f"target.{field}", given, low, high, False, at)

    def _target_input(self, field: str, given: float) -> _Input:
        """Return a target that joints share, as the joints see it that state none of their own."""

        def at(value: float) -> Drift:
            refs = tuple(
                _asked_of(ref, field, value) if getattr(ref.joint, field) is None else ref
                for ref in self.refs
            )
            return self.study, refs, self.still

        low, high = explained_sensitivity_bounds(type(self.study.target), field)
        return _Input(f"target.{field}", given, low, high, False, at)

    def _reserve_input(self) -> _Input:
        def at(value: float) -> Drift:
            target = self.study.target.model_copy(update={"reserve_percent": value})
            return self.study.model_copy(update={"target": target}), self.refs, self.still

        low, high = explained_sensitivity_bounds(type(self.study.target), "reserve_percent")
        given = self.study.target.reserve_percent
        return _Input("target.reserve_percent", given, low, high, False, at)

    # -- drifting ---------------------------------------------------------------------------------------

    def _sensitivity(self, one: _Input, up: bool) -> Sensitivity | None:
        """Return how far an input may drift one way; None if nothing ever fails that way."""
        way = one.high - one.given if up else one.low - one.given
        if way == 0.0:
            return None
        if one.whole:
            points = one.given + np.arange(1, abs(int(way)) + 1) * np.sign(way)
        else:
            points = one.given + way * np.geomspace(FIRST, 1.0, WALK)
        good = one.given
        for _ in range(1 if one.whole else 1 + ROUNDS):
            failed = self._first_failing(one, points)
            if failed is None:
                return None  # nothing fails within the field's bounds
            bad = float(points[failed])
            good = float(points[failed - 1]) if failed else good
            if not one.whole:
                points = np.linspace(good, bad, SECTION + 1)[1:]
        name, limit = self._failing(one.at(bad)) or ("", "")
        return Sensitivity(one.path, one.given, up, good, name, limit)

    def _first_failing(self, one: _Input, points: Floats) -> int | None:
        """Return the first of some values at which a limit is broken."""
        made = [one.at(value) for value in points.tolist()]
        if any(study is not self.study for study, _, _ in made):
            return next((i for i, drift in enumerate(made) if self._failing(drift)), None)
        # every value makes refs of its own: all are rated at once
        count, joints = len(made), len(self.refs)
        refs = tuple(ref for _, changed, _ in made for ref in changed)
        rows = self.rows.take(np.tile(np.arange(joints), count))
        rows = replace(rows, joints=refs, joint=np.arange(count * joints))
        gap = np.tile(self.gap, count) + np.concatenate([shift for _, _, shift in made])
        rated = rate(self.study, rows, gap)
        broken = ~rated.inside.reshape(count, joints).all(axis=1)
        for mine, limit, _, field in self._sums(self.study.target):
            shares = rated_tool_point_shares(rated, field).reshape(count, joints)
            broken |= shares[:, mine].sum(axis=1) > limit
        return int(np.argmax(broken)) if broken.any() else None

    def _failing(self, drift: Drift) -> tuple[str, str] | None:
        """Return the joint or robot that fails first, and the field of its limit; None if all hold."""
        study, refs, gap = drift
        rated = rate(study, replace(self.rows, joints=refs), self.gap + gap)
        for index, ref in enumerate(refs):
            for field, kept in rated.limits.items():
                if not kept[index]:
                    return ref.label, field
        for mine, limit, name, field in self._sums(study.target):
            if float(rated_tool_point_shares(rated, field)[mine].sum()) > limit:
                return name, field
        return None

    def _sums(self, target: Target) -> list[ToolPointSum]:
        """Return every target at a tool point."""
        return chosen_tool_point_sums(self.study, self.refs, target)


def _asked_of(ref: JointRef, field: str, value: float) -> JointRef:
    """Return a joint with another target, where the field is one of `TARGETS`; else as it is."""
    if field == "angle_target_arcsec":
        return replace(ref, target_arcsec=value)
    if field == "repeatability_target_arcsec":
        return replace(ref, scatter_target_arcsec=value)
    return ref


def _eaten(kept: Sensitivity, whole: Sensitivity | None) -> Sensitivity:
    """Return a sensitivity with how far the input may drift until it has eaten the whole reserve."""
    if kept.limit not in ACCURACY_TARGETS or whole is None:
        return kept
    return replace(kept, target_holds_to=whole.holds_to, target_limit=whole.limit)


def explained_sensitivity_bounds(model: type[BaseModel], field: str) -> tuple[float, float]:
    """Return the least and greatest value that a field allows; above an open bound by 1e-9."""
    info = model.model_fields[field]
    kinds = list(info.metadata)
    for part in get_args(info.annotation):
        for inner in getattr(part, "__metadata__", ()):
            kinds += getattr(inner, "metadata", [inner])
    low = max([float(k.ge) for k in kinds if hasattr(k, "ge")], default=-np.inf)
    low = max([low, *(float(k.gt) + 1e-9 for k in kinds if hasattr(k, "gt"))])
    high = min([float(k.le) for k in kinds if hasattr(k, "le")], default=np.inf)
    return low, min([high, *(float(k.lt) - 1e-9 for k in kinds if hasattr(k, "lt"))])
