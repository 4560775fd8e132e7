"""Views of one ring on a sheet: the face with its true teeth, the rim in section, two teeth large."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ringset.drawing.dimensions import (
    draw_arrow,
    draw_datum,
    draw_dimension_across,
    draw_dimension_upright,
    draw_leader,
    draw_run_out,
)
from ringset.drawing.scales import drawing_scale_name
from ringset.drawing.sheet import (
    CENTRE,
    HAIR,
    NARROW,
    NORMAL,
    PLANE,
    SMALL,
    WIDE,
    Pen,
    Points,
    Sheet,
    drawn_arc,
)  # fmt: skip
from ringset.physics.tooth_profile import Tooth

#: No chord of a drawn tooth is further off than this on paper.
PAPER_CHORD_MM = 0.015


@dataclass(frozen=True)
class Holes:
    """Through holes for screws on a circle, evenly spaced; a tooth at the top stands midway of two."""

    count: int
    hole_mm: float
    circle_mm: float
    screw: str

    def centres(self) -> Points:
        """Return their centres in mm, shape (count, 2), a tooth on the positive x axis."""
        turn = 2.0 * np.pi * (np.arange(self.count) + 0.5) / self.count
        return self.circle_mm / 2.0 * np.column_stack([np.cos(turn), np.sin(turn)])


@dataclass(frozen=True)
class Shape:
    """What the views draw of a ring; lengths in mm."""

    tooth: Tooth
    bore_mm: float
    face_width_mm: float
    holes: Holes | None = None

    @property
    def rim_mm(self) -> float:
        """Rim between root circle and bore."""
        return self.tooth.root_mm - self.bore_mm / 2.0

    @property
    def depth_mm(self) -> float:
        """Tooth depth."""
        return self.tooth.tip_mm - self.tooth.root_mm

    @property
    def pitch_mm(self) -> float:
        """Pitch radius."""
        return self.tooth.module_mm * self.tooth.teeth / 2.0


def draw_face_view(
    sheet: Sheet, shape: Shape, x: float, y: float, scale: float, over_mm: float = 4.0
) -> None:
    """Draw the face view around (x, y): every tooth, bore, pitch circle and centre lines.

    The centre lines stand `over_mm` over the tips on paper.
    """
    tooth = shape.tooth
    points = tooth.outline(PAPER_CHORD_MM / scale) * scale
    # a tooth stands at the top: quarter turn, and y runs down the page
    on_page = np.column_stack([x - points[:, 1], y - points[:, 0]])
    pitch_on_paper = math.pi * tooth.module_mm * scale
    sheet.polygon(on_page, Pen(max(min(WIDE.width_mm, 0.16 * pitch_on_paper), 0.05)))
    sheet.circle(x, y, shape.bore_mm / 2.0 * scale, WIDE)
    sheet.circle(x, y, shape.pitch_mm * scale, CENTRE)
    if shape.holes is not None:
        sheet.circle(x, y, shape.holes.circle_mm / 2.0 * scale, CENTRE)
        for right, up in shape.holes.centres() * scale:
            sheet.circle(x - up, y - right, shape.holes.hole_mm / 2.0 * scale, WIDE)
    reach = tooth.tip_mm * scale + over_mm
    sheet.line([(x - reach, y), (x + reach, y)], CENTRE)
    sheet.line([(x, y - reach), (x, y + reach)], CENTRE)


def draw_diameters(
    sheet: Sheet, shape: Shape, x: float, y: float, scale: float, right: float,
    texts: dict[str, str],
) -> None:  # fmt: skip
    """Dimension the circles of a face view by leaders whose shelves start at `right`, in its corners.

    `texts` holds the words for "tip", "pitch", "root" and "bore".
    """
    tooth = shape.tooth
    edge = max(tooth.tip_mm * scale, 22.0)
    # a small bore is met from further below, so that its leader passes under that of the root
    low = -60.0 if shape.bore_mm > 1.2 * tooth.tip_mm else -75.0
    # name, radius in mm, where on the circle, height of the shelf above the centre
    circles = [
        ("tip", tooth.tip_mm, 60.0, edge - 2.0),
        ("pitch", shape.pitch_mm, 45.0, edge - 10.0),
        ("root", tooth.root_mm, -35.0, 10.0 - edge),
        ("bore", shape.bore_mm / 2.0, low, 2.0 - edge),
    ]
    for name, radius, turn, shelf in circles:
        at, way = radius * scale, math.radians(_at_feature(tooth, name, turn))
        foot = (x + at * math.cos(way), y - at * math.sin(way))
        draw_leader(sheet, *foot, (right, y - shelf), texts[name])


def draw_holes(
    sheet: Sheet, shape: Shape, x: float, y: float, scale: float, elbow: tuple[float, float],
    text: str,
) -> None:  # fmt: skip
    """Dimension the screw holes of a face view by a leader from the one nearest to its elbow."""
    if shape.holes is None:
        return
    centres = np.array([x, y]) - shape.holes.centres()[:, ::-1] * scale
    away = np.array(elbow) - centres
    nearest = int(np.argmin(np.hypot(*away.T)))
    way = away[nearest] / np.hypot(*away[nearest])
    foot = centres[nearest] + way * shape.holes.hole_mm / 2.0 * scale
    draw_leader(sheet, float(foot[0]), float(foot[1]), elbow, text, "end")


def _at_feature(tooth: Tooth, name: str, wanted_deg: float) -> float:
    """Return the angle nearest to the wanted one that stands on a tip, or in a gap, or anywhere."""
    pitch = 360.0 / tooth.teeth
    offset = {"tip": 0.0, "root": 0.5}.get(name)
    if offset is None:
        return wanted_deg
    return 90.0 + (round((wanted_deg - 90.0) / pitch - offset) + offset) * pitch


def draw_plane_marks(sheet: Sheet, shape: Shape, x: float, y: float, scale: float) -> None:
    """Mark the cutting plane of section A-A, over the upper rim and in the bore or under the ring."""
    top = y - shape.tooth.tip_mm * scale
    bore = shape.bore_mm / 2.0 * scale
    # a small bore has no room for the second mark: the plane then passes the whole ring
    below = y - bore + 4.0 if bore > 13.0 else 2.0 * y - top + 4.0
    for level, text in ((top - 5.0, top - 7.2), (below, below + 4.6)):
        sheet.line([(x, level - 2.0), (x, level + 2.0)], PLANE)
        sheet.line([(x, level), (x + 8.0, level)], NARROW)
        draw_arrow(sheet, x, level, 180.0)
        sheet.label(x + 3.0, text, "A", NORMAL, bold=True)


def draw_section(
    sheet: Sheet, shape: Shape, left: float, top: float, scale: float, texts: dict[str, str]
) -> None:
    """Draw the rim in section with its upper left corner at (left, top), dimensions around it.

    Teeth stay without hatching and are cut through a tooth (ISO 2203). `texts` holds the words for
    "width", "rim", "depth", "face_run_out", "tip_run_out".
    """
    width = shape.face_width_mm * scale
    root = top + shape.depth_mm * scale
    bottom = root + shape.rim_mm * scale
    right = left + width
    draw_hatching(sheet, left, root, right, bottom)
    sheet.box(left, top, right, bottom, WIDE)
    sheet.line([(left, root), (right, root)], WIDE)
    pitch = top + (shape.tooth.tip_mm - shape.pitch_mm) * scale
    sheet.line([(left - 3.0, pitch), (right + 3.0, pitch)], CENTRE)
    draw_dimension_across(sheet, left, right, top - 12.0, (top, top), texts["width"])
    draw_dimension_upright(
        sheet, top, root, right + 7.0, (right, right), texts["depth"], above=True
    )
    draw_dimension_upright(
        sheet, root, bottom, right + 14.0, (right, right), texts["rim"], above=False
    )
    middle = (left + right) / 2.0
    draw_datum(sheet, middle, bottom, "A")
    frame_y = top - 26.0
    # the leader ends on the tips drawn out to the left: over the rim it would meet the text of the width
    draw_run_out(sheet, left - 6.0, frame_y, texts["tip_run_out"], "A")
    sheet.line([(left - 1.0, top), (left - 6.0, top)], NARROW)
    sheet.line([(left - 4.0, frame_y + 2.6), (left - 4.0, top)])
    draw_arrow(sheet, left - 4.0, top, 270.0)
    low = bottom + 20.0
    draw_run_out(sheet, left - 2.0, low + 2.6, texts["face_run_out"], "A")
    foot = (root + bottom) / 2.0
    sheet.line([(left - 2.0, low + 2.6), (left - 8.0, low + 2.6), (left - 8.0, foot), (left, foot)])
    draw_arrow(sheet, left, foot, 0.0)


def draw_hatching(
    sheet: Sheet, left: float, top: float, right: float, bottom: float, step: float = 2.2
) -> None:
    """Hatch a rectangle at 45 degrees with narrow lines."""
    width, height = right - left, bottom - top
    for offset in np.arange(step, width + height, step):
        x1, y1 = left + min(offset, width), top + max(offset - width, 0.0)
        x2, y2 = left + max(offset - height, 0.0), top + min(offset, height)
        sheet.line([(x1, y1), (x2, y2)], HAIR)


def draw_tooth_gap(
    sheet: Sheet, shape: Shape, x: float, y: float, scale: float, texts: dict[str, str]
) -> None:
    """Draw one gap between two teeth large; the tip circle above the gap passes through (x, y).

    `texts` holds the words for "depth", "thickness", "fillet".
    """
    tooth, chord = shape.tooth, PAPER_CHORD_MM / scale
    centre = y + tooth.tip_mm * scale
    outline = _two_teeth(tooth, chord)

    def place(points: Points) -> Points:
        return np.column_stack([x + scale * points[:, 0], centre - scale * points[:, 1]])

    drawn = place(outline)
    sheet.line(drawn, WIDE)
    left, right = drawn[0], drawn[-1]
    low = max(centre - (tooth.root_mm - 0.9 * tooth.module_mm) * scale, left[1] + 5.0)
    _broken(sheet, left, right, low)
    from_deg = 90.0 - math.degrees(math.atan2(right[0] - x, centre - right[1]))
    to_deg = 180.0 - from_deg
    sheet.line(drawn_arc(x, centre, shape.pitch_mm * scale, from_deg, to_deg), CENTRE)
    gap = 180.0 / tooth.teeth
    sheet.line(drawn_arc(x, centre, tooth.tip_mm * scale, 90.0 - gap, 90.0 + gap), NARROW)
    root_y = centre - tooth.root_mm * scale
    _gap_depth(sheet, x, y, root_y, texts["depth"])
    _thickness(sheet, shape, x, centre, scale, texts["thickness"])
    foot = _fillet_point(tooth)
    at = place(np.array([foot]))[0]
    draw_leader(sheet, at[0], at[1], (at[0] + 9.0, low + 7.0), texts["fillet"], height=SMALL)


def _two_teeth(tooth: Tooth, chord_mm: float) -> Points:
    """Return the outline from one tooth's middle to the next, a gap at the top, left to right."""
    radius, half = tooth.half_outline(chord_mm)
    pitch = 2.0 * np.pi / tooth.teeth
    tip = np.linspace(tooth.tip_half_angle, -tooth.tip_half_angle, 13)
    # one tooth from its left gap to its right gap, angle clockwise from its own middle
    one_r = np.concatenate([radius, np.full(11, tooth.tip_mm), radius[::-1]])
    one_t = np.concatenate([-half, -tip[1:-1], half[::-1]])
    r, t = np.concatenate([one_r, one_r]), np.concatenate([one_t - pitch / 2, one_t + pitch / 2])
    return np.column_stack([r * np.sin(t), r * np.cos(t)])


def _broken(sheet: Sheet, left: Points, right: Points, low: float) -> None:
    """Close a detail below by its sides and a free-hand line."""
    xs = np.linspace(left[0], right[0], 61)
    wave = low + 0.7 * np.sin(np.linspace(0.0, 7.0 * np.pi, 61))
    sheet.line([tuple(left), *zip(xs, wave, strict=True), tuple(right)], NARROW)


def _gap_depth(sheet: Sheet, x: float, top: float, bottom: float, text: str) -> None:
    """Dimension the depth inside the gap, from the tip circle to the root."""
    sheet.line([(x, top), (x, bottom)], NARROW)
    draw_arrow(sheet, x, top, 90.0, 2.0)
    draw_arrow(sheet, x, bottom, 270.0, 2.0)
    sheet.label(x, top - 4.5, text, SMALL, "middle", markup=True)
    sheet.line([(x, top), (x, top - 3.6)], NARROW)


def _thickness(
    sheet: Sheet, shape: Shape, x: float, centre: float, scale: float, text: str
) -> None:
    """Dimension the tooth thickness on the pitch circle of the left tooth."""
    tooth, radius = shape.tooth, shape.pitch_mm * scale
    half = math.degrees(float(tooth.involute_half_angle(shape.pitch_mm)))
    middle = 90.0 + 180.0 / tooth.teeth
    sheet.line(drawn_arc(x, centre, radius, middle - half, middle + half), NARROW)
    for turn, way in ((middle - half, -90.0), (middle + half, 90.0)):
        ((px, py),) = drawn_arc(x, centre, radius, turn, turn, 0)
        draw_arrow(sheet, px, py, turn + way, 2.0)
    ((px, py),) = drawn_arc(x, centre, radius, middle, middle, 0)
    top = centre - tooth.tip_mm * scale
    sheet.line([(px, py), (px, top - 9.0)], NARROW)
    sheet.label(px, top - 9.9, text, SMALL, "middle", markup=True)


def _fillet_point(tooth: Tooth) -> tuple[float, float]:
    """Return the middle of the fillet right of the gap at the top, x and y in mm."""
    radius, half = tooth.fillet(0.55 * np.pi / 2.0 + 0.45 * tooth.fillet_end)
    turn = np.pi / tooth.teeth - half
    return float(radius * np.sin(turn)), float(radius * np.cos(turn))


def draw_caption(sheet: Sheet, x: float, y: float, name: str, scale: float) -> None:
    """Write the name of a view and its scale, middle at x."""
    sheet.label(x, y, f"{name} ({drawing_scale_name(scale)})", NORMAL, "middle", bold=True)
