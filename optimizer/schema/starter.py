"""A starter study: few lines, invented sizes, ready to be edited."""

from __future__ import annotations

import json


def starter_study(joints: int) -> str:
    """Return a small study as JSON text, `joints` joints from a large base to a small flange."""
    largest, smallest = 120, 24
    rows = []
    for index in range(joints):
        place = index / max(1, joints - 1)
        bore = round(largest * (smallest / largest) ** place)
        rows.append(
            {
                "name": f"joint {index + 1}",
                "bore_min_mm": bore,
                "bore_max_mm": bore + 8,
                "tip_max_mm": bore + 34,
                "reach_mm": round(900 * (1 - place) ** 1.5),
            }
        )
    lines = ",\n".join("        " + json.dumps(row) for row in rows)
    return (
        '{\n  "title": "My robot",\n  "robots": [\n    {\n      "name": "arm",\n'
        f'      "joints": [\n{lines}\n      ]\n    }}\n  ],\n'
        '  "target": {"angle_target_arcsec": 120},\n'
        '  "wishes": {"order": ["cutters", "ring_parts", "heads", "material"]}\n}\n'
    )
