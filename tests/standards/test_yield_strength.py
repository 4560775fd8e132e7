"""Yield by size; tooth thickness outside its grades."""

import itertools

import numpy as np
import pytest

from ringset.standards import tooth_thickness, yield_strength
from ringset.standards.materials import MATERIALS


def test_upper_limits_belong_to_the_range() -> None:
    sizes = np.array([16.0, 16.001, 40.0, 40.001, 100.0])
    assert yield_strength.standard_yield_mpa("c45", sizes, "+QT").tolist() == [
        490,
        430,
        430,
        370,
        370,
    ]
    assert yield_strength.standard_yield_mpa("c45", 250.0, "+N") == 275


def test_without_a_treatment_the_weakest_with_data_counts() -> None:
    assert yield_strength.standard_yield_mpa("c45", np.array([10.0, 120.0])).tolist() == [340, 275]
    assert yield_strength.standard_treatments("c45") == ("+N", "+QT")


def test_a_size_without_data_is_refused_with_the_sizes_that_have() -> None:
    with pytest.raises(ValueError, match=r"c45 bar of 120 mm: .* \+QT over 0 up to 100 mm"):
        yield_strength.standard_yield_mpa("c45", 120.0, "+QT")
    with pytest.raises(ValueError, match=r"11smn30 bar of 4 .* allowed: \+C over 5 up to 100 mm"):
        yield_strength.standard_yield_mpa("11smn30", 4.0)
    with pytest.raises(ValueError, match="no size has data"):
        yield_strength.standard_yield_mpa("en_aw_6082_t6", 30.0, form="plate")
    assert yield_strength.standard_yield_or_zero_mpa("c45", 300.0) == 0.0


def test_an_unknown_treatment_or_material_is_refused() -> None:
    with pytest.raises(ValueError, match=r"treatment of c45 bar '\+X' .* allowed: \+N, \+QT"):
        yield_strength.standard_yield_mpa("c45", 20.0, "+X")
    with pytest.raises(ValueError, match="material 'wood' is not known"):
        yield_strength.standard_yield_rows("wood")


@pytest.mark.parametrize("key", MATERIALS)
def test_ranges_of_a_treatment_follow_each_other_without_gap(key: str) -> None:
    for treatment in yield_strength.standard_treatments(key):
        rows = [
            row for row in yield_strength.standard_yield_rows(key) if row.treatment == treatment
        ]
        for low, high in itertools.pairwise(rows):
            assert low.upto_mm == high.over_mm
        assert yield_strength.standard_largest_yield_size_mm(key, treatment) == rows[-1].upto_mm


def test_thickness_tolerances_are_known_for_classes_4_to_10_up_to_500_mm() -> None:
    for flank_class in (3, 11):
        with pytest.raises(ValueError, match="allowed: 4, 5, 6, 7, 8, 9, 10"):
            tooth_thickness.standard_radial_infeed_um(100.0, flank_class)
    with pytest.raises(ValueError, match="up to 500 mm, given 501"):
        tooth_thickness.standard_radial_infeed_um(501.0, 6)
