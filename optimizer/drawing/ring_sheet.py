"""The sheet of one ring part: one A3 page from which it can be cut, inspected and mounted."""

from __future__ import annotations

from ringset.drawing import views
from ringset.drawing.blocks import draw_notes, draw_table, drawn_letter_height
from ringset.drawing.dial_words import drawn_dial_words, drawn_seat_text
from ringset.drawing.frame import BLOCK_HEIGHT, BOTTOM, RIGHT, TOP, Release, Title, draw_sheet_frame
from ringset.drawing.part import (
    TIP_ZONE,
    Part,
    drawn_bore_text,
    drawn_cutter_words,
    drawn_face_run_out_mm,
    drawn_gear_rows,
    drawn_general_tolerances,
    drawn_inspection_rows,
    drawn_length,
    drawn_size_text,
    drawn_smoothest_um,
    drawn_tip_run_out_mm,
    sheet_body_rows,
)  # fmt: skip
from ringset.drawing.scales import drawing_scale_name, largest_drawing_scale
from ringset.drawing.sheet import Sheet
from ringset.schema.true_rack import study_rack
from ringset.wording import wording_of_basis, wording_of_module

#: Joints listed on the sheet of a part that many joints share; the ring table has them all.
JOINTS_SHOWN = 6

# Where things stand on the page, mm.
_COLUMN_LEFT, _COLUMN_WIDTH = 281.0, 127.0
_SECTION_LEFT, _SECTION_TOP, _SECTION_ROOM = 33.0, 52.0, (30.0, 84.0)
_FACE, _FACE_ROOM, _SHELF = (168.0, 97.0), 146.0, 231.0
_HOLES_ELBOW = (108.0, 166.0)
_TEETH, _TEETH_ROOM = (70.0, 206.0), (90.0, 56.0)
_JOINTS = (126.0, 186.0)


def ring_sheet(data: Part, release: Release) -> Sheet:
    """Return the sheet of one ring part."""
    ring = data.ring
    module = wording_of_module(drawn_length(ring.module_mm), data.part.pitch_name)
    face_scale = largest_drawing_scale(ring.tip_diameter_mm, _FACE_ROOM)
    sheet = draw_sheet_frame(
        Title(
            title=f"Target ring {data.part.id}",
            supplement=f"module {module}, {ring.teeth} teeth, bore {drawn_length(ring.bore_mm)}",
            number=data.part.id,
            kind="Part drawing",
            reference=f"study {data.answer.study_sha256[:12]}",
            scale=drawing_scale_name(face_scale),
            general=drawn_general_tolerances(data.study.shop),
        ),
        release,
    )
    _views(sheet, data, face_scale)
    column = _tables(sheet, data)
    room = BOTTOM - BLOCK_HEIGHT - 2.0 - column
    place = (_COLUMN_WIDTH, room)
    texts = _fitting(place, _tools(data), data.extra.making, _making(data))
    draw_notes(sheet, _COLUMN_LEFT, column, place, "Making and inspection", texts)
    low = _joint_table(sheet, data)
    width = RIGHT - 180.0 - _JOINTS[0] - 3.0
    place = (width, BOTTOM - 1.5 - low - 2.0)
    texts = _fitting(place, _mounting(data), data.extra.mounting, _cautions(data))
    draw_notes(sheet, _JOINTS[0], low + 2.0, place, "Mounting and cautions", texts)
    return sheet


def _fitting(
    room: tuple[float, float], first: list[str], added: list[str], last: list[str]
) -> list[str]:
    """Return all notes, or as many of the `added` ones as fit and where the others are."""
    for kept in range(len(added), -1, -1):
        left = len(added) - kept
        more = [f"{left} more notes: see notes.csv or tables.xlsx."] if left else []
        texts = [*first, *added[:kept], *more, *last]
        if drawn_letter_height(room, texts) is not None:
            break
    return texts


def _views(sheet: Sheet, data: Part, face_scale: float) -> None:
    shape, ring = data.shape, data.ring
    x, y = _FACE
    views.draw_face_view(sheet, shape, x, y, face_scale)
    views.draw_plane_marks(sheet, shape, x, y, face_scale)
    words = {
        "tip": data.extra.tip or drawn_size_text(ring.tip_diameter_mm, TIP_ZONE),
        "pitch": f"(Ø{drawn_length(ring.pitch_diameter_mm)})",
        "root": f"(Ø{drawn_length(ring.root_diameter_mm)})",
        "bore": data.extra.bore or drawn_bore_text(data.part),
    }
    views.draw_diameters(sheet, shape, x, y, face_scale, _SHELF, words)
    views.draw_holes(sheet, shape, x, y, face_scale, _HOLES_ELBOW, _holes_text(data))
    views.draw_caption(
        sheet, x, y + ring.tip_diameter_mm / 2.0 * face_scale + 13.0, "View on the face", face_scale
    )
    height = ring.tooth_depth_mm + ring.rim_mm
    scale = min(
        largest_drawing_scale(ring.face_width_mm, _SECTION_ROOM[0]),
        largest_drawing_scale(height, _SECTION_ROOM[1]),
    )
    words = {
        "width": data.extra.width or drawn_length(ring.face_width_mm),
        "rim": f"({drawn_length(ring.rim_mm)})",
        "depth": f"({drawn_length(ring.tooth_depth_mm)})",
        "tip_run_out": f"{drawn_tip_run_out_mm(data):g}",
        "face_run_out": f"{drawn_face_run_out_mm(data):g}",
    }
    views.draw_section(sheet, shape, _SECTION_LEFT, _SECTION_TOP, scale, words)
    views.draw_caption(sheet, _SECTION_LEFT + 20.0, TOP + 8.0, "A-A", scale)
    x, y = _TEETH
    module = ring.module_mm
    scale = min(
        largest_drawing_scale(6.4 * module, _TEETH_ROOM[0]),
        largest_drawing_scale(ring.tooth_depth_mm + 2.0 * module, _TEETH_ROOM[1]),
    )
    rack = study_rack(data.study.shop, module)
    thickness = 2.0 * shape.pitch_mm * float(shape.tooth.involute_half_angle(shape.pitch_mm))
    views.draw_tooth_gap(
        sheet, shape, x, y, scale,
        {
            "depth": f"h {drawn_length(ring.tooth_depth_mm)}",
            "thickness": f"s {thickness:.4f} on d",
            "fillet": "root by the cutter"
            if data.by_disc
            else f"rack corner ρ {drawn_length(rack.root_fillet * module)}",
        },
    )  # fmt: skip
    views.draw_caption(sheet, x, _TEETH[1] - 18.0, "Teeth", scale)


def _holes_text(data: Part) -> str:
    holes = data.shape.holes
    if holes is None:
        return ""
    return f"{holes.count} × Ø{drawn_length(holes.hole_mm)} on Ø{drawn_length(holes.circle_mm)}"


def _tables(sheet: Sheet, data: Part) -> float:
    """Draw gear data, inspection and body tables down the right column; return the y below."""
    widths = (45.0, 13.0, 40.0, 29.0)
    y = draw_table(sheet, _COLUMN_LEFT, TOP + 2.0, widths, "Gear data", (), drawn_gear_rows(data))
    rows = [*data.extra.inspection, *drawn_inspection_rows(data)]
    y = draw_table(
        sheet, _COLUMN_LEFT, y + 1.0, widths, "Inspection: what to measure and permit", (), rows
    )
    return (
        draw_table(
            sheet,
            _COLUMN_LEFT,
            y + 1.0,
            widths,
            "Material, mass, inertia",
            (),
            sheet_body_rows(data),
        )
        + 1.5
    )


def _joint_table(sheet: Sheet, data: Part) -> float:
    """Draw where the part is used; return the y below."""
    rows = []
    for ring, joint in list(zip(data.rings, data.joints, strict=True))[:JOINTS_SHOWN]:
        angles = ", ".join(f"{angle:g}°" for angle in ring.head_angles_deg)
        kept = f"{ring.error_arcsec:.1f} / {ring.target_arcsec:g}"
        rows.append(
            (
                ring.label, drawn_seat_text(joint), f"{ring.gap_mm:g} ({ring.gap_left_mm:.2f})",
                angles, "second ring" if ring.second else kept,
                f"±{ring.repeatability_arcsec:.1f}",
            )
        )  # fmt: skip
    y = draw_table(
        sheet, *_JOINTS, (36.0, 22.0, 23.0, 32.0, 23.0, 14.0), "Used on",
        ("Joint", "Seat", "Air gap (left)", "Heads at", "Error / target", "Repeats"), rows,
    )  # fmt: skip
    more = len(data.rings) - len(rows)
    if more > 0:
        sheet.label(_JOINTS[0] + 1.0, y + 3.2, f"and {more} more joints: see the ring table", 1.8)
        y += 4.0
    return y


def _tools(data: Part) -> list[str]:
    shop = data.study.shop
    share = shop.clamp_force_n
    clamp = (
        f"Clamp for tooth cutting with {shop.clamp_jaws} jaws of at most {share:g} N each on the rim, "
        "or on the face; more springs the ring out of its class."
        if share > 0.0
        else "Clamp on the face for tooth cutting, not on the rim."
    )
    return [drawn_cutter_words(data), data.extra.clamping or clamp]


def _making(data: Part) -> list[str]:
    stands = (
        f"{data.part.id} is in production: the drawing that it is made to holds. Compare flank class, tooth "
        "depth, profile shift, material and holes with this sheet before one is fitted."
    )
    return [
        *([stands] if data.part.in_production else []),
        f"Bore Rz {drawn_smoothest_um(data.joints):g} µm at most, as the grip of its seat is reckoned "
        "with; so the hub.",
        "Cut the teeth after bore and faces, located from datum A. Flanks Ra 1.6, faces Ra 1.6, elsewhere "
        "Ra 3.2 µm (common practice, no source).",
        "Edges broken 0.1 to 0.3; teeth free of burrs, tips without chamfer: the head reads their edges.",
        "Sizes in brackets are for information. Demagnetise before delivery.",
        "Pitch, profile and run-out from the axis of A, pitch and run-out on every tooth and both flanks, "
        "at d; profile from the start of the involute to the tips, on three teeth or more evenly spaced.",
    ]


def _mounting(data: Part) -> list[str]:
    told = drawn_dial_words(data)
    told.append(
        "Set the air gap from the tips to the sensing plane at every head as above; in brackets what is "
        "left of it at the worst (mm). Error, target and scatter at one angle (repeats) in arcsec, "
        + ("for " if data.answer.basis == "expanded" else "")
        + f"{wording_of_basis(data.answer.basis, data.answer.rings)}."
    )
    if any(ring.second for ring in data.rings):
        told.append(
            "A second ring sits on the hub seat of the first, beside it; its head stands at the angle of the "
            "first head. Mind the room for two rings along the axis."
        )
    return told


def _cautions(data: Part) -> list[str]:
    mine = f"{data.part.id}: "
    own = [w.removeprefix(mine) for w in data.answer.warnings if w.startswith(mine)]
    return [*own, *data.extra.cautions, *data.answer.cautions]
