"""The assumed inputs of a study: defaults it leaves in place that have a plausible range, and what it ranges.

An input of all joints (or robots) that leave a field at its default is one input, with `[]` in its path:
`joints[].wobble_mrad`. A study may state ranges of its own under `ranges`, by the paths of `field_paths` or
by a path with `[]`; such a range takes the place of the default's, and brings in inputs that are stated.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, JsonValue
from pydantic.fields import FieldInfo
from pydantic_core import to_jsonable_python

from ringset.errors import Fault, StudyError
from ringset.schema.base import PlausibleRange, schema_assumed_range, schema_assumed_value
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.joint import STATED_INSTEAD, Joint
from ringset.schema.study import Robot, Study

#: Keys and indices that lead to one field of a study.
Keys = tuple[str | int, ...]
#: Parts of a study that say how it is searched and what counts: nothing in them is assumed of the rings.
NOT_RANGED = ("wishes", "search")
#: Why a range that the study states is as it is.
STATED = "stated in the study's ranges"


@dataclass(frozen=True)
class AssumedInput:
    """One input with its plausible range; `places` are the fields that it stands for, all of one value.

    `low` and `high` are values as the study would state them. `stated` says that the range is the study's.
    """

    path: str
    places: tuple[Keys, ...]
    given: JsonValue
    low: JsonValue
    high: JsonValue
    because: str
    stated: bool = False

    @property
    def ends(self) -> tuple[JsonValue, JsonValue]:
        """Both ends, the low one first."""
        return self.low, self.high


def assumed_inputs(study: Study) -> list[AssumedInput]:
    """Return the assumed inputs of a study: of head, further heads, shop, joints, robots and target, in turn.

    Those that only the study's `ranges` bring in stand at the end.
    """
    grouped: dict[str, list[tuple[Keys, FieldInfo, Any]]] = {}
    for path, keys, info, value in _defaults(study):
        grouped.setdefault(path, []).append((keys, info, value))
    own = {path: study_range_places(study, path) for path in study.ranges}
    # a range of one field goes before that of all joints
    owner = {keys: path for path, places in own.items() if "[]" not in path for keys in places}
    found = []
    for path in dict.fromkeys([*grouped, *own]):
        members = grouped.get(path, [])
        places = own.get(path) or tuple(keys for keys, _, _ in members)
        left = tuple(keys for keys in places if owner.get(keys, path) == path)
        known = None if path in own else schema_assumed_range(members[0][1])
        if known is None:
            low, high = study.ranges[path]
            known = PlausibleRange(low, high, STATED)
        if left:
            found.append(_input(study, path, left, known, path in own))
    return found


def _input(
    study: Study, path: str, places: tuple[Keys, ...], known: PlausibleRange, stated: bool
) -> AssumedInput:
    info, given = (
        study_field_info_at(study, places[0]),
        to_jsonable_python(study_field_at(study, places[0])),
    )
    if given is None and info is not None:
        given = schema_assumed_value(info)
    low, high = known.low, known.high
    if isinstance(given, float):
        low, high = _as_float(low), _as_float(high)
    return AssumedInput(path, places, given, low, high, known.because, stated)


def _as_float(value: JsonValue) -> JsonValue:
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


# -- defaults ---------------------------------------------------------------------------------------------


def _defaults(study: Study) -> Iterator[tuple[str, Keys, FieldInfo, Any]]:
    """Yield every field with a plausible range that the study leaves at its default, by path."""
    joints = [joint for robot in study.robots for joint in robot.joints]
    if any(joint.head is None for joint in joints):
        yield from _of_part("head.", ("head",), study.head)
    for name in sorted({joint.head for joint in joints if joint.head is not None}):
        if name in study.heads:
            yield from _of_part(f"heads.{name}.", ("heads", name), study.heads[name])
    yield from _of_part("shop.", ("shop",), study.shop)
    for i, robot in enumerate(study.robots):
        for j, joint in enumerate(robot.joints):
            yield from _of_part("joints[].", ("robots", i, "joints", j), joint)
    for i, robot in enumerate(study.robots):
        yield from _of_part("robots[].", ("robots", i), robot)
    yield from _of_part("target.", ("target",), study.target)


def _of_part(place: str, keys: Keys, part: BaseModel) -> Iterator[tuple[str, Keys, FieldInfo, Any]]:
    for name, info in type(part).model_fields.items():
        value = getattr(part, name)
        if isinstance(value, BaseModel):
            yield from _of_part(f"{place}{name}.", (*keys, name), value)
        elif name not in part.model_fields_set and schema_assumed_range(info) is not None:
            if any(getattr(part, other) is not None for other in _instead(part, name)):
                continue
            yield f"{place}{name}", (*keys, name), info, value


def _instead(part: BaseModel, name: str) -> tuple[str, ...]:
    return STATED_INSTEAD.get(name, ()) if isinstance(part, Joint) else ()


# -- paths ------------------------------------------------------------------------------------------------


def study_range_places(study: Study, path: str) -> tuple[Keys, ...]:
    """Return the fields that a path of `ranges` names; raises StudyError where it names none."""
    owner, _, field = path.partition("[].")
    if field and owner in ("joints", "robots"):
        return tuple(_grouped_places(study, path, owner, field))
    keys = resolve_field_path(study, path).keys
    if keys[0] in NOT_RANGED:
        allowed = "a path of head, heads, shop, joints, robots or target"
        raise StudyError([Fault(path, "a path of wishes or search", allowed)])
    return (keys,)


def _grouped_places(study: Study, path: str, owner: str, field: str) -> Iterator[Keys]:
    """Yield the fields of all joints or robots that leave a field at its default."""
    if owner == "joints":
        parts: list[tuple[Keys, BaseModel]] = [
            (("robots", i, "joints", j), joint)
            for i, robot in enumerate(study.robots)
            for j, joint in enumerate(robot.joints)
        ]
    else:
        parts = [(("robots", i), robot) for i, robot in enumerate(study.robots)]
    known = (Joint if owner == "joints" else Robot).model_fields
    if field not in known or field in ("name", "joints", "battery", "line"):
        allowed = f"a field of {owner} (ringset fields lists them)"
        raise StudyError([Fault(path, "a path that this study does not have", allowed)])
    left = [keys for keys, part in parts if field not in part.model_fields_set]
    if not left:
        raise StudyError(
            [Fault(path, f"a field that all {owner} state", "the path of one of them")]
        )
    yield from ((*keys, field) for keys in left)


def study_field_at(study: Study, keys: Keys) -> Any:
    """Return what the study holds at the keys of a field; None where its part is not given."""
    node: Any = study
    for key in keys:
        if node is None:
            return None
        node = getattr(node, str(key)) if isinstance(node, BaseModel) else node[key]
    return node


def study_field_info_at(study: Study, keys: Keys) -> FieldInfo | None:
    """Return the declaration of a field, None where its part is not given."""
    part = study_field_at(study, keys[:-1])
    return type(part).model_fields[str(keys[-1])] if isinstance(part, BaseModel) else None


# -- values -----------------------------------------------------------------------------------------------


def study_with_inputs(study: Study, values: Iterable[tuple[AssumedInput, JsonValue]]) -> Study:
    """Return the study with some inputs at other values, all else as it is; nothing is checked."""
    tree: dict[str | int, Any] = {}
    for one, value in values:
        for keys in one.places:
            node = tree
            for key in keys[:-1]:
                node = node.setdefault(key, {})
            node[keys[-1]] = value
    changed: Study = _changed(study, tree)
    return changed


def _changed(node: Any, tree: Mapping[str | int, Any]) -> Any:
    """Return a part of a study with what the tree holds in place of what it held."""
    if isinstance(node, BaseModel):
        update = {
            str(key): _changed(getattr(node, str(key)), value) if isinstance(value, dict) else value
            for key, value in tree.items()
        }
        return node.model_copy(update=update)
    new = list(node) if isinstance(node, list) else dict(node)
    for key, value in tree.items():
        new[key] = _changed(new[key], value)  # type: ignore[index]
    return new
