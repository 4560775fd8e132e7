"""The frame of a sheet and its title block, fields after ISO 7200:2004."""

from __future__ import annotations

from dataclasses import dataclass

from ringset.drawing.sheet import (
    CENTRE,
    LARGE,
    NARROW,
    SMALL,
    WIDE,
    Label,
    Sheet,
    drawn_label_fitted,
)

#: A3, landscape (ISO 5457), and its frame: 20 mm at the binding edge, 10 mm elsewhere.
WIDTH_MM, HEIGHT_MM = 420.0, 297.0
LEFT, TOP, RIGHT, BOTTOM = 20.0, 10.0, 410.0, 287.0
BLOCK_WIDTH, BLOCK_HEIGHT = 180.0, 40.0
_CAPTION = 1.3


@dataclass(frozen=True)
class Release:
    """Who answers for the sheets; what is not stated is left blank to be filled in by hand."""

    owner: str = ""
    creator: str = ""
    approved: str = ""
    date: str = ""
    revision: str = ""


@dataclass(frozen=True)
class Title:
    """What one sheet says of itself in its title block."""

    title: str
    supplement: str
    number: str
    kind: str
    reference: str
    scale: str
    general: str
    sheet: str = "1/1"


def draw_sheet_frame(title: Title, release: Release) -> Sheet:
    """Return an empty A3 sheet with frame, centring marks and title block."""
    sheet = Sheet(WIDTH_MM, HEIGHT_MM, f"{title.number} {title.title}")
    sheet.box(LEFT, TOP, RIGHT, BOTTOM, WIDE)
    middle_x, middle_y = WIDTH_MM / 2.0, HEIGHT_MM / 2.0
    for mark in (
        [(middle_x, TOP - 5.0), (middle_x, TOP)],
        [(middle_x, BOTTOM), (middle_x, BOTTOM + 5.0)],
        [(LEFT - 5.0, middle_y), (LEFT, middle_y)],
        [(RIGHT, middle_y), (RIGHT + 5.0, middle_y)],
    ):
        sheet.line(mark, WIDE)
    _block(sheet, title, release)
    return sheet


def _block(sheet: Sheet, title: Title, release: Release) -> None:
    left, top = RIGHT - BLOCK_WIDTH, BOTTOM - BLOCK_HEIGHT
    sheet.box(left, top, RIGHT, BOTTOM, WIDE)
    # caption, text, left, top, width, height; mm from the corner of the block
    cells = [
        ("Scale", title.scale, 0.0, 0.0, 26.0, 8.0),
        ("Projection", "", 26.0, 0.0, 22.0, 8.0),
        ("General tolerances", title.general, 48.0, 0.0, 44.0, 8.0),
        ("Dimensions", "mm, at 20 °C", 92.0, 0.0, 40.0, 8.0),
        ("Technical reference", title.reference, 132.0, 0.0, 48.0, 8.0),
        ("Legal owner", release.owner, 0.0, 8.0, 48.0, 16.0),
        ("Creator", release.creator, 0.0, 24.0, 48.0, 8.0),
        ("Approval person", release.approved, 0.0, 32.0, 48.0, 8.0),
        ("Document type", title.kind, 48.0, 8.0, 62.0, 8.0),
        ("Document status", "not released", 110.0, 8.0, 70.0, 8.0),
        ("Title, supplementary title", title.title, 48.0, 16.0, 82.0, 16.0),
        ("Identification number", title.number, 130.0, 16.0, 50.0, 16.0),
        ("Revision", release.revision, 48.0, 32.0, 22.0, 8.0),
        ("Date of issue", release.date, 70.0, 32.0, 40.0, 8.0),
        ("Language", "en", 110.0, 32.0, 20.0, 8.0),
        ("Sheet", title.sheet, 130.0, 32.0, 24.0, 8.0),
        ("Size", "A3", 154.0, 32.0, 26.0, 8.0),
    ]
    for caption, text, x, y, width, height in cells:
        cell_left, cell_top = left + x, top + y
        sheet.box(cell_left, cell_top, cell_left + width, cell_top + height, NARROW)
        sheet.label(cell_left + 1.0, cell_top + 2.3, caption, _CAPTION)
        large = height > 8.0 and caption != "Legal owner"
        size = LARGE if large else 2.2
        base = cell_top + (8.8 if large else height - 1.6)
        if caption == "Legal owner":
            base = cell_top + 9.5
        sheet.items.append(_shrunk(cell_left + 1.5, base, text, size, width - 3.0))
    sheet.items.append(_shrunk(left + 49.5, top + 30.0, title.supplement, SMALL, 79.0))
    _first_angle(sheet, left + 33.0, top + 5.0)


def _shrunk(x: float, y: float, text: str, height: float, room: float) -> Label:
    """Return a label made smaller to fit its room, cut only where that is not enough."""
    label = Label(x, y, text, height)
    if label.width > room:
        smaller = max(height * room / label.width * 0.99, 1.1)
        label = Label(x, y, drawn_label_fitted(text, room, smaller), smaller)
    return label


def _first_angle(sheet: Sheet, x: float, y: float) -> None:
    """Draw the symbol of first-angle projection (ISO 5456-2): the cone, then its view from the left."""
    sheet.polygon([(x - 3.2, y - 0.9), (x + 1.2, y - 1.8), (x + 1.2, y + 1.8), (x - 3.2, y + 0.9)])
    sheet.circle(x + 5.2, y, 1.8)
    sheet.circle(x + 5.2, y, 0.9)
    sheet.line([(x - 4.0, y), (x + 7.8, y)], CENTRE)
