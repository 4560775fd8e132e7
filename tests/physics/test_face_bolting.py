"""Screws through the face of a ring: where they fit and what they carry."""

import math

import numpy as np
import pytest
from shapely.geometry import Point

from ringset.physics import face_bolting


def test_holes_take_away_what_shapely_measures() -> None:
    """Area, and polar moment as the sum over thin strips of each hole's polygon."""
    section = face_bolting.holes_section(5, 4.5, 71.3)
    hole = Point(71.3 / 2.0, 0.0).buffer(2.25, quad_segs=2048)
    assert section.area_mm2 == pytest.approx(5 * hole.area, rel=1e-6)
    turn = np.linspace(0.0, 2.0 * np.pi, 20001)
    x, y = 71.3 / 2.0 + 2.25 * np.cos(turn), 2.25 * np.sin(turn)
    # polar moment about the origin by Green's theorem, 1/4 of the integral of r^2 (x dy - y dx)
    mid_x, mid_y = (x[1:] + x[:-1]) / 2.0, (y[1:] + y[:-1]) / 2.0
    moment = np.sum((mid_x**2 + mid_y**2) * (mid_x * np.diff(y) - mid_y * np.diff(x))) / 4.0
    assert section.polar_mm4 == pytest.approx(5 * moment, rel=1e-6)


def test_tightening_torque() -> None:
    """k F d with k = 0.2: 1 kN on M6 takes 1.2 N m (from memory)."""
    assert face_bolting.tightening_torque_nm(1000.0, 6.0) == pytest.approx(1.2, rel=1e-12)


def test_walls_are_those_of_the_drawing() -> None:
    """Distance of the hole's circle from bore and root circle, as shapely measures it."""
    circle = float(face_bolting.bolt_circle_mm(80.0, 94.0))
    inside, outside = face_bolting.hole_walls_mm(80.0, 94.0, circle, 3.4)
    hole = Point(circle / 2.0, 0.0).buffer(1.7, quad_segs=256)
    centre = Point(0.0, 0.0)
    assert inside == pytest.approx(hole.distance(centre.buffer(40.0, quad_segs=4096)), abs=1e-4)
    root = centre.buffer(47.0, quad_segs=4096).exterior
    assert outside == pytest.approx(hole.distance(root), abs=1e-4)
    assert inside == outside


def test_a_rim_takes_a_screw_from_the_needed_thickness_on() -> None:
    assert face_bolting.rim_needed_for_screw_mm(3.4, 5.5, 1.0) == 5.5  # the head decides
    assert face_bolting.rim_needed_for_screw_mm(3.4, 5.5, 1.5) == pytest.approx(
        6.4
    )  # the walls decide
    with pytest.raises(ValueError, match=r"wall_mm: given -1\.0, allowed 0 or more"):
        face_bolting.rim_needed_for_screw_mm(3.4, 5.5, -1.0)


@pytest.mark.parametrize(("circle", "thread", "head"), [(20.0, 3.0, 5.5), (87.0, 3.0, 5.5)])
def test_one_screw_more_would_stand_too_close(circle: float, thread: float, head: float) -> None:
    most = int(face_bolting.most_screws_on_circle(circle, thread, head))

    def apart(count: int) -> float:
        return circle * math.sin(math.pi / count)

    assert apart(most) >= 9.0 - 1e-9
    assert apart(most + 1) < 9.0


def test_six_screws_on_a_hexagon_and_none_too_few() -> None:
    """Chord of a hexagon is its radius: 6 screws 9 mm apart stand on 18 mm."""
    assert face_bolting.most_screws_on_circle(18.0, 3.0, 5.5) == 6
    assert (
        face_bolting.most_screws_on_circle(5.0, 3.0, 5.5) == 2
    )  # a circle smaller than the spacing: two at most


def test_friction_torque_of_six_m3() -> None:
    """6 x 0.5 x 580 x 5.03 x 0.12 x 43.5 mm by hand: 45.7 N m."""
    preload = face_bolting.preload_n(face_bolting.stress_area_mm2(3.0, 0.5), 580.0, 0.5)
    assert preload == pytest.approx(1459.0, abs=1.0)
    torque = face_bolting.friction_torque_nm(np.array([3, 6]), preload, 0.12, 87.0)
    assert torque == pytest.approx([22.85, 45.7], abs=0.05)
    with pytest.raises(ValueError, match=r"share: given 0\.0, allowed above 0"):
        face_bolting.preload_n(5.0, 580.0, 0.0)
