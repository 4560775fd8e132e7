"""Scatter of repeated positions: the closed forms of normal errors, ISO 9283, and the rules of JCGM 100.

Sources: ISO 9283:1998, 7.2.2 (RP = mean(l) + 3 S_l, 30 cycles), from memory; the half normal, Rayleigh and
Maxwell distributions (any textbook of statistics; closed forms worked out here); JCGM 100:2008, 4.2.3 (mean
of n readings), 4.3.7 (half widths) and 5.1.2 (root of the sum of squares), from memory.
"""

from __future__ import annotations

import numpy as np
import pytest

from ringset.physics import simulated_signal
from ringset.physics.quantity import ARCSEC_PER_RAD
from ringset.physics.resolution import noise_arcsec
from ringset.physics.toolpoint import combined_lever_error_um, lever_error_um
from ringset.schema.answer import ToolPoint
from ringset.schema.study import Robot

#: Mean distance from the barycentre over sigma of an axis, of one, two and three equal axes.
MEANS = (np.sqrt(2.0 / np.pi), np.sqrt(np.pi / 2.0), 2.0 * np.sqrt(2.0 / np.pi))


def pose_repeatability(sigmas: list[float], cycles: int, robots: int) -> float:
    """Return the mean RP over many robots that attain one pose so many times each."""
    rng = np.random.default_rng(11)
    attained = rng.normal(size=(robots, cycles, len(sigmas))) * np.array(sigmas)
    away = np.linalg.norm(attained - attained.mean(axis=1, keepdims=True), axis=2)
    return float(np.mean(away.mean(axis=1) + 3.0 * away.std(axis=1, ddof=1)))


@pytest.mark.parametrize(("axes", "closed"), [(1, 2.606), (2, 3.219), (3, 3.616)])
def test_pose_repeatability_of_normal_errors(axes: int, closed: float) -> None:
    """RP over sigma of an axis: mean + 3 sqrt(axes - mean^2); long series of draws come to it."""
    mean = float(MEANS[axes - 1])
    assert mean + 3.0 * np.sqrt(axes - mean**2) == pytest.approx(closed, abs=5e-4)
    assert pose_repeatability([1.0] * axes, 2000, 400) == pytest.approx(closed, rel=5e-3)


def test_how_the_tool_points_repeatability_stands_to_that_of_a_data_sheet() -> None:
    """With k = 2 it is twice the root of the sum of squares; RP lies 1.04 to 1.30 times above.

    All scatter in one direction makes the most of it, equal scatter in three the least, and anything else
    lies between.
    """
    ratios = [
        (mean + 3.0 * np.sqrt(axes - mean**2)) / (2.0 * np.sqrt(axes))
        for axes, mean in enumerate(MEANS, start=1)
    ]
    assert [round(ratio, 2) for ratio in ratios] == [1.30, 1.14, 1.04]
    for sigmas in ([1.0, 0.3, 0.1], [1.0, 1.0, 0.2], [0.7, 0.5, 0.4]):
        found = pose_repeatability(sigmas, 1000, 200) / (2.0 * float(np.linalg.norm(sigmas)))
        assert ratios[2] - 0.01 < found < ratios[0] + 0.01
    told = (
        Robot.model_fields["tool_point_repeatability_target_um"].description,
        ToolPoint.model_fields["repeatability_um"].description,
    )
    assert all(text is not None and "1.04 to 1.30 times" in text for text in told)


@pytest.mark.parametrize("heads", [1, 2])
def test_noise_alone_is_half_normal_about_the_mean(heads: int) -> None:
    """Readings of simulated signals with nothing but noise: distances, spread and the mean of n."""
    ring = simulated_signal.Rings(teeth=97, tip_radius_mm=49.5)
    places = np.arange(heads)[np.newaxis] * np.pi
    head = simulated_signal.Heads(50.0, places, noise=1e-3, stray=np.zeros((2000, heads)))
    still = simulated_signal.Motion()
    rng = np.random.Generator(np.random.SFC64(5))
    read = simulated_signal.simulated_angle_errors(ring, head, still, 64, rng) * ARCSEC_PER_RAD
    sigma = float(noise_arcsec(1e-3, 1.0, 97, heads))
    assert sigma == pytest.approx(1e-3 / 97 / np.sqrt(heads) * ARCSEC_PER_RAD, rel=1e-12)
    away = np.abs(read - read.mean(axis=0))
    assert float(away.mean()) == pytest.approx(sigma * np.sqrt(2.0 / np.pi), rel=5e-3)
    assert float(read.std(axis=0).mean()) == pytest.approx(sigma, rel=5e-3)
    assert float(np.mean(away <= 2.0 * sigma)) == pytest.approx(0.9545, abs=2e-3)
    # the mean of n repeated positions scatters by sigma / sqrt(n): JCGM 100, 4.2.3
    means = read.reshape(80, 25, 64).mean(axis=1)
    assert float(means.std()) == pytest.approx(sigma / 5.0, rel=0.04)


def test_unlike_scatters_add_as_squares_at_the_tool_point() -> None:
    """JCGM 100, 5.1.2 and 4.3.7: a normal, an even and a sinusoidal scatter of three joints, drawn."""
    rng = np.random.default_rng(3)
    reach = np.array([900.0, 500.0, 120.0])
    drawn = np.array(
        [
            rng.normal(0.0, 4.0, 200000),
            rng.uniform(-9.0, 9.0, 200000),
            12.0 * np.sin(rng.uniform(0.0, 2.0 * np.pi, 200000)),
        ]
    )
    standard = np.array([4.0, 9.0 / np.sqrt(3.0), 12.0 / np.sqrt(2.0)])
    levers = np.array([float(lever_error_um(r, s)) for r, s in zip(reach, standard, strict=True)])
    moved = (drawn * reach[:, np.newaxis] * 1000.0 / ARCSEC_PER_RAD).sum(axis=0)
    assert float(combined_lever_error_um(levers, "rss")) == pytest.approx(
        float(moved.std()), rel=5e-3
    )
