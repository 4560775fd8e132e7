"""Every scenario solves as its list says, and the defaults lead to rings a shop would recognise."""

import json
from pathlib import Path

import pytest

from ringset.schema.loading import load_study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.places import SCENARIOS

FILES = sorted(SCENARIOS.glob("*.json"))
EXPECTED = {
    "family_three_arms": "proven",
    "finer_table": "proven",
    "heavy_for_a_head": "proven",
    "impossible_gap": "impossible",
    "impossible_one_cutter": "impossible",
    "impossible_ring_parts": "impossible",
    "impossible_tool_point": "impossible",
    "impossible_wrist": "impossible",
    "off_the_papers": "proven",
    "power_loss": "proven",
    "priced_arm": "proven",
    "seven_joint_arm": "proven",
    "six_joint_arm": "proven",
    "two_joint_table": "proven",
}


def test_every_scenario_is_listed_and_expected() -> None:
    names = [path.stem for path in FILES]
    assert names == sorted(EXPECTED)
    text = (SCENARIOS / "README.md").read_text()
    assert all(f"`{name}.json`" in text for name in names)


@pytest.mark.cases(fast=4)
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_scenarios_end_as_expected(path: Path) -> None:
    study = load_study(path.read_text())
    answer = solve(study)
    assert answer.status == EXPECTED[path.stem]
    assert answer.proof.repeatable
    assert judge(study, answer) == []


@pytest.mark.parametrize("tip_mm", [100, 120, 140, 160, 180, 200])
@pytest.mark.parametrize("target", [80, 120, 300])
@pytest.mark.parametrize("heads", [[1, 2], [2]])
def test_default_rims_of_module_1_rings_are_those_of_a_shop(
    tip_mm: int, target: int, heads: list[int]
) -> None:
    """Common practice, no source: rims of 3 to 8 mm on module-1 rings between 100 and 200 mm."""
    joint = {
        "name": "joint", "bore_min_mm": tip_mm - 30, "bore_max_mm": tip_mm,
        "tip_max_mm": tip_mm + 1, "tip_min_mm": tip_mm - 1, "head_counts": heads,
    }  # fmt: skip
    study = {
        "robots": [{"name": "arm", "joints": [joint]}],
        "shop": {"modules": [1]},
        "target": {"angle_target_arcsec": target},
    }
    answer = solve(load_study(json.dumps(study)))
    assert 3.0 <= answer.rings[0].rim_mm <= 8.0


def test_the_default_rim_at_180_mm_is_that_of_practice() -> None:
    """Common practice, no source: three times the whole depth, 6.75 mm, on a module-1 ring of 180 mm.

    Bores come in steps of 0.5 mm, so rims in steps of 0.25 mm: the tolerance.
    """
    joint = {
        "name": "joint", "bore_min_mm": 150, "bore_max_mm": 175, "tip_max_mm": 180,
        "tip_min_mm": 180,
    }  # fmt: skip
    study = {
        "robots": [{"name": "arm", "joints": [joint]}],
        "shop": {"modules": [1]},
        "target": {"angle_target_arcsec": 100},
    }
    answer = solve(load_study(json.dumps(study)))
    assert answer.rings[0].rim_mm == pytest.approx(6.75, abs=0.25)
