"""Assumed sizes of the head decide answers where a housing or the room along the axis is stated."""

from __future__ import annotations

import pytest

from ringset.analysis.assumptions.band import find_band
from ringset.analysis.assumptions.effects import rank_assumptions
from ringset.analysis.assumptions.models import AssumedEffect
from ringset.analysis.assumptions.screen import Screen
from ringset.schema.assumed_inputs import assumed_inputs, study_with_inputs
from ringset.solving.pipeline import solve
from tests.support.studies import Json, load, small


def housed() -> Json:
    """Return the joints of `small` with housings that just hold their tips, and 15 mm along the axis."""
    data = small()
    for row in data["robots"][0]["joints"]:
        row["housing_max_mm"] = row.pop("tip_max_mm") + 24.8
        row["axial_room_mm"] = 15.0
    return data


def effects(data: Json) -> dict[str, AssumedEffect]:
    return {one.path: one for one in rank_assumptions(load(data)).inputs}


@pytest.mark.slow
def test_height_and_width_of_the_head_are_among_what_decides() -> None:
    found = effects(housed())
    for path in ("head.height_above_tips_mm", "head.axial_width_mm"):
        one = found[path]
        assert one.solved, path
        assert one.at_high.figures is not None
        assert one.at_high.figures.status == "impossible", path
        assert one.at_low.figures is not None
        assert one.at_low.figures.status == "agreed", path
        study = load(housed()).canonical()
        (mine,) = (known for known in assumed_inputs(study) if known.path == path)
        for value, end in ((mine.low, one.at_low), (mine.high, one.at_high)):
            answer = solve(study_with_inputs(study, [(mine, value)]), certified=False)
            assert end.figures is not None
            assert (answer.status, answer.totals and answer.totals.material_kg) == (
                end.figures.status,
                end.figures.material_kg,
            )


@pytest.mark.slow
def test_without_housing_and_axial_room_they_decide_nothing() -> None:
    found = effects(small())
    for path in ("head.height_above_tips_mm", "head.axial_width_mm"):
        for end in (found[path].at_low, found[path].at_high):
            assert end.rings_keep is True
            assert all(change == 0.0 for change in end.change.values())


@pytest.mark.slow
def test_a_limit_on_the_rings_of_a_robot_has_a_careful_end() -> None:
    data = small()
    free = solve(load(data)).robot_rings[0]
    data["robots"][0]["rings_mass_max_kg"] = 1.2 * free.rings_mass_kg
    data["ranges"] = {
        "robots.arm.rings_mass_max_kg": [1.01 * free.rings_mass_kg, 2.0 * free.rings_mass_kg]
    }
    study = load(data)
    (one,) = (one for one in find_band(study, causes_s=0.0).inputs if "rings_mass" in one.path)
    assert (one.careful, one.hopeful) == (1.01 * free.rings_mass_kg, 2.0 * free.rings_mass_kg)


def test_chosen_rings_keep_a_robots_limit_or_not() -> None:
    data = small()
    free = solve(load(data))
    data["robots"][0]["rings_inertia_max_kg_m2"] = 1.01 * free.robot_rings[0].rings_inertia_kg_m2
    study = load(data)
    screen = Screen(study, solve(study))
    assert screen.base.keeps
    robot = study.robots[0].model_copy(
        update={"rings_inertia_max_kg_m2": 0.9 * free.robot_rings[0].rings_inertia_kg_m2}
    )
    tighter = study.model_copy(update={"robots": [robot]}).canonical()
    assert not screen.at(tighter).keeps
