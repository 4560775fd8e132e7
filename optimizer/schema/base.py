"""The bases of everything that a study states and that an answer says."""

from __future__ import annotations

from typing import Any, NamedTuple

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    JsonValue,
    field_validator,
)
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema

from ringset.schema.length_texts import with_length_texts


class StudyModel(BaseModel):
    """Base of every model of a study: frozen, strict, finite, closed to unknown fields.

    Fields whose names end in _mm or _um take a text with a unit for each number; see `length_texts`.
    """

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Return what pydantic makes of the model, with texts allowed where a length stands."""
        return with_length_texts(handler(source))

    @field_validator("*")
    @classmethod
    def _without_negative_zero(cls, value: object) -> object:
        # -0.0 and 0.0 state the same, so they must be the same bytes
        return value + 0.0 if isinstance(value, float) else value


class AnswerModel(BaseModel):
    """Base of every model of an answer: frozen, strict, finite, closed to unknown fields."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)


class PlausibleRange(NamedTuple):
    """Between which two values a default that is assumed may well lie in truth, and why just there."""

    low: JsonValue
    high: JsonValue
    because: str


def assumed(
    default: Any,
    *,
    low: JsonValue,
    high: JsonValue,
    because: str,
    stands_for: JsonValue = None,
    **field: Any,
) -> Any:
    """Return a field whose default is an assumption: it may well lie anywhere from `low` to `high`.

    Both ends are values that the field allows, in its own unit; `because` is one plain sentence that says
    where the range comes from. A default of null names the value that it `stands_for`. `field` is what
    pydantic's Field takes.
    """
    stated = default if stands_for is None else stands_for
    return Field(
        default=default,
        json_schema_extra={"plausible": [low, high, because], "assumed": stated},
        **field,
    )


def schema_assumed_range(info: FieldInfo) -> PlausibleRange | None:
    """Return the range of a field's default, None where the default is no assumption."""
    extra = info.json_schema_extra
    stated = extra.get("plausible") if isinstance(extra, dict) else None
    if not isinstance(stated, list):
        return None
    low, high, because = stated
    return PlausibleRange(low, high, str(because))


def schema_assumed_value(info: FieldInfo) -> JsonValue:
    """Return the value that an assumed default stands for: the default itself unless it is null."""
    extra = info.json_schema_extra
    return extra.get("assumed") if isinstance(extra, dict) else None
