"""Error at the tool point from the angle errors of the joints."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringset.arrays import Floats
from ringset.physics import toolpoint
from tests.support.narrow import array

#: Axes of a six-joint arm (unit vectors, through points in mm) and its tool point.
AXES = np.array([[0, 0, 1], [0, 1, 0], [0, 1, 0], [1, 0, 0], [0, 1, 0], [0.6, 0, 0.8]], dtype=float)
POINTS = np.array(
    [[0, 0, 0], [0, 0, 400], [50, 0, 900], [50, 0, 950], [500, 0, 950], [560, 0, 950]]
)
TOOL = np.array([700.0, 80.0, 930.0])
ERRORS = np.array([12.0, 9.0, 15.0, 30.0, 25.0, 40.0])  # arcsec


def _turned(point: Floats, axis: Floats, through: Floats, angle: float) -> Floats:
    """A point turned about an axis (Rodrigues)."""
    arm = point - through
    return np.asarray(
        through
        + arm * np.cos(angle)
        + np.cross(axis, arm) * np.sin(angle)
        + axis * (axis @ arm) * (1.0 - np.cos(angle))
    )


def _reaches() -> Floats:
    arms = TOOL - POINTS
    along = np.sum(arms * AXES, axis=1)
    return np.asarray(np.sqrt(np.sum(arms**2, axis=1) - along**2))


def test_lever_error_is_how_far_a_turned_point_moves() -> None:
    """Each joint turned by its error: the tool moves by reach times angle."""
    levers = array(toolpoint.lever_error_um(_reaches(), ERRORS))
    for joint in range(6):
        moved = _turned(TOOL, AXES[joint], POINTS[joint], ERRORS[joint] * np.pi / 648000.0)
        # The chord is shorter than the arc by angle^2 / 24; differences of 700 mm hold 1e-13 mm.
        assert levers[joint] == pytest.approx(1000.0 * np.linalg.norm(moved - TOOL), rel=1e-6)


def test_root_sum_of_squares_is_the_rms_over_all_signs() -> None:
    """Independent errors of either sign: mean square of the vector sum, all 64 cases."""
    levers = array(toolpoint.lever_error_um(_reaches(), ERRORS))
    columns = np.cross(AXES, TOOL - POINTS) * (ERRORS * np.pi / 648000.0)[:, np.newaxis] * 1000.0
    signs = np.array(list(itertools.product((-1.0, 1.0), repeat=6)))
    lengths = np.linalg.norm(signs @ columns, axis=1)
    rms = np.sqrt(np.mean(lengths**2))
    assert toolpoint.combined_lever_error_um(levers, "rss") == pytest.approx(rms, rel=1e-12)
    assert lengths.max() <= toolpoint.combined_lever_error_um(levers, "sum")


@given(levers=st.lists(st.floats(0.0, 1e4), min_size=1, max_size=12))
def test_sum_bounds_the_root_sum_of_squares(levers: list[float]) -> None:
    """Largest <= rss <= sum <= sqrt(n) rss."""
    array = np.array(levers)
    rss, total = (
        toolpoint.combined_lever_error_um(array, "rss"),
        toolpoint.combined_lever_error_um(array, "sum"),
    )
    # 1e-12 relative is rounding; 1e-150 is where squares leave binary range.
    assert array.max() <= rss * (1.0 + 1e-12) + 1e-150
    assert rss <= total * (1.0 + 1e-12) + 1e-150
    assert total <= np.sqrt(len(levers)) * rss * (1.0 + 1e-12) + 1e-150


def test_one_joint_errs_by_its_lever_under_both_rules() -> None:
    assert toolpoint.combined_lever_error_um(np.array([7.5]), "rss") == 7.5
    assert toolpoint.combined_lever_error_um(np.array([7.5]), "sum") == 7.5
    assert toolpoint.combined_lever_error_um(np.array([3.0, 4.0]), "rss") == 5.0
    assert toolpoint.combined_lever_error_um(np.array([3.0, 4.0]), "sum") == 7.0


def test_unknown_rule_is_refused() -> None:
    with pytest.raises(ValueError, match="rule: given 'max', allowed 'rss' or 'sum'"):
        toolpoint.combined_lever_error_um(np.array([1.0]), "max")


def test_lever_error_is_linear_in_both_and_takes_arrays() -> None:
    reach, error = np.array([100.0, 200.0]), np.array([5.0, 7.0])
    levers = array(toolpoint.lever_error_um(reach, error))
    # One radian at 1 mm is 1000 um.
    assert toolpoint.lever_error_um(1.0, 648000.0 / np.pi) == pytest.approx(1000.0, rel=1e-14)
    for i in range(2):
        assert levers[i] == toolpoint.lever_error_um(float(reach[i]), float(error[i]))
    assert toolpoint.lever_error_um(0.0, 50.0) == 0.0
