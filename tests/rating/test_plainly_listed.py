"""Catalogue and rating let those rings pass that plain loops and the judge let pass, and no other."""

from __future__ import annotations

import pytest

from ringset.schema.study import Study
from tests.support.plainly_listed import plain_rings
from tests.support.repeatable import repeatable_study
from tests.support.sized_studies import sized_study
from tests.support.studies import inside_rows, load, random_study


@pytest.mark.cases(fast=1, slow=2)
@pytest.mark.parametrize("seed", range(20))
def test_the_rows_are_those_of_plain_loops_and_the_judge(seed: int) -> None:
    _compared(load(random_study(seed)).canonical())


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("seed", [2, 3, 4, 0, 1, *range(5, 16)])
def test_so_they_are_with_sizes_off_a_drawing(seed: int) -> None:
    _compared(load(sized_study(seed)).canonical())


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("seed", range(7000, 7020))
def test_so_they_are_under_repeatability_targets(seed: int) -> None:
    _compared(load(repeatable_study(seed)).canonical())


def _compared(study: Study) -> None:
    rated = inside_rows(study)
    rows = rated.catalogue
    ours = {
        (int(joint), float(module), int(teeth), float(bore), int(heads)): numbers
        for joint, module, teeth, bore, heads, *numbers in zip(
            rows.joint, rows.module_mm(), rows.teeth, rows.bore_mm(), rows.heads, rated.blank_kg,
            rated.error_arcsec, rated.repeatability_arcsec, strict=True,
        )
    }  # fmt: skip
    plain = {
        (one.joint, one.ring.module_mm, one.ring.teeth, one.ring.bore_mm, one.ring.heads): one
        for one in plain_rings(study)
    }
    assert set(ours) == set(plain)
    for key, (mass, error, scatter) in ours.items():
        assert mass == pytest.approx(plain[key].blank_kg, rel=1e-12)
        assert error == pytest.approx(plain[key].error_arcsec, rel=1e-9)
        assert scatter == pytest.approx(plain[key].repeatability_arcsec, rel=1e-9)
