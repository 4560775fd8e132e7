"""Revisions of small studies, the rings of their answers told apart from outside, and parts renamed."""

from __future__ import annotations

import copy
import random
from collections.abc import Mapping

from ringset.schema.answer import Answer
from tests.support.studies import Json

Ring = tuple[object, ...]


def revised(data: Json, rng: random.Random) -> Json:
    """Return a study with one to three edits: joints turned, added, dropped or renamed, limits moved."""
    edited = copy.deepcopy(data)
    for edit in rng.sample(EDITS, rng.randint(1, 3)):
        edit(edited, rng)
    return edited


def _turn_joints(data: Json, rng: random.Random) -> None:
    for robot in data["robots"]:
        rng.shuffle(robot["joints"])
    rng.shuffle(data["robots"])


def _add_joint(data: Json, rng: random.Random) -> None:
    robot = rng.choice(data["robots"])
    added = copy.deepcopy(rng.choice(robot["joints"]))
    known = {joint["name"] for joint in robot["joints"]}
    added["name"] = next(name for i in range(1, 99) for name in [f"added {i}"] if name not in known)
    if rng.random() < 0.5:  # else it may well take the ring of the joint that it is like
        for field in ("bore_min_mm", "bore_max_mm", "tip_min_mm", "tip_max_mm"):
            added[field] += 11.0
    robot["joints"].insert(rng.randint(0, len(robot["joints"])), added)
    data["wishes"].pop("material_max_kg", None)
    data["wishes"].pop("heads_max", None)


def _drop_joint(data: Json, rng: random.Random) -> None:
    robot = rng.choice(data["robots"])
    if len(robot["joints"]) > 1:
        robot["joints"].remove(rng.choice(robot["joints"]))


def _rename_joint(data: Json, rng: random.Random) -> None:
    joint = rng.choice(rng.choice(data["robots"])["joints"])
    joint["name"] = f"other {joint['name']}"[:60]


def _move_target(data: Json, rng: random.Random) -> None:
    data["target"]["angle_target_arcsec"] *= rng.choice((0.9, 1.2, 1.6))


def _move_tip(data: Json, rng: random.Random) -> None:
    joint = rng.choice(rng.choice(data["robots"])["joints"])
    joint["tip_max_mm"] += 3.0
    joint["tip_min_mm"] += 3.0


def _build_more(data: Json, rng: random.Random) -> None:
    rng.choice(data["robots"])["count"] = rng.choice((1, 2, 7))


def _turn_wishes(data: Json, rng: random.Random) -> None:
    rng.shuffle(data["wishes"]["order"])


def _other_shop(data: Json, rng: random.Random) -> None:
    changes: Mapping[str, object] = rng.choice(
        ({"flank_class": 5}, {"profile_shift": 0.1}, {"material": "42crmo4"}, {"material_treatment": "+QT"})
    )  # fmt: skip
    data["shop"].update(changes)


def _other_prefix(data: Json, rng: random.Random) -> None:
    data["shop"]["part_prefix"] = rng.choice(("", "RX-", "ring.", "A_1b-"))


EDITS = [
    _turn_joints, _add_joint, _drop_joint, _rename_joint, _move_target, _move_tip, _build_more, _turn_wishes,
    _other_shop, _other_prefix,
]  # fmt: skip


def rings_by_name(answer: Answer) -> dict[str, Ring]:
    """Return what tells every ring part of an answer from any other, by its name, as drawings state it."""
    found: dict[str, Ring] = {}
    for part in answer.ring_parts:
        ring = next(one for one in answer.every_ring if one.ring_part == part.id)
        sizes = (
            part.module_mm, part.bore_mm, part.bore_lower_um, part.bore_upper_um, part.face_width_mm,
            part.rim_mm, part.tip_diameter_mm, ring.root_diameter_mm, ring.profile_shift,
        )  # fmt: skip
        screws = None if part.screws is None else part.screws.model_dump_json()
        found[part.id] = (
            *(f"{size:.6f}" for size in sizes),
            part.teeth,
            part.material,
            ring.flank_class,
            screws,
        )
    assert len(set(found.values())) == len(found)
    return found


def renamed(answer: Answer, names: Mapping[str, str]) -> Answer:
    """Return an answer with other names of ring parts everywhere but in `part_numbers`."""

    def new(name: str | None) -> str:
        return names.get(name or "", name or "")

    def told(text: str) -> str:
        name, colon, rest = text.partition(": ")
        return new(name) + colon + rest

    rings = []
    for ring in answer.rings:
        second = ring.electronics.second_ring
        if second is not None:
            second = second.model_copy(update={"ring_part": new(second.ring_part)})
        electronics = ring.electronics.model_copy(update={"second_ring": second})
        rings.append(
            ring.model_copy(update={"ring_part": new(ring.ring_part), "electronics": electronics})
        )
    return answer.model_copy(
        update={
            "rings": rings,
            "second_rings": [
                ring.model_copy(update={"ring_part": new(ring.ring_part)})
                for ring in answer.second_rings
            ],
            "ring_parts": [
                part.model_copy(update={"id": new(part.id)}) for part in answer.ring_parts
            ],
            "cutters": [
                cutter.model_copy(update={"ring_parts": [new(name) for name in cutter.ring_parts]})
                for cutter in answer.cutters
            ],
            "warnings": [told(warning) for warning in answer.warnings],
        }
    )
