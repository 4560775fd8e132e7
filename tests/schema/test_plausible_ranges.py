"""Every default that is assumed has a plausible range with a reason, of values that a study may state."""

from __future__ import annotations

import json
import re
from typing import Annotated, Any

import pytest
from pydantic import BaseModel, JsonValue, TypeAdapter
from pydantic.fields import FieldInfo

from ringset.schema.assumed_inputs import assumed_inputs
from ringset.schema.base import schema_assumed_range, schema_assumed_value
from ringset.schema.field_docs import PLACES, field_facts, field_list
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from tests.support.studies import joint, load

ASSUMED: dict[str, FieldInfo] = {
    place + name: info
    for place, model in PLACES
    for name, info in model.model_fields.items()
    if schema_assumed_range(info) is not None
}


def with_field(path: str, value: JsonValue) -> dict[str, Any]:
    """Return a study that states nothing that is assumed but one field."""
    place, name = path.rsplit(".", 1)
    arm: dict[str, Any] = {
        "name": "arm", "battery": {"capacity_ah": 2.0}, "line": {},
        "joints": [{"name": "one", "bore_min_mm": 60.0, "bore_max_mm": 70.0, "tip_max_mm": 110.0}],
    }  # fmt: skip
    data: dict[str, Any] = {
        "robots": [arm], "head": {"backup_current_ua": 20.0}, "shop": {},
        "target": {"angle_target_arcsec": 200.0},
    }  # fmt: skip
    parts = {
        "robots[].joints[]": arm["joints"][0], "robots[].battery": arm["battery"],
        "robots[].line": arm["line"], "head. or heads.NAME": data["head"], "shop": data["shop"],
        "target": data["target"],
    }  # fmt: skip
    parts[place][name] = value
    return data


def as_typed(info: FieldInfo, value: JsonValue) -> object:
    """Return a value as the field takes it; raise where it does not."""
    kind: Any = info.annotation
    for limit in info.metadata:
        kind = Annotated[kind, limit]
    return TypeAdapter(kind).validate_python(value, strict=True)


@pytest.mark.parametrize("path", ASSUMED)
def test_both_ends_are_allowed_and_hold_the_default(path: str) -> None:
    info = ASSUMED[path]
    plausible, default = schema_assumed_range(info), schema_assumed_value(info)
    assert plausible is not None
    assert default is not None
    if info.default is not None:
        assert default == info.default
    for end in (plausible.low, plausible.high):
        assert type(end) is type(default), "in the field's own type"
        assert as_typed(info, end) == end
    assert plausible.low != plausible.high
    if isinstance(default, int | float):
        assert isinstance(plausible.low, int | float)
        assert isinstance(plausible.high, int | float)
        assert plausible.low <= default <= plausible.high


@pytest.mark.parametrize("path", ASSUMED)
def test_either_end_alone_makes_a_study(path: str) -> None:
    """What else a study leaves at its default agrees with either end of a range."""
    plausible = schema_assumed_range(ASSUMED[path])
    assert plausible is not None
    for end in (plausible.low, plausible.high):
        load_study(json.dumps(with_field(path, end)))


@pytest.mark.parametrize("path", ASSUMED)
def test_the_reason_is_one_plain_sentence(path: str) -> None:
    plausible = schema_assumed_range(ASSUMED[path])
    assert plausible is not None
    assert re.fullmatch(r"[A-Z0-9].{20,250}\.", plausible.because)


def test_a_default_that_calls_itself_assumed_has_a_range_and_the_other_way_round() -> None:
    said = {
        place + name
        for place, model in PLACES
        for name, info in model.model_fields.items()
        if re.search(r"\bassumed\b", info.description or "", re.IGNORECASE)
    }
    assert said == set(ASSUMED)
    assert len(said) > 60


def test_facts_and_list_show_the_range() -> None:
    facts = {fact.place + fact.name: fact for fact in field_facts()}
    assert {path for path, fact in facts.items() if fact.assumed} == set(ASSUMED)
    gap = facts["head. or heads.NAME.gap_mm"]
    assert (gap.plausible_low, gap.plausible_high) == (0.2, 0.8)
    assert gap.because
    bore = facts["robots[].joints[].bore_min_mm"]
    assert (bore.plausible_low, bore.plausible_high, bore.because) == (None, None, "")
    text = " ".join(field_list().split())
    assert "Plausible: from 0.2 to 0.8. " + gap.because in text
    assert 'Plausible: "c45" or "x5crni18_10" instead. Housings' in text
    assert all(" ".join(fact.because.split()) in text for fact in facts.values())


def _all_models(study: Study) -> list[BaseModel]:
    robots = [part for robot in study.robots for part in (robot.battery, robot.line, *robot.joints)]
    parts = [study.head, study.shop, study.target, *study.heads.values(), *robots]
    return [part for part in parts if part is not None]


def assumed_paths(study: Study) -> set[str]:
    return {one.path for one in assumed_inputs(study)}


def test_the_assumed_defaults_of_a_study_are_those_it_does_not_state() -> None:
    """One that is stated leaves the list; a fit states the offset; battery and line count where they are."""
    plain = load_study(json.dumps(with_field("head. or heads.NAME.gap_mm", 0.4)))
    names = assumed_paths(plain)
    assert "head.gap_mm" not in names
    assert "head.gap_tolerance_mm" in names
    assert {
        "joints[].seat_offset_um",
        "robots[].battery.usable_share",
        "robots[].line.cable_m",
    } <= names
    count = sum(
        1
        for part in _all_models(plain)
        for name, info in type(part).model_fields.items()
        if schema_assumed_range(info) is not None and name not in part.model_fields_set
    )
    assert len(names) == count
    fitted = load(
        {"robots": [{"name": "arm", "joints": [joint("one", 40.0, seat_fit="H7/g6")]}]}
        | {"target": {"angle_target_arcsec": 200.0}}
    )
    assert not {
        "joints[].seat_offset_um",
        "joints[].set_by",
        "robots[].battery.usable_share",
    } & assumed_paths(fitted)
