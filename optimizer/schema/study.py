"""What goes in: the study, its defaults with their sources, and its field-by-field types.

`ringset.schema.loading` reads it from JSON strictly (unknown fields, duplicate keys, NaN and infinity are
refused) and compares fields with each other. Lengths are mm unless the name says um.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
from typing import Annotated, Literal, TypeVar

from pydantic import Field, JsonValue, StringConstraints, field_validator

from ringset.schema.base import StudyModel
from ringset.schema.battery_and_bus import Battery, Line
from ringset.schema.equipment import Head, Name
from ringset.schema.gives import Give, study_gives
from ringset.schema.joint import Joint
from ringset.schema.length_texts import length_field_unit, length_field_value
from ringset.schema.ranking import WISHES as WISHES
from ringset.schema.ranking import Wish as Wish
from ringset.schema.ranking import Wishes as Wishes
from ringset.schema.shop import Shop
from ringset.schema.targets import Target

#: Fields of a robot that bound what its joints add up to at the tool point, in um.
TOOL_POINT_TARGETS = ("tool_point_target_um", "tool_point_repeatability_target_um")


class Robot(StudyModel):
    """A robot: joints from base to tool, and what the tool point asks of them."""

    name: Name = Field(description="Name, unique within the study.")
    count: Annotated[int, Field(ge=1, le=1_000_000)] = Field(
        default=1, description="How many are built; weighs heads and material."
    )
    joints: Annotated[list[Joint], Field(min_length=1, max_length=10_000)] = Field(
        description="Joints, base to tool."
    )
    tool_point_target_um: Annotated[float, Field(gt=0.0, le=1e7)] | None = Field(
        default=None,
        description="Most error at the tool point from all joints with a reach, on the basis of the "
        "target (expanded: in 95 % of readings); none by default.",
    )
    tool_point_repeatability_target_um: Annotated[float, Field(gt=0.0, le=1e7)] | None = Field(
        default=None,
        description="Most scatter at the tool point that the sensors of all joints with a reach may make, "
        "half of the range about the mean position, on the basis of the target; play and drives come on "
        "top. With k = 2 the pose repeatability RP of ISO 9283 (mean + 3 S) is 1.04 to 1.30 times it. Of a "
        "range of gaps every ring keeps the one of least error all the same. None by default.",
    )
    rings_mass_max_kg: Annotated[float, Field(gt=0.0, le=1e6)] | None = Field(
        default=None,
        description="Most mass of all rings of one robot together, finished and before screw holes are "
        "drilled, without heads; no limit by default.",
    )
    rings_inertia_max_kg_m2: Annotated[float, Field(gt=0.0, le=1e6)] | None = Field(
        default=None,
        description="Most of what the rings of one robot add to the inertia that its drives turn: the sum of "
        "the moments of inertia of all finished rings, each about its own axis and before screw holes are "
        "drilled; no limit by default.",
    )
    tool_point_rule: Literal["rss", "sum"] = Field(
        default="rss",
        description="How joints combine: root of the sum of squares (independent errors), or plain sum.",
    )
    battery: Battery | None = Field(
        default=None, description="The back-up battery of its heads; none by default."
    )
    line: Line | None = Field(
        default=None, description="The serial line that polls its joints; none by default."
    )


class Search(StudyModel):
    """How long and how to search."""

    time_limit_s: Annotated[float, Field(gt=0.0, le=86400.0)] = Field(
        default=120.0,
        description="Wall clock, from the beginning of the command or, in the service, from when the study "
        "is taken up. If it ends the search the answer says it is not repeatable.",
    )
    work_limit: Annotated[float, Field(gt=0.0, le=1e6)] = Field(
        default=60.0,
        description="Deterministic work per wish (about seconds of a common machine); repeatable.",
    )
    seed: Annotated[int, Field(ge=0, le=2_147_483_647)] = Field(
        default=1, description="Seed of the search."
    )
    workers: Annotated[int, Field(ge=1, le=64)] = Field(
        default=1, description="Search threads. Only one worker repeats itself exactly."
    )


class Study(StudyModel):
    """Everything the user states."""

    schema_version: Literal[1] = Field(default=1, description="Version of this format.")
    title: Annotated[
        str, StringConstraints(max_length=200, pattern=r"^[^\x00-\x1f\x7f-\x9f]*$")
    ] = Field(default="", description="Title, for people.")
    robots: Annotated[list[Robot], Field(min_length=1, max_length=10_000)] = Field(
        description="The robots; they share cutters and ring parts."
    )
    head: Head = Field(default=Head(), description="The head of joints that name none.")
    heads: dict[Name, Head] = Field(default={}, description="Further heads by name.")
    shop: Shop = Field(default=Shop(), description="What can be made.")
    target: Target = Field(description="What the rings must reach.")
    wishes: Wishes = Field(default=Wishes(), description="What counts.")
    search: Search = Field(default=Search(), description="How to search.")
    fixed: Annotated[
        list[Annotated[str, StringConstraints(max_length=300)]], Field(max_length=10_000)
    ] = Field(
        default=[],
        description="Paths of limits that must stay as they are when ringset why looks for changes that "
        "help, such as joints.wrist.tip_max_mm; none by default.",
    )
    ranges: Annotated[
        dict[
            Annotated[str, StringConstraints(max_length=300)],
            Annotated[list[JsonValue], Field(min_length=2, max_length=2)],
        ],
        Field(max_length=200),
    ] = Field(
        default={},
        description="Between which two values an input may lie in truth, by its path (joints[].FIELD is all "
        'joints that leave FIELD at its default), such as {"head.residual_offset": [0.001, 0.006]}. It takes '
        "the place of the default's own range, and brings in an input that you state. None by default.",
    )

    @field_validator("ranges")
    @classmethod
    def _ranges_of_lengths(cls, ranges: dict[str, list[JsonValue]]) -> dict[str, list[JsonValue]]:
        """Return the ranges with ends of lengths that are texts, such as "0.1 in", as numbers.

        A text that is no length is left as it is; `range_checks` names it.
        """
        return {path: [_end(path, end) for end in ends] for path, ends in ranges.items()}

    def head_of(self, joint: Joint) -> Head:
        """Return the head that reads `joint`."""
        return self.head if joint.head is None else self.heads[joint.head]

    def bores_of(self, joint: Joint) -> list[float] | None:
        """Return the bores in mm of which `joint` may take one, its own or the shop's; None for any."""
        return self.shop.bores_mm if joint.bores_mm is None else joint.bores_mm

    def largest_tip_mm(self, joint: Joint) -> float:
        """Return the largest tip diameter in mm that `joint` has room for, at its head's narrowest gap.

        The lesser of tip_max_mm and of what head and gap leave of housing_max_mm; infinite without both.
        """
        tips = math.inf if joint.tip_max_mm is None else joint.tip_max_mm
        if joint.housing_max_mm is None:
            return tips
        head = self.head_of(joint)
        return min(tips, joint.housing_max_mm - head.around_tips_mm(head.narrowest_gap_mm))

    def target_of(self, joint: Joint) -> float:
        """Return the angle target of `joint` in arcsec as stated, its reserve included."""
        own = joint.angle_target_arcsec
        return self.target.angle_target_arcsec if own is None else own

    def repeatability_target_of(self, joint: Joint) -> float | None:
        """Return the repeatability target of `joint` in arcsec as stated, reserve included; None for none."""
        own = joint.repeatability_target_arcsec
        return self.target.repeatability_target_arcsec if own is None else own

    def gives(self) -> dict[Wish, Give]:
        """Return how much of each wish may be given up."""
        return study_gives(
            self.wishes, "" if self.shop.prices is None else self.shop.prices.currency
        )

    def canonical(self) -> Study:
        """Return the study with robots, joints and lists in one fixed order.

        Listing joints or modules in another order states the same study: it must lead to the same
        answer, so everything after this point sees this order.
        """
        robots = [
            robot.model_copy(
                update={"joints": [_canonical_joint(j) for j in _by_name(robot.joints)]}
            )
            for robot in _by_name(self.robots)
        ]
        shop = self.shop.with_sorted_lists()
        heads = {name: self.heads[name] for name in sorted(self.heads)}
        fixed, wishes = sorted(set(self.fixed)), self.wishes.canonical()
        ranges = {path: self.ranges[path] for path in sorted(self.ranges)}
        return self.model_copy(
            update={
                "robots": robots, "shop": shop, "heads": heads, "fixed": fixed, "ranges": ranges,
                "wishes": wishes,
            }
        )  # fmt: skip

    def fingerprint(self) -> str:
        """Return the SHA-256 of the canonical study, as hex."""
        data = self.canonical().model_dump(mode="json")
        text = json.dumps(data, sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()


def _end(path: str, end: JsonValue) -> JsonValue:
    field = path.rpartition(".")[2]
    if not isinstance(end, str) or length_field_unit(field) is None:
        return end
    try:
        return length_field_value(field, end)
    except ValueError:
        return end


NamedPart = TypeVar("NamedPart", Robot, Joint)


def study_natural_key(name: str) -> tuple[tuple[int, int, str], ...]:
    """Return a sort key by which "joint 2" comes before "joint 10"."""
    parts = re.split(r"([0-9]+)", name)
    return (*tuple((0, int(p), "") if p.isdecimal() else (1, 0, p) for p in parts), (2, 0, name))


def _by_name(parts: list[NamedPart]) -> list[NamedPart]:
    return sorted(parts, key=lambda part: study_natural_key(part.name))


def _canonical_joint(joint: Joint) -> Joint:
    angles = {count: joint.head_angles_deg[count] for count in sorted(joint.head_angles_deg)}
    update: dict[str, object] = {"head_angles_deg": angles}
    counts = sorted(set(joint.head_counts))
    if counts != joint.head_counts:  # a default stays one that the study does not state
        update["head_counts"] = counts
    if joint.bores_mm is not None:
        update["bores_mm"] = sorted(set(joint.bores_mm))
    return joint.model_copy(update=update)
