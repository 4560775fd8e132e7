"""What lies where on a sheet: boxes of text against each other, the frame and the lines."""

import numpy as np

from ringset.drawing import frame
from ringset.drawing.sheet import Circle, Label, Path, Sheet

Box = tuple[float, float, float, float]


def overlapping_labels(sheet: Sheet) -> list[tuple[str, str]]:
    """Return every pair of texts whose boxes meet."""
    labels = [label for label in sheet.labels() if label.text]
    boxes = [label.box() for label in labels]
    return [
        (labels[i].text, labels[j].text)
        for i in range(len(boxes))
        for j in range(i + 1, len(boxes))
        if _meet(boxes[i], boxes[j])
    ]


def outside_frame(sheet: Sheet) -> list[str]:
    """Return everything drawn beyond the frame, but for the four centring marks."""
    beyond = []
    for item in sheet.items:
        left, top, right, bottom = _extent(item)
        inside = (
            left >= frame.LEFT
            and top >= frame.TOP
            and right <= frame.RIGHT
            and bottom <= frame.BOTTOM
        )
        if not inside:
            beyond.append(item.text if isinstance(item, Label) else str(_extent(item)))
    return [text for text in beyond if text not in MARKS]


#: The centring marks of ISO 5457 stand in the margin.
MARKS = {
    str(box)
    for box in (
        (210.0, 5.0, 210.0, 10.0), (210.0, 287.0, 210.0, 292.0), (15.0, 148.5, 20.0, 148.5),
        (410.0, 148.5, 415.0, 148.5),
    )
}  # fmt: skip


def crossed_labels(sheet: Sheet) -> list[str]:
    """Return texts that a line crosses, but for a filled bar that they stand on purpose beside."""
    crossed = []
    segments = np.concatenate(
        [_segments(item) for item in sheet.items if not isinstance(item, Label)]
    )
    for label in sheet.labels():
        if label.text and _hit(segments, label.box()):
            crossed.append(label.text)
    return crossed


def _extent(item: Path | Circle | Label) -> Box:
    if isinstance(item, Label):
        return item.box()
    if isinstance(item, Circle):
        return (
            item.x - item.radius, item.y - item.radius, item.x + item.radius, item.y + item.radius,
        )  # fmt: skip
    (left, top), (right, bottom) = item.points.min(axis=0), item.points.max(axis=0)
    return (float(left), float(top), float(right), float(bottom))


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _segments(item: Path | Circle) -> np.ndarray:
    if isinstance(item, Circle):
        turn = np.linspace(0.0, 2.0 * np.pi, 361)
        points = np.column_stack([np.cos(turn), np.sin(turn)]) * item.radius + (item.x, item.y)
        return np.hstack([points[:-1], points[1:]])
    points = np.vstack([item.points, item.points[:1]]) if item.closed else item.points
    return np.hstack([points[:-1], points[1:]])


def _hit(segments: np.ndarray, box: Box) -> bool:
    """Whether a segment enters the inner box (base line to capital height), by clipping it (Liang-Barsky)."""
    left, top, right, bottom = box
    # accents and descenders may touch a line of a table, letters may not
    inset = 0.22 * min(bottom - top, right - left)
    left, top, right, bottom = left + 0.05, top + inset, right - 0.05, bottom - inset
    x, y = segments[:, 0], segments[:, 1]
    dx, dy = (segments[:, 2:] - segments[:, :2]).T
    enter, leave = np.zeros(len(segments)), np.ones(len(segments))
    outside = np.zeros(len(segments), dtype=bool)
    for step, room in ((-dx, x - left), (dx, right - x), (-dy, y - top), (dy, bottom - y)):
        flat = step == 0.0
        outside |= flat & (room < 0.0)
        ratio = np.divide(room, step, out=np.zeros_like(room), where=~flat)
        enter = np.where(step < 0.0, np.maximum(enter, ratio), enter)
        leave = np.where(step > 0.0, np.minimum(leave, ratio), leave)
    return bool(np.any(~outside & (enter < leave)))
