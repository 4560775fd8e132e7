"""Paths and their values: what they name, what they give, and what is refused."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringset.analysis.sweep.values import VALUES_MAX, parse_sweep_value, parse_sweep_values
from ringset.errors import StudyError
from ringset.schema import field_docs
from ringset.schema.editing import edited_study, study_value_at
from ringset.schema.field_paths import resolve_field_path, split_field_path
from ringset.schema.loading import load_study
from ringset.schema.materials import YieldOfSize
from ringset.schema.study import Study
from tests.support.own_materials import as_stated
from tests.support.studies import joint, load, small, two_robots


def odd_names() -> Study:
    """Return two robots that share a joint name, names with every sign a path uses, and prices."""
    data = small()
    data["shop"]["prices"] = {
        "currency": "crowns", "cutter": 300.0, "set_up_per_ring_part": 50.0, "material_per_kg": 4.0,
        "head": 20.0, "machine_per_hour": 60.0, "cutting_minutes_per_tooth": {"6": 0.5},
    }  # fmt: skip
    data["robots"].append({"name": "a.b", "joints": [joint("joint 1", 40.0), joint('x=".y', 60.0)]})
    data["heads"] = {"fine.2": {"gap_mm": 0.3}}
    data["shop"]["materials"] = {"steel 1.1": as_stated("c45")}
    return load(data)


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("joints.joint 2.tip_max_mm", ("robots", 0, "joints", 1, "tip_max_mm")),
        ("robots.arm.joints.joint 2.tip_max_mm", ("robots", 0, "joints", 1, "tip_max_mm")),
        ('robots."a.b".joints.joint 1.head', ("robots", 1, "joints", 0, "head")),
        ('joints."x=\\".y".reach_mm', ("robots", 1, "joints", 1, "reach_mm")),
        ('robots."a.b".count', ("robots", 1, "count")),
        ("robots.arm.battery.capacity_ah", ("robots", 0, "battery", "capacity_ah")),
        ("robots.arm.line.cycle_max_us", ("robots", 0, "line", "cycle_max_us")),
        ('heads."fine.2".gap_mm', ("heads", "fine.2", "gap_mm")),
        ('shop.materials."steel 1.1".poisson', ("shop", "materials", "steel 1.1", "poisson")),
        ("head.gap_mm", ("head", "gap_mm")),
        ("wishes.cutters_max", ("wishes", "cutters_max")),
    ],
)
def test_a_path_leads_to_its_field(text: str, keys: tuple[str | int, ...]) -> None:
    study = odd_names()
    path = resolve_field_path(study, text)
    assert path.keys == keys
    assert resolve_field_path(study, path.text) == path, "its own text leads there too"


def test_every_field_of_a_study_has_a_path_except_names_and_structure() -> None:
    study = odd_names()
    starts = {
        "robots[].": "robots.arm",
        "robots[].joints[].": "joints.joint 2",
        "robots[].battery.": "robots.arm.battery",
        "robots[].line.": "robots.arm.line",
        "head. or heads.NAME.": "head",
        "shop.materials.NAME.": 'shop.materials."steel 1.1"',
    }
    left_out = set()
    for place, model in field_docs.PLACES[1:]:
        for field in model.model_fields:
            try:
                resolve_field_path(study, f"{starts.get(place, place.rstrip('.'))}.{field}")
            except StudyError:
                left_out.add(place + field)
    assert left_out == {
        "robots[].name", "robots[].joints", "robots[].battery", "robots[].line",
        "robots[].joints[].name",
        "shop.tubes[].outer_mm", "shop.tubes[].bore_mm",  # a list is one value
        *(f"shop.materials.NAME.yields[].{field}" for field in YieldOfSize.model_fields),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "nearest"),
    [
        ("joints.joint2.tip_max_mm", "joints.joint 2.tip_max_mm"),
        ("joints.joint 2.tip_max", "joints.joint 2.tip_max_mm"),
        ("joint 2.tip_max_mm", "joints.joint 2.tip_max_mm"),
        ("head.gap", "head.gap_mm"),
        ("heads.fine.gap_mm", 'heads."fine.2".gap_mm'),
        ("targets.angle_target_arcsec", "target.angle_target_arcsec"),
        ("robots.arm.tool_point_um", "robots.arm.tool_point_target_um"),
        ("shop", "shop."),
        ("banana", "joints.NAME.FIELD"),
        ("", "joints.NAME.FIELD"),
        ("joints..tip_max_mm", "joints."),
    ],
)
def test_an_unknown_path_is_refused_with_the_nearest(text: str, nearest: str) -> None:
    with pytest.raises(StudyError) as refused:
        resolve_field_path(odd_names(), text)
    (fault,) = refused.value.faults
    assert (fault.path, fault.given) == (text, "a path that this study does not have")
    assert nearest in fault.allowed


def test_a_joint_of_several_robots_asks_for_the_robot() -> None:
    with pytest.raises(StudyError, match="joints of 2 robots") as refused:
        resolve_field_path(odd_names(), "joints.joint 1.tip_max_mm")
    for longer in str(refused.value).split("one of ")[1].split(", "):
        assert resolve_field_path(odd_names(), longer).keys[-1] == "tip_max_mm"


@pytest.mark.parametrize("text", ['joints."wrist', 'joints."a"b.c', "head.gap_mm=3"])
def test_quotes_and_signs_out_of_place_are_refused(text: str) -> None:
    with pytest.raises(StudyError):
        resolve_field_path(odd_names(), text)


def test_the_nearest_path_is_found_in_a_large_study() -> None:
    robots = [
        {"name": f"arm {i}", "joints": [joint(f"joint {i} {j}", 40.0) for j in range(10)]}
        for i in range(100)
    ]
    study = load({"robots": robots, "target": {"angle_target_arcsec": 100}})
    with pytest.raises(StudyError, match=r"allowed: joints\.joint 77 3\.tip_max_mm"):
        resolve_field_path(study, "joints.joint 77 3.tip_max")


def test_split_ends_at_an_equals_sign_outside_quotes() -> None:
    assert split_field_path('joints."a=b".x=1,2') == (["joints", "a=b", "x"], "=1,2")


@given(st.lists(st.text(min_size=1), min_size=1, max_size=4))
def test_quoted_segments_come_back(names: list[str]) -> None:
    text = ".".join(json.dumps(name) for name in names)
    assert split_field_path(text + "=5") == (names, "=5")


def test_a_change_is_what_an_edited_file_would_be() -> None:
    data = two_robots()
    study = load(data)
    paths = ["robots.arm.joints.joint 2.tip_max_mm", "shop.modules", "wishes.heads_max"]
    paths.append("shop.tubes")
    tubes = [{"outer_mm": 60.0, "bore_mm": 20.0}]
    values: list[Any] = [77, [1.0, 2.0], None, tubes]
    data["robots"][0]["joints"][1]["tip_max_mm"] = 77
    data["shop"]["modules"] = [1.0, 2.0]
    data["wishes"]["heads_max"] = None
    data["shop"]["tubes"] = tubes
    found = [resolve_field_path(study, path) for path in paths]
    new = edited_study(study, dict(zip(found, values, strict=True)))
    assert new == load(data)
    assert new.fingerprint() == load(data).fingerprint()
    assert [study_value_at(new, path) for path in found] == values
    assert study == load(two_robots()), "the study itself stays"


def test_no_change_is_the_same_study() -> None:
    study = load(two_robots())
    assert edited_study(study, {}) == study
    assert edited_study(study, {}).model_dump_json() == study.model_dump_json()


def test_a_part_that_is_not_given_begins_with_its_field() -> None:
    data = small()
    data["head"] = {"backup_current_ua": 5.0}
    study = load(data)
    path = resolve_field_path(study, "robots.arm.battery.capacity_ah")
    assert study_value_at(study, path) is None
    battery = edited_study(study, {path: 2.5}).robots[0].battery
    assert battery is not None
    assert battery.capacity_ah == 2.5


@pytest.mark.parametrize(
    ("path", "value", "fault"),
    [
        ("joints.joint 2.tip_max_mm", -1, "greater than 0"),
        ("joints.joint 2.tip_max_mm", "wide", "a number in mm or text"),
        ("joints.joint 2.bore_max_mm", None, "a valid number"),
        ("joints.joint 2.tip_max_mm", None, "a value, or one of housing_max_mm"),
        ("joints.joint 2.tip_max_mm", float("inf"), "finite"),
        ("joints.joint 2.tip_max_mm", 30, "more than bore_min_mm"),
        ("joints.joint 2.head", "fine", "a name in heads"),
        ("shop.flank_class", 6.5, "a valid integer"),
        ("robots.arm.battery.capacity_ah", 1, "robots[0].battery needs it"),
        ("robots.arm.battery.usable_share", 0.5, "this field is required"),
    ],
)
def test_a_change_is_checked_like_a_file(path: str, value: Any, fault: str) -> None:
    study = load(small())
    with pytest.raises(StudyError) as refused:
        edited_study(study, {resolve_field_path(study, path): value})
    assert fault in str(refused.value)


@given(
    start=st.integers(-10_000, 10_000),
    count=st.integers(0, 50),
    step=st.integers(-300, 300).filter(bool),
    digits=st.integers(0, 6),
)
def test_a_range_is_counted_in_decimal_and_holds_its_stop(
    start: int, count: int, step: int, digits: int
) -> None:
    unit = Decimal(1).scaleb(-digits)
    first, last, each = start * unit, (start + count * step) * unit, step * unit
    values = parse_sweep_values("x", f"{first:f}:{last:f}:{each:f}")
    # what a study file with the same digits would hold
    assert values == [json.loads(f"{(start + n * step) * unit:f}") for n in range(count + 1)]
    beyond = (start + count * step) * unit + each * Decimal("0.9")
    assert parse_sweep_values("x", f"{first:f}:{beyond:f}:{each:f}") == values, (
        "no step past the stop"
    )


def test_a_range_does_not_drift() -> None:
    assert parse_sweep_values("x", "60:60.5:0.1") == [60, 60.1, 60.2, 60.3, 60.4, 60.5]
    assert 60 + 3 * 0.1 != 60.3 - 1e-14, "and floats would"
    assert parse_sweep_values("x", "0.1:0.3:0.1")[-1] == 0.3 != 0.1 + 0.1 + 0.1
    assert [type(v) for v in parse_sweep_values("x", "5.0:6:0.5")] == [int, float, int]


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("60,61.5", [60, 61.5]),
        ("70:60:-5, 3", [70, 65, 60, 3]),
        ("hob, wire", ["hob", "wire"]),
        ("H7/g6", ["H7/g6"]),
        ("[1],[1,2]", [[1], [1, 2]]),
        ("iso54_i,[1,1.25]", ["iso54_i", [1, 1.25]]),
        ('"a,b:c",null,true', ["a,b:c", None, True]),
        ('{"2":[0,90]}', [{"2": [0, 90]}]),
        ("NaN", ["NaN"]),
        ("1e3,+4,.5,-0", [1000, 4, 0.5, 0]),
    ],
)
def test_values_are_numbers_json_or_text(text: str, values: list[Any]) -> None:
    parsed = parse_sweep_values("x", text)
    assert parsed == values
    assert [type(value) for value in parsed] == [type(value) for value in values]


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "1,,2", "1,", "60:70", "60:70:0", "60:70:-1", "70:60:1", "1:2:3:4", "a:b:c", "1:2:x",
        "nan:1:1", "0:inf:1", "0:1e9:1", "1e300:2e300:1e-5", "0:1:1e-70", "1e999", "[1", '"a', '"a"b:1:2',
        ":::", "1: :2",
    ],
)  # fmt: skip
def test_values_that_are_none_are_refused_by_path(text: str) -> None:
    with pytest.raises(StudyError) as refused:
        parse_sweep_values("head.gap_mm", text)
    assert refused.value.faults[0].path == "head.gap_mm"


def test_too_many_values_are_refused_before_they_are_made() -> None:
    assert len(parse_sweep_values("x", f"1:{VALUES_MAX}:1")) == VALUES_MAX
    with pytest.raises(StudyError, match=f"at most {VALUES_MAX}"):
        parse_sweep_values("x", f"0:{VALUES_MAX}:1")
    with pytest.raises(StudyError):
        parse_sweep_values("x", f"0,1:{VALUES_MAX}:1")


@given(st.text(max_size=30))
def test_any_text_is_values_or_a_fault(text: str) -> None:
    try:
        values = parse_sweep_values("x", text)
    except StudyError:
        return
    assert values


@given(st.text(max_size=30))
def test_any_path_is_a_path_or_a_fault(text: str) -> None:
    try:
        path = resolve_field_path(SMALL, text)
    except StudyError:
        return
    assert resolve_field_path(SMALL, path.text) == path


SMALL = load(small())


def test_a_single_value_may_hold_a_colon() -> None:
    assert parse_sweep_value("x", " a:b ") == "a:b"


def test_changed_reads_like_load_study() -> None:
    study = load_study(json.dumps(small()))
    path = resolve_field_path(study, "target.angle_target_arcsec")
    assert edited_study(study, {path: 150}).target.angle_target_arcsec == 150.0
