"""Which inputs differ between studies, field by field; robots and joints are matched by name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from ringset.analysis.comparison.models import ComparedInput
from ringset.schema.study import Study

#: Stands for a robot, joint or head that a study does not have, and for one that it has.
ABSENT, PRESENT = "absent", "present"
#: Told elsewhere or without effect.
_PASSED_OVER = ("schema_version", "title")


def compared_inputs(studies: Sequence[Study | None]) -> list[ComparedInput]:
    """Return every field whose value is not the same in all known studies; None is an unknown one."""
    known = [place for place, study in enumerate(studies) if study is not None]
    trees = [_tree(study) for study in studies if study is not None]
    found = []
    for path, values in _differing("", trees) if trees else ():
        across: list[str | None] = [None] * len(studies)
        for place, value in zip(known, values, strict=True):
            across[place] = value
        found.append(ComparedInput(path=path, values=across))
    return found


def _tree(study: Study) -> dict[str, Any]:
    """Return the fields of a study; under "" robots by name, and in each its joints as `/NAME`."""
    fields = study.canonical().model_dump(mode="json", exclude=set(_PASSED_OVER))
    fields["wishes"].setdefault("give", {})  # so that what is given up differs wish by wish
    fields["shop"].setdefault("part_prefix", None)  # absent where it is empty
    robots: dict[str, Any] = {}
    for robot in fields.pop("robots"):
        joints = {f"/{joint.pop('name')}": joint for joint in robot.pop("joints")}
        robots[robot.pop("name")] = robot | joints
    return {**fields, "": robots}


def _differing(path: str, values: Sequence[Any]) -> Iterator[tuple[str, list[str]]]:
    """Yield path and values wherever they differ; what only some have is told as a whole."""
    if all(value == values[0] for value in values):
        return
    if all(isinstance(value, dict) for value in values):
        for key in dict.fromkeys(key for value in values for key in value):
            dot = "." if path and key and not key.startswith("/") else ""
            here = f"{path}{dot}{key}"
            yield from _differing(here, [value.get(key, ABSENT) for value in values])
    elif any(isinstance(value, dict) for value in values):
        yield path, [PRESENT if isinstance(value, dict) else _shown(value) for value in values]
    else:
        yield path, [_shown(value) for value in values]


def _shown(value: Any) -> str:
    if value is None or value == []:
        return "none"
    if isinstance(value, list):
        return ", ".join(map(_shown, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.12g}" if isinstance(value, float) else str(value)
