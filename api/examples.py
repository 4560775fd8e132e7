"""Examples in the OpenAPI document; every one of them is sent to the service by a test."""

from __future__ import annotations

from typing import Any

_TABLE: dict[str, Any] = {
    "title": "Tilt and turn table",
    "robots": [
        {
            "name": "table",
            "joints": [
                {"name": "turn", "bore_min_mm": 90, "bore_max_mm": 100, "tip_max_mm": 130},
                {"name": "tilt", "bore_min_mm": 60, "bore_max_mm": 95, "tip_max_mm": 122},
            ],
        }
    ],
    "shop": {"modules": [1, 1.25]},
    "target": {"angle_target_arcsec": 60},
}
_TIGHT: dict[str, Any] = {
    "title": "A wrist that leaves too little room",
    "robots": [
        {
            "name": "arm",
            "joints": [{"name": "wrist", "bore_min_mm": 50, "bore_max_mm": 54, "tip_max_mm": 58}],
        }
    ],
    "target": {"angle_target_arcsec": 90},
}
STUDY_EXAMPLES: dict[str, Any] = {
    "table": {"summary": "Two joints that share one ring part", "value": _TABLE},
    "impossible": {"summary": "A study that cannot be met: that is an answer", "value": _TIGHT},
}
RATE_EXAMPLES: dict[str, Any] = {
    "by_tip": {
        "summary": "By tip diameter and rim",
        "value": {
            "study": _TABLE, "joint": "turn", "module_mm": 1, "tip_mm": 120, "rim_mm": 5, "heads": 2,
        },
    },
    "by_teeth": {
        "summary": "By tooth count and bore",
        "value": {
            "study": _TABLE, "robot": "table", "joint": "tilt", "module_mm": 1.25, "teeth": 80,
            "bore_mm": 86,
        },
    },
}  # fmt: skip
ADVICE_EXAMPLES: dict[str, Any] = {
    "table": {
        "summary": "A ring with one head",
        "value": {
            "study": _TABLE, "joint": "turn", "module_mm": 1, "teeth": 101, "bore_mm": 90.5, "heads": 1,
        },
    },
}  # fmt: skip
