"""Sheets as one PDF, the same bytes for the same sheets (reportlab)."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from ringset._version import __version__
from ringset.drawing.lettering import lettering_fonts, lettering_runs
from ringset.drawing.sheet import Circle, Label, Path, Pen, Sheet

_POINTS_PER_MM = 72.0 / 25.4


def sheets_as_pdf(sheets: Sequence[Sheet]) -> bytes:
    """Return the sheets as pages of a PDF document."""
    from reportlab.pdfgen.canvas import Canvas

    lettering_fonts()
    page = io.BytesIO()
    canvas = Canvas(page, invariant=1, pageCompression=1)
    canvas.setTitle(sheets[0].title)
    canvas.setCreator(f"Ringset {__version__}")
    for sheet in sheets:
        canvas.setPageSize((sheet.width_mm * _POINTS_PER_MM, sheet.height_mm * _POINTS_PER_MM))
        # millimetres from the top left corner
        canvas.translate(0.0, sheet.height_mm * _POINTS_PER_MM)
        canvas.scale(_POINTS_PER_MM, _POINTS_PER_MM)
        canvas.setLineCap(1)
        canvas.setLineJoin(1)
        for item in sheet.items:
            _draw(canvas, item)
        canvas.showPage()
    canvas.save()
    return page.getvalue()


def _draw(canvas: Any, item: Path | Circle | Label) -> None:
    if isinstance(item, Label):
        _label(canvas, item)
        return
    _pen(canvas, item.pen)
    if item.fill is not None:
        canvas.setFillGray(item.fill)
    stroke, fill = int(item.pen is not None), int(item.fill is not None)
    if isinstance(item, Circle):
        canvas.circle(item.x, -item.y, item.radius, stroke=stroke, fill=fill)
        return
    path = canvas.beginPath()
    points = item.points.tolist()
    path.moveTo(points[0][0], -points[0][1])
    for x, y in points[1:]:
        path.lineTo(x, -y)
    if item.closed:
        path.close()
    canvas.drawPath(path, stroke=stroke, fill=fill)


def _pen(canvas: Any, pen: Pen | None) -> None:
    if pen is not None:
        canvas.setLineWidth(pen.width_mm)
        canvas.setLineCap(0 if pen.dashes else 1)
        canvas.setDash(list(pen.dashes))


def _label(canvas: Any, label: Label) -> None:
    canvas.setFillGray(0.0)
    canvas.saveState()
    canvas.translate(label.x, -label.y)
    if label.turned:
        canvas.rotate(90)
    at = {"start": 0.0, "middle": -label.width / 2.0, "end": -label.width}[label.anchor]
    size = label.font_size
    for run in lettering_runs(label.text, label.bold, label.markup):
        canvas.setFont(run.font, run.size * size)
        canvas.drawString(at, -run.drop * size, run.text)
        at += lettering_fonts().stringWidth(run.text, run.font, run.size * size)
    canvas.restoreState()
