"""Every field of a study with its default and where that comes from, for people."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from typing import Any, Literal

from pydantic import BaseModel, Field, JsonValue
from pydantic_core import PydanticUndefined

from ringset.schema.base import AnswerModel, PlausibleRange, schema_assumed_range
from ringset.schema.battery_and_bus import Battery, Line
from ringset.schema.equipment import Head
from ringset.schema.joint import Joint
from ringset.schema.materials import OwnMaterial, YieldOfSize
from ringset.schema.prices import Prices
from ringset.schema.shop import Shop
from ringset.schema.shop_parts import Tube
from ringset.schema.study import Robot, Search, Study, Wishes
from ringset.schema.targets import Target

PLACES: tuple[tuple[str, type[BaseModel]], ...] = (
    ("", Study),
    ("robots[].", Robot),
    ("robots[].joints[].", Joint),
    ("robots[].battery.", Battery),
    ("robots[].line.", Line),
    ("head. or heads.NAME.", Head),
    ("shop.", Shop),
    ("shop.tubes[].", Tube),
    ("shop.materials.NAME.", OwnMaterial),
    ("shop.materials.NAME.yields[].", YieldOfSize),
    ("shop.prices.", Prices),
    ("target.", Target),
    ("wishes.", Wishes),
    ("search.", Search),
)


#: What decides answers and stands in no field; optimizer/README.md, "Rules behind the numbers", says more.
RULES = (
    "A limit counts as met within one part in 10^9 (of 1 where it is smaller).",
    "bandwidth_hz lowers the amplitude at speed_max_rpm, which raises offset, stray field and noise.",
    "What is left of the gap is the gap less its tolerance, offset, lobes, ovality, half of the run-out "
    "tolerance, bearing shift, the worst of heat and cold from 20 degrees on, and the growth of a press fit.",
    "The signal is taken at the widest gap (tolerance, heat or cold), the third harmonic at the narrowest "
    "(and the growth of a press fit).",
    "worst_case averages no errors over heads that are private to each: channel offset, gain and quadrature "
    "beyond common_share, stray field, single pitch. Noise is averaged.",
    "A length (a field that ends in _mm or _um) is a number in that unit, or text with its unit (mm, um or "
    'in), such as "2.5 in", "1/4 in" or "40 um". An inch is 25.4 mm exactly. Answers are in mm and um.',
    "Several heads leave the share of the cumulative pitch that the spectrum leaves, unless pitch_share "
    "states it.",
)


def field_list() -> str:
    """Return one paragraph per field (name, default, description, plausible range), then the rules."""
    rules = [
        textwrap.fill(rule, 100, initial_indent="  ", subsequent_indent="  ") for rule in RULES
    ]
    return "\n".join([*_paragraphs(), "rules beside the fields", *rules]) + "\n"


def schema_json() -> str:
    """Return the JSON Schema of a study."""
    return json.dumps(Study.model_json_schema(), indent=2) + "\n"


def _paragraphs() -> Iterator[str]:
    for place, model in PLACES:
        yield f"{place.rstrip('.') or 'study'}"
        for name, info in model.model_fields.items():
            yield f"  {name}  ({_default(info.default)})"
            yield _filled(info.description or "")
            plausible = schema_assumed_range(info)
            if plausible is not None:
                yield _filled(f"Plausible: {field_range_words(plausible)} {plausible.because}")
        yield ""


def _filled(text: str) -> str:
    return textwrap.fill(text, 96, initial_indent="      ", subsequent_indent="      ")


def field_range_words(plausible: PlausibleRange) -> str:
    """Return both ends of a range, as a sentence: from one to the other, or one or the other."""
    low, high = json.dumps(plausible.low), json.dumps(plausible.high)
    ranked = isinstance(plausible.low, int | float)
    return f"from {low} to {high}." if ranked else f"{low} or {high} instead."


def _default(value: object) -> str:
    if value is PydanticUndefined:
        return "required"
    if isinstance(value, BaseModel):
        return "see below"
    if value is None:
        return "none by default"
    return f"default {json.dumps(value)}"


Kind = Literal["number", "integer", "text", "yes_no", "choice", "list", "other"]
#: Units by the end of a field's name, longest first.
_UNITS = {
    "_um_per_m_k": "µm/(m K)", "_kg_per_m3": "kg/m³", "_gpa": "GPa", "_mpa": "MPa",
    "_n_per_mm2": "N/mm²", "_mbit_per_s": "Mbit/s", "_rad_s2": "rad/s²", "_arcsec": "arcsec",
    "_kg_m2": "kg m²",
    "_per_year": "1/year", "_per_hour": "1/h", "_per_kg": "1/kg", "_years": "years",
    "_bytes": "bytes", "_mrad": "mrad", "_bits": "bits", "_rpm": "rpm", "_deg": "°", "_mm": "mm",
    "_um": "µm", "_hz": "Hz", "_kg": "kg", "_us": "µs", "_ms": "ms", "_ua": "µA", "_ah": "Ah",
    "_c": "°C", "_k": "K", "_n": "N", "_s": "s", "_m": "m",
}  # fmt: skip


def field_unit(name: str) -> str:
    """Return the unit that the end of a field's name says; empty for counts, shares, factors and texts."""
    return next((unit for end, unit in _UNITS.items() if name.endswith(end)), "")


class FieldFact(AnswerModel):
    """One field of a study, as a form needs it."""

    place: str = Field(description="Where it stands, such as `robots[].joints[].` or `shop.`.")
    name: str
    kind: Kind = Field(description="other: an object, or a list of objects; JSON is needed for it.")
    unit: str = Field(description="Empty for counts, shares, factors and texts.")
    required: bool
    default: JsonValue = Field(description="null where the field is required or absent by default.")
    choices: list[str] = Field(description="What may be chosen; empty where anything fits.")
    minimum: float | None
    maximum: float | None
    assumed: bool = Field(description="Whether the default is an assumption to be replaced.")
    plausible_low: JsonValue = Field(
        description="Between this and plausible_high the truth may well lie where the default is assumed; of "
        "choices and lists the two are alternatives. null where the default is no assumption."
    )
    plausible_high: JsonValue
    because: str = Field(description="Where that range comes from; empty where there is none.")
    description: str = Field(description="What it means and where its default comes from.")


def field_facts() -> list[FieldFact]:
    """Return every field of a study, in the order of `field_list`."""
    return [fact for place, model in PLACES for fact in _facts(place, model)]


def _facts(place: str, model: type[BaseModel]) -> Iterator[FieldFact]:
    schema = model.model_json_schema()
    for name, info in model.model_fields.items():
        options = _options(schema["properties"][name])
        main = options[0]
        kind, plausible = _kind(options), schema_assumed_range(info)
        absent = info.is_required() or isinstance(info.default, BaseModel)
        yield FieldFact(
            place=place, name=name, kind=kind, required=info.is_required(),
            unit=field_unit(name),
            default=None if absent else json.loads(json.dumps(info.default)),
            choices=[c for option in options for c in option.get("enum", [])],
            minimum=main.get("minimum", main.get("exclusiveMinimum")),
            maximum=main.get("maximum", main.get("exclusiveMaximum")),
            assumed=plausible is not None, description=info.description or "",
            plausible_low=plausible and plausible.low, plausible_high=plausible and plausible.high,
            because=plausible.because if plausible else "",
        )  # fmt: skip


def _options(schema: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the alternatives of a field's schema without null."""
    options = schema.get("anyOf") or schema.get("oneOf") or [schema]
    return [option for option in options if option.get("type") != "null"]


def _kind(options: list[dict[str, Any]]) -> Kind:
    listed = next((option for option in options if option.get("type") == "array"), None)
    if listed is not None:
        return "other" if "$ref" in listed["items"] else "list"
    if "enum" in options[0]:
        return "choice"
    kinds: dict[str, Kind] = {
        "number": "number", "integer": "integer", "string": "text", "boolean": "yes_no",
    }  # fmt: skip
    return kinds.get(options[0].get("type", ""), "other")
