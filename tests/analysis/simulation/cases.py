"""Invented joints for the simulation: one ring on one joint, any heads, any teeth."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import numpy as np

from ringset.analysis.alternatives.single_ring import rate_one
from ringset.analysis.simulation.cases import Case, simulation_cases
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve


def study_of(joint: dict[str, Any] | None = None, **fields: Any) -> Study:
    """Return a study with one joint."""
    row = {"name": "joint", "bore_min_mm": 40.0, "bore_max_mm": 260.0, "tip_max_mm": 300.0}
    data = {
        "robots": [{"name": "arm", "joints": [row | (joint or {})]}],
        "target": {"angle_target_arcsec": 600.0},
    }
    return load_study(json.dumps(data | fields))


def case_of(study: Study, teeth: int, heads: int, module: float = 1.0, rim: float = 6.0) -> Case:
    """Return the case of one ring with about this rim on the study's joint."""
    robot, joint = study.robots[0], study.robots[0].joints[0]
    bore = round(2.0 * (module * (teeth - 2.5) - 2.0 * rim)) / 2.0
    ring, _ = rate_one(study, robot, joint, module, teeth, bore, heads)
    part = _any_answer().ring_parts[0].model_copy(update={"id": ring.ring_part})
    made = _any_answer().model_copy(update={"rings": [ring], "ring_parts": [part]})
    return simulation_cases(study, made)[0]


@cache
def _any_answer() -> Answer:
    """Return some answer, of which only the rings and the name of their part are replaced."""
    return solve(study_of({"bore_min_mm": 60.0, "bore_max_mm": 62.0, "tip_max_mm": 90.0}))


def random_case(rng: np.random.Generator) -> Case:
    """Return a random joint: size, teeth, module, heads, class, seat, gap, speed, temperatures."""
    module = float(rng.choice([0.8, 1.0, 1.25, 1.5]))
    teeth = int(rng.integers(max(32, int(50 / module)), int(200 / module)))
    heads = int(rng.choice([1, 1, 2, 2, 3, 4]))
    joint: dict[str, Any] = {
        "seat_offset_um": float(rng.uniform(3, 30)),
        "seat_ovality_um": float(rng.uniform(0, 6)),
        "bearing_shift_um": float(rng.uniform(0, 8)),
        "speed_max_rpm": float(rng.uniform(1, 60)),
        "temperature_gradient_k": float(rng.uniform(0, 6)),
        "head_counts": [heads],
    }
    if heads == 2 and rng.random() < 0.25:
        joint["head_angles_deg"] = {"2": [0.0, 90.0]}
    head = {
        "residual_offset": float(rng.uniform(0, 0.006)),
        "residual_gain": float(rng.uniform(0, 0.006)),
        "third_harmonic": float(rng.uniform(0, 0.01)),
        "noise_ratio": float(rng.uniform(2e-4, 2e-3)),
        "common_share": float(rng.uniform(0, 1)),
        "placement_tolerance_deg": float(rng.choice([0.05, 0.5])),
        "gap_mm": float(rng.uniform(0.3, 0.6)),
    }
    shop = {"flank_class": int(rng.integers(4, 9))}
    joint["set_by"] = "tips" if rng.random() < 0.5 else "bore"
    return case_of(study_of(joint, head=head, shop=shop), teeth, heads, module)
