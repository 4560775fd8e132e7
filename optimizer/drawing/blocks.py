"""Tables and notes on a sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from ringset.drawing.sheet import (
    HAIR,
    NARROW,
    NORMAL,
    SMALL,
    Sheet,
    drawn_label_fitted,
    drawn_text_wrapped,
)

ROW_MM = 4.0
_NOTE_SIZES = (1.8, 1.65, 1.5, 1.4, 1.3)
_STEP = 1.75  # from line to line, in heights of a capital letter


class Row(NamedTuple):
    """One line of a data block: what, its symbol (`_{...}` is a subscript), value, and its limit or unit."""

    name: str
    symbol: str
    value: str
    limit: str = ""


def draw_table(
    sheet: Sheet, x: float, y: float, widths: Sequence[float], title: str, heads: Sequence[str],
    rows: Sequence[Sequence[str]], *, height: float = SMALL, row_mm: float = ROW_MM,
) -> float:  # fmt: skip
    """Draw a table with its upper left corner at (x, y) and return the y of its lower edge.

    A title that is empty, or heads that are, take no room. Text wider than its column is cut with an
    ellipsis: columns must be wide enough for every value that counts. Only a `Row` has subscripts: other
    lines hold names, in which `_{` stays what somebody wrote.
    """
    whole = sum(widths)
    top = y
    if title:
        sheet.label(x, y + row_mm - 0.9, title, NORMAL * 0.88, bold=True)
        y += row_mm + 0.8
    lines = [*([list(heads)] if heads else []), *rows]
    for index, line in enumerate(lines):
        sheet.line([(x, y), (x + whole, y)], NARROW if index < 2 else HAIR)
        left, markup = x, isinstance(line, Row)
        for width, text in zip(widths, line, strict=True):
            shown = drawn_label_fitted(text, width - 1.6, height, markup=markup)
            sheet.label(
                left + 0.8, y + row_mm - 1.2, shown, height, bold=bool(heads) and index == 0,
                markup=markup,
            )  # fmt: skip
            left += width
        y += row_mm
    edge = top + (row_mm + 0.8 if title else 0.0)
    sheet.box(x, edge, x + whole, y, NARROW)
    left = x
    for width in widths[:-1]:
        left += width
        sheet.line([(left, edge), (left, y)], HAIR)
    return y


def drawn_table_height(
    count: int, *, title: bool = True, heads: bool = True, row_mm: float = ROW_MM
) -> float:
    """Return the height of a table of `count` rows in mm."""
    return (count + heads) * row_mm + (row_mm + 0.8 if title else 0.0)


def draw_notes(
    sheet: Sheet, x: float, y: float, room: tuple[float, float], title: str, texts: Sequence[str]
) -> float:
    """Write numbered notes into a room of (width, height) mm and return the y below them.

    Letters shrink from 1.8 to 1.3 mm until all fit; raises ValueError where they do not.
    """
    size = drawn_letter_height(room, texts)
    if size is None:
        raise ValueError(f"notes: given {len(texts)}, allowed what fits {room[1]:.0f} mm")
    step, lines = size * _STEP, _numbered(texts, room[0], size)
    sheet.label(x, y + NORMAL, title, NORMAL * 0.88, bold=True)
    y += NORMAL * 1.8
    for number, line in lines:
        y += step
        if number:
            sheet.label(x, y - 0.35 * size, number, size)
        sheet.label(x + 3.2 * size, y - 0.35 * size, line, size)
    return y


def drawn_letter_height(room: tuple[float, float], texts: Sequence[str]) -> float | None:
    """Return the largest height of letters at which notes fit a room, None if none does."""
    width, height = room
    for size in _NOTE_SIZES:
        if NORMAL * 1.8 + size * _STEP * len(_numbered(texts, width, size)) <= height:
            return size
    return None


def _numbered(texts: Sequence[str], width: float, size: float) -> list[tuple[str, str]]:
    found = []
    for index, text in enumerate(texts, start=1):
        for place, line in enumerate(drawn_text_wrapped(text, width - 3.2 * size, size)):
            found.append((f"{index}." if place == 0 else "", line))
    return found
