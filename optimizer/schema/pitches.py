"""Cutters that a study names by their pitch: "16 DP", "0.25 in CP", "5 mm CP"."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field, WithJsonSchema
from pydantic_core import PydanticCustomError

from ringset.schema.equipment import MODULE_LEAST_MM, MODULE_MOST_MM
from ringset.standards.pitches import PITCH_PATTERN, standard_pitch_module_mm, standard_pitch_title

#: What a text of a pitch may be, for a message.
_ALLOWED = (
    'a module in mm, or the pitch of a cutter, such as "16 DP", "0.25 in CP" or "5 mm CP", of a module from '
    f"{MODULE_LEAST_MM:g} to {MODULE_MOST_MM:g} mm"
)


def _read(text: str) -> str:
    """Return a pitch as it is printed; an error for what is none, or for that of no usual module."""
    try:
        module = standard_pitch_module_mm(text)
    except ValueError as error:
        raise PydanticCustomError("pitch_text", f"{_ALLOWED} ({error})") from None
    if not MODULE_LEAST_MM <= module <= MODULE_MOST_MM:
        raise PydanticCustomError("pitch_text", f"{_ALLOWED} (this is {module:.6g} mm)")
    return standard_pitch_title(text)


Pitch = Annotated[
    str,
    Field(min_length=1),
    AfterValidator(_read),
    WithJsonSchema({"type": "string", "pattern": PITCH_PATTERN}),
]


def module_field_mm(module: float | str) -> float:
    """Return a module in mm, of a number in mm or the text of a pitch that has been read."""
    return standard_pitch_module_mm(module) if isinstance(module, str) else module
