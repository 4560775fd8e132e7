"""How wide a label is: the metrics of the fonts that the PDF embeds and the SVG asks for.

Text is set in Bitstream Vera, which reportlab brings along; browsers find its widths again in DejaVu
Sans. Greek letters come from the standard PDF font Symbol, letters that Vera lacks (Cyrillic, more of Latin)
from DejaVu Sans, its wider descendant, which matplotlib brings along. What none of them can draw is never
replaced by another sign: `undrawable_letters` finds it before anything is drawn. A subscript is written
`d_{a}`.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache, partial
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path

#: Height of a capital letter and room below the base line and above it, in font sizes.
CAPITAL, BELOW, ABOVE = 0.729, 0.21, 0.78
_SUB_SIZE, _SUB_DROP = 0.7, 0.22
_GREEK = frozenset("αβγδεζηθικλμνξορστυφχψωΓΔΘΛΞΠΣΦΨΩ")
#: They choose between pictures and signs, and have no shape of their own.
_SELECTORS = frozenset(map(chr, range(0xFE00, 0xFE10)))


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
        for font, letters in groupby(lettering_composed(piece), partial(_font_of, bold=bold)):
            found.append(Run("".join(letters), font, size, drop))
    return found


def lettering_width(text: str, font_size: float, bold: bool = False, markup: bool = False) -> float:
    """Return the width of a label in the unit of `font_size`."""
    known = lettering_fonts()
    return sum(
        float(known.stringWidth(run.text, run.font, run.size * font_size))
        for run in lettering_runs(text, bold, markup)
    )


def lettering_composed(text: str) -> str:
    """Return the text with each letter and its accents as one, where there is such a letter.

    Signs that have no shape (joiners, those that only choose how a picture looks) are left out.
    """
    whole = unicodedata.normalize("NFC", text)
    return "".join(c for c in whole if not (unicodedata.category(c) == "Cf" or c in _SELECTORS))


def undrawable_letters(text: str) -> str:
    """Return the letters of a text that no font of the sheets draws, each once, in their order.

    Letters that are written from right to left, or joined, need more than a font that holds them.
    """
    return "".join(
        dict.fromkeys(c for c in lettering_composed(text) if _font_or_none(c, False) is None)
    )


def _font_of(letter: str, bold: bool) -> str:
    font = _font_or_none(letter, bold)
    if font is None:
        raise ValueError(f"the sheets have no letter {letter!r}")
    return font


@cache
def _font_or_none(letter: str, bold: bool) -> str | None:
    if letter in _GREEK:
        return "Symbol"
    if unicodedata.bidirectional(letter) in ("R", "AL", "AN") or unicodedata.combining(letter):
        return None
    known = lettering_fonts()
    # what has no bold letter is drawn as it is elsewhere
    for font in ("VeraBd", "DejaVuSans-Bold", "DejaVuSans") if bold else ("Vera", "DejaVuSans"):
        if (
            font in known.getRegisteredFontNames()
            and ord(letter) in known.getFont(font).face.charToGlyph
        ):
            return font
    return None


@cache
def lettering_fonts():  # type: ignore[no-untyped-def]
    """Return reportlab's metrics with the fonts of the sheets registered."""
    import reportlab
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(reportlab.__file__).parent / "fonts"
    for name in ("Vera", "VeraBd"):
        pdfmetrics.registerFont(TTFont(name, str(folder / f"{name}.ttf")))
    wider = find_spec("matplotlib")  # only its files are read: loading it takes long
    for place in () if wider is None else wider.submodule_search_locations or ():
        for name in ("DejaVuSans", "DejaVuSans-Bold"):
            file = Path(place) / "mpl-data" / "fonts" / "ttf" / f"{name}.ttf"
            pdfmetrics.registerFont(TTFont(name, str(file)))
    return pdfmetrics
