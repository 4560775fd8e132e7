"""Dimension lines, leaders, datum and tolerance frames (ISO 129-1, ISO 1101, ISO 21920-1 ideas)."""

from __future__ import annotations

import math

from ringset.drawing.sheet import NARROW, NORMAL, Anchor, Label, Sheet

ARROW_MM = 2.6
_SLIM = 0.17  # half width of an arrow head over its length
_OVER = 1.5


def draw_arrow(
    sheet: Sheet, x: float, y: float, towards_deg: float, length: float = ARROW_MM
) -> None:
    """Draw a filled arrow head with its point at (x, y), pointing counter-clockwise from the right."""
    c, s = math.cos(math.radians(towards_deg)), math.sin(math.radians(towards_deg))
    back_x, back_y = x - length * c, y + length * s
    half = length * _SLIM
    wings = [(back_x + half * s, back_y + half * c), (back_x - half * s, back_y - half * c)]
    sheet.polygon([(x, y), *wings], None, 0.0)


def draw_dimension_across(
    sheet: Sheet, x1: float, x2: float, y: float, feet: tuple[float, float], text: str,
    height: float = NORMAL,
) -> Label:  # fmt: skip
    """Draw a horizontal dimension at `y` between x1 < x2; extension lines start at `feet`.

    Where text and arrows do not fit between, the arrows stand outside and the text to the right.
    """
    for x, foot in ((x1, feet[0]), (x2, feet[1])):
        away = math.copysign(1.0, y - foot)
        sheet.line([(x, foot + away), (x, y + away * _OVER)], NARROW)
    probe = Label(0.0, 0.0, text, height, markup=True)
    if probe.width + 2.0 * ARROW_MM + 1.0 <= x2 - x1:
        sheet.line([(x1, y), (x2, y)], NARROW)
        draw_arrow(sheet, x1, y, 180.0)
        draw_arrow(sheet, x2, y, 0.0)
        return sheet.label((x1 + x2) / 2.0, y - 0.9, text, height, "middle", markup=True)
    sheet.line([(x1 - 2.0 * ARROW_MM, y), (x2 + 2.0 * ARROW_MM + 1.0 + probe.width, y)], NARROW)
    draw_arrow(sheet, x1, y, 0.0)
    draw_arrow(sheet, x2, y, 180.0)
    return sheet.label(x2 + 2.0 * ARROW_MM, y - 0.9, text, height, markup=True)


def draw_dimension_upright(
    sheet: Sheet, y1: float, y2: float, x: float, feet: tuple[float, float], text: str,
    *, above: bool, height: float = NORMAL,
) -> Label:  # fmt: skip
    """Draw a vertical dimension at `x` between y1 < y2 (y1 above); text reads upwards.

    Where text and arrows do not fit between, the arrows stand outside and the text stands level on a
    shelf at the end of the line, `above` or below.
    """
    for y, foot in ((y1, feet[0]), (y2, feet[1])):
        away = math.copysign(1.0, x - foot)
        sheet.line([(foot + away, y), (x + away * _OVER, y)], NARROW)
    probe = Label(0.0, 0.0, text, height, markup=True)
    if probe.width + 2.0 * ARROW_MM + 1.0 <= y2 - y1:
        sheet.line([(x, y1), (x, y2)], NARROW)
        draw_arrow(sheet, x, y1, 90.0)
        draw_arrow(sheet, x, y2, 270.0)
        middle = (y1 + y2) / 2.0
        return sheet.label(
            x - 0.9, middle + probe.width / 2.0, text, height, turned=True, markup=True
        )
    sheet.line([(x, y1 - 2.0 * ARROW_MM), (x, y2 + 2.0 * ARROW_MM)], NARROW)
    draw_arrow(sheet, x, y1, 270.0)
    draw_arrow(sheet, x, y2, 90.0)
    end = y1 - 2.0 * ARROW_MM if above else y2 + 2.0 * ARROW_MM
    sheet.line([(x, end), (x + 2.0 + probe.width, end)], NARROW)
    return sheet.label(x + 1.5, end - 0.9, text, height, markup=True)


def draw_leader(
    sheet: Sheet, x: float, y: float, elbow: tuple[float, float], text: str, side: Anchor = "start",
    height: float = NORMAL,
) -> Label:  # fmt: skip
    """Draw an arrow to (x, y) from an elbow with the text on a shelf to its right or left (`end`)."""
    ex, ey = elbow
    turn = math.degrees(math.atan2(ey - y, x - ex))
    label = Label(ex, ey, text, height, markup=True)
    way = 1.0 if side == "start" else -1.0
    shelf = ex + way * (label.width + 1.0)
    sheet.line([(x, y), (ex, ey), (shelf, ey)], NARROW)
    draw_arrow(sheet, x, y, turn)
    return sheet.label(ex + way * 0.5, ey - 0.9, text, height, side, markup=True)


def draw_datum(sheet: Sheet, x: float, y: float, letter: str, drop: float = 7.0) -> None:
    """Draw a datum triangle standing on the surface at (x, y) from below, with its framed letter."""
    sheet.polygon([(x, y), (x - 1.6, y + 2.6), (x + 1.6, y + 2.6)], NARROW, 0.0)
    sheet.line([(x, y + 2.6), (x, y + drop)], NARROW)
    sheet.box(x - 2.5, y + drop, x + 2.5, y + drop + 5.0)
    sheet.label(x, y + drop + 3.75, letter, NORMAL, "middle")


def draw_run_out(sheet: Sheet, x: float, y: float, tolerance: str, letter: str) -> float:
    """Draw a circular run-out frame with its left edge at (x, y) in the middle; returns its right edge."""
    value = Label(0.0, 0.0, tolerance, NORMAL)
    edges = [x, x + 6.0, x + 9.0 + value.width, x + 14.0 + value.width]
    sheet.box(x, y - 2.6, edges[-1], y + 2.6)
    for edge in edges[1:3]:
        sheet.line([(edge, y - 2.6), (edge, y + 2.6)])
    sheet.line([(x + 1.6, y + 1.7), (x + 4.4, y - 1.7)])
    draw_arrow(sheet, x + 4.6, y - 1.9, 51.0, 2.0)
    sheet.label(edges[1] + 1.5, y + 1.25, tolerance, NORMAL)
    sheet.label(edges[2] + 2.5, y + 1.25, letter, NORMAL, "middle")
    return edges[-1]
