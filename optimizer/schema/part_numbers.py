"""Names of ring parts: a prefix of the owner's and a number, and what an answer states of numbers used up.

Numbers are counted over all prefixes, so that a name never tells two rings apart by its prefix alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Annotated

from pydantic import AfterValidator, Field, StringConstraints
from pydantic_core import PydanticCustomError

from ringset.schema.base import AnswerModel

#: Stands before the number where the shop states no prefix.
NO_PREFIX = "R"
#: Largest number that an earlier answer may have used.
NUMBER_MOST = 1_000_000_000
#: Largest number of a part in production that new ones follow: there is room behind it.
TAKEN_MOST = 500_000_000
_PREFIX = r"([A-Za-z]|[A-Za-z0-9][A-Za-z0-9._-]{0,22}[A-Za-z._-])"
PREFIX_PATTERN = rf"^{_PREFIX}?$"
PART_NAME_PATTERN = rf"^{_PREFIX}[1-9][0-9]{{0,9}}$"
PREFIX_WORDS = (
    "at most 24 letters (A to Z, a to z), digits, hyphens, dots and underscores, the first a letter or a "
    "digit, the last no digit"
)
PART_NAME_WORDS = f"a prefix and a number from 1, such as {NO_PREFIX}1 or RX-12"


def _makes_no_number(prefix: str) -> str:
    """Refuse a prefix whose names a spreadsheet would read as numbers, such as 12.10 or 1E5."""
    try:
        float(f"{prefix}1")
    except ValueError:
        return prefix
    if not prefix:
        return prefix
    allowed = f"a text whose names read as no number, as {prefix}1 does"
    raise PydanticCustomError("number_like", "{allowed}", {"allowed": allowed})


PartPrefix = Annotated[
    str, StringConstraints(pattern=PREFIX_PATTERN), AfterValidator(_makes_no_number)
]
PartName = Annotated[str, StringConstraints(pattern=PART_NAME_PATTERN)]


def part_name_number(name: str) -> int:
    """Return the number at the end of a name, 0 where there is none."""
    found = re.search(r"[0-9]+$", name)
    return int(found[0]) if found else 0


def part_name_order(name: str) -> tuple[int, str]:
    """Return a sort key by which R9 comes before R10."""
    return part_name_number(name), name


def part_names_sorted(names: Iterable[str]) -> list[str]:
    """Return names by their numbers: R9 before R10."""
    return sorted(names, key=part_name_order)


def part_numbers_taken(names: Iterable[str]) -> list[int]:
    """Return the numbers that parts in production take, those with a prefix and a number for a name."""
    numbers = [part_name_number(name) for name in names if re.fullmatch(PART_NAME_PATTERN, name)]
    return [number for number in numbers if number <= TAKEN_MOST]


class PartNumbers(AnswerModel):
    """What became of the names of an earlier answer's ring parts, where one was given.

    Both lists are stated because an answer alone must tell what number is free: whoever has only the newest
    of a chain of answers could not know otherwise which numbers stand on drawings of rings that are gone.
    New names are those of `Answer.ring_parts` that are not kept; their numbers follow the largest of both.
    """

    kept: Annotated[list[PartName], Field(max_length=100_000)] = Field(
        description="Names that the earlier answer has for the same rings, by their numbers. They keep the "
        "prefix that they had."
    )
    retired: Annotated[list[PartName], Field(max_length=1_000_000)] = Field(
        description="Names that earlier answers gave to rings that this one does not have, by their numbers; "
        "no ring gets such a number again, not even the same one if it comes back."
    )
