"""The whole budget against whole simulated joints."""

import numpy as np
import pytest

from ringset.analysis.simulation.monte_carlo import Draw, simulated_turns
from ringset.physics import simulated_signal
from tests.analysis.simulation.cases import random_case

JOINTS = 320
TURNS = 4


@pytest.mark.campaign
def test_expanded_covers_19_of_20_joints_and_the_worst_case_all() -> None:
    """320 random joints, tolerances even up to their limits: half ranges against both totals."""
    rng = np.random.default_rng(20261)
    expanded, worst, total = 0, 0, 0
    for number in range(JOINTS):
        case = random_case(rng)
        draw = Draw(case, TURNS, np.random.Generator(np.random.SFC64(number)), "even")
        half = simulated_signal.error_curve_half_range(simulated_turns(draw))
        expanded += int(np.count_nonzero(half <= case.ring.budget.expanded_arcsec))
        worst += int(np.count_nonzero(half <= case.ring.budget.worst_case_arcsec))
        total += TURNS
    assert total == JOINTS * TURNS
    assert expanded / total >= 0.95
    assert worst == total


def test_with_every_tolerance_at_its_limit_readings_still_stay_within_expanded() -> None:
    """An expanded uncertainty speaks of readings: 95 % of them, joint by joint at most a little fewer."""
    rng = np.random.default_rng(7)
    shares = []
    for number in range(60):
        case = random_case(rng)
        draw = Draw(case, TURNS, np.random.Generator(np.random.SFC64(number)), "full")
        errors = simulated_turns(draw)
        errors = errors - errors.mean(axis=1, keepdims=True)
        shares.append(float(np.mean(np.abs(errors) <= case.ring.budget.expanded_arcsec)))
    assert np.mean(shares) >= 0.95
    assert min(shares) >= 0.90
