"""Every field of a study with its default and where that comes from, for people."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator

from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from optimizer.equipment import Head, Shop, Tube
from optimizer.robot_electronics import Battery, Line
from optimizer.study import Joint, Robot, Search, Study, Target, Wishes

PLACES: tuple[tuple[str, type[BaseModel]], ...] = (
    ("", Study),
    ("robots[].", Robot),
    ("robots[].joints[].", Joint),
    ("robots[].battery.", Battery),
    ("robots[].line.", Line),
    ("head. or heads.NAME.", Head),
    ("shop.", Shop),
    ("shop.tubes[].", Tube),
    ("target.", Target),
    ("wishes.", Wishes),
    ("search.", Search),
)


def field_list() -> str:
    """Return one paragraph per field: name, default, description."""
    return "\n".join(_paragraphs()) + "\n"


def schema_json() -> str:
    """Return the JSON Schema of a study."""
    return json.dumps(Study.model_json_schema(), indent=2) + "\n"


def _paragraphs() -> Iterator[str]:
    for place, model in PLACES:
        yield f"{place.rstrip('.') or 'study'}"
        for name, info in model.model_fields.items():
            yield f"  {name}  ({_default(info.default)})"
            yield textwrap.fill(
                info.description or "", 96, initial_indent="      ", subsequent_indent="      "
            )
        yield ""


def _default(value: object) -> str:
    if value is PydanticUndefined:
        return "required"
    if isinstance(value, BaseModel):
        return "see below"
    if value is None:
        return "none by default"
    return f"default {json.dumps(value)}"


def assumed_defaults(study: Study) -> list[str]:
    """Return the fields that a study leaves at a default which is assumed, as paths without indices."""
    parts: list[tuple[str, BaseModel]] = [("head.", study.head), ("shop.", study.shop)]
    parts += [(f"heads.{name}.", head) for name, head in study.heads.items()]
    parts += [("joints[].", joint) for robot in study.robots for joint in robot.joints]
    used: dict[str, None] = {}
    for place, part in parts:
        for name, info in type(part).model_fields.items():
            assumed = "assumed" in (info.description or "").lower()
            if name == "seat_offset_um" and getattr(part, "seat_fit", None) is not None:
                continue  # the fit gives the offset
            if assumed and name not in part.model_fields_set:
                used[place + name] = None
    return list(used)
