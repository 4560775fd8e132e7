"""Fields of length take text with a unit, wherever they stand; what has been read holds numbers."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from pydantic import BaseModel

from ringset.errors import Fault, StudyError
from ringset.schema.editing import edited_study
from ringset.schema.field_docs import PLACES, schema_json
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.length_texts import length_field_unit
from ringset.schema.loading import load_study
from ringset.schema.shop_parts import Tube
from ringset.schema.study import Study
from tests.support.studies import Json, load, small

LENGTHS = [
    (model, name)
    for _, model in PLACES
    for name in model.model_fields
    if length_field_unit(name) is not None
]


def faults(data: Json) -> tuple[Fault, ...]:
    with pytest.raises(StudyError) as caught:
        load(data)
    return caught.value.faults


def numbers(schema: Any) -> Iterator[dict[str, Any]]:
    """Yield every place of a JSON Schema where a number may stand, with the choices beside it."""
    if isinstance(schema, dict):
        options = schema.get("anyOf", [schema])
        if any(isinstance(one, dict) and one.get("type") == "number" for one in options):
            yield schema
        else:
            for value in schema.values():
                yield from numbers(value)
    elif isinstance(schema, list):
        for value in schema:
            yield from numbers(value)


def test_there_are_such_fields_in_every_part() -> None:
    assert len(LENGTHS) > 35
    assert {model.__name__ for model, _ in LENGTHS} >= {"Joint", "Head", "Shop", "Tube", "Robot"}


@pytest.mark.parametrize(
    ("model", "field"), LENGTHS, ids=lambda value: getattr(value, "__name__", value)
)
def test_the_schema_says_that_every_field_of_length_takes_text(
    model: type[BaseModel], field: str
) -> None:
    places = list(numbers(model.model_json_schema()["properties"][field]))
    assert places
    for place in places:
        assert [one["type"] for one in place["anyOf"] if one["type"] != "null"][:2] == [
            "number",
            "string",
        ]


def test_fields_that_are_no_lengths_take_no_text() -> None:
    data = small()
    data["robots"][0]["joints"][0]["speed_max_rpm"] = "2.5 in"
    (fault,) = faults(data)
    assert fault.allowed == "a valid number"
    assert "in_mm" not in json.loads(schema_json())


def test_a_study_in_inches_is_the_study_in_mm() -> None:
    inches, plain = small(), small()
    inches["robots"][0]["joints"][0].update(
        bore_min_mm="2 1/2 in", bore_max_mm="70 mm", tip_max_mm="3.7 in", seat_offset_um="0.001 in"
    )
    plain["robots"][0]["joints"][0].update(
        bore_min_mm=63.5, bore_max_mm=70.0, tip_max_mm=93.98, seat_offset_um=25.4
    )
    inches["head"] = {"module_min_mm": "32 DP", "gap_mm": "400 um"}
    plain["head"] = {"module_min_mm": 0.79375, "gap_mm": 0.4}
    inches["shop"].update(bars_mm=["4 in", 120], tubes=[{"outer_mm": "4 in", "bore_mm": "2in"}])
    plain["shop"].update(bars_mm=[101.6, 120], tubes=[{"outer_mm": 101.6, "bore_mm": 50.8}])
    inches["ranges"] = {"head.gap_tolerance_mm": ["0.001 in", 0.1]}
    plain["ranges"] = {"head.gap_tolerance_mm": [0.0254, 0.1]}
    assert load(inches) == load(plain)
    assert load(inches).fingerprint() == load(plain).fingerprint()
    assert "in" not in load(inches).model_dump_json().replace("min", "").replace("joint", "").split(
        '"'
    )


def test_python_takes_what_json_takes() -> None:
    assert Tube(outer_mm="4 in", bore_mm="50 mm") == Tube(outer_mm=101.6, bore_mm=50.0)  # type: ignore[arg-type]


def test_an_edit_by_path_takes_text() -> None:
    study = load(small())
    path = resolve_field_path(study, "joints.joint 1.tip_max_mm")
    assert edited_study(study, {path: "4 in"}).robots[0].joints[0].tip_max_mm == 101.6


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ("63.5", "no length with its unit"),
        ("", "no length with its unit"),
        ("in", "no length with its unit"),
        ("2.5 ft", "no length with its unit"),
        ("2.5 m", "no length with its unit"),
        ("2.5 IN", "no length with its unit"),
        ("2,5 in", "no length with its unit"),
        ("1e2 mm", "no length with its unit"),
        (" 2.5 in", "no length with its unit"),
        ("2.5 in\n", "no length with its unit"),
        ("1//2 in", "no length with its unit"),
        ("1/2/3 in", "no length with its unit"),
        ("2.5/2 in", "no length with its unit"),
        ("9" * 50 + " mm", "no length with its unit"),
        ("1/0 in", "a fraction over nothing"),
        ("2 1/0 in", "a fraction over nothing"),
        ("2 5/4 in", "a fraction behind a whole number that is not below 1"),
        ("2 in CP", "no length with its unit"),
        ("16 DP", "no length with its unit"),
    ],
)
def test_other_text_is_refused_by_name(given: str, why: str) -> None:
    data = small()
    data["robots"][0]["joints"][0]["tip_min_mm"] = given
    data["shop"]["bars_mm"] = [100.0, given]
    first, second = faults(data)
    assert (first.path, second.path) == ("robots[0].joints[0].tip_min_mm", "shop.bars_mm[1]")
    for fault in (first, second):
        assert fault.given.startswith(json.dumps(given)[:20])
        assert fault.allowed == (
            f'a number in mm or text with a unit, mm, um or in, such as "2.5 in" ({why})'
        )


@pytest.mark.parametrize(
    ("given", "allowed"),
    [
        ("-1 in", "greater than 0 mm"),
        ("0 in", "greater than 0 mm"),
        ("200 in", "less than or equal to 5000 mm"),
    ],
)
def test_the_range_of_a_field_holds_for_text_and_the_text_is_shown(
    given: str, allowed: str
) -> None:
    data = small()
    data["robots"][0]["joints"][0]["tip_max_mm"] = given
    (fault,) = faults(data)
    assert (fault.given, fault.allowed) == (json.dumps(given), allowed)


def test_a_range_with_an_end_that_is_no_length_is_refused() -> None:
    data = small()
    data["ranges"] = {"head.gap_tolerance_mm": ["1 ft", 0.1]}
    (fault,) = faults(data)
    assert fault.path == "ranges.head.gap_tolerance_mm[0]"
    assert fault.given == '"1 ft"'


# -- pitches ----------------------------------------------------------------------------------------------


def shop(modules: Any) -> Json:
    data = small()
    data["shop"]["modules"] = modules
    return data


def test_pitches_keep_their_names_and_stand_in_order_of_their_modules() -> None:
    study = load(shop(["0.25 in CP", "16DP", 1, "5mm  CP"]))
    assert study.canonical().shop.modules == [1.0, "16 DP", "5 mm CP", "0.25 in CP"]
    assert study.shop.modules_mm() == sorted(study.shop.modules_mm())
    assert study.shop.pitch_name(1.5875) == "16 DP"
    assert study.shop.pitch_name(1.0) is None
    assert load(shop("din780_i")).shop.pitch_name(1.0) is None
    again = load_study(study.model_dump_json())
    assert (again, again.fingerprint()) == (study, study.fingerprint())


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ("16", "no diametral or circular pitch"),
        ("DP", "no diametral or circular pitch"),
        ("16 dp", "no diametral or circular pitch"),
        ("0.25 CP", "no diametral or circular pitch"),
        ("1.5 mm", "no diametral or circular pitch"),
        ("-16 DP", "no diametral or circular pitch"),
        ("0 DP", "a pitch of nothing"),
        ("1/0 DP", "a fraction over nothing"),
        ("0.2 DP", "this is 127 mm"),
        ("0 in CP", "this is 0 mm"),
    ],
)
def test_other_text_among_modules_is_refused_by_name(given: str, why: str) -> None:
    (fault,) = faults(shop([1.0, given]))
    assert (fault.path, fault.given) == ("shop.modules[1]", json.dumps(given))
    assert fault.allowed.startswith("a module in mm, or the pitch of a cutter, such as")
    assert why in fault.allowed


@pytest.mark.parametrize("twice", [["16 DP", "16DP"], ["16 DP", 1.5875], ["8 DP", "16/2 DP"]])
def test_a_module_by_two_names_is_refused(twice: list[float | str]) -> None:
    (fault,) = faults(shop(twice))
    assert fault.path == "shop.modules"
    assert fault.allowed in ("each module once", "each value once")


def test_a_pitch_is_no_module_of_a_head_in_lengths_alone() -> None:
    data = small()
    data["head"] = {"module_max_mm": "12 DP", "gap_mm": "12 DP"}
    (fault,) = faults(data)
    assert fault.path == "head.gap_mm"
    del data["head"]["gap_mm"]
    assert isinstance(load(data), Study)
    assert load(data).head.module_max_mm == 25.4 / 12
