"""Sizes that no ring can have: the limit that rules them out is named, and metres are suspected."""

from __future__ import annotations

import json

import pytest

from ringset.analysis.explanation.impossible import explain_impossible
from ringset.reporting.explanation_text import explanation_text
from ringset.solving.pipeline import solve
from tests.support.places import SCENARIOS
from tests.support.studies import joint, load


def test_sizes_in_metres_are_suspected_and_modules_are_not_blamed() -> None:
    """Sizes a thousand times too small: no window can be widened so far, and no module would help."""
    data = json.loads((SCENARIOS / "two_joint_table.json").read_text())
    for row in data["robots"][0]["joints"]:
        row.update({name: row[name] / 1000.0 for name in row if name.endswith("_mm")})
    study = load(data)
    explanation = explain_impossible(study)
    assert len(explanation.blockers) == 2
    for blocker in explanation.blockers:
        (member,) = blocker.members
        assert member.path.endswith(".tip_max_mm")
        assert "smallest tip diameter is 34 mm" in member.note
        assert "was this one meant in metres?" in member.note
    text = explanation_text(explanation)
    assert "modules on offer" not in text
    assert "metres" in text
    assert all("metres" in reason for reason in solve(study).reasons)


@pytest.mark.parametrize("tip_max_mm", [25.0, 3.0, 1.4])
def test_a_size_that_is_merely_too_small_is_not_suspected(tip_max_mm: float) -> None:
    """25 mm is just below the least tip circle of 27.2 mm; 3 mm and 1.4 mm could be inches as well."""
    sizes = {"bore_max_mm": tip_max_mm / 1.5, "tip_max_mm": tip_max_mm}
    row = joint("wrist", tip_max_mm / 2.0, **sizes)
    data = {"robots": [{"name": "arm", "joints": [row]}], "target": {"angle_target_arcsec": 90.0}}
    (reason,) = solve(load(data)).reasons
    assert "smallest tip diameter" in reason
    assert "metres" not in reason
