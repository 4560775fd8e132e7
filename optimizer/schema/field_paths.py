"""Paths: one line of text for one field of a study, and the values it may be given.

    joints.NAME.FIELD                 a joint whose name only one robot uses
    robots.ROBOT.joints.NAME.FIELD    any joint
    robots.ROBOT.FIELD                and robots.ROBOT.battery.FIELD, robots.ROBOT.line.FIELD
    head.FIELD, heads.NAME.FIELD, shop.FIELD, shop.prices.FIELD, target.FIELD, wishes.FIELD, search.FIELD
    shop.materials.NAME.FIELD         a material of the user's own
    wishes.give.WISH                  how much of a wish may be given up

A name with a dot, an equals sign or a quote stands in double quotes, as in JSON:
`joints."wrist 1.2".tip_max_mm`. Titles and names are no paths: they state nothing about a ring.
"""

from __future__ import annotations

import difflib
import itertools
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import BaseModel

from ringset.errors import Fault, StudyError
from ringset.schema.battery_and_bus import Battery, Line
from ringset.schema.equipment import Head
from ringset.schema.joint import Joint
from ringset.schema.materials import OwnMaterial
from ringset.schema.prices import Prices
from ringset.schema.shop import Shop
from ringset.schema.study import WISHES, Robot, Search, Study, Wishes
from ringset.schema.targets import Target

#: Parts that a study has once, and parts that a robot may have.
PARTS: dict[str, type[BaseModel]] = {
    "head": Head, "shop": Shop, "target": Target, "wishes": Wishes, "search": Search,
}  # fmt: skip
ROBOT_PARTS: dict[str, type[BaseModel]] = {"battery": Battery, "line": Line}
#: Fields of a robot or a joint that are no paths.
_STRUCTURE = {"name", "joints", *ROBOT_PARTS}
_FORMS = (
    "joints.NAME.FIELD, robots.ROBOT.FIELD, robots.ROBOT.joints.NAME.FIELD, heads.NAME.FIELD, "
    + ", ".join(f"{part}.FIELD" for part in PARTS)
    + " (ringset fields lists them)"
)
#: How many nearest paths an error names, how alike they must be, and how many names are compared.
NEAREST, LIKENESS, NEAR_NAMES = 3, 0.5, 5
#: Most segments of a wrong path and most names that are compared, whatever a study holds.
SEGMENTS_MOST, COMPARED_MOST = 8, 500

_PLAIN_NAME = re.compile(r'[^".=]+')


@dataclass(frozen=True)
class Path:
    """A field of one study: its shortest text, and the keys and indices that lead to it.

    Two texts of one field have equal keys. Indices count robots and joints as the study lists them.
    """

    text: str
    keys: tuple[str | int, ...]


def split_field_path(text: str) -> tuple[list[str], str]:
    """Return the segments of the path at the start of `text`, and what follows it.

    The path ends with the text or at an equals sign outside quotes. Raises StudyError for a quote
    that does not close or an empty segment.
    """
    segments, place = [], 0
    while True:
        if text.startswith('"', place):
            try:
                segment, place = json.JSONDecoder().raw_decode(text, place)
            except ValueError:
                raise StudyError([Fault(text, "a quote left open", 'names like "a.b"')]) from None
        else:
            end = re.compile(r"[^.=]*").match(text, place)
            assert end is not None
            segment, place = end.group(), end.end()
        segments.append(segment)
        if place == len(text) or text[place] == "=":
            return segments, text[place:]
        if text[place] != ".":
            raise StudyError([Fault(text, "text behind a quote", "a dot there")])
        place += 1


def resolve_field_path(study: Study, text: str) -> Path:
    """Return the field of `study` that `text` names.

    Raises StudyError with the nearest valid paths if there is none, or with the longer paths if
    joints of several robots have the name.
    """
    segments, rest = split_field_path(text)
    if rest:
        raise StudyError([Fault(text, "a path with an equals sign", "the path alone")])
    found = list(_matches(study, segments))
    if len(found) == 1:
        return found[0]
    if found:
        longer = ", ".join(_long_text(study, path) for path in found[:NEAREST])
        raise StudyError([Fault(text, f"joints of {len(found)} robots", f"one of {longer}")])
    near = nearest_field_paths(study, segments)
    given = "a path that this study does not have"
    raise StudyError([Fault(text, given, ", ".join(near) if near else _FORMS)])


def _matches(study: Study, segments: list[str]) -> Iterator[Path]:
    """Yield every field that the segments name: none, one, or a joint of each of several robots."""
    match segments:
        case ["joints", name, field]:
            for i, robot in enumerate(study.robots):
                yield from _joint_fields(study, i, robot, field, name)
        case ["robots", owner, "joints", name, field]:
            for i, robot in enumerate(study.robots):
                if robot.name == owner:
                    yield from _joint_fields(study, i, robot, field, name)
        case ["robots", owner, *rest]:
            for i, robot in enumerate(study.robots):
                if robot.name == owner:
                    yield from (p for p in _robot_fields(i, robot) if list(p.keys[2:]) == rest)
        case _:
            yield from (p for p in _shared_fields(study) if list(p.keys) == segments)


def _fields(model: type[BaseModel]) -> list[str]:
    return [name for name in model.model_fields if name not in _STRUCTURE]


def _shared_fields(study: Study) -> Iterator[Path]:
    for part, model in PARTS.items():
        for field in _fields(model):
            yield _path((part, field), part, field)
    for field in _fields(Prices):
        yield _path(("shop", "prices", field), "shop", "prices", field)
    for name in study.shop.materials:
        for field in _fields(OwnMaterial):
            yield _path(("shop", "materials", name, field), "shop", "materials", name, field)
    for wish in WISHES:
        yield _path(("wishes", "give", wish), "wishes", "give", wish)
    for name in study.heads:
        for field in _fields(Head):
            yield _path(("heads", name, field), "heads", name, field)


def _robot_fields(i: int, robot: Robot) -> Iterator[Path]:
    for field in _fields(Robot):
        yield _path(("robots", i, field), "robots", robot.name, field)
    for part, model in ROBOT_PARTS.items():
        for field in _fields(model):
            yield _path(("robots", i, part, field), "robots", robot.name, part, field)


def _joint_fields(
    study: Study, i: int, robot: Robot, field: str | None = None, name: str | None = None
) -> Iterator[Path]:
    """Yield the fields of a robot's joints, all or those of one name."""
    for j, joint in enumerate(robot.joints):
        if name is not None and joint.name != name:
            continue
        shared = sum(other.name == joint.name for r in study.robots for other in r.joints) > 1
        owner = ("robots", robot.name) if shared else ()
        for known in _fields(Joint):
            if field is None or field == known:
                keys = ("robots", i, "joints", j, known)
                yield _path(keys, *owner, "joints", joint.name, known)


def _path(keys: tuple[str | int, ...], *segments: str) -> Path:
    return Path(".".join(_segment(segment) for segment in segments), keys)


def _segment(name: str) -> str:
    """Return a name as it stands in a path: in quotes if it would be misread."""
    return name if _PLAIN_NAME.fullmatch(name) else json.dumps(name, ensure_ascii=False)


def _long_text(study: Study, path: Path) -> str:
    _, i, _, j, field = path.keys
    robot = study.robots[int(i)]
    return _path((), "robots", robot.name, "joints", robot.joints[int(j)].name, str(field)).text


def nearest_field_paths(study: Study, segments: list[str]) -> list[str]:
    """Return the valid paths that look most like the segments, best first; none if none does.

    In a large study only the joints and robots whose names come near a segment are compared, and not
    more of them than a moment allows.
    """
    near_names: set[str] = set()
    names = sorted(
        {r.name for r in study.robots} | {j.name for r in study.robots for j in r.joints}
    )
    for segment in segments[:SEGMENTS_MOST]:
        # of very many names those that begin most alike
        alike = sorted(names, key=lambda name: -_alike(name, segment))[:COMPARED_MOST]
        near_names.update(difflib.get_close_matches(segment, alike, NEAR_NAMES, 0.0))
    text = ".".join(_segment(segment) for segment in segments[:SEGMENTS_MOST])
    candidates = itertools.islice(_near_fields(study, near_names), 4 * COMPARED_MOST)
    return difflib.get_close_matches(text, [path.text for path in candidates], NEAREST, LIKENESS)


def _alike(name: str, other: str) -> int:
    """Return how many letters two names begin with alike."""
    pairs = itertools.takewhile(lambda pair: pair[0] == pair[1], zip(name, other, strict=False))
    return sum(1 for _ in pairs)


def _near_fields(study: Study, near_names: set[str]) -> Iterator[Path]:
    yield from _shared_fields(study)
    for i, robot in enumerate(study.robots):
        if robot.name in near_names:
            yield from _robot_fields(i, robot)
        for name in sorted(near_names):
            yield from _joint_fields(study, i, robot, name=name)
