"""JSON data with one place changed, as carelessness or malice would change it."""

from __future__ import annotations

import copy
import math
from collections.abc import Iterator
from typing import Any

#: The way to a place in JSON data: fields and places of lists.
Keys = tuple[str | int, ...]
#: What any number may be changed to.
NUMBERS: tuple[Any, ...] = (
    -1, 0, 1, -1.5, 1e308, -1e308, 1e-308, 5e-324, math.nan, math.inf, None, "", "12", [], {}, True,
    2**31, 2**63, -(2**63) - 1, 10**30, 10**400, 9.2233720368546565e12,
)  # fmt: skip
#: What any text may be changed to.
TEXTS: tuple[Any, ...] = ("", "x", "../../x", "a\nb", "=1+1", "\u0000", "x" * 3000, 1, None, [], {})


def places(tree: Any, path: Keys = ()) -> Iterator[tuple[Keys, Any]]:
    """Yield the way to every value in JSON data, objects and lists included, with the value."""
    yield path, tree
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield from places(value, (*path, key))
    elif isinstance(tree, list):
        for place, value in enumerate(tree):
            yield from places(value, (*path, place))


def changed(tree: Any, path: Keys, value: Any) -> Any:
    """Return JSON data with another value at one place."""
    made = copy.deepcopy(tree)
    at = made
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = value
    return made


def values_instead(value: Any) -> Iterator[Any]:
    """Yield what a value may be changed to: odd numbers, odd texts, lists cut, doubled, turned or emptied."""
    if isinstance(value, bool) or value is None:
        yield from (0, "x", [], {})
        yield None if value is not None else -1
        yield True if value is None else not value
    elif isinstance(value, int | float):
        yield from NUMBERS
        yield from (value + 1, value * 1.0000001, -value)
    elif isinstance(value, str):
        yield from TEXTS
    elif isinstance(value, list):
        yield from ([], value * 2, value[::-1], value[1:], value[:-1], [None], {}, None, -1)
    elif isinstance(value, dict):
        yield from ({}, [], None, -1)
        for key in value:
            yield {other: kept for other, kept in value.items() if other != key}
        yield {**value, "unheard_of": 1}


def mutations(tree: Any) -> Iterator[tuple[Keys, Any]]:
    """Yield every place with everything that it may be changed to."""
    for path, value in places(tree):
        if path:
            for other in values_instead(value):
                yield path, other
