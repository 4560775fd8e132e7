"""How wide a label is: the metrics of the fonts that the PDF embeds and the SVG asks for.

Text is set in Bitstream Vera, which reportlab brings along; browsers find its widths again in DejaVu
Sans. Greek letters come from the standard PDF font Symbol. A subscript is written `d_{a}`.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache
from pathlib import Path

#: Height of a capital letter and room below the base line and above it, in font sizes.
CAPITAL, BELOW, ABOVE = 0.729, 0.21, 0.78
_SUB_SIZE, _SUB_DROP = 0.7, 0.22
_GREEK = frozenset("αβγδεζηθικλμνξορστυφχψωΓΔΘΛΞΠΣΦΨΩ")


@dataclass(frozen=True)
class Run:
    """A stretch of text in one font: `size` and `drop` (down) in font sizes of the label."""

    text: str
    font: str
    size: float
    drop: float


def lettering_runs(text: str, bold: bool = False, markup: bool = False) -> list[Run]:
    """Return the text cut into runs; with `markup`, `_{...}` is a subscript."""
    pieces = re.split(r"_\{([^}]*)\}", text) if markup else [text]
    found = []
    for index, piece in enumerate(pieces):
        size, drop = (_SUB_SIZE, _SUB_DROP) if index % 2 else (1.0, 0.0)
        for greek, stretch in _by_alphabet(piece):
            font = "Symbol" if greek else ("VeraBd" if bold else "Vera")
            found.append(Run(stretch, font, size, drop))
    return found


def width(text: str, font_size: float, bold: bool = False, markup: bool = False) -> float:
    """Return the width of a label in the unit of `font_size`."""
    known = fonts()
    return sum(
        float(known.stringWidth(printable(run.text, run.font), run.font, run.size * font_size))
        for run in lettering_runs(text, bold, markup)
    )


def printable(text: str, font: str) -> str:
    """Return the text with characters that the font does not hold as question marks.

    Signs without a width of their own, which join or colour pictures, leave none.
    """
    if font == "Symbol":
        return text
    held = fonts().getFont(font).face.charToGlyph
    return "".join(
        c if ord(c) in held else "?"
        for c in text
        if ord(c) in held or unicodedata.category(c) not in ("Cf", "Mn", "Me", "Sk")
    )


@cache
def fonts():  # type: ignore[no-untyped-def]
    """Return reportlab's metrics with the fonts of the sheets registered."""
    import reportlab
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(reportlab.__file__).parent / "fonts"
    for name in ("Vera", "VeraBd"):
        pdfmetrics.registerFont(TTFont(name, str(folder / f"{name}.ttf")))
    return pdfmetrics


def _by_alphabet(text: str) -> list[tuple[bool, str]]:
    stretches: list[tuple[bool, str]] = []
    for letter in text:
        greek = letter in _GREEK
        if stretches and stretches[-1][0] == greek:
            stretches[-1] = (greek, stretches[-1][1] + letter)
        else:
            stretches.append((greek, letter))
    return stretches
