"""Lengths as text with their unit: how every field whose name ends in _mm or _um reads "2.5 in".

A number alone is in the unit that the field's name ends with; a text states its unit. What has been read
holds numbers only, in the unit of the field: "2.5 in" states the same study as 63.5. Fields of modules read
the pitch of a cutter as well, such as "16 DP".
"""

from __future__ import annotations

from typing import Any

from pydantic_core import (
    CoreSchema,
    PydanticCustomError,
    SchemaValidator,
    ValidationError,
    core_schema,
)

from ringset.standards.exact_text import LENGTH_PATTERN, exact_standard_length
from ringset.standards.pitches import PITCH_PATTERN, standard_pitch_module_mm

#: Ends of the names of fields that are lengths, with the unit of a number alone.
LENGTH_ENDS = {"_mm": "mm", "_um": "um"}
#: Beginning of the names of fields that are modules.
MODULE_START = "module_"


def length_field_unit(field: str) -> str | None:
    """Return the unit of a number alone in a field of this name; None where the field is no length."""
    return next((unit for end, unit in LENGTH_ENDS.items() if field.endswith(end)), None)


def length_field_value(field: str, text: str) -> float:
    """Return what a text means in a field of length, in the unit of the field, as the nearest float64.

    ValueError where the text states no length with its unit.

    >>> length_field_value("bore_min_mm", "2.5 in"), length_field_value("module_min_mm", "16 DP")
    (63.5, 1.5875)
    """
    if field.startswith(MODULE_START) and text.endswith(("DP", "CP")):
        return standard_pitch_module_mm(text)
    return float(exact_standard_length(text, length_field_unit(field) or "mm"))


def length_field_allowed(field: str) -> str:
    """Return what a field of length takes, for a message."""
    pitch = ' or the pitch of a cutter, such as "16 DP",' if field.startswith(MODULE_START) else ""
    unit = length_field_unit(field)
    return f'a number in {unit}{pitch} or text with a unit, mm, um or in, such as "2.5 in"'


def with_length_texts(model: CoreSchema) -> CoreSchema:
    """Return the schema of a model with its fields of length taking texts too, alone and in lists."""
    inner: Any = model
    while "fields" not in inner:
        if "schema" not in inner:
            return model  # a reference: the model it means has been through here by itself
        inner = inner["schema"]
    for name, field in inner["fields"].items():
        if length_field_unit(name) is not None:
            field["schema"] = _with_texts(field["schema"], name)
    return model


def _with_texts(schema: Any, field: str) -> Any:
    """Return the schema of a field in which every number may be a text."""
    if schema["type"] == "float":
        return _number_or_text(schema, field)
    changed = dict(schema)
    for key in ("schema", "items_schema"):
        if key in changed:
            changed[key] = _with_texts(changed[key], field)
    return changed


def _number_or_text(number: Any, field: str) -> CoreSchema:
    """Return the schema of a number that may be a text; its range holds for both.

    The range of a text is checked here already, so that a message shows the text and not its number.
    """
    in_range = SchemaValidator(number)
    unit, allowed = length_field_unit(field), length_field_allowed(field)

    def read(value: object) -> object:
        if not isinstance(value, str):
            return value
        try:
            return in_range.validate_python(length_field_value(field, value))
        except ValidationError as error:
            raise PydanticCustomError("length_range", _in_unit(error, unit)) from None
        except ValueError as error:
            raise PydanticCustomError("length_text", f"{allowed} ({error})") from None

    patterns = [LENGTH_PATTERN, *([PITCH_PATTERN] if field.startswith(MODULE_START) else [])]
    shown = core_schema.union_schema(
        [number, *(core_schema.str_schema(pattern=pattern) for pattern in patterns)]
    )
    return core_schema.no_info_before_validator_function(
        read, number, json_schema_input_schema=shown
    )


def _in_unit(error: ValidationError, unit: str | None) -> str:
    return f"{error.errors(include_url=False)[0]['msg']} {unit}"
