"""Bad studies are refused with every fault named by path, what was given and what is allowed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ringset import errors
from ringset.errors import StudyError
from ringset.schema import cross_checks, loading
from ringset.schema.cross_checks import cross_faults
from ringset.schema.loading import load_study
from tests.support.places import DATA
from tests.support.studies import Json, small, two_robots

FOLDER = DATA / "bad_studies"
FILES = sorted(FOLDER.glob("*.json"))
ROBOT, JOINT = "robots[0]", "robots[0].joints[0]"

#: Per file every fault in order: path, start of what was given, part of what is allowed.
EXPECTED: dict[str, list[tuple[str, str, str]]] = {
    # not JSON, or not the JSON of a study
    "cut_off": [("study", "text that is not JSON", "JSON (")],
    "empty": [("study", "text that is not JSON", "Expecting value: line 1 column 1")],
    "latin_1": [("study", "text that is not JSON", "'utf-8' codec")],
    "list": [("study", '[{"robots": ', "an object")],
    "nested_3000_deep": [("study", "nesting too deep", "the fields of a study")],
    "nested_300_deep": [("study", "text that cannot be read", "recursion limit")],
    "not_json": [("study", "text that is not JSON", "Expecting value: line 1 column 1")],
    "null": [("study", "null", "an object")],
    "number": [("study", "42", "an object")],
    "duplicate_key": [(f"{JOINT}.tip_max_mm", "the field 2 times", "each field once")],
    # fields that are missing, too many or of the wrong kind
    "missing_bore": [(f"{JOINT}.bore_min_mm", "nothing", "this field is required")],
    "missing_target": [("target", "nothing", "this field is required")],
    "unknown_field": [(f"{JOINT}.bore_mm", "an unknown field", "the fields of the schema")],
    "unknown_field_on_top": [("robot", "an unknown field", "the fields of the schema")],
    "string_for_number": [(f"{JOINT}.bore_min_mm", '"40"', "a number in mm or text with a unit")],
    "true_for_number": [(f"{JOINT}.bore_min_mm", "true", "a valid number")],
    "true_for_count": [(f"{ROBOT}.count", "true", "a valid integer")],
    "fraction_for_count": [(f"{ROBOT}.count", "1.5", "a valid integer")],
    # numbers out of range
    "nan": [(f"{JOINT}.tip_max_mm", "NaN", "a finite number")],
    "infinity": [(f"{JOINT}.tip_max_mm", "-Infinity", "a finite number")],
    "too_large_for_a_float": [(f"{JOINT}.tip_max_mm", "Infinity", "a finite number")],
    "huge_integer": [(f"{JOINT}.tip_max_mm", "1000000", "less than or equal to 5000")],
    "integer_of_5000_digits": [("study", "a number too long", "finite numbers")],
    "repeatability_of_nothing": [
        (f"{JOINT}.repeatability_target_arcsec", "-1", "greater than 0"),
        (f"{ROBOT}.tool_point_repeatability_target_um", "0", "greater than 0"),
        ("target.repeatability_target_arcsec", "0", "greater than 0"),
    ],
    "repeatability_not_finite": [
        ("target.repeatability_target_arcsec", "Infinity", "a finite number")
    ],
    "negative_bore": [(f"{JOINT}.bore_min_mm", "-40", "greater than 0")],
    "zero_tip": [(f"{JOINT}.tip_max_mm", "0", "greater than 0")],
    "count_of_zero": [(f"{ROBOT}.count", "0", "greater than or equal to 1")],
    "head_count_nine": [(f"{JOINT}.head_counts[0]", "9", "less than or equal to 8")],
    # names and lists
    "blank_name": [(f"{ROBOT}.name", '" "', "")],
    "name_with_a_line_break": [(f"{ROBOT}.name", '"arm\\nleg"', "")],
    "no_joints": [(f"{ROBOT}.joints", "[]", "at least 1 item")],
    "empty_order": [("wishes.order", "[]", "at least 1 item")],
    "repeated_robot": [("robots", '2 times the name "arm"', "each name once")],
    "repeated_joint": [(f"{ROBOT}.joints", '2 times the name "base"', "each name once")],
    "repeated_wish": [("wishes.order", '2 times "heads"', "each value once")],
    "repeated_module": [("shop.modules", "2 times 1.0", "each value once")],
    "repeated_head_count": [(f"{JOINT}.head_counts", "2 times 2", "each value once")],
    # choices
    "wrong_basis": [("target.basis", '"typical"', "'expanded' or 'worst_case'")],
    "wrong_cutting": [
        ("shop.cutting", '"laser"', "'hob', 'disc_8', 'disc_15', 'disc_special' or 'wire'")
    ],
    "wrong_set_by": [(f"{JOINT}.set_by", '"hub"', "'bore' or 'tips'")],
    "wrong_rule": [(f"{ROBOT}.tool_point_rule", '"max"', "'rss' or 'sum'")],
    "wrong_schema_version": [("schema_version", "2", "1")],
    "wrong_wish": [("wishes.order[1]", '"price"', "'cutters', 'ring_parts', 'heads'")],
    # fields that do not agree
    "crossed_bore": [(f"{JOINT}.bore_max_mm", "46", "at least bore_min_mm = 47")],
    "crossed_tip": [(f"{JOINT}.tip_max_mm", "70", "at least tip_min_mm = 71")],
    "tip_inside_bore": [(f"{JOINT}.tip_max_mm", "40", "more than bore_min_mm = 40")],
    "crossed_modules": [("head.module_max_mm", "2", "at least module_min_mm = 3")],
    "crossed_teeth": [("head.teeth_max", "512", "at least teeth_min = 600")],
    "crossed_rim": [("shop.rim_max_mm", "5", "at least rim_min_mm = 6")],
    "fit_and_offset": [(f"{JOINT}.seat_offset_um", "10 beside seat_fit", "one of the two")],
    "fit_and_reading": [(f"{JOINT}.seat_tir_um", "20 beside seat_fit", "one of the two")],
    "fit_and_set_by": [(f"{JOINT}.set_by", "bore beside seat_fit", "a fit centres the ring")],
    "reading_and_offset": [
        (f"{JOINT}.seat_tir_um", "30 beside seat_offset_um 15", "the reading is twice the offset")
    ],
    "bad_fit": [(f"{JOINT}.seat_fit", '"H7-g6"', "hole/shaft")],
    "unknown_fit_grade": [(f"{JOINT}.seat_fit", '"H99/g6"', "3, 4, 5")],
    "unknown_head": [(f"{JOINT}.head", '"small"', "a name in heads (none is given")],
    "narrow_face": [(f"{JOINT}.face_width_mm", "5", "active_width_mm = 6")],
    "gap_closes": [("head.gap_tolerance_mm", "0.4", "less than gap_mm = 0.4")],
    "undercut": [("head.teeth_min", "18", "at least 25.6")],
    "tool_point_without_reach": [
        (f"{ROBOT}.tool_point_target_um", "100 with no joint", "reach_mm above 0")
    ],
    "repeatability_without_reach": [
        (f"{ROBOT}.tool_point_repeatability_target_um", "20 with no joint", "reach_mm above 0")
    ],
    "angles_for_no_count": [
        (f"{JOINT}.head_angles_deg.2", "angles for 2 heads", "a count in head_counts [1]")
    ],
    "too_few_angles": [(f"{JOINT}.head_angles_deg.2", "1 angles", "2 angles")],
    "heads_at_one_place": [(f"{JOINT}.head_angles_deg.2", "2 times 0", "each value once")],
    "more_bits_than_displayed": [("target.resolution_bits", "25", "position_bits = 24")],
    "counter_without_battery": [
        (f"{ROBOT}.battery", "nothing", f"a value ({JOINT}.absolute counter needs it)"),
        ("head.backup_polling_ms", "nothing", "absolute counter needs it"),
        ("head.backup_counter_bits", "nothing", "absolute counter needs it"),
        (f"{JOINT}.unpowered_speed_rpm", "nothing", "absolute counter needs it"),
    ],
    "absolute_without_second_ring": [
        (f"{JOINT}.second_ring", "false", "true"),
        (f"{JOINT}.turns_range", "2", "at most 1 for absolute second_ring"),
    ],
    # several at once
    "four_faults_in_fields": [
        (f"{JOINT}.bore_min_mm", "-1", "greater than 0"),
        (f"{JOINT}.tip_max_mm", '"70"', "a number in mm or text with a unit"),
        (f"{JOINT}.colour", "an unknown field", "the fields of the schema"),
        ("target.angle_target_arcsec", "nothing", "this field is required"),
    ],
    "four_faults_between_fields": [
        ("head.gap_tolerance_mm", "1", "less than gap_mm = 0.4"),
        (f"{ROBOT}.tool_point_target_um", "10 with no joint", "reach_mm above 0"),
        (f"{JOINT}.bore_max_mm", "46", "at least bore_min_mm = 50"),
        (f"{JOINT}.face_width_mm", "5", "active_width_mm = 6"),
    ],
}

#: A field that takes either a name or a list: one fault each, at the field's own path.
EITHER = {
    "negative_module": ("shop.modules", "-1"),
    "unknown_series": ("shop.modules", '"whitworth"'),
}


def faults_of(text: str | bytes) -> tuple[errors.Fault, ...]:
    with pytest.raises(StudyError) as caught:
        load_study(text)
    return caught.value.faults


def test_every_file_is_expected_and_every_expectation_has_its_file() -> None:
    assert len(FILES) >= 50
    assert {file.stem for file in FILES} == set(EXPECTED) | set(EITHER)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_fault_has_path_given_and_allowed(file: Path) -> None:
    for fault in faults_of(file.read_bytes()):
        assert fault.path
        assert fault.given
        assert fault.allowed
        assert str(fault) == f"{fault.path}: given {fault.given}; allowed: {fault.allowed}"
        assert len(str(fault)) < 400
        assert "\n" not in str(fault)


@pytest.mark.parametrize("name", EXPECTED)
def test_the_faults_are_those_of_the_file_and_no_more(name: str) -> None:
    faults = faults_of((FOLDER / f"{name}.json").read_bytes())
    assert [fault.path for fault in faults] == [path for path, _, _ in EXPECTED[name]]
    for fault, (_, given, allowed) in zip(faults, EXPECTED[name], strict=True):
        assert fault.given.startswith(given)
        assert allowed in fault.allowed


@pytest.mark.parametrize("name", EITHER)
def test_a_field_of_two_kinds_gives_one_fault(name: str) -> None:
    path, given = EITHER[name]
    faults = faults_of((FOLDER / f"{name}.json").read_bytes())
    assert len(faults) == 1
    assert faults[0].path.startswith(path)
    assert "constrained" not in faults[0].path
    assert given in faults[0].given


def test_the_text_of_the_error_has_a_line_per_fault() -> None:
    text = (FOLDER / "four_faults_in_fields.json").read_text()
    with pytest.raises(StudyError) as caught:
        load_study(text)
    assert str(caught.value).splitlines() == [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize("data", [small(), two_robots()])
def test_a_good_study_loads_from_text_and_bytes_alike(data: Json) -> None:
    text = json.dumps(data)
    assert load_study(text) == load_study(text.encode())
    assert list(cross_faults(load_study(text))) == []


def test_a_study_of_ten_lines_works() -> None:
    text = """{"robots": [{"name": "arm", "joints": [
      {"name": "base", "bore_min_mm": 90, "bore_max_mm": 98, "tip_max_mm": 124},
      {"name": "wrist", "bore_min_mm": 40, "bore_max_mm": 48, "tip_max_mm": 74}]}],
      "target": {"angle_target_arcsec": 200}}"""
    study = load_study(text)
    assert [joint.name for joint in study.robots[0].joints] == ["base", "wrist"]
    assert study.wishes.order == ["cutters", "ring_parts", "heads", "material"]


def test_a_text_beyond_the_limit_is_refused_before_it_is_parsed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(loading, "STUDY_BYTES_MAX", 100)
    (fault,) = faults_of("[" * 101)
    assert (fault.path, fault.given, fault.allowed) == ("study", "101 bytes", "at most 100 bytes")


def test_so_few_teeth_that_they_do_not_show_the_lobes_of_clamping_are_refused() -> None:
    data = small()
    data["shop"]["clamp_jaws"] = 24
    (fault,) = faults_of(json.dumps(data))
    assert str(fault) == (
        "head.teeth_min: given 32; allowed: at least 2 x shop.clamp_jaws = 48 (teeth must show the lobes)"
    )


def test_of_many_paths_that_lead_nowhere_the_first_five_are_named() -> None:
    names = [f"shop.nothing{number}" for number in range(9)]
    faults = faults_of(json.dumps(small() | {"fixed": names}))
    assert [fault.path for fault in faults] == [f"fixed[{number}]" for number in range(5)]
    faults = faults_of(json.dumps(small() | {"ranges": {name: [1, 2] for name in names}}))
    assert len(faults) == 5
    assert all(fault.path.startswith("ranges") for fault in faults)


def test_too_many_joints_in_all_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cross_checks, "JOINTS_MAX", 3)
    (fault,) = faults_of(json.dumps(two_robots()))
    assert (fault.path, fault.given, fault.allowed) == ("robots", "4 joints in all", "at most 3")


@pytest.mark.parametrize("name", ["\ud800", "a\ud800b"])
def test_half_a_surrogate_pair_is_refused_not_carried_along(name: str) -> None:
    data = small()
    data["robots"][0]["name"] = name
    for fault in faults_of(json.dumps(data)):
        fault.path.encode()
        str(fault).encode()
