"""The sheet of a robot: its rings to one scale, budget bars, totals, cutters and what to order."""

from __future__ import annotations

from dataclasses import dataclass

from ringset.drawing import views
from ringset.drawing.blocks import Row, draw_notes, draw_table, drawn_table_height
from ringset.drawing.frame import (
    BLOCK_HEIGHT,
    BOTTOM,
    LEFT,
    RIGHT,
    TOP,
    Release,
    Title,
    draw_sheet_frame,
)
from ringset.drawing.part import Part, drawn_general_tolerances, drawn_length, drawn_order_text
from ringset.drawing.scales import drawing_scale_name, largest_drawing_scale
from ringset.drawing.sheet import (
    HAIR,
    NARROW,
    NORMAL,
    SMALL,
    Label,
    Sheet,
    drawn_height_fitted,
    drawn_label_fitted,
    drawn_text_wrapped,
)
from ringset.schema.answer import Answer, Cutter, JointRing
from ringset.schema.study import Robot
from ringset.wording import TERM_WORDS, wording_of_basis, wording_of_module

#: Joints on one sheet; more go on further sheets.
JOINTS_A_SHEET = 8

_RINGS_LEFT, _RINGS_TOP, _RINGS_ROOM = LEFT + 4.0, TOP + 11.0, (RIGHT - LEFT - 8.0, 110.0)
_LABELS_MM, _CELL_MM = 17.0, 44.0
_BARS_TOP, _BAR_LEFT, _BAR_WIDTH, _BAR_MM = 138.0, 66.0, 92.0, 4.6
_LISTS_LEFT = 246.0
_GREYS = (0.35, 0.55, 0.75, 0.92)


@dataclass(frozen=True)
class _Place:
    ring: JointRing
    x: float
    y: float


def robot_sheets(robot: Robot, answer: Answer, parts: list[Part], release: Release) -> list[Sheet]:
    """Return the sheets of a robot, joints in the order of the study, eight to a sheet."""
    by_joint: dict[str, list[JointRing]] = {}
    for ring in answer.every_ring:
        if ring.robot == robot.name:
            by_joint.setdefault(ring.joint, []).append(ring)
    rings = [ring for joint in robot.joints for ring in by_joint[joint.name]]
    groups = [rings[i : i + JOINTS_A_SHEET] for i in range(0, len(rings), JOINTS_A_SHEET)]
    return [
        _sheet(robot, answer, parts, group, release, f"{index}/{len(groups)}")
        for index, group in enumerate(groups, start=1)
    ]


def _sheet(
    robot: Robot, answer: Answer, parts: list[Part], rings: list[JointRing], release: Release,
    page: str,
) -> Sheet:  # fmt: skip
    scale, places = _placed(rings)
    sheet = draw_sheet_frame(
        Title(
            title=drawn_label_fitted(f"Target rings of {robot.name}", 78.0, 3.5),
            supplement=f"{len(robot.joints)} joints, {robot.count} built",
            number=robot.name,
            kind="Arrangement and order list",
            reference=f"study {answer.study_sha256[:12]}",
            scale=drawing_scale_name(scale),
            general=drawn_general_tolerances(parts[0].study.shop),
            sheet=page,
        ),
        release,
    )
    shapes = {part.part.id: part.shape for part in parts}
    sheet.label(LEFT + 3.0, TOP + 6.0, "Rings, all to one scale", NORMAL * 0.88, bold=True)
    for place in places:
        _ring(sheet, place, shapes[place.ring.ring_part], scale)
    _bars(sheet, robot, answer, [ring for ring in rings if not ring.second])
    _lists(sheet, robot, answer, parts, rings)
    return sheet


def _placed(rings: list[JointRing]) -> tuple[float, list[_Place]]:
    """Return the largest scale at which all rings stand in rows, and where each stands."""
    room_x, room_y = _RINGS_ROOM
    scale = largest_drawing_scale(max(ring.tip_diameter_mm for ring in rings), room_y - _LABELS_MM)
    while True:
        rows = _rows(rings, scale, room_x)
        heights = [max(r.tip_diameter_mm for r in row) * scale + _LABELS_MM for row in rows]
        if sum(heights) <= room_y or scale < 1e-3:
            break
        scale = largest_drawing_scale(1.0, scale * 0.99)
    places, y = [], _RINGS_TOP
    for row, height in zip(rows, heights, strict=True):
        x = _RINGS_LEFT
        for ring in row:
            cell = _cell(ring, scale)
            places.append(_Place(ring, x + cell / 2.0, y + (height - _LABELS_MM) / 2.0))
            x += cell
        y += height
    return scale, places


def _cell(ring: JointRing, scale: float) -> float:
    return max(ring.tip_diameter_mm * scale + 5.0, _CELL_MM)


def _rows(rings: list[JointRing], scale: float, room: float) -> list[list[JointRing]]:
    rows: list[list[JointRing]] = [[]]
    used = 0.0
    for ring in rings:
        cell = _cell(ring, scale)
        if rows[-1] and used + cell > room:
            rows.append([])
            used = 0.0
        rows[-1].append(ring)
        used += cell
    return rows


def _ring(sheet: Sheet, place: _Place, shape: views.Shape, scale: float) -> None:
    ring, x = place.ring, place.x
    views.draw_face_view(sheet, shape, x, place.y, scale, 2.0)
    y = place.y + ring.tip_diameter_mm * scale / 2.0 + 7.2
    room = _CELL_MM - 1.0
    name = f"{ring.joint}, second ring" if ring.second else ring.joint
    sheet.label(x, y, drawn_label_fitted(name, room, SMALL, bold=True), SMALL, "middle", bold=True)
    heads = f"{ring.heads} head{'' if ring.heads == 1 else 's'}"
    teeth = f"m {drawn_length(ring.module_mm)}, z {ring.teeth}, {heads}"
    texts = [f"{ring.ring_part}: {teeth}", _sizes(ring)]
    if drawn_height_fitted(texts, room, SMALL * 0.9) < SMALL * 0.9:  # a long name has its own line
        texts = [ring.ring_part, teeth, _sizes(ring)]
    step = 6.4 / 2.0 if len(texts) == 2 else 8.4 / 3.0
    for index, text in enumerate(texts, start=1):
        height = drawn_height_fitted([text], room, SMALL * 0.9)
        sheet.label(x, y + step * index, text, height, "middle")


def _sizes(ring: JointRing) -> str:
    tip, bore, width = ring.tip_diameter_mm, ring.bore_mm, ring.face_width_mm
    return f"Ø{drawn_length(tip)} / Ø{drawn_length(bore)} × {drawn_length(width)}"


def _bars(sheet: Sheet, robot: Robot, answer: Answer, rings: list[JointRing]) -> None:
    """Draw each joint's error as a bar against its target, cut by the share of its largest terms."""
    basis = wording_of_basis(answer.basis, answer.rings)
    if answer.reserve_percent:
        basis += f"; {answer.reserve_percent:g} % of it kept as reserve"
    top = _BARS_TOP
    sheet.label(LEFT + 3.0, top, f"Angle error against target ({basis})", NORMAL * 0.88, bold=True)
    full = _BAR_LEFT + _BAR_WIDTH
    sheet.label(full, top + 5.0, "target", SMALL * 0.9, "middle")
    y = top + 6.5
    for ring in rings:
        sheet.label(LEFT + 3.0, y + 3.4, drawn_label_fitted(ring.joint, 40.0, SMALL), SMALL)
        length = _BAR_WIDTH * min(ring.error_arcsec / ring.target_arcsec, 1.0)
        shares, words = _largest(ring)
        left = _BAR_LEFT
        for share, grey in zip([*shares, 1.0 - sum(shares)], _GREYS, strict=True):
            sheet.box(left, y, left + share * length, y + _BAR_MM, HAIR, grey)
            left += share * length
        sheet.box(_BAR_LEFT, y, full, y + _BAR_MM, NARROW)
        figures = f"{ring.error_arcsec:.1f} of {ring.target_arcsec:g} arcsec"
        sheet.label(full + 2.0, y + 3.4, figures, SMALL)
        steady = f"repeats within ±{ring.repeatability_arcsec:.1f}{_asked(ring.repeatability_target_arcsec)}"
        sheet.label(full + 2.0, y + _BAR_MM + 2.9, steady, SMALL * 0.85)
        sheet.label(_BAR_LEFT, y + _BAR_MM + 2.9, words, SMALL * 0.85)
        y += 11.2
    point = next(p for p in answer.tool_points if p.robot == robot.name)
    if point.error_um > 0.0:
        steady = f"{point.repeatability_um:.1f}{_asked(point.repeatability_target_um)}"
        text = (
            f"Tool point: {point.error_um:.1f}{_asked(point.target_um)} µm, repeats within ±{steady} µm "
            f"({point.rule} of all joints with a reach)"
        )
        sheet.label(LEFT + 3.0, y + 3.4, text, SMALL, bold=True)
        y += 6.0
    text = "Dark to light: the three largest terms by share of the squared error; lightest: all others."
    sheet.label(LEFT + 3.0, y + 3.4, text, SMALL * 0.85)
    draw_notes(
        sheet, LEFT + 3.0, y + 5.5, (RIGHT - 180.0 - LEFT - 6.0, BOTTOM - 1.5 - y - 5.5), "Cautions",
        answer.cautions,
    )  # fmt: skip


def _asked(target: float | None) -> str:
    return "" if target is None else f" of {target:g}"


def _largest(ring: JointRing) -> tuple[list[float], str]:
    """Return the shares of the three largest terms and their words."""
    squares = {t.name: t.standard_arcsec**2 for t in ring.budget.terms}
    whole = sum(squares.values()) or 1.0
    largest = sorted(squares.items(), key=lambda item: -item[1])[:3]
    words = ", ".join(
        f"{TERM_WORDS[name]} {100.0 * value / whole:.0f} %" for name, value in largest
    )
    return [value / whole for _, value in largest], words


def _lists(
    sheet: Sheet, robot: Robot, answer: Answer, parts: list[Part], rings: list[JointRing]
) -> None:
    """Draw totals, cutters and the order list of one robot, right of the bars."""
    width = RIGHT - 2.0 - _LISTS_LEFT
    used = {ring.ring_part for ring in rings}
    mine = [part for part in parts if part.part.id in used]
    cutters = [c for c in answer.cutters if used & set(c.ring_parts)]
    held = [
        one
        for part in mine
        for one in part.extra.screws
        if one.robot == robot.name and one.joint in {ring.joint for ring in rings}
    ]
    totals = [
        Row("Ring parts / rings", "", f"{len(mine)} / {len(rings)}"),
        Row("Heads", "", str(sum(ring.heads for ring in rings))),
        Row("Turned blanks", "", f"{sum(ring.blank_kg for ring in rings):.4g}", "kg"),
        *(Row("Material", "", text) for text in dict.fromkeys(p.ordered_material for p in mine)),
        *(
            Row("Screws", "", text)
            for text in drawn_order_text(held, each=True).split(", ")
            if text
        ),
        Row("Finished rings", "", f"{sum(ring.finished_kg for ring in rings):.4g}", "kg"),
    ]
    row_mm = 3.7
    widths = (width - 68.0, 4.0, 38.0, 26.0)
    y = draw_table(
        sheet,
        _LISTS_LEFT,
        _BARS_TOP - 4.0,
        widths,
        "Totals of this sheet, one robot",
        (),
        totals,
        row_mm=row_mm,
    )
    longest = max(Label(0.0, 0.0, f"{name}, ", SMALL * 0.9).width for name in used)
    if cutters:
        cuts = min(max(40.0, longest + 2.0), 76.0)
        rows = [row for c in cutters for row in _cutter_rows(c, used, cuts - 1.6)]
        widths5 = (10.0, 22.0, 16.0, width - 48.0 - cuts, cuts)
        y = draw_table(
            sheet, _LISTS_LEFT, y + 1.0, widths5, "Cutters to have",
            ("No.", "Kind", "Module", "Teeth", "Cuts"), rows, row_mm=row_mm, height=SMALL * 0.9,
        )  # fmt: skip
    orders = [
        (
            part.part.id, str(robot.count * sum(r.ring_part == part.part.id for r in rings)),
            f"m {wording_of_module(drawn_length(part.part.module_mm), part.part.pitch_name)}, "
            f"z {part.part.teeth}",
            _sizes(part.ring) + (f" from {part.extra.stock}" if part.extra.stock else ""),
            f"{1e3 * part.ring.blank_kg:.1f}",
        )
        for part in mine
    ]  # fmt: skip
    name = min(max(12.0, longest + 1.6), 48.0)
    widths5 = (name, 14.0, 34.0, width - 70.0 - name, 22.0)
    small = drawn_height_fitted(used, name - 1.6, SMALL * 0.9)
    height = drawn_table_height(len(orders), row_mm=row_mm)
    end = BOTTOM - BLOCK_HEIGHT - 1.0
    tight = row_mm if y + 1.0 + height <= end else (end - y - 1.8) / (len(orders) + 2.0)
    draw_table(
        sheet, _LISTS_LEFT, y + 1.0, widths5, f"Rings to order for {robot.count} built",
        ("Part", "Pieces", "Teeth", "Turned blank", "Blank g"), orders, row_mm=tight,
        height=min(small, tight * 0.45),
    )  # fmt: skip


def _cutter_rows(cutter: Cutter, used: set[str], room: float) -> list[tuple[str, ...]]:
    """Return a cutter as rows of its table: what it cuts of the used parts takes as many as it needs."""
    cuts = ", ".join(name for name in cutter.ring_parts if name in used)
    module = wording_of_module(drawn_length(cutter.module_mm), cutter.pitch_name)
    first, *more = drawn_text_wrapped(cuts, room, SMALL * 0.9)
    kind = f"{cutter.kind}, owned" if cutter.owned else cutter.kind
    row = (cutter.id, kind, module, cutter.tooth_range, first)
    return [row, *(("", "", "", "", text) for text in more)]
