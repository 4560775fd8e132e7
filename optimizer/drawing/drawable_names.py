"""Names that no font of the sheets can draw: they are refused by name before anything is drawn."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import fields
from importlib.util import find_spec

from ringset.drawing.frame import Release
from ringset.drawing.lettering import undrawable_letters
from ringset.errors import Fault
from ringset.schema.study import Study

#: Kinds of files that bear names in letters of the sheets.
DRAWN = frozenset({"rings", "robots"})
_ALLOWED = (
    "letters that the fonts of the sheets hold (Latin, Greek, Cyrillic, Armenian, Georgian, usual signs); "
    "or all kinds of files but rings and robots"
)


def undrawable_names(study: Study, release: Release | None = None) -> list[Fault]:
    """Return a fault for every name of the study, and every entry of `release`, that cannot be drawn."""
    named = [*_names(study), *_entries(release or Release())]
    return [
        Fault(path, f"{text!r}, whose {', '.join(lacking[:8])} cannot be drawn", _ALLOWED)
        for path, text in named
        if (lacking := undrawable_letters(text))
    ]


def sheet_faults(study: Study, only: Collection[str] = ()) -> list[Fault]:
    """Return the names of a study that the wanted kinds of files (all by default) have no letters for.

    None where no drawing is wanted, or none can be made because its library is not installed.
    """
    drawn = not only or DRAWN & set(only)
    return undrawable_names(study) if drawn and find_spec("reportlab") else []


def _names(study: Study) -> Iterator[tuple[str, str]]:
    for r, robot in enumerate(study.robots):
        yield f"robots[{r}].name", robot.name
        for j, joint in enumerate(robot.joints):
            yield f"robots[{r}].joints[{j}].name", joint.name
    for p, part in enumerate(study.shop.parts_in_production):
        yield f"shop.parts_in_production[{p}].name", part.name


def _entries(release: Release) -> Iterator[tuple[str, str]]:
    for field in fields(release):
        yield f"--{field.name}", getattr(release, field.name)
