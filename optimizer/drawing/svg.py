"""A sheet as SVG: plain text, one element a line, lengths in mm."""

from __future__ import annotations

from xml.sax.saxutils import escape

from ringset.drawing.lettering import lettering_runs
from ringset.drawing.sheet import Circle, Label, Path, Pen, Sheet

_FAMILY = "'Bitstream Vera Sans','DejaVu Sans',Verdana,sans-serif"


def sheet_as_svg(sheet: Sheet) -> str:
    """Return the sheet as SVG text; `textLength` holds every label to its measured width."""
    w, h = _mm(sheet.width_mm), _mm(sheet.height_mm)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" '
        f'viewBox="0 0 {w} {h}" font-family="{_FAMILY}" fill="none" stroke="black" '
        'stroke-linecap="round" stroke-linejoin="round">',
        f"<title>{_text(sheet.title)}</title>",
        f'<rect width="{w}" height="{h}" fill="white" stroke="none"/>',
    ]
    for item in sheet.items:
        if isinstance(item, Path):
            lines.append(_path(item))
        elif isinstance(item, Circle):
            lines.append(_circle(item))
        else:
            lines.append(_label(item))
    return "\n".join([*lines, "</svg>"]) + "\n"


def _mm(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _text(text: str) -> str:
    return escape("".join(c if c >= " " and c not in "\ufffe\uffff" else " " for c in text))


def _pen(pen: Pen | None) -> str:
    if pen is None:
        return ' stroke="none"'
    dashes = "".join(f"{_mm(d)} " for d in pen.dashes).strip()
    # butt ends keep the dots of a chain line short
    broken = f' stroke-dasharray="{dashes}" stroke-linecap="butt"' if dashes else ""
    return f' stroke-width="{_mm(pen.width_mm)}"{broken}'


def _fill(grey: float | None) -> str:
    if grey is None:
        return ""
    level = round(255 * grey)
    return f' fill="#{level:02x}{level:02x}{level:02x}"'


def _path(path: Path) -> str:
    steps = " ".join(f"{_mm(x)},{_mm(y)}" for x, y in path.points.tolist())
    name = "polygon" if path.closed else "polyline"
    return f'<{name} points="{steps}"{_pen(path.pen)}{_fill(path.fill)}/>'


def _circle(circle: Circle) -> str:
    return (
        f'<circle cx="{_mm(circle.x)}" cy="{_mm(circle.y)}" r="{_mm(circle.radius)}"'
        f"{_pen(circle.pen)}{_fill(circle.fill)}/>"
    )


def _label(label: Label) -> str:
    size, low, spans = label.font_size, 0.0, []
    for run in lettering_runs(label.text, label.bold, label.markup):
        drop = run.drop - low
        low = run.drop
        attributes = f' dy="{_mm(drop * size)}"' if drop else ""
        attributes += f' font-size="{_mm(run.size * size)}"' if run.size != 1.0 else ""
        text = _text(run.text)
        spans.append(f"<tspan{attributes}>{text}</tspan>" if attributes else text)
    turn = f' transform="rotate(-90 {_mm(label.x)} {_mm(label.y)})"' if label.turned else ""
    weight = ' font-weight="bold"' if label.bold else ""
    anchor = f' text-anchor="{label.anchor}"' if label.anchor != "start" else ""
    return (
        f'<text x="{_mm(label.x)}" y="{_mm(label.y)}" font-size="{_mm(size)}" fill="black" '
        f'stroke="none" textLength="{_mm(label.width)}" lengthAdjust="spacingAndGlyphs" '
        f'xml:space="preserve"{weight}{anchor}{turn}>{"".join(spans)}</text>'
    )
