"""The finest radius of a root against the profile's own curve, and against a disc that rolls in the gap."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from ringset.physics import geometry
from ringset.physics.root_fillet import finest_wire_radius_mm, least_fillet_radius_mm
from ringset.physics.tooth_profile import rack_tooth_profile
from ringset.standards.racks import RACKS, Rack, standard_deeper_rack
from tests.physics.rolled_rack import rolled_pitch

CASES = [
    (name, teeth, shift)
    for name in ("full", "full_b", "full_c", "full_d", "stub")
    for teeth, shift in ((40, 0.0), (97, 0.3), (400, -0.2), (36, 0.7))
]


def radius(rack: Rack, module: float, teeth: int, shift: float) -> float:
    return float(least_fillet_radius_mm(module, teeth, rack.dedendum, rack.root_fillet, shift))


@pytest.mark.parametrize(("name", "teeth", "shift"), CASES)
def test_it_is_the_least_radius_of_curvature_of_the_drawn_fillet(
    name: str, teeth: int, shift: float
) -> None:
    rack, module = RACKS[name], 1.7
    tooth = rack_tooth_profile(
        module, teeth, addendum=rack.addendum, dedendum=rack.dedendum, fillet=rack.root_fillet,
        pressure_angle_deg=rack.pressure_angle_deg, shift=shift,
    )  # fmt: skip
    # from the root circle, where the normal of the rack's corner points straight down, up to the flank
    normal = np.linspace(np.pi / 2.0, np.radians(rack.pressure_angle_deg), 20_001)
    out, turn = tooth.fillet(normal)
    x, y = out * np.cos(turn), out * np.sin(turn)
    dx, dy = np.gradient(x), np.gradient(y)
    curvature = np.abs(dx * np.gradient(dy) - dy * np.gradient(dx)) / np.hypot(dx, dy) ** 3
    found = 1.0 / curvature[5:-5]
    assert found.min() == pytest.approx(radius(rack, module, teeth, shift), rel=2e-4)
    assert found[:40].min() == pytest.approx(found.min(), rel=1e-4)  # at the deepest point


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize("name", ["full", "full_c", "stub"])
def test_a_disc_as_round_reaches_all_of_the_root_and_a_rounder_one_does_not(name: str) -> None:
    """By polygons: what a disc cannot reach is what the gap of a rolled rack loses when opened by it."""
    teeth, shift, rack = 40, 0.0, RACKS[name]
    left = rolled_pitch(name, teeth, shift)
    around = np.pi / 2.0 + np.linspace(-1.0, 1.0, 2001) * np.pi / teeth
    wide = (teeth / 2.0 + 4.0) * np.column_stack([np.cos(around), np.sin(around)])
    gap = shapely.Polygon(np.vstack([[[0.0, 0.0]], wide])).difference(left)
    root = geometry.root_diameter_mm(1.0, teeth, rack.dedendum, shift) / 2.0
    bottom = shapely.Point(0.0, 0.0).buffer(root + 0.5 * rack.root_fillet, quad_segs=4096)

    def unreached(size: float) -> float:
        reached = gap.buffer(-size, quad_segs=512).buffer(size, quad_segs=512)
        return float(gap.difference(reached).intersection(bottom).area)

    least = radius(rack, 1.0, teeth, shift)
    assert least > 1.02 * rack.root_fillet  # or the rack's own corner would do as well
    assert unreached(0.995 * least) < 2e-5
    assert unreached(1.15 * least) > 10.0 * unreached(0.995 * least)


def test_a_rack_rolls_its_own_corner_into_a_rack() -> None:
    # with ever more teeth the ring becomes a rack, whose corners are those of the cutter
    assert radius(RACKS["full"], 1.0, 10_000_000, 0.0) == pytest.approx(0.38, abs=1e-6)


def test_it_grows_with_the_module_and_falls_with_the_teeth() -> None:
    modules = np.array([0.5, 1.0, 2.0])
    sizes = least_fillet_radius_mm(modules, 60, 1.25, 0.38, 0.0)
    assert sizes == pytest.approx(sizes[1] * modules, rel=1e-15)
    falling = least_fillet_radius_mm(1.0, np.arange(20, 600), 1.25, 0.38, 0.0)
    assert (np.diff(falling) < 0.0).all()
    deep = standard_deeper_rack(2.8)
    assert radius(deep, 1.0, 60, 0.0) > deep.root_fillet


def test_a_wire_leaves_half_of_itself_and_its_gap() -> None:
    assert finest_wire_radius_mm(0.25, 0.02) == pytest.approx(0.145, rel=1e-15)
