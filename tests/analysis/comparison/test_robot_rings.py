"""Mass and inertia of a robot's rings side by side, where some study limits them."""

from __future__ import annotations

from ringset.reporting.answer_text import answer_text
from ringset.reporting.comparison_text import comparison_text
from ringset.reporting.robot_rings_text import robot_rings_text
from ringset.solving.pipeline import solve
from tests.analysis.comparison.test_compare import answer_to, side_by_side
from tests.support.studies import load, small


def test_sums_are_compared_where_one_study_limits_them() -> None:
    first, data = answer_to(small()), small()
    (free,) = first.robot_rings
    data["robots"][0]["rings_mass_max_kg"] = 0.9 * free.rings_mass_kg
    data["robots"][0]["joints"][0]["tip_min_mm"] = 80.0
    second = answer_to(data)
    assert second.status == "proven"
    (held,) = second.robot_rings
    found = side_by_side(first, second)
    (total,) = (one for one in found.totals if one.name.startswith("rings_"))
    assert (total.name, total.robot) == ("rings_mass_kg", "arm")
    assert total.values == [free.rings_mass_kg, held.rings_mass_kg]
    assert total.differences == [0.0, held.rings_mass_kg - free.rings_mass_kg]
    text = comparison_text(found)
    assert "mass of the rings kg, arm" in text
    assert "mass of the rings of arm 0." in found.changes[0].summary
    alike = side_by_side(first, first)
    assert not any(one.name.startswith("rings_") for one in alike.totals)


def test_the_report_tells_the_sums_where_they_are_limited() -> None:
    data = small()
    data["robots"][0]["rings_inertia_max_kg_m2"] = 1e-3
    study = load(data)
    answer = solve(study)
    (one,) = answer.robot_rings
    text = robot_rings_text(answer)
    assert f"arm: mass {one.rings_mass_kg:.4g} kg; inertia (each about its own axis)" in text
    assert f"{1e6 * one.rings_inertia_kg_m2:.4g} kg mm2 (at most 1000 kg mm2)" in text
    assert "All rings of one robot together" in answer_text(study, answer, {})
    assert robot_rings_text(solve(load(small()))) == ""
