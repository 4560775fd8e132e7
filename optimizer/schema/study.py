"""What goes in: the study, its defaults with their sources, and its field-by-field types.

`ringset.schema.loading` reads it from JSON strictly (unknown fields, duplicate keys, NaN and infinity are
refused) and compares fields with each other. Lengths are mm unless the name says um.
"""

from __future__ import annotations

import hashlib
import json
import re
from typing import Annotated, Literal, TypeVar

from pydantic import Field, StringConstraints

from ringset.schema.base import StudyModel
from ringset.schema.battery_and_bus import Battery, Line
from ringset.schema.equipment import (
    AngleDeg,
    Head,
    HeadCount,
    HousingMaterial,
    LengthMm,
    Name,
    Shop,
    SmallUm,
)  # fmt: skip
from ringset.schema.targets import Target

Wish = Literal["cutters", "ring_parts", "heads", "material", "cost"]
WISHES: tuple[Wish, ...] = ("cutters", "ring_parts", "heads", "material", "cost")

#: Offset in um of a ring set with a dial indicator, where neither fit nor offset is given. Assumed.
SET_OFFSET_UM = 15.0


class Joint(StudyModel):
    """One joint: what its ring must fit, how it is seated, and what it does."""

    name: Name = Field(description="Name, unique within its robot.")
    bore_min_mm: LengthMm = Field(
        description="Smallest bore that clears the shaft; only you know it."
    )
    bore_max_mm: LengthMm = Field(
        description="Largest bore that the hub can seat; only you know it."
    )
    tip_max_mm: LengthMm = Field(
        description="Largest tip diameter below the reading head; only you know it."
    )
    tip_min_mm: LengthMm | None = Field(
        default=None, description="Smallest tip diameter a fixed head can reach; none by default."
    )
    face_width_mm: Annotated[float, Field(gt=0.0, le=500.0)] = Field(
        default=8.0,
        description="Face width of the ring. Assumed: 6 mm of head and 1 mm of float on each side.",
    )
    seat_fit: Annotated[str, StringConstraints(max_length=16)] | None = Field(
        default=None,
        description="ISO 286 fit of ring bore on hub, such as H7/g6: the ring then sits off centre "
        "by "
        "half the largest clearance plus hub_offset_um. Excludes seat_offset_um.",
    )
    seat_offset_um: SmallUm | None = Field(
        default=None,
        description="Radial offset of the ring from the joint axis. Without seat_fit "
        f"{SET_OFFSET_UM:g} um is assumed "
        "(ring set with a dial indicator).",
    )
    hub_offset_um: SmallUm = Field(
        default=5.0,
        description="Radial offset of the hub seat from the joint axis, added to that of seat_fit. "
        "Assumed.",
    )
    seat_ovality_um: SmallUm = Field(
        default=3.0,
        description="Radial amplitude of the seat's ovality (a quarter of largest minus smallest "
        "diameter). Assumed.",
    )
    seat_stiffness_n_per_mm2: Annotated[float, Field(gt=0.0, le=1e6)] = Field(
        default=50.0,
        description="Radial line load per displacement with which the seat shapes the ring; thin "
        "rims "
        "follow it, stiff ones resist. Assumed.",
    )
    bearing_shift_um: SmallUm = Field(
        default=5.0, description="Lateral shift of the turning axis by run-out and load. Assumed."
    )
    wobble_mrad: Annotated[float, Field(ge=0.0, le=100.0)] = Field(
        default=0.5, description="Tilting of the turning axis. Assumed."
    )
    temperature_gradient_k: Annotated[float, Field(ge=0.0, le=500.0)] = Field(
        default=3.0, description="Temperature difference across the ring's diameter. Assumed."
    )
    temperature_min_c: Annotated[float, Field(ge=-100.0, le=500.0)] = Field(
        default=10.0, description="Coldest the joint gets; it is assembled at 20. Assumed."
    )
    temperature_max_c: Annotated[float, Field(ge=-100.0, le=500.0)] = Field(
        default=50.0, description="Warmest the joint gets. Assumed."
    )
    housing_material: HousingMaterial = Field(
        default="en_aw_6082_t6",
        description="What carries the head; its expansion against the ring's moves the gap. Assumed: "
        "EN AW-6082 T6.",
    )
    fastening: Literal["fit", "screws"] = Field(
        default="fit",
        description="What holds the ring on its hub: the seat (friction of seat_fit, or the shop's own "
        "way), or screws through its face. The seat by default.",
    )
    hub_material: HousingMaterial | None = Field(
        default=None,
        description="What the hub is made of; its expansion against the ring's tightens or loosens the "
        "seat. The ring's own material by default.",
    )
    hub_bore_mm: Annotated[float, Field(ge=0.0, le=5000.0)] | None = Field(
        default=None,
        description="Bore of the hub, 0 for a solid one; slip_safety_min and stress_safety_min need it. "
        "None by default: sheets then reckon with a solid hub and say so.",
    )
    acceleration_max_rad_s2: Annotated[float, Field(gt=0.0, le=1e7)] | None = Field(
        default=None,
        description="Fastest angular acceleration, stops and crashes included; the ring must not slip "
        "on its hub. None by default.",
    )
    slip_safety_min: Annotated[float, Field(gt=0.0, le=1000.0)] | None = Field(
        default=None,
        description="Least torque at which the ring slips over the torque that acceleration_max_rad_s2 "
        "asks, at the loosest fit, temperature and speed; no limit by default.",
    )
    stress_safety_min: Annotated[float, Field(gt=0.0, le=1000.0)] | None = Field(
        default=None,
        description="Least yield over equivalent stress of ring and hub, at the tightest fit, the worst "
        "temperature and speed_max_rpm; no limit by default.",
    )
    burst_safety_min: Annotated[float, Field(gt=0.0, le=1000.0)] | None = Field(
        default=None,
        description="Least speed at which the ring's wall yields through over speed_max_rpm; no limit by "
        "default.",
    )
    seat_friction: Annotated[float, Field(gt=0.0, le=1.0)] = Field(
        default=0.12,
        description="Friction between ring and hub, or under screwed faces; 0.12 by default: dry steel "
        "on steel is 0.10 to 0.15 (public page of a tribology course).",
    )
    seat_roughness_um: Annotated[float, Field(ge=0.0, le=100.0)] = Field(
        default=4.0,
        description="Roughness Rz of either face of the seat; pressing flattens it (DIN 7190) and takes "
        "that off the interference that holds; 4 by default, fine-turned or ground.",
    )
    reach_mm: Annotated[float, Field(ge=0.0, le=100000.0)] = Field(
        default=0.0,
        description="Distance from the joint axis to the tool point at the worst pose; 0: not "
        "counted.",
    )
    speed_max_rpm: Annotated[float, Field(ge=0.0, le=100000.0)] = Field(
        default=15.0, description="Fastest turning of the joint. Assumed: 90 degrees a second."
    )
    angle_target_arcsec: Annotated[float, Field(gt=0.0, le=648000.0)] | None = Field(
        default=None, description="Angle target of this joint; the shared target by default."
    )
    head_counts: Annotated[list[HeadCount], Field(min_length=1, max_length=8)] = Field(
        default=[1, 2],
        description="Numbers of heads this joint may have; the search chooses. Assumed: one, or "
        "two opposed.",
    )
    head_angles_deg: dict[Annotated[str, StringConstraints(pattern="^[1-8]$")], list[AngleDeg]] = (
        Field(
            default={},
            description='Placement by head count, such as {"2": [0, 90]}; equally spaced where not given.',
        )
    )
    head: Name | None = Field(
        default=None, description="Name of the head in `heads`; the shared head by default."
    )
    unpowered_speed_rpm: Annotated[float, Field(gt=0.0, le=100000.0)] | None = Field(
        default=None,
        description="Fastest the joint is turned while without power; the head, which looks every "
        "backup_polling_ms and counts pitches, must not miss one. None by default.",
    )
    turns_range: Annotated[float, Field(gt=0.0, le=1e6)] = Field(
        default=1.0,
        description="Whole range of the joint in turns, 4 for two either way; the back-up counter "
        "must hold it. Assumed: one turn.",
    )
    second_ring: bool = Field(
        default=False,
        description="Whether a second ring of the same module with a coprime tooth count shall tell "
        "the pitches of the first apart; the answer then says which, and whether it can. Its mass and "
        "its head are not counted. Not by default.",
    )

    @property
    def set_offset_um(self) -> float:
        """Radial offset in um of a ring that no fit seats: as stated, else the default."""
        return SET_OFFSET_UM if self.seat_offset_um is None else self.seat_offset_um


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
    tool_point_rule: Literal["rss", "sum"] = Field(
        default="rss",
        description="How joints combine: root of the sum of squares (independent errors), or plain "
        "sum.",
    )
    battery: Battery | None = Field(
        default=None, description="The back-up battery of its heads; none by default."
    )
    line: Line | None = Field(
        default=None, description="The serial line that polls its joints; none by default."
    )


class Wishes(StudyModel):
    """What counts, in order, and what it may come to at most."""

    order: Annotated[list[Wish], Field(min_length=1, max_length=5)] = Field(
        default=["cutters", "ring_parts", "heads", "material"],
        description="Aims in order of rank; each is proven before the next and then held. cost needs "
        "shop.prices.",
    )
    cutters_max: Annotated[int, Field(ge=0, le=100_000)] | None = Field(
        default=None, description="Most cutters; none by default."
    )
    ring_parts_max: Annotated[int, Field(ge=1, le=100_000)] | None = Field(
        default=None, description="Most distinct ring parts; none by default."
    )
    heads_max: Annotated[int, Field(ge=1, le=1_000_000_000)] | None = Field(
        default=None, description="Most heads over all robots built; none by default."
    )
    material_max_kg: Annotated[float, Field(gt=0.0, le=1e9)] | None = Field(
        default=None,
        description="Most material (turned blanks) over all robots built; none by default.",
    )

    cost_max: Annotated[float, Field(gt=0.0, le=1e12)] | None = Field(
        default=None,
        description="Most money over all robots built, by shop.prices; none by default.",
    )

    def ceilings(self) -> dict[Wish, float]:
        """Return the ceilings that are stated, by wish."""
        given: dict[Wish, float | None] = {
            "cutters": self.cutters_max,
            "ring_parts": self.ring_parts_max,
            "heads": self.heads_max,
            "material": self.material_max_kg,
            "cost": self.cost_max,
        }
        return {wish: most for wish, most in given.items() if most is not None}


class Search(StudyModel):
    """How long and how to search."""

    time_limit_s: Annotated[float, Field(gt=0.0, le=86400.0)] = Field(
        default=120.0,
        description="Wall clock; if it ends the search the answer says it is not repeatable.",
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

    def head_of(self, joint: Joint) -> Head:
        """Return the head that reads `joint`."""
        return self.head if joint.head is None else self.heads[joint.head]

    def target_of(self, joint: Joint) -> float:
        """Return the angle target of `joint` in arcsec as stated, its reserve included."""
        own = joint.angle_target_arcsec
        return self.target.angle_target_arcsec if own is None else own

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
        shop = self.shop
        if not isinstance(shop.modules, str):
            shop = shop.model_copy(update={"modules": sorted(set(shop.modules))})
        shop = shop.with_sorted_lists()
        heads = {name: self.heads[name] for name in sorted(self.heads)}
        fixed = sorted(set(self.fixed))
        return self.model_copy(
            update={"robots": robots, "shop": shop, "heads": heads, "fixed": fixed}
        )

    def fingerprint(self) -> str:
        """Return the SHA-256 of the canonical study, as hex."""
        text = json.dumps(
            self.canonical().model_dump(mode="json"), sort_keys=True, separators=(",", ":")
        )
        return hashlib.sha256(text.encode()).hexdigest()


NamedPart = TypeVar("NamedPart", Robot, Joint)


def study_natural_key(name: str) -> tuple[tuple[int, int, str], ...]:
    """Return a sort key by which "joint 2" comes before "joint 10"."""
    parts = re.split(r"([0-9]+)", name)
    return (*tuple((0, int(p), "") if p.isdecimal() else (1, 0, p) for p in parts), (2, 0, name))


def _by_name(parts: list[NamedPart]) -> list[NamedPart]:
    return sorted(parts, key=lambda part: study_natural_key(part.name))


def _canonical_joint(joint: Joint) -> Joint:
    angles = {count: joint.head_angles_deg[count] for count in sorted(joint.head_angles_deg)}
    return joint.model_copy(
        update={"head_counts": sorted(set(joint.head_counts)), "head_angles_deg": angles}
    )
