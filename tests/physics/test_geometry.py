"""Sizes, section, mass and inertia of a toothed ring.

The section is checked against a polygon made another way: the basic rack, its corners rounded by a
morphological opening, is rolled over a disc in small steps and cut away (shapely).
"""

import numpy as np
import pytest
import shapely

from ringset.arrays import Floats, Ints
from ringset.physics import geometry
from ringset.standards.racks import RACKS, Rack
from tests.physics.rolled_rack import rolled_pitch
from tests.support.narrow import array

#: Name of the rack, tooth count and profile shift of every case without undercut.
CASES = [
    (name, teeth, shift)
    for name in ("full", "stub")
    for teeth in (18, 32, 100, 178)
    for shift in (0.0, 0.3, -0.2)
    if (name, teeth, shift) != ("full", 18, -0.2)  # undercut: 20.5 teeth are the least
]


def _section(
    rack: Rack,
    module: float | Floats,
    teeth: int | Ints,
    bore: float | Floats,
    shift: float = 0.0,
) -> geometry.Section:
    return geometry.toothed_section(
        module,
        teeth,
        bore,
        addendum=rack.addendum,
        dedendum=rack.dedendum,
        fillet=rack.root_fillet,
        pressure_angle_deg=rack.pressure_angle_deg,
        shift=shift,
    )


def _moments(polygon: shapely.Geometry) -> tuple[float, float]:
    """Area and polar moment about the origin of a polygon, by Green's theorem."""
    x, y = shapely.get_coordinates(polygon).T
    a, b, c, d = x[:-1], y[:-1], x[1:], y[1:]
    cross = a * d - c * b
    polar = cross * (a * a + a * c + c * c + b * b + b * d + d * d) / 12.0
    return abs(cross.sum()) / 2.0, abs(polar.sum())


@pytest.mark.cases(fast=2, slow=6)
@pytest.mark.parametrize(("name", "teeth", "shift"), CASES)
def test_area_and_polar_moment_are_those_of_the_rolled_rack(
    name: str, teeth: int, shift: float
) -> None:
    """Root arc, fillet, involute and tip arc together; the bore is a plain circle."""
    module, bore = 0.8, 0.8 * (teeth - 5.0)
    area, polar = _moments(rolled_pitch(name, teeth, shift))
    section = _section(RACKS[name], module, teeth, bore, shift)
    # A pitch with all its material has 3 to 6 m^2 beyond the root circle. Fineness 256 leaves
    # 1e-5 m^2 per pitch of chord error at most, see the fall by four in the next test.
    assert section.area_mm2 + np.pi * bore**2 / 4.0 == pytest.approx(
        module**2 * teeth * area, abs=1e-5 * module**2 * teeth
    )
    # The same error sits near the pitch radius, so r^2 times as large in the polar moment.
    assert section.polar_mm4 + np.pi * bore**4 / 32.0 == pytest.approx(
        module**4 * teeth * polar, abs=1e-5 * module**4 * teeth * (teeth / 2.0) ** 2
    )


@pytest.mark.parametrize(("name", "teeth", "shift"), [("full", 18, 0.0), ("stub", 100, 0.3)])
def test_rolled_polygon_converges_to_the_closed_section(
    name: str, teeth: int, shift: float
) -> None:
    """Twice as fine, a quarter of the surplus: what is left over is chords, not a wrong shape."""
    exact = _section(RACKS[name], 1.0, teeth, 0.0, shift)
    coarse, fine = (
        np.array(_moments(rolled_pitch(name, teeth, shift, fineness))) * teeth
        - np.array([exact.area_mm2, exact.polar_mm4])
        for fineness in (64, 128)
    )
    assert np.all(fine > 0.0)
    # Second order: a ratio of 4; 0.3 is room for the next order.
    assert coarse / fine == pytest.approx([4.0, 4.0], abs=0.3)


@pytest.mark.parametrize("shift", [0.0, 0.3])
def test_rolled_flank_is_an_involute_down_to_the_end_of_the_fillet(shift: float) -> None:
    """The polygon itself obeys the textbook: involute thickness above the form circle, not below.

    Textbook: the flank ends where the end of the straight rack flank meets the line of action.
    """
    rack, teeth = RACKS["full"], 32
    alpha = np.radians(rack.pressure_angle_deg)
    depth = rack.dedendum - rack.root_fillet * (1.0 - np.sin(alpha)) - shift
    form = np.hypot(teeth / 2.0 - depth, depth / np.tan(alpha))
    outline = shapely.get_coordinates(rolled_pitch("full", teeth, shift))
    radius, turn = np.hypot(*outline.T), np.abs(np.arctan2(outline[:, 0], outline[:, 1]))
    on_flank = (radius > form) & (radius < teeth / 2.0 + rack.addendum + shift - 1e-3)
    at = np.arccos(teeth / 2.0 * np.cos(alpha) / radius[on_flank])
    half_gap = (np.pi / 2.0 - 2.0 * shift * np.tan(alpha)) / teeth
    involute = half_gap + (np.tan(at) - at) - (np.tan(alpha) - alpha)
    assert on_flank.sum() > 100
    # The steps leave facets of 1e-5 modules at most.
    assert turn[on_flank] * radius[on_flank] == pytest.approx(involute * radius[on_flank], abs=1e-5)
    root = teeth / 2.0 - rack.dedendum + shift
    assert radius[(radius > 1.0)].min() == pytest.approx(root, abs=1e-5)


def test_section_lies_between_root_disc_and_tip_disc_and_near_their_mean() -> None:
    """Bounds that hold for any tooth; with many teeth the area nears that of a straight rack."""
    rack, teeth = RACKS["full"], np.array([18, 50, 200, 1000, 10000])
    area = _section(rack, 1.0, teeth, 0.0).area_mm2
    root, tip = (
        geometry.annulus_section(geometry.root_diameter_mm(1.0, teeth, 1.25), 0.0).area_mm2,
        geometry.annulus_section(geometry.tip_diameter_mm(1.0, teeth, 1.0), 0.0).area_mm2,
    )
    assert np.all((root < area) & (area < tip))
    # Rack: half of 2.25 m deep is steel at the reference line, less the slope's surplus: per pitch
    # (pi/2 h_f + h_f^2 tan a) steel below and (pi/2 h_a - h_a^2 tan a) above, plus both fillets.
    slope = np.tan(np.radians(20.0))
    corner = (np.pi / 2.0 - np.radians(20.0)) / 2.0
    fillets = 0.38**2 * 2.0 * (np.tan(corner) - corner)
    steel = np.pi / 2.0 * 2.25 + (1.25**2 - 1.0) * slope + fillets
    beyond_root = (area - root) / teeth
    # The curvature of the ring is what is left: 1/z.
    assert beyond_root[-1] == pytest.approx(steel, abs=1e-3)
    gap = np.abs(beyond_root - steel)
    assert gap[2] / gap[3] == pytest.approx(5.0, rel=0.02)


def test_longer_teeth_add_the_tip_land() -> None:
    """The area grows with the tip by the tip land, whose width is the textbook tooth thickness."""
    rack, teeth, step = RACKS["full"], 40, 1e-4
    areas = [
        geometry.toothed_section(
            1.0,
            teeth,
            0.0,
            addendum=1.0 + change,
            dedendum=1.25,
            fillet=rack.root_fillet,
            pressure_angle_deg=20.0,
            shift=0.2,
        ).area_mm2
        for change in (-step, step)
    ]
    alpha, radius = np.radians(20.0), teeth / 2.0 + 1.2
    at_tip = np.arccos(teeth / 2.0 * np.cos(alpha) / radius)
    inv = np.tan(alpha) - alpha - (np.tan(at_tip) - at_tip)
    land = 2.0 * radius * ((np.pi / 2.0 + 0.4 * np.tan(alpha)) / teeth + inv)
    # Central difference: error of order step^2.
    assert (areas[1] - areas[0]) / (2.0 * step) == pytest.approx(teeth * land, rel=1e-6)


def test_sizes_scale_with_the_module_and_the_bore_is_taken_away() -> None:
    """Area with m^2, polar moment with m^4; the bore takes its own circle, exactly."""
    rack = RACKS["stub"]
    one, two = _section(rack, 1.0, 64, 0.0), _section(rack, 2.0, 64, 0.0)
    assert two.area_mm2 == pytest.approx(4.0 * one.area_mm2, rel=1e-12)
    assert two.polar_mm4 == pytest.approx(16.0 * one.polar_mm4, rel=1e-12)
    bored, bore = _section(rack, 1.0, 64, 50.0), geometry.annulus_section(50.0, 0.0)
    assert one.area_mm2 - bored.area_mm2 == pytest.approx(bore.area_mm2, rel=1e-12)
    assert one.polar_mm4 - bored.polar_mm4 == pytest.approx(bore.polar_mm4, rel=1e-12)


def test_many_rings_at_once_equal_one_by_one() -> None:
    """Module, teeth and bore may be arrays; numbers give numbers."""
    rack = RACKS["full"]
    module = np.array([0.5, 1.0, 2.0])
    teeth, bore = np.array([18, 64, 178]), np.array([4.0, 50.0, 300.0])
    together = _section(rack, module, teeth, bore, 0.1)
    for i in range(3):
        alone = _section(rack, float(module[i]), int(teeth[i]), float(bore[i]), 0.1)
        assert np.ndim(alone.area_mm2) == 0
        # Summation order may differ in the last digits.
        assert array(together.area_mm2)[i] == pytest.approx(alone.area_mm2, rel=1e-13)
        assert array(together.polar_mm4)[i] == pytest.approx(alone.polar_mm4, rel=1e-13)
    grid = _section(rack, 1.0, teeth[:, np.newaxis], np.array([4.0, 5.0]))
    assert array(grid.area_mm2).shape == (3, 2)


def test_undercut_teeth_are_refused() -> None:
    """17.10 teeth for the standard rack (textbook 2 / sin^2 alpha); one such ring spoils all."""
    rack = RACKS["full"]
    least = geometry.least_teeth_without_undercut(1.25, 0.38, 0.0, 20.0)
    # h_f* - rho_f* (1 - sin alpha) is 1 but for the rounding of 0.38: 0.99997.
    assert least == pytest.approx(2.0 / np.sin(np.radians(20.0)) ** 2, abs=1e-3)
    with pytest.raises(ValueError, match=r"given 17, allowed at least 17\.10 \(undercut\)"):
        _section(rack, 1.0, np.array([40, 17]), 5.0)
    with pytest.raises(ValueError, match="undercut"):
        _section(rack, 1.0, 18, 5.0, -0.2)
    assert _section(rack, 1.0, 17, 5.0, 0.3).area_mm2 > 0.0


def test_pointed_teeth_are_refused() -> None:
    """A large profile shift on few teeth leaves no tip land."""
    with pytest.raises(ValueError, match="point"):
        _section(RACKS["full"], 1.0, np.array([100, 18]), 5.0, 1.3)
    assert _section(RACKS["full"], 1.0, 100, 5.0, 1.3).area_mm2 > 0.0


def test_mass_and_inertia_of_the_worked_annulus() -> None:
    """Radii 50 and 40 mm, 10 mm wide, 7850 kg/m^3 (computed from the closed formula)."""
    section = geometry.annulus_section(100.0, 80.0)
    assert geometry.mass_kg(section, 10.0, 7850.0) == pytest.approx(0.221954, abs=5e-7)
    assert geometry.inertia_kg_m2(section, 10.0, 7850.0) == pytest.approx(4.55005e-4, abs=5e-10)


def test_inertia_of_a_toothed_ring_is_the_sum_over_its_polygon() -> None:
    """Strips of the rolled polygon: mass times squared radius, in kg and m."""
    teeth, module, width, density = 32, 1.5, 8.0, 7850.0
    pitch = rolled_pitch("full", teeth, 0.0)
    edges = np.linspace(0.0, teeth / 2.0 + 1.0, 2041)
    radii = (edges[1:] + edges[:-1]) / 2.0
    turn = np.pi / 2.0 + np.linspace(-1.1, 1.1, 201) * np.pi / teeth
    ray = np.column_stack([np.cos(turn), np.sin(turn)])
    arcs = shapely.linestrings(radii[:, np.newaxis, np.newaxis] * ray)
    strips = shapely.length(shapely.intersection(arcs, pitch)) * np.diff(edges)
    kg = teeth * strips * module**2 * width * 1e-9 * density
    section = _section(RACKS["full"], module, teeth, 0.0)
    # 17 / 2040: the root circle at 14.75, where the arc length jumps, is an edge of a strip. What
    # is left is the midpoint rule on the fillet, which leaves the root circle like a square root:
    # 0.1 x strip^1.5 = 7e-5 of the 25 square modules of a pitch, 3e-6. Three times that is allowed.
    assert geometry.mass_kg(section, width, density) == pytest.approx(kg.sum(), rel=1e-5)
    assert geometry.inertia_kg_m2(section, width, density) == pytest.approx(
        np.sum(kg * (radii * module * 1e-3) ** 2), rel=1e-5
    )


def test_plain_sizes() -> None:
    """Module 2, 24 teeth, shift 0.3, full rack (computed from the closed formulas)."""
    assert geometry.pitch_diameter_mm(2.0, 24) == 48.0
    assert geometry.tip_diameter_mm(2.0, 24, 1.0, 0.3) == pytest.approx(53.2, rel=1e-12)
    assert geometry.root_diameter_mm(2.0, 24, 1.25, 0.3) == pytest.approx(44.2, rel=1e-12)
    assert geometry.whole_depth_mm(2.0) == 4.5
    assert geometry.rim_thickness_mm(44.0, 30.0) == 7.0
    # 48 cos 20 deg = 45.1052.
    assert geometry.base_diameter_mm(2.0, 24, 20.0) == pytest.approx(45.1052, abs=5e-5)
