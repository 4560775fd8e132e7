"""Shared by everything that speaks to people: tables, wrapped lines, counted nouns, common words."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

WIDTH = 100
BASES = {"expanded": "expanded, k = 2", "worst_case": "worst case"}


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table with the first column left, the others right."""
    widths = [max(len(row[i]) for row in [heads, *rows]) for i in range(len(heads))]

    def line(row: Sequence[str]) -> str:
        first = row[0].ljust(widths[0])
        return "  " + "  ".join(
            [first, *(c.rjust(w) for c, w in zip(row[1:], widths[1:], strict=True))]
        )

    return "\n".join(line(row).rstrip() for row in [heads, *rows])


def wrap(text: str, indent: str) -> str:
    """Return the text in lines of at most WIDTH, those after the first indented alike."""
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=indent,
        subsequent_indent=" " * len(indent),
        break_long_words=False,
    )


def bullets(title: str, texts: Iterable[str]) -> str:
    """Return a title and below it each text as a wrapped point."""
    return "\n".join([title, *(wrap(text, "  - ") for text in texts)])


def count(number: int, noun: str) -> str:
    """Return a number with its noun, in the plural unless it is one."""
    return f"{number} {noun}{'' if number == 1 else 's'}"
