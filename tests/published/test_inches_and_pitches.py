"""Inches and pitches against their definitions.

The inch: 25.4 mm exactly (international yard and pound agreement, 1959: the yard is 0.9144 m; so too ISO
80000-3). Diametral pitch: teeth per inch of pitch diameter; circular pitch: from tooth to tooth on the pitch
circle. The modules of usual diametral pitches stand in many handbooks (unnamed, from memory).
"""

from __future__ import annotations

import math
from decimal import Decimal, localcontext

import pytest

from ringset.physics import geometry
from ringset.schema.length_texts import length_field_value
from ringset.standards.pitches import standard_pitch_module_mm


def test_a_yard_of_36_inches_is_914_4_mm_exactly() -> None:
    assert length_field_value("reach_mm", "36 in") == 914.4


@pytest.mark.parametrize("tenths", range(1, 400, 7))
def test_decimals_of_an_inch_are_the_nearest_number_of_mm(tenths: int) -> None:
    with localcontext() as context:
        context.prec = 60
        exact = Decimal(tenths) / 1000 * Decimal("25.4")
    assert length_field_value("bore_min_mm", f"{tenths / 1000} in") == float(exact)


@pytest.mark.parametrize("sixty_fourths", range(1, 128, 5))
def test_fractions_of_an_inch_are_exact(sixty_fourths: int) -> None:
    # 25.4 / 64 = 0.396875 has six decimals
    micro = sixty_fourths * 396_875
    assert length_field_value("bore_min_mm", f"{sixty_fourths}/64 in") == micro / 1e6


def test_a_thousandth_of_an_inch_is_25_4_um() -> None:
    assert length_field_value("seat_offset_um", "0.001 in") == 25.4
    assert length_field_value("seat_offset_um", "0.01 mm") == 10.0
    assert length_field_value("bore_min_mm", "40 um") == 0.04


@pytest.mark.parametrize(
    ("pitch", "module"),
    [("10 DP", "2.5400"), ("12 DP", "2.1167"), ("16 DP", "1.5875"), ("20 DP", "1.2700"),
     ("24 DP", "1.0583"), ("32 DP", "0.7938"), ("48 DP", "0.5292"), ("64 DP", "0.3969")],
)  # fmt: skip
def test_modules_of_usual_diametral_pitches(pitch: str, module: str) -> None:
    assert abs(standard_pitch_module_mm(pitch) - float(module)) <= 0.5e-4


def test_16_dp_is_1_5875_exactly_and_no_module_of_a_series() -> None:
    assert standard_pitch_module_mm("16 DP") == 1.5875


@pytest.mark.parametrize("per_inch", [8, 16, 20, 32])
def test_a_diametral_pitch_counts_teeth_per_inch_of_pitch_diameter(per_inch: int) -> None:
    diameter = geometry.pitch_diameter_mm(standard_pitch_module_mm(f"{per_inch} DP"), 3 * per_inch)
    assert diameter == pytest.approx(3 * 25.4, rel=1e-15)


@pytest.mark.parametrize(
    ("pitch", "length_mm"), [("0.25 in CP", 6.35), ("1/2 in CP", 12.7), ("5 mm CP", 5.0)]
)
def test_a_circular_pitch_goes_round_the_pitch_circle_as_often_as_there_are_teeth(
    pitch: str, length_mm: float
) -> None:
    circle = math.pi * geometry.pitch_diameter_mm(standard_pitch_module_mm(pitch), 97)
    assert circle == pytest.approx(97 * length_mm, rel=1e-15)


def test_diametral_times_circular_pitch_is_pi() -> None:
    # 1 inch of circular pitch is pi teeth per inch: module 25.4 / pi
    assert standard_pitch_module_mm("1 in CP") * math.pi == pytest.approx(25.4, rel=1e-15)
