"""The bases of everything that a study states and that an answer says."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, field_validator


class StudyModel(BaseModel):
    """Base of every model of a study: frozen, strict, finite, closed to unknown fields."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)

    @field_validator("*")
    @classmethod
    def _without_negative_zero(cls, value: object) -> object:
        # -0.0 and 0.0 state the same, so they must be the same bytes
        return value + 0.0 if isinstance(value, float) else value


class AnswerModel(BaseModel):
    """Base of every model of an answer: frozen, strict, finite, closed to unknown fields."""

    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", allow_inf_nan=False)
