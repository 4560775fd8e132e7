"""A ring that somebody has in mind is rated at its bore on the grid, or refused where that leaves no ring."""

import pytest

from ringset.analysis.alternatives.single_ring import BORE_GRID_MM, find_joint, rate_one
from ringset.errors import StudyError
from ringset.schema.answer import JointRing
from tests.support.studies import load, small


def rated(bore: float, **joint: float | str) -> JointRing:
    """Return a ring of 101 teeth of module 1, whose root is 98.5 mm, with a bore."""
    data = small()
    data["robots"][0]["joints"][0] |= joint
    study = load(data)
    robot, first = study.robots[0], study.robots[0].joints[0]
    return rate_one(study, *find_joint(study, first.name, robot.name), 1.0, 101, bore, 1)[0]


@pytest.mark.parametrize(
    "bore", [5e-324, 1e-300, 0.49 * BORE_GRID_MM, 98.5 - 0.49 * BORE_GRID_MM, 1e308]
)
def test_a_bore_that_is_none_on_the_grid_is_refused_by_name(bore: float) -> None:
    """It would be rated as a disc without a bore, or without a rim."""
    with pytest.raises(StudyError) as refused:
        rated(bore)
    assert [fault.path for fault in refused.value.faults] == ["bore"]


def test_a_bore_that_is_the_hollow_of_its_hub_on_the_grid_is_refused() -> None:
    with pytest.raises(StudyError, match="above 50"):
        rated(50.0 + 0.49 * BORE_GRID_MM, hub_bore_mm=50.0, seat_fit="H7/g6")


@pytest.mark.parametrize("bore", [BORE_GRID_MM, 98.4])
def test_one_step_of_bore_and_a_thin_rim_are_rings(bore: float) -> None:
    assert rated(bore).bore_mm == pytest.approx(bore, abs=1e-9)
