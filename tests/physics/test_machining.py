"""Jaw force, blanks and deeper cuts."""

import math
from typing import Any

import numpy as np
import pytest

from ringset.physics import geometry, machining, rim_bending
from tests.support.narrow import array

NO_ALLOWANCE = machining.Allowances(0.0, 0.0, 0.0)


def test_the_largest_jaw_force_leaves_just_the_budget() -> None:
    thickness = np.array([3.0, 5.0, 8.0])
    force = machining.largest_jaw_force_n(3, 0.005, 90.0, thickness, 8.0, 210.0, 0.3)
    lobe = rim_bending.clamping_lobe_mm(3, force, 90.0, thickness, 8.0, 210.0, 0.3)
    assert lobe == pytest.approx(0.005, rel=1e-12)
    six = machining.largest_jaw_force_n(6, 0.005, 90.0, thickness, 8.0, 210.0, 0.3)
    # From the n-force table: (1.59386 + 1.42568) / (0.168182 + 0.147982) times as much for six jaws, where
    # the rim is thin; shear takes more of it the nearer the jaws stand.
    thin = 3.01954 / 0.316164
    slender = (0.005, 90.0, 0.05, 8.0, 210.0, 0.3)
    ratio = machining.largest_jaw_force_n(6, *slender) / machining.largest_jaw_force_n(3, *slender)
    assert ratio == pytest.approx(thin, rel=1e-4)
    assert np.all(np.diff(six / force) < 0.0)
    assert np.all(six / force < thin)
    with pytest.raises(ValueError, match=r"lobe_mm: given -1\.0, allowed 0 or more"):
        machining.largest_jaw_force_n(3, -1.0, 90.0, 5.0, 8.0, 210.0, 0.3)


def test_undercut_is_counted_from_the_least_tooth_count() -> None:
    least = geometry.least_teeth_without_undercut(1.25, 0.38, 0.0, 20.0)
    spare = array(machining.teeth_above_undercut(np.array([17, 100]), 1.25, 0.38, 0.0, 20.0))
    assert spare == pytest.approx([17 - least, 100 - least])
    assert spare[0] < 0.0 < spare[1]


def test_a_fine_module_cutter_leaves_the_rim_of_its_own_root_circle() -> None:
    """m (z - 2.8) instead of m (z - 2.5): 0.15 m less rim."""
    bore, m, z = 80.0, 1.0, 100
    thickness = (m * (z - 2.5) - bore) / 2.0
    left = machining.rim_below_deeper_cut_mm(thickness, m, 1.25, 1.4)
    assert left == pytest.approx((m * (z - 2.8) - bore) / 2.0)
    assert machining.rim_below_deeper_cut_mm(thickness, m, 1.25, 1.0) == thickness


def test_blanks_lightest_first_with_their_masses() -> None:
    allowances = machining.Allowances(3.0, 1.0, 2.0)
    found = machining.blank_stock_sizes(
        102.0, 80.0, 8.0, 7850.0, allowances,
        bars_mm=[100.0, 105.0, 120.0], tubes_mm=[(105.0, 77.0), (110.0, 78.0), (120.0, 60.0)],
        plates_mm=[8.0, 9.0, 10.0],
    )  # fmt: skip
    kinds = [(blank.kind, blank.outer_mm, blank.length_mm) for blank in found]
    assert kinds == [
        ("tube", 105.0, 9.0), ("tube", 120.0, 9.0), ("bar", 105.0, 9.0), ("plate", 105.0, 9.0),
        ("plate", 105.0, 10.0), ("bar", 120.0, 9.0),
    ]  # fmt: skip
    tube, bar, plate = found[0], found[2], found[3]
    assert tube.bought_kg == pytest.approx(
        7.85e-6 * math.pi / 4.0 * (105.0**2 - 77.0**2) * 11.0, rel=1e-12
    )
    assert bar.bought_kg == pytest.approx(7.85e-6 * math.pi / 4.0 * 105.0**2 * 11.0, rel=1e-12)
    assert plate.bought_kg == pytest.approx(7.85e-6 * 107.0**2 * 9.0, rel=1e-12)
    assert [blank.text for blank in (tube, bar, plate)] == [
        "tube 105 x bore 77, 9 long", "bar 105, 9 long", "plate 9 thick, 105 square"
    ]  # fmt: skip


def test_columns_of_rings_are_on_stock_where_a_blank_is_found_for_each() -> None:
    rng = np.random.default_rng(3)
    tip, bore, width = (
        rng.integers(60, 120, 300),
        rng.integers(20, 58, 300),
        rng.integers(5, 15, 300),
    )
    allowed = machining.Allowances(3.0, 1.0, 2.0)
    stocks: list[dict[str, Any]] = [
        {},
        {"bars_mm": [80.0, 100.0]},
        {"tubes_mm": [(90.0, 40.0), (115.0, 30.0)]},
        {"plates_mm": [8.0, 11.0]},
        {"bars_mm": [75.0], "tubes_mm": [(105.0, 25.0)], "plates_mm": [7.0]},
    ]
    for stock in stocks:
        found = machining.blank_is_on_stock(tip, bore, width, allowed, **stock)
        rings = zip(tip.tolist(), bore.tolist(), width.tolist(), strict=True)
        each = [
            bool(machining.blank_stock_sizes(*ring, 7850.0, allowed, **stock)) for ring in rings
        ]
        assert found.tolist() == each
        assert any(each) == bool(stock)
        assert not all(each)


def test_a_stock_size_that_is_just_enough_suits_and_one_below_does_not() -> None:
    sizes = (0.8 * 112 + 1.6, 60.0, 8.0, 7850.0, NO_ALLOWANCE)  # 91.2 with binary dust
    assert len(machining.blank_stock_sizes(*sizes, bars_mm=[91.2])) == 1
    assert machining.blank_stock_sizes(*sizes, bars_mm=[91.1]) == []
    assert machining.blank_stock_sizes(*sizes) == []


@pytest.mark.parametrize(
    ("bore", "words"),
    [
        (28.0, "round 40.6 or more (tube: bore up to 25), 9 long"),
        (2.0, "round 40.6 or more, 9 long"),
    ],
)
def test_the_least_blank_in_words(bore: float, words: str) -> None:
    """Tip 37.6, width 8; 3 mm on diameters, 1 on the width: no tube can have a bore below nothing."""
    assert machining.Allowances(3.0, 1.0, 2.0).needed(37.6, bore, 8.0) == words
