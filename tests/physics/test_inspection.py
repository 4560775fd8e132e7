"""Spans and pins against a tooth drawn point by point from the string that unwinds (no formula shared)."""

import math

import numpy as np
import pytest

from ringset.arrays import Floats
from ringset.physics import geometry, inspection
from ringset.standards.preferred_numbers import PREFERRED_MM
from ringset.standards.racks import RACKS

ALPHA = math.radians(20.0)


def flank(m: float, z: int, x: float, side: float) -> Floats:
    """Return points of one flank of the tooth on the x axis: the unwinding string, thickness at d."""
    base = m * z * math.cos(ALPHA) / 2.0
    roll = np.linspace(0.0, 1.2, 200_001)
    radius = base * np.hypot(1.0, roll)
    swept = roll - np.arctan(roll)
    at_pitch = math.tan(ALPHA) - ALPHA
    half = (math.pi / 2.0 + 2.0 * x * math.tan(ALPHA)) / z  # half the thickness angle at d
    angle = side * (half + at_pitch - swept)
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)


def turned(points: Floats, angle: float) -> Floats:
    c, s = math.cos(angle), math.sin(angle)
    return np.asarray(points @ np.array([[c, s], [-s, c]]))


RINGS = [(1.0, 17, 0.0), (2.0, 29, 0.0), (1.0, 100, 0.3), (0.8, 201, -0.2), (1.0, 400, 0.0)]


@pytest.mark.parametrize(("m", "z", "x"), RINGS)
def test_span_is_the_distance_of_two_parallel_faces(m: float, z: int, x: float) -> None:
    """Faces parallel to the axis through the middle of k teeth: extreme points of the outer flanks."""
    k = int(inspection.involute_teeth_spanned(z, x))
    away = (k - 1) * math.pi / z
    upper = turned(flank(m, z, x, +1.0), away)
    base = m * z * math.cos(ALPHA) / 2.0
    span = float(inspection.involute_span_mm(m, z, k, x))
    # The involute flattens upwards and the face touches it where the string is parallel to y.
    tallest = upper[np.argmax(upper[:, 1])]
    assert 2.0 * tallest[1] == pytest.approx(span, abs=1e-6)
    touch = inspection.involute_span_contact_mm(2.0 * base, span)
    assert 2.0 * math.hypot(*tallest) == pytest.approx(touch, abs=1e-3)


@pytest.mark.parametrize(("m", "z", "x"), RINGS)
@pytest.mark.parametrize("factor", [0.95, 1.0, 1.1])
def test_a_pin_lies_at_half_its_diameter_from_both_flanks(
    m: float, z: int, x: float, factor: float
) -> None:
    pin = factor * float(inspection.involute_ideal_pin_mm(m, z, x))
    over = float(inspection.involute_over_pins_mm(m, z, pin, x))
    odd = math.cos(math.pi / (2 * z)) if z % 2 else 1.0
    centre = turned(np.array([[(over - pin) / odd / 2.0, 0.0]]), math.pi / z)[0]
    near = flank(m, z, x, +1.0)
    gaps = np.hypot(*(near - centre).T)
    assert gaps.min() == pytest.approx(pin / 2.0, abs=1e-6)
    touch = near[np.argmin(gaps)]
    found = inspection.involute_pin_contact_mm(m, z, pin, x)
    assert 2.0 * math.hypot(*touch) == pytest.approx(found, abs=1e-3 * m)
    if factor == 1.0:
        assert found == pytest.approx(m * (z + 2.0 * x), rel=1e-12)


def test_odd_teeth_put_the_pins_half_a_pitch_from_opposite() -> None:
    """Distance of two centres on spaces (z - 1)/2 pitches apart, by the law of cosines."""
    radius = (
        (inspection.involute_over_pins_mm(1.0, 21, 1.728) - 1.728) / 2.0 / math.cos(math.pi / 42)
    )
    angle = 2.0 * math.pi * 10 / 21
    apart = 2.0 * radius * math.sin(angle / 2.0)
    assert inspection.involute_over_pins_mm(1.0, 21, 1.728) == pytest.approx(
        apart + 1.728, rel=1e-12
    )


@pytest.mark.parametrize(("m", "z", "x"), RINGS)
def test_changes_per_thickness_are_the_slopes_of_the_sizes(m: float, z: int, x: float) -> None:
    """A shift of dx makes the tooth 2 m tan(alpha) dx thicker."""
    step = 1e-6
    thicker = 2.0 * m * math.tan(ALPHA) * 2.0 * step
    k, pin = (
        int(inspection.involute_teeth_spanned(z, x)),
        float(inspection.involute_ideal_pin_mm(m, z, x)),
    )
    spans = [inspection.involute_span_mm(m, z, k, x + s) for s in (-step, step)]
    overs = [inspection.involute_over_pins_mm(m, z, pin, x + s) for s in (-step, step)]
    slope = (spans[1] - spans[0]) / thicker
    assert inspection.involute_span_change() == pytest.approx(slope, rel=1e-6)
    slope = (overs[1] - overs[0]) / thicker
    assert inspection.involute_pin_change(m, z, pin, x) == pytest.approx(slope, rel=1e-5)


def test_the_flank_starts_at_the_base_circle_where_undercut_begins_and_higher_above() -> None:
    rack = RACKS["full"]
    given = (rack.dedendum, rack.root_fillet)
    least = geometry.least_teeth_without_undercut(*given, 0.0, 20.0)
    assert inspection.involute_start_mm(2.0, least, *given) == pytest.approx(
        2.0 * least * math.cos(ALPHA), rel=1e-9
    )
    # z 100, m 1: the string from the base circle to the last point of the straight flank.
    along = 50.0 * math.sin(ALPHA) - 1.0 / math.sin(ALPHA)  # a depth of one module
    fillet = 0.25 / (1.0 - math.sin(ALPHA))
    assert inspection.involute_start_mm(1.0, 100, 1.25, fillet) == pytest.approx(
        2.0 * math.hypot(50.0 * math.cos(ALPHA), along), rel=1e-9
    )


@pytest.mark.parametrize("name", ["full", "stub"])
def test_every_ring_from_18_to_400_teeth_has_a_span_and_a_pin_that_touch_its_flanks(
    name: str,
) -> None:
    rack = RACKS[name]
    shape = {"addendum": rack.addendum, "dedendum": rack.dedendum, "fillet": rack.root_fillet}
    for z in range(18, 401):
        start = inspection.involute_start_mm(1.0, z, rack.dedendum, rack.root_fillet)
        tip = z + 2.0 * rack.addendum
        k = inspection.involute_teeth_to_span(1.0, z, **shape)
        touch = inspection.involute_span_contact_mm(
            z * math.cos(ALPHA), inspection.involute_span_mm(1.0, z, k)
        )
        assert start <= touch <= tip
        pin = inspection.involute_pin_to_measure_mm(1.0, z, PREFERRED_MM, **shape)
        assert pin in PREFERRED_MM
        assert start <= inspection.involute_pin_contact_mm(1.0, z, pin) <= tip
        assert inspection.involute_over_pins_mm(1.0, z, pin) > tip * math.cos(math.pi / (2 * z))


def test_what_cannot_be_measured_is_refused_with_what_can() -> None:
    shape = {"addendum": 1.0, "dedendum": 1.25, "fillet": 0.38}
    with pytest.raises(ValueError, match=r"pin sizes: none of 2 works; allowed: near 1\.68"):
        inspection.involute_pin_to_measure_mm(1.0, 100, (0.5, 5.0), **shape)
    with pytest.raises(ValueError, match=r"pin_mm: given 0\.1, allowed larger"):
        inspection.involute_over_pins_mm(1.0, 30, 0.1)
    with pytest.raises(ValueError, match="involute: given -1, allowed 0 or more"):
        inspection.involute_angle(-1.0)
    for angle in (0.0, 90.0):
        with pytest.raises(ValueError, match="pressure_angle_deg: given"):
            inspection.involute_span_mm(1.0, 100, 12, pressure_angle_deg=angle)


def test_the_involute_inverts_over_its_whole_range() -> None:
    angles = np.concatenate([[0.0, 1e-4, 1e-2], np.linspace(0.02, 1.5, 300)])
    assert inspection.involute_angle(inspection.involute_function(angles)) == pytest.approx(
        angles, rel=1e-7, abs=1e-9
    )
