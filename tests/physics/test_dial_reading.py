"""Dial readings against plain trigonometry: a plunger on circles and on toothed tips."""

from __future__ import annotations

import numpy as np
import pytest

from ringset.physics.dial_reading import flat_anvil_sinks_um, full_reading_um

TURN = 2.0 * np.pi * np.arange(72_000) / 72_000


@pytest.mark.parametrize(("radius_mm", "offset_um"), [(20.0, 15.0), (55.0, 120.0), (3.0, 1000.0)])
def test_a_dial_on_a_circle_reads_twice_the_offset(radius_mm: float, offset_um: float) -> None:
    """The plunger's line through the axis cut with the circle (quadratic), turned once."""
    offset = offset_um / 1e3
    # |s - offset e^{i a}| = radius along a fixed line: s^2 - 2 s o cos a + o^2 - r^2 = 0
    half = offset * np.cos(TURN)
    reading = half + np.sqrt(half**2 - offset**2 + radius_mm**2)
    assert full_reading_um(offset_um) == pytest.approx(1e3 * np.ptp(reading), rel=1e-12)


@pytest.mark.parametrize(
    ("teeth", "tip_radius_mm", "land_rad"), [(138, 56.0, 0.006), (40, 21.0, 0.03), (17, 9.5, 0.0)]
)
def test_a_flat_anvil_sinks_between_two_tips(
    teeth: int, tip_radius_mm: float, land_rad: float
) -> None:
    """The largest height of all points of all tips under a plane square to the plunger, turned once."""
    middles = 2.0 * np.pi * np.arange(teeth) / teeth
    lands = (middles[:, np.newaxis] + np.linspace(-land_rad, land_rad, 5)).ravel()
    sampled = TURN[: 72_000 // teeth : 20]
    # half a pitch is hit exactly, so that the middle of a gap is among the places
    places = np.append(sampled, np.pi / teeth)
    heights = tip_radius_mm * np.cos(lands[:, np.newaxis] - places).max(axis=0)
    found = flat_anvil_sinks_um(tip_radius_mm, np.pi / teeth - land_rad)
    assert found == pytest.approx(1e3 * np.ptp(heights), rel=1e-9)


def test_tips_without_gaps_do_not_let_it_sink() -> None:
    assert flat_anvil_sinks_um(56.0, 0.0) == 0.0
