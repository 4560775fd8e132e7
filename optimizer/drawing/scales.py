"""Scales of ISO 5455: the largest that fits, and how it is written."""

from __future__ import annotations

_STEPS = [base * 10.0**power for power in (2, 1, 0, -1, -2, -3) for base in (5.0, 2.0, 1.0)]


def largest_drawing_scale(size_mm: float, room_mm: float) -> float:
    """Return the largest scale at which `size_mm` fits `room_mm` on paper; 1:1000 at least."""
    return next((step for step in _STEPS if size_mm * step <= room_mm), _STEPS[-1])


def drawing_scale_name(scale: float) -> str:
    """Return a scale as drawings write it: 2:1, 1:5."""
    return f"{scale:g}:1" if scale >= 1.0 else f"1:{1.0 / scale:g}"
