"""From JSON text to a checked study: every fault named by field, what was given, what is allowed."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from ringset.errors import Fault, StudyError, shown_in_error
from ringset.schema.answer import Answer
from ringset.schema.cross_checks import study_faults
from ringset.schema.equipment import BRANCHES, NAME_PATTERN
from ringset.schema.gives import AIM_PATTERN
from ringset.schema.part_numbers import (
    PART_NAME_PATTERN,
    PART_NAME_WORDS,
    PREFIX_PATTERN,
    PREFIX_WORDS,
)
from ringset.schema.study import Study

#: Largest text read, in bytes.
STUDY_BYTES_MAX = 20_000_000

#: What the patterns of texts say to people.
_PATTERNS = {
    AIM_PATTERN: "one of the wishes, or a sum of two with their weights",
    PART_NAME_PATTERN: PART_NAME_WORDS,
    PREFIX_PATTERN: PREFIX_WORDS,
    "^[1-8]$": "one digit, 1 to 8",
    "^[0-9a-f]{64}$": "64 digits of 0 to 9 and a to f",
    NAME_PATTERN: "text that begins with a letter or digit or sign other than = + - @, without line breaks",
}

Model = TypeVar("Model", bound=BaseModel)


def load_study(text: str | bytes) -> Study:
    """Return the study in JSON `text`; raises StudyError with all faults of the first kind found.

    First the text must be JSON, then every field must have its type and range, then fields must
    agree with each other.
    """
    study = load_model(Study, text)
    if faults := study_faults(study):
        raise StudyError(faults)
    return study


def load_answer(text: str | bytes) -> Answer:
    """Return the answer in JSON `text`; raises StudyError with every field that is wrong."""
    return load_model(Answer, text)


def load_model(kind: type[Model], text: str | bytes) -> Model:
    """Return the model of `kind` in JSON `text`; raises StudyError with every field that is wrong."""
    text = _without_mark(text)
    _refuse_bad_json(text)
    try:
        return kind.model_validate_json(text)
    except ValidationError as error:
        raise StudyError(
            field_fault(detail) for detail in error.errors(include_url=False)
        ) from None


def _without_mark(text: str | bytes) -> str | bytes:
    """Return the text without the byte-order mark that some editors put before UTF-8."""
    if isinstance(text, bytes):
        return text.removeprefix(b"\xef\xbb\xbf")
    return text.removeprefix("\ufeff")


def _refuse_bad_json(text: str | bytes) -> None:
    """Refuse what JSON parsers let pass or word badly: size, duplicate keys, NaN, deep nesting."""
    if len(text) > STUDY_BYTES_MAX:
        raise StudyError([Fault("study", f"{len(text)} bytes", f"at most {STUDY_BYTES_MAX} bytes")])
    try:
        tree = json.loads(text, object_pairs_hook=_Members)
    except (json.JSONDecodeError, UnicodeDecodeError) as error:
        raise StudyError([Fault("study", "text that is not JSON", f"JSON ({error})")]) from None
    except RecursionError:
        raise StudyError([Fault("study", "nesting too deep", "the fields of a study")]) from None
    except ValueError as error:
        raise StudyError(
            [Fault("study", "a number too long", f"finite numbers ({error})")]
        ) from None
    faults = list(_repeated_fields(tree, ""))
    if faults:
        raise StudyError(faults)


class _Members(dict[str, Any]):
    """The members of a JSON object that remembers how often those were given that came twice."""

    def __init__(self, items: list[tuple[str, Any]]) -> None:
        super().__init__(items)
        self.times = {} if len(items) == len(self) else Counter(key for key, _ in items)


def _repeated_fields(value: Any, path: str) -> Iterator[Fault]:
    if isinstance(value, _Members):
        for key, member in value.items():
            here = f"{path}.{key}" if path else key
            if value.times.get(key, 1) > 1:
                yield Fault(here, f"the field {value.times[key]} times", "each field once")
            yield from _repeated_fields(member, here)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _repeated_fields(item, f"{path}[{index}]")


def field_fault(detail: ErrorDetails) -> Fault:
    """Return what pydantic says of one field as a fault: path, given, allowed."""
    path = ""
    for part in detail["loc"]:
        if part in BRANCHES or part == "[key]":
            continue
        path += f"[{part}]" if isinstance(part, int) else f".{part}" if path else str(part)
    kind, message = detail["type"], detail["msg"]
    if kind == "json_invalid":
        return Fault("study", "text that cannot be read", f"JSON in UTF-8 ({message})")
    if kind == "missing":
        return Fault(path, "nothing", "this field is required")
    if kind == "extra_forbidden":
        return Fault(path, "an unknown field", "only the fields of the schema")
    if kind == "string_pattern_mismatch":
        allowed = _PATTERNS.get(detail["ctx"]["pattern"], "text without line breaks")
        return Fault(path, shown_in_error(detail["input"]), allowed)
    if kind in ("too_short", "too_long"):
        side = "min" if kind == "too_short" else "max"
        most = detail["ctx"][f"{side}_length"]
        allowed = f"at {'least' if side == 'min' else 'most'} {most} item{'s' * (most != 1)}"
        return Fault(path, shown_in_error(detail["input"]), allowed)
    allowed = message.removeprefix("Input should be ").removeprefix("Value should be ")
    return Fault(path or "study", shown_in_error(detail["input"]), allowed)
