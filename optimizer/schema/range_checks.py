"""Faults of the ranges that a study states for its inputs."""

from __future__ import annotations

import json
from collections.abc import Iterator

from pydantic import ConfigDict, JsonValue, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from ringset.errors import Fault, StudyError, shown_in_error
from ringset.schema.assumed_inputs import study_field_at, study_field_info_at, study_range_places
from ringset.schema.base import schema_assumed_value
from ringset.schema.study import Study

#: Most ranges that are told to be wrong: looking for what each path meant takes time.
FAULTS_MAX = 5


def range_faults(study: Study) -> Iterator[Fault]:
    """Yield the first faults of a study's `ranges`: an unknown path, crossed ends, an end not allowed."""
    wrong, taken = 0, dict[tuple[str | int, ...], str]()
    for path, ends in study.ranges.items():
        faults = list(_faults(study, path, ends, taken))
        yield from faults
        wrong += bool(faults)
        if wrong == FAULTS_MAX:
            return


def _faults(
    study: Study, path: str, ends: list[JsonValue], taken: dict[tuple[str | int, ...], str]
) -> Iterator[Fault]:
    """Yield the faults of one range; `taken` holds which path has named which field before."""
    where = f"ranges.{path}"
    try:
        places = study_range_places(study, path)
    except StudyError as error:
        fault = error.faults[0]
        yield Fault(where, f"the path {shown_in_error(path)}, {fault.given}", fault.allowed)
        return
    if "[]" not in path and taken.setdefault(places[0], path) != path:
        yield Fault(where, f"a second range of {taken[places[0]]}", "one range of each field")
    yield from _end_faults(study, path, places[0], ends)


def _end_faults(
    study: Study, path: str, keys: tuple[str | int, ...], ends: list[JsonValue]
) -> Iterator[Fault]:
    info = study_field_info_at(study, keys)
    if info is None:
        yield Fault(
            f"ranges.{path}", "a range in a part that the study does not state", "that part stated"
        )
        return
    wrong = False
    for place, end in enumerate(ends):
        reason = _refusal(info, end)
        if reason is not None:
            yield Fault(f"ranges.{path}[{place}]", shown_in_error(end), reason)
            wrong = True
    low, high = ends
    if not wrong and _number(low) and _number(high) and low > high:  # type: ignore[operator]
        given = f"{shown_in_error(low)} to {shown_in_error(high)}"
        yield Fault(f"ranges.{path}", given, "the lower end first")
        wrong = True
    used = study_field_at(study, keys)
    used = schema_assumed_value(info) if used is None else used
    held = not all(map(_number, (low, high, used))) or low <= used <= high  # type: ignore[operator]
    if not wrong and not held:
        given = f"{shown_in_error(low)} to {shown_in_error(high)}"
        yield Fault(f"ranges.{path}", given, f"a range that holds {used:g}, the value in use")


def _number(value: JsonValue) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _refusal(info: FieldInfo, value: JsonValue) -> str | None:
    """Return what a field allows if it refuses a value, None if it takes it."""
    adapter: TypeAdapter[object] = TypeAdapter(
        info.rebuild_annotation(), config=ConfigDict(strict=True, allow_inf_nan=False)
    )
    try:
        adapter.validate_json(json.dumps(value))
    except ValidationError as error:
        message = error.errors(include_url=False)[0]["msg"]
        return message.removeprefix("Input should be ").removeprefix("Value should be ")
    return None
