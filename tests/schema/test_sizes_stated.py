"""Lengths and amounts off a drawing: what cannot be is refused by field, given and allowed."""

from __future__ import annotations

from typing import Any

import pytest

from ringset.errors import StudyError
from ringset.schema.field_docs import field_facts
from tests.support.studies import Json, joint, load

JOINT = "robots[0].joints[0]"

#: What is changed of the joint, head, shop and robot; path, given, part of what is allowed.
BAD: dict[str, tuple[dict[str, Json], str, str, str]] = {
    "neither": ({"joint": {"tip_max_mm": None}}, f"{JOINT}.tip_max_mm", "nothing", "housing_max_mm"),
    "no room around the bore": (
        {"joint": {"housing_max_mm": 64.8}}, f"{JOINT}.housing_max_mm", "64.8",
        "more than 64.8 (bore_min_mm = 40, twice the gap of 0.4 and head.height_above_tips_mm = 12)",
    ),
    "no room at the narrowest gap": (
        {"joint": {"housing_max_mm": 64.5}, "head": {"gap_min_mm": 0.3, "gap_max_mm": 0.6}},
        f"{JOINT}.housing_max_mm", "64.5", "more than 64.6 (bore_min_mm = 40, twice the gap of 0.3",
    ),
    "a housing of nothing": (
        {"joint": {"housing_max_mm": 0.0}}, f"{JOINT}.housing_max_mm", "0.0", "greater than 0"
    ),
    "no bore in the list": (
        {"joint": {"bores_mm": []}}, f"{JOINT}.bores_mm", "[]", "at least 1 item"
    ),
    "no bore in the shop's list": (
        {"shop": {"bores_mm": []}}, "shop.bores_mm", "[]", "at least 1 item"
    ),
    "a bore twice": (
        {"joint": {"bores_mm": [41.0, 42.0, 41.0]}}, f"{JOINT}.bores_mm", "2 times 41",
        "each value once",
    ),
    "a bore off the step": (
        {"joint": {"bores_mm": [41.0, 41.3]}}, f"{JOINT}.bores_mm", "41.3",
        "whole multiples of shop.bore_step_mm = 0.5, or a finer step",
    ),
    "a bore hardly off the step": (
        {"shop": {"bores_mm": [41.000001]}}, "shop.bores_mm", "41.000001", "whole multiples",
    ),
    "no listed bore in the window": (
        {"joint": {"bores_mm": [39.5, 46.5]}}, f"{JOINT}.bores_mm", "39.5, 46.5",
        "one at least from bore_min_mm = 40 to bore_max_mm = 46",
    ),
    "a text for a bore": (
        {"joint": {"bores_mm": ["41"]}}, f"{JOINT}.bores_mm[0]", '"41"', "a number in mm or text with"
    ),
    "a head narrower than it senses": (
        {"head": {"axial_width_mm": 5.0}}, "head.axial_width_mm", "5",
        "at least active_width_mm = 6",
    ),
    "no axial room": (
        {"joint": {"axial_room_mm": 0.0}}, f"{JOINT}.axial_room_mm", "0.0", "greater than 0"
    ),
    "a negative mass": (
        {"joint": {"ring_mass_max_kg": -0.1}}, f"{JOINT}.ring_mass_max_kg", "-0.1", "greater than 0"
    ),
    "no inertia": (
        {"joint": {"ring_inertia_max_kg_m2": 0.0}}, f"{JOINT}.ring_inertia_max_kg_m2", "0.0",
        "greater than 0",
    ),
    "no mass of a robot": (
        {"robot": {"rings_mass_max_kg": 0.0}}, "robots[0].rings_mass_max_kg", "0.0",
        "greater than 0",
    ),
    "inertia as a text": (
        {"robot": {"rings_inertia_max_kg_m2": "1e-4"}}, "robots[0].rings_inertia_max_kg_m2",
        '"1e-4"', "a valid number",
    ),
    "a yield that no bar of the housing has": (
        {"joint": {"tip_max_mm": None, "housing_max_mm": 1500.0, "burst_safety_min": 2.0}},
        f"{JOINT}.housing_max_mm", "1500", "with a strength limit: the yield of shop.material c45",
    ),
}  # fmt: skip


def study_of(changes: dict[str, Json]) -> Json:
    row: dict[str, Any] = {**joint("wrist", 40.0), **changes.get("joint", {})}
    row = {name: value for name, value in row.items() if value is not None}
    return {
        "robots": [{"name": "arm", "joints": [row], **changes.get("robot", {})}],
        "head": changes.get("head", {}),
        "shop": changes.get("shop", {}),
        "target": {"angle_target_arcsec": 200.0},
    }


@pytest.mark.parametrize("case", BAD)
def test_what_cannot_be_is_refused_by_name(case: str) -> None:
    changes, path, given, allowed = BAD[case]
    with pytest.raises(StudyError) as caught:
        load(study_of(changes))
    (fault,) = caught.value.faults
    assert (fault.path, fault.given) == (path, given)
    assert allowed in fault.allowed


@pytest.mark.parametrize(
    "changes",
    [
        {"joint": {"housing_max_mm": 64.9, "tip_max_mm": None}},
        {"joint": {"housing_max_mm": 64.7}, "head": {"gap_min_mm": 0.3, "gap_max_mm": 0.6}},
        {"joint": {"housing_max_mm": 90.0, "tip_min_mm": 66.0}},
        {"joint": {"bores_mm": [39.5, 46.0]}, "shop": {"bores_mm": [100.0]}},
        {"joint": {"bores_mm": [40.3]}, "shop": {"bore_step_mm": 0.1}},
        {"joint": {"axial_room_mm": 4.0}},
        {"head": {"active_width_mm": 7.5}},
    ],
)
def test_what_may_be_is_taken(changes: dict[str, Json]) -> None:
    assert load(study_of(changes)).robots[0].joints[0].name == "wrist"


def test_the_order_of_bores_states_nothing() -> None:
    one, other = (
        load(study_of({"joint": {"bores_mm": own}, "shop": {"bores_mm": shared}}))
        for own, shared in (([41.0, 43.0], [50.0, 60.0]), ([43.0, 41.0], [60.0, 50.0]))
    )
    assert one.fingerprint() == other.fingerprint()


def test_forms_know_units_and_kinds_of_the_fields() -> None:
    facts = {(fact.place, fact.name): fact for fact in field_facts()}
    for place, name, unit, kind in (
        ("robots[].joints[].", "housing_max_mm", "mm", "number"),
        ("robots[].joints[].", "bores_mm", "mm", "list"),
        ("robots[].joints[].", "ring_inertia_max_kg_m2", "kg m²", "number"),
        ("robots[].", "rings_mass_max_kg", "kg", "number"),
        ("shop.", "bores_mm", "mm", "list"),
        ("head. or heads.NAME.", "axial_width_mm", "mm", "number"),
    ):
        fact = facts[place, name]
        assert (fact.unit, fact.kind, fact.required) == (unit, kind, False)
    assert facts["head. or heads.NAME.", "axial_width_mm"].assumed
    assert not facts["robots[].joints[].", "tip_max_mm"].required
