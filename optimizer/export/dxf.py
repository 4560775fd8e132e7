"""The profile of a ring part as DXF (R2010, mm): arcs as arcs, flanks as chords of a stated error."""

from __future__ import annotations

import io
from typing import Any

import numpy as np

from ringset.drawing.part import Part, drawn_length
from ringset.physics.quantity import Array
from ringset.physics.tooth_profile import CHORD_ERROR_MM, Tooth
from ringset.wording import wording_of_module

OUTLINE, BORE, HOLES = "OUTLINE", "BORE", "HOLES"
REFERENCE, AXES, NOTES = "REFERENCE", "AXES", "NOTES"


def profile_dxf(data: Part, chord_error_mm: float = CHORD_ERROR_MM) -> str:
    """Return DXF text with the axis of the ring at the origin and a tooth on the positive x axis.

    Layer OUTLINE holds one closed polyline (tip and root arcs by bulge, fillet and involute as chords
    no further off than `chord_error_mm`), BORE the bore circle, HOLES those for screws,
    REFERENCE pitch, tip and root circle, AXES the centre lines, NOTES what it is. Raises ValueError for
    a chord error of 0 or less.
    """
    from ezdxf import units
    from ezdxf.document import Drawing

    drawing = Drawing.new("R2010")
    drawing.units = units.MM
    drawing.linetypes.add("CHAIN", [11.0, 8.0, -1.2, 0.6, -1.2], description="long dash dot")
    for name, weight, line in (
        (OUTLINE, 50, "Continuous"), (BORE, 50, "Continuous"), (HOLES, 50, "Continuous"),
        (REFERENCE, 18, "CHAIN"),
        (AXES, 18, "CHAIN"), (NOTES, 25, "Continuous"),
    ):  # fmt: skip
        drawing.layers.add(name, linetype=line, lineweight=weight)
    space, form = drawing.modelspace(), data.shape.tooth
    points = dxf_bulged_outline(form, chord_error_mm)
    space.add_lwpolyline(points.tolist(), format="xyb", close=True, dxfattribs={"layer": OUTLINE})
    space.add_circle((0, 0), data.part.bore_mm / 2.0, dxfattribs={"layer": BORE})
    if data.shape.holes is not None:
        for centre in data.shape.holes.centres().tolist():
            radius = data.shape.holes.hole_mm / 2.0
            space.add_circle(centre, radius, dxfattribs={"layer": HOLES})
    for radius in (data.shape.pitch_mm, form.tip_mm, form.root_mm):
        space.add_circle((0, 0), radius, dxfattribs={"layer": REFERENCE})
    reach = 1.05 * form.tip_mm
    space.add_line((-reach, 0), (reach, 0), dxfattribs={"layer": AXES})
    space.add_line((0, -reach), (0, reach), dxfattribs={"layer": AXES})
    _notes(space, data, chord_error_mm)
    text = io.StringIO()
    drawing.write(text)
    return text.getvalue()


def dxf_bulged_outline(form: Tooth, chord_error_mm: float) -> Array:
    """Return vertices (n, 3) as x and y in mm and bulge (tangent of a quarter of the arc's angle)."""
    radius, half = form.half_outline(chord_error_mm)
    r = np.concatenate([radius, radius[::-1]])
    t = np.concatenate([-half, half[::-1]])
    bulge = np.zeros(len(r))
    bulge[len(radius) - 1] = np.tan(form.tip_half_angle / 2.0)
    bulge[-1] = np.tan(form.root_half_angle / 2.0)
    if form.root_half_angle <= 0.0:
        r, t, bulge = r[:-1], t[:-1], bulge[:-1]  # the next tooth begins there
    turns = t[np.newaxis, :] + 2.0 * np.pi / form.teeth * np.arange(form.teeth)[:, np.newaxis]
    return np.column_stack(
        [(r * np.cos(turns)).ravel(), (r * np.sin(turns)).ravel(), np.tile(bulge, form.teeth)]
    )


def _notes(space: Any, data: Part, chord_error_mm: float) -> None:
    ring = data.ring
    height = max(data.shape.tooth.tip_mm / 40.0, 0.5)
    module = wording_of_module(f"{drawn_length(ring.module_mm)} mm", data.part.pitch_name)
    lines = [
        f"{data.part.id}: module {module}, {ring.teeth} teeth, x {ring.profile_shift:g}",
        f"bore {drawn_length(ring.bore_mm)} mm, width {drawn_length(ring.face_width_mm)} mm, "
        "nominal, true tooth form",
        f"flanks and fillets: chords within {1e3 * chord_error_mm:g} um; tip and root: arcs",
        f"study {data.answer.study_sha256[:12]}",
    ]
    for index, line in enumerate(lines):
        place = (
            -data.shape.tooth.tip_mm,
            -1.1 * data.shape.tooth.tip_mm - 1.8 * height * (index + 1),
        )
        text = space.add_text(line, height=height, dxfattribs={"layer": NOTES})
        text.set_placement(place)
