"""What all models of the contract share: their bases, the states, and how times are written."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler
from pydantic_core import CoreSchema

from ringset import with_length_texts

#: How a study, a sweep or a row of one stands.
State = Literal["queued", "running", "done", "failed", "cancelled"]

#: The second ring of a ring that is asked about.
SecondTeeth = Annotated[
    int | None,
    Field(
        ge=1,
        le=10_000,
        description="Teeth of the second ring where the joint asks one; by default the fewest that keep all "
        "limits of the pair.",
    ),
]


class ResponseModel(BaseModel):
    """Base of what goes out; clients ignore members they do not know."""

    model_config = ConfigDict(extra="allow", allow_inf_nan=False)


class RequestModel(BaseModel):
    """Base of what comes in: strict and closed; lengths may be texts with a unit, as in a study."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, frozen=True)

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        """Return what pydantic makes of the model, with texts allowed where a length stands."""
        return with_length_texts(handler(source))


def contract_time_text(seconds: float | None) -> str | None:
    """Return a time of day in UTC as RFC 3339 writes it."""
    if seconds is None:
        return None
    return (
        datetime.fromtimestamp(seconds, UTC)
        .isoformat(timespec="milliseconds")
        .replace("+00:00", "Z")
    )
