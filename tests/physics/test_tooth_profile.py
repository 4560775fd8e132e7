"""The tooth as curves and as a polyline, against the rack rolled over a disc (shapely) and textbooks."""

from typing import Any

import numpy as np
import pytest
import shapely

from ringset.arrays import Floats
from ringset.physics import geometry, tooth_profile
from ringset.standards.racks import RACKS
from tests.physics.rolled_rack import rolled_pitch

#: Rack, teeth, shift; the last four are undercut, 17 full teeth by a hair (17.1 are the least).
CASES = [
    ("full", 18, 0.0),
    ("full", 40, 0.3),
    ("full", 100, 0.0),
    ("full", 400, 0.0),
    ("full", 400, -0.2),
    ("stub", 17, 0.0),
    ("stub", 178, 0.0),
    ("full_d", 60, 0.0),
    ("full", 17, 0.0),
    ("full", 17, -0.3),
    ("full_d", 17, 0.0),
    ("full", 12, 0.0),
]


def shape(name: str, teeth: int, shift: float = 0.0, module: float = 1.0) -> tooth_profile.Tooth:
    rack = RACKS[name]
    return tooth_profile.rack_tooth_profile(
        module, teeth, addendum=rack.addendum, dedendum=rack.dedendum, fillet=rack.root_fillet,
        pressure_angle_deg=rack.pressure_angle_deg, shift=shift,
    )  # fmt: skip


def _half_pitch(tooth: tooth_profile.Tooth, chord_error: float) -> Floats:
    """Fillet and involute as points, the middle of a gap on the y axis as in the rolled rack."""
    radius, angle = tooth.half_outline(chord_error)
    turned = np.pi / 2.0 - np.pi / tooth.teeth + angle
    return np.asarray(radius[:, np.newaxis] * np.column_stack([np.cos(turned), np.sin(turned)]))


@pytest.mark.cases(fast=1, slow=6)
@pytest.mark.parametrize(("name", "teeth", "shift"), CASES)
def test_the_outline_is_what_the_rolling_rack_leaves(name: str, teeth: int, shift: float) -> None:
    tooth = shape(name, teeth, shift)
    rolled = rolled_pitch(name, teeth, shift)
    mine = _half_pitch(tooth, 1e-6)
    # Facets of the rolled rack are below 1e-5 modules at fineness 256 (see the next test).
    assert shapely.distance(rolled.exterior, shapely.points(mine)).max() < 1e-5
    theirs = shapely.get_coordinates(rolled)
    radius, turn = np.hypot(*theirs.T), np.pi / 2.0 - np.arctan2(theirs[:, 1], theirs[:, 0])
    between = (radius > tooth.root_mm + 1e-3) & (radius < tooth.tip_mm - 1e-6)
    mirrored = between & (turn > 1e-6) & (turn < np.pi / teeth)
    assert mirrored.sum() > 100
    back = shapely.distance(shapely.LineString(mine), shapely.points(theirs[mirrored]))
    assert back.max() < 1e-5
    assert tooth.area_mm2() == pytest.approx(teeth * rolled.area, abs=1e-5 * teeth)
    assert tooth.area_mm2() < teeth * rolled.area  # steps leave material, never take it


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize(("name", "teeth"), [("full", 17), ("full", 400), ("full", 12)])
def test_the_rolled_rack_comes_nearer_with_the_square_of_its_fineness(
    name: str, teeth: int
) -> None:
    mine = shapely.points(_half_pitch(shape(name, teeth), 1e-7))
    coarse, fine = (
        shapely.distance(rolled_pitch(name, teeth, 0.0, fineness).exterior, mine).max()
        for fineness in (64, 256)
    )
    # Second order: 16; where the largest facet lies changes a little from one to the other.
    assert coarse / fine == pytest.approx(16.0, abs=2.0)


@pytest.mark.parametrize(("name", "teeth", "shift"), [c for c in CASES if c[1] > 25])
def test_the_area_is_the_closed_one_where_nothing_is_undercut(
    name: str, teeth: int, shift: float
) -> None:
    rack = RACKS[name]
    section = geometry.toothed_section(
        0.8, teeth, 0.0, addendum=rack.addendum, dedendum=rack.dedendum, fillet=rack.root_fillet,
        pressure_angle_deg=20.0, shift=shift,
    )  # fmt: skip
    tooth = shape(name, teeth, shift, module=0.8)
    assert not tooth.undercut
    # The slope of the fillet is a central difference, good to ten digits of a small part.
    assert tooth.area_mm2() == pytest.approx(section.area_mm2, rel=1e-9)


@pytest.mark.parametrize(("name", "teeth", "shift"), CASES)
@pytest.mark.parametrize("error_mm", [0.01, 0.0005])
def test_no_chord_is_further_off_than_stated(
    name: str, teeth: int, shift: float, error_mm: float
) -> None:
    tooth = shape(name, teeth, shift, module=1.5)
    polygon = shapely.Polygon(tooth.outline(error_mm))
    assert polygon.is_valid
    assert polygon.exterior.is_ccw
    exact = shapely.LineString(_half_pitch(tooth, 1e-6))
    chords = shapely.LineString(_half_pitch(tooth, error_mm))
    # 1e-6 for the chords of the finer line
    assert shapely.hausdorff_distance(exact, chords, densify=0.01) <= error_mm + 1e-6
    outline = tooth.outline(error_mm)
    length = np.hypot(*np.diff(outline, axis=0, append=outline[:1]).T)
    assert length.min() > 0.0
    assert abs(polygon.area - tooth.area_mm2()) < error_mm * polygon.exterior.length


def test_the_outline_lies_between_root_and_tip_and_repeats_every_pitch() -> None:
    tooth = shape("full", 17, module=2.0)
    outline = tooth.outline()
    radius = np.hypot(*outline.T)
    assert (radius.min(), radius.max()) == pytest.approx((14.5, 19.0))
    per_tooth = len(outline) // 17
    turn = np.exp(2j * np.pi / 17)
    first, second = (outline[i * per_tooth : (i + 1) * per_tooth] @ (1, 1j) for i in (0, 1))
    assert second == pytest.approx(first * turn, abs=1e-12)


def test_thickness_on_the_pitch_circle_is_half_a_pitch() -> None:
    tooth = shape("full", 30, module=2.0)
    half = float(tooth.involute_half_angle(np.float64(30.0)))
    assert 2.0 * 30.0 * half == pytest.approx(np.pi, rel=1e-12)


def test_undercut_begins_where_the_textbook_says() -> None:
    assert [shape("full", z).undercut for z in (16, 17, 18)] == [True, True, False]
    assert not shape("full", 12, 0.3).undercut  # x = (17.1 - 12) / 17.1 = 0.298 is enough
    assert shape("full", 12, 0.29).undercut


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"teeth": 4}, "teeth: given 4, allowed 5 or more"),
        ({"module_mm": 0.0}, "module_mm: given 0"),
        ({"fillet": 0.6}, "wider than the rack's tooth"),
        ({"teeth": 8, "shift": 0.9}, "would end in a point"),
        ({"teeth": 30, "shift": -2.0}, "inside the base circle"),
    ],
)
def test_impossible_teeth_are_refused_by_name(change: dict[str, float], words: str) -> None:
    good: dict[str, Any] = {
        "module_mm": 1.0, "teeth": 30, "addendum": 1.0, "dedendum": 1.25, "fillet": 0.38,
        "pressure_angle_deg": 20.0,
    }  # fmt: skip
    with pytest.raises(ValueError, match=words):
        tooth_profile.rack_tooth_profile(**good | change)
    with pytest.raises(ValueError, match="chord_error_mm: given 0"):
        tooth_profile.rack_tooth_profile(**good).outline(0.0)
