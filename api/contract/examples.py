"""Examples in the OpenAPI document; every one of them is sent to the service by a test."""

from __future__ import annotations

import json
from typing import Any

from ringset import load_study

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
    "revised": {
        "summary": "The study under `study`, beside which `previous` may stand: an earlier answer",
        "value": {"study": _TABLE},
    },
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
SWEEP_EXAMPLES: dict[str, Any] = {
    "grid": {
        "summary": "Every combination of two tip limits and two targets",
        "value": {
            "study": _TABLE,
            "vary": ["joints.turn.tip_max_mm=124,130", "target.angle_target_arcsec=50:60:10"],
        },
    },
    "list": {
        "summary": "Two changed studies, value by value",
        "value": {
            "study": _TABLE,
            "paths": ["shop.modules", "target.angle_target_arcsec"],
            "rows": [[[1], 60], [[1, 1.5], 70]],
        },
    },
}
#: The answer to the second study.
_NO_RING: dict[str, Any] = {
    "title": "A wrist that leaves too little room",
    "study_sha256": load_study(json.dumps(_TIGHT)).fingerprint(),
    "status": "impossible",
    "basis": "expanded",
    "reserve_percent": 0.0,
    "reasons": [
        "arm/wrist: bore_min_mm 50 with tip_max_mm 58: at most 2 mm of rim is left (module 0.8, 70 teeth), "
        "shop.rim_min_mm or rim_min_depths asks 3 mm"
    ],
    "absolute": [], "rings": [], "second_rings": [], "ring_parts": [], "cutters": [], "tool_points": [],
    "robot_rings": [], "electronics": [], "totals": None,
    "proof": {
        "stages": [], "material_unit_kg": 0.0, "cost_unit": 0.0, "rings_possible": 0,
        "rows_possible": 0, "rows_searched": 0, "seed": 1, "workers": 1, "repeatable": True,
        "versions": {"ringset": "0.1.0", "numpy": "2.4.6", "ortools": "9.15.6755", "scipy": "1.17.1"},
    },
    "warnings": [],
    "cautions": [
        "Sizing aid only: a nominal error budget with assumed inputs, not a safety assessment and no "
        "statement on performance level or safety integrity.",
        "Position used in a safety function needs a risk assessment and a validated design by qualified "
        "people to the standards in force (ISO 10218-1 and -2, ISO 13849-1 or IEC 62061, IEC 61800-5-2 "
        "and -5-3), including the fastening of ring and head; local codes come first.",
        "Rings have sharp teeth and must be secured against slipping and kept below bursting speed.",
        "After any loss of count a joint must be treated as unreferenced.",
    ],
}  # fmt: skip
JUDGE_EXAMPLES: dict[str, Any] = {
    "impossible": {
        "summary": "An answer without rings",
        "value": {"study": _TIGHT, "answer": _NO_RING},
    },
}
COMPARE_EXAMPLES: dict[str, Any] = {
    "given": {
        "summary": "Two answers that are sent along; `study_id` names one that is here",
        "value": {
            "entries": [
                {"name": "before", "answer": _NO_RING},
                {"name": "after", "answer": _NO_RING},
            ]
        },
    },
}
ADVICE_EXAMPLES: dict[str, Any] = {
    "table": {
        "summary": "A ring with one head",
        "value": {
            "study": _TABLE, "joint": "turn", "module_mm": 1, "teeth": 101, "bore_mm": 90.5, "heads": 1,
        },
    },
}  # fmt: skip
GROUNDS_EXAMPLES: dict[str, Any] = {
    "table": {
        "summary": "One ring part on two joints",
        "value": {
            "study": _TABLE, "joint": "turn",
            "rings": [
                {"robot": "table", "joint": joint, "module_mm": 1, "teeth": 101, "bore_mm": 90.5, "heads": 2}
                for joint in ("tilt", "turn")
            ],
        },
    },
}  # fmt: skip
