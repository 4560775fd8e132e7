"""The drawing model: pens, paths, circles, labels, and the sheet that holds them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ringset.drawing import lettering

Anchor = Literal["start", "middle", "end"]
Points = NDArray[np.float64]


@dataclass(frozen=True)
class Pen:
    """A line: width in mm, and lengths of dash, space, ... in mm (none: continuous)."""

    width_mm: float
    dashes: tuple[float, ...] = ()


#: Line group 0.5 of ISO 128: visible edges wide, all else narrow; centre lines long dashed dotted.
WIDE = Pen(0.5)
NARROW = Pen(0.25)
HAIR = Pen(0.13)
CENTRE = Pen(0.18, (8.0, 1.2, 0.6, 1.2))
PLANE = Pen(0.7)

#: Heights of a capital letter in mm (ISO 3098).
SMALL, NORMAL, LARGE = 1.8, 2.5, 3.5


@dataclass(frozen=True)
class Path:
    """A line through points, shape (n, 2); `fill` is a grey from 0 (black) to 1 (white)."""

    points: Points
    pen: Pen | None
    closed: bool = False
    fill: float | None = None


@dataclass(frozen=True)
class Circle:
    """A circle; `fill` as in `Path`."""

    x: float
    y: float
    radius: float
    pen: Pen | None
    fill: float | None = None


@dataclass(frozen=True)
class Label:
    """Text at (x, y) on its base line; `height` of capitals in mm; `turned` reads upwards."""

    x: float
    y: float
    text: str
    height: float = SMALL
    anchor: Anchor = "start"
    turned: bool = False
    bold: bool = False
    markup: bool = False

    @property
    def font_size(self) -> float:
        """Font size in mm."""
        return self.height / lettering.CAPITAL

    @property
    def width(self) -> float:
        """Width in mm."""
        return lettering.lettering_width(self.text, self.font_size, self.bold, self.markup)

    def box(self) -> tuple[float, float, float, float]:
        """Return left, top, right, bottom on the sheet in mm."""
        width, size = self.width, self.font_size
        start = {"start": 0.0, "middle": -width / 2.0, "end": -width}[self.anchor]
        above, below = lettering.ABOVE * size, lettering.BELOW * size
        if self.turned:
            return (self.x - above, self.y - start - width, self.x + below, self.y - start)
        return (self.x + start, self.y - above, self.x + start + width, self.y + below)


Item = Path | Circle | Label


@dataclass
class Sheet:
    """One page: its size in mm, its title, and what is drawn, in order."""

    width_mm: float
    height_mm: float
    title: str
    items: list[Item] = field(default_factory=list)

    def line(self, points: ArrayLike, pen: Pen = NARROW) -> None:
        """Draw an open line through points."""
        self.items.append(Path(np.asarray(points, dtype=float), pen))

    def polygon(
        self, points: ArrayLike, pen: Pen | None = NARROW, fill: float | None = None
    ) -> None:
        """Draw a closed line, filled if asked."""
        self.items.append(Path(np.asarray(points, dtype=float), pen, closed=True, fill=fill))

    def box(
        self, left: float, top: float, right: float, bottom: float, pen: Pen | None = NARROW,
        fill: float | None = None,
    ) -> None:  # fmt: skip
        """Draw a rectangle."""
        self.polygon([(left, top), (right, top), (right, bottom), (left, bottom)], pen, fill)

    def circle(self, x: float, y: float, radius: float, pen: Pen = NARROW) -> None:
        """Draw a circle."""
        self.items.append(Circle(x, y, radius, pen))

    def label(
        self, x: float, y: float, text: str, height: float = SMALL, anchor: Anchor = "start", *,
        turned: bool = False, bold: bool = False, markup: bool = False,
    ) -> Label:  # fmt: skip
        """Write text and return its label."""
        label = Label(x, y, text, height, anchor, turned, bold, markup)
        self.items.append(label)
        return label

    def labels(self) -> list[Label]:
        """Return every label on the sheet."""
        return [item for item in self.items if isinstance(item, Label)]


def drawn_label_fitted(
    text: str, room: float, height: float, bold: bool = False, markup: bool = False
) -> str:
    """Return the text, cut with an ellipsis where it is wider than `room` mm."""
    size = height / lettering.CAPITAL
    if lettering.lettering_width(text, size, bold, markup) <= room:
        return text
    while text and lettering.lettering_width(text + "…", size, bold, markup) > room:
        text = text[:-1]
    return text.rstrip() + "…"


def drawn_height_fitted(
    texts: Iterable[str], room: float, height: float, bold: bool = False
) -> float:
    """Return the height at which the widest of some texts that may not be cut fits `room` mm."""
    size = height / lettering.CAPITAL
    widest = max((lettering.lettering_width(text, size, bold) for text in texts), default=0.0)
    return height if widest <= room else 0.99 * height * room / widest


def drawn_text_wrapped(text: str, room: float, height: float) -> list[str]:
    """Return the text in lines no wider than `room` mm; a word too wide is cut between letters."""
    size = height / lettering.CAPITAL
    lines: list[str] = []
    for word in _short_words(text.split(), room, size):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and lettering.lettering_width(joined, size) <= room:
            lines[-1] = joined
        else:
            lines.append(word)
    return lines


def _short_words(words: Iterable[str], room: float, size: float) -> Iterable[str]:
    for word in words:
        rest = word
        while lettering.lettering_width(rest, size) > room and len(rest) > 1:
            keep = len(rest) - 1
            while keep > 1 and lettering.lettering_width(rest[:keep], size) > room:
                keep -= 1
            yield rest[:keep]
            rest = rest[keep:]
        yield rest


def drawn_arc(
    x: float, y: float, radius: float, start_deg: float, end_deg: float, count: int = 48
) -> Sequence[tuple[float, float]]:
    """Return points of an arc, angles counter-clockwise from the right as seen on the page."""
    turn = np.radians(np.linspace(start_deg, end_deg, count + 1))
    return list(zip(x + radius * np.cos(turn), y - radius * np.sin(turn), strict=True))
