"""Sweeps over lengths and amounts off a drawing: every line is the answer to the study as stated so."""

from __future__ import annotations

from pathlib import Path

from ringset._version import versions
from ringset.analysis.sweep.journal import Journal
from ringset.analysis.sweep.sweep import run_sweep, sweep_grid
from ringset.solving.pipeline import solve
from tests.analysis.sweep.test_sweep import here
from tests.support.studies import Json, joint, load


def stated(housing: float, bores: list[float] | None, mass: float) -> Json:
    row = {**joint("wrist", 40.0), "housing_max_mm": housing, "bores_mm": bores}
    del row["tip_max_mm"]
    if bores is None:
        del row["bores_mm"]
    return {
        "robots": [{"name": "arm", "joints": [row], "rings_mass_max_kg": mass}],
        "shop": {"modules": [1.0], "bore_step_mm": 1.0},
        "target": {"angle_target_arcsec": 200.0},
    }


def test_paths_of_sizes_are_swept(tmp_path: Path) -> None:
    plan = sweep_grid(
        load(stated(94.8, None, 1.0)),
        [
            "joints.wrist.housing_max_mm=90:94:4",
            "joints.wrist.bores_mm=null,[41,43],[46]",
            "robots.arm.rings_mass_max_kg=0.01,1",
        ],
    )
    with Journal(tmp_path / "j", versions()) as journal:
        rows = run_sweep(plan, journal, here)
    assert len(rows) == 12
    found: dict[str, int] = {}
    for row, (housing, bores, mass) in zip(rows, plan.rows, strict=True):
        answer = solve(load(stated(float(housing), bores, float(mass))))
        assert row.line["status"] == answer.status
        assert row.line.get("material_kg") == (answer.totals and answer.totals.material_kg)
        found[answer.status] = found.get(answer.status, 0) + 1
    assert len(found) == 2
