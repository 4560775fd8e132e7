"""A drawn joint turned past the same angles many times: what scatters is what the budget says scatters.

Ring, seat and channels are drawn once and stay; noise, steps, bearing, stray field, warmth, wobble and the
sampling instant are drawn anew each time. The scatter at one angle is held against the terms that do not
repeat, and nothing that repeats may show in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from ringset.analysis.simulation.cases import Case, Rows
from ringset.analysis.simulation.monte_carlo import Draw
from ringset.physics import simulated_signal
from ringset.physics.budget_terms import SCATTERING, TERMS
from ringset.physics.quantity import ARCSEC_PER_RAD
from tests.analysis.simulation.cases import case_of, study_of

#: Turns past the same angles, and how many angles of a turn are looked at.
TURNS, ANGLES = 1500, 256
REPEATING = tuple(name for name in TERMS if name not in SCATTERING)
#: Standard deviations of 1,500 draws are known to 1 / sqrt(2 x 1500) = 1.8 % (1 sigma, a normal shape): of
#: whole turns that share one draw 5 % is nearly 3 sigma.
BAND = 0.05
#: A joint of which every scattering term is worth seeing.
LIVELY = {
    "speed_max_rpm": 60.0, "temperature_gradient_k": 10.0, "wobble_mrad": 8.0, "set_by": "tips",
    "seat_ovality_um": 4.0, "bearing_shift_um": 4.0,
}  # fmt: skip


def lively(heads: int) -> Case:
    head = {
        "timing_jitter_us": 10.0,
        "position_bits": 18,
        "stray_field": 0.004,
        "noise_ratio": 0.002,
    }
    study = study_of(LIVELY | {"head_counts": [heads]}, head=head, shop={"flank_line_mrad": 3.0})
    return case_of(study, 97, heads)


def standard_of(case: Case, names: Sequence[str]) -> float:
    """Return the root of the sum of squares of the budget's standard uncertainties in arcsec."""
    return float(
        np.hypot.reduce([t.standard_arcsec for t in case.ring.budget.terms if t.name in names])
    )


def placed(case: Case) -> Rows:
    """Return where the heads stand beyond what the evaluation knows: at the corner that the budget takes."""
    half = np.radians(case.ref.head.placement_tolerance_deg) / 2.0
    return np.asarray(
        half * np.array([(-1.0) ** np.arange(case.ring.heads)]) * (case.ring.heads > 1)
    )


def passes(case: Case, names: Sequence[str], seed: int) -> Rows:
    """Return readings less true angle in arcsec, (turns, angles), with only some terms switched on."""
    rng = np.random.Generator(np.random.SFC64(seed))
    once = Draw(case, 1, rng, "full", only=[name for name in names if name in REPEATING])
    anew = Draw(case, TURNS, rng, "full", only=[name for name in names if name in SCATTERING])
    ring, heads = once.rings(), once.heads(misplaced_rad=placed(case))
    if "temperature_gradient" in names:
        fixed, warm = np.asarray(ring.tooth_rad), np.asarray(anew.rings().tooth_rad)
        runout = np.repeat(np.asarray(ring.runout_mm), TURNS, axis=0)
        ring = replace(ring, tooth_rad=fixed + warm, runout_mm=runout)
    fresh = anew.heads(misplaced_rad=placed(case))
    heads = replace(heads, stray=fresh.stray, noise=fresh.noise)
    motion = anew.motion()
    # one axis, shifted evenly either way, across the sight of one head and along that of two opposed ones
    # (which cancel the rest); its own tilt comes in either sense
    way = 1j if case.ring.heads == 1 else 1.0
    shift = np.abs(motion.shift_mm) * (2.0 * rng.random(TURNS) - 1.0) * way
    motion = replace(
        motion, shift_mm=shift, orbit=0.0,
        wobble_rad=motion.wobble_rad * np.sign(rng.random(TURNS) - 0.5),
    )  # fmt: skip
    errors = (
        simulated_signal.simulated_angle_errors(ring, heads, motion, ANGLES, rng) * ARCSEC_PER_RAD
    )
    errors = np.broadcast_to(errors, (TURNS, ANGLES))
    if "quantisation" in names:
        step = case.ring.displayed_step_arcsec
        # the joint stops somewhere within a step each time: what is shown is the reading rounded to steps
        within = step * rng.random(errors.shape)
        errors = np.rint((errors + within) / step) * step - within
    return np.asarray(errors)


def scatter(read: Rows) -> float:
    """Return the root mean square over angles of how far readings of one angle are from their mean."""
    return float(np.sqrt(np.mean(read.var(axis=0))))


@pytest.mark.parametrize("heads", [1, 2])
@pytest.mark.parametrize("name", SCATTERING)
def test_every_scattering_term_shows_alone_as_the_budget_has_it(name: str, heads: int) -> None:
    case = lively(heads)
    wanted = standard_of(case, [name])
    assert wanted > 0.0
    assert scatter(passes(case, [name], seed=3)) == pytest.approx(wanted, rel=BAND)


@pytest.mark.parametrize("heads", [1, 2])
def test_the_whole_scatter_is_the_repeatability_over_k(heads: int) -> None:
    """With everything switched on: the scatter at an angle is that of the terms that do not repeat alone."""
    case = lively(heads)
    read = passes(case, list(TERMS), seed=5)
    budget = case.ring.budget
    assert case.ring.repeatability_arcsec == budget.repeatability_expanded_arcsec
    assert scatter(read) == pytest.approx(budget.repeatability_expanded_arcsec / 2.0, rel=BAND)
    # what repeats is much larger here, and none of it is in the scatter
    assert standard_of(case, REPEATING) > 2.0 * standard_of(case, SCATTERING)
    alone = passes(case, SCATTERING, seed=5)
    assert scatter(read) == pytest.approx(scatter(alone), rel=BAND)
    within = np.abs(read - read.mean(axis=0)) <= budget.repeatability_expanded_arcsec
    assert 0.945 < float(within.mean()) < 0.98


def test_what_repeats_is_in_the_mean_and_nowhere_else() -> None:
    case = lively(1)
    fixed = passes(case, REPEATING, seed=7)
    assert scatter(fixed) < 1e-9
    assert np.ptp(fixed[0]) > 40.0
    read = passes(case, list(TERMS), seed=7)
    # the mean of all turns comes back to the fixed curve within 4.5 sigma of a mean, at every angle
    sigma = float(read.std(axis=0).max()) / np.sqrt(TURNS)
    assert np.abs(read.mean(axis=0) - fixed[0]).max() < 4.5 * sigma


def test_no_reading_leaves_the_worst_case() -> None:
    """The worst case is half of the range about the mean: one reading in 1.7 million may pass 5 sigma."""
    case = lively(1)
    read = passes(case, list(TERMS), seed=9)
    away = np.abs(read - read.mean(axis=0)).max()
    assert away <= case.ring.budget.repeatability_worst_case_arcsec
    assert away > case.ring.budget.repeatability_expanded_arcsec


def test_a_term_on_the_wrong_side_is_noticed() -> None:
    """Taking the bearing for something that repeats, or the single pitch for scatter, leaves the band."""
    case = lively(1)
    found = scatter(passes(case, list(TERMS), seed=5))
    fewer = [name for name in SCATTERING if name != "bearing_shift"]
    assert abs(standard_of(case, fewer) / found - 1.0) > 2.0 * BAND
    assert abs(standard_of(case, [*SCATTERING, "single_pitch"]) / found - 1.0) > 2.0 * BAND
