"""Catalogue and rating let those rings pass that plain loops and the judge let pass, and no other."""

from __future__ import annotations

import pytest

from tests.support.plainly_listed import plain_rings
from tests.support.studies import inside_rows, load, random_study
from tests.support.tiers import first_fast


@pytest.mark.parametrize("seed", first_fast(range(40), 6))
def test_the_rows_are_those_of_plain_loops_and_the_judge(seed: int) -> None:
    study = load(random_study(seed)).canonical()
    rated = inside_rows(study)
    rows = rated.catalogue
    ours = {
        (int(joint), float(module), int(teeth), float(bore), int(heads)): (mass, error)
        for joint, module, teeth, bore, heads, mass, error in zip(
            rows.joint, rows.module_mm(), rows.teeth, rows.bore_mm(), rows.heads, rated.blank_kg,
            rated.error_arcsec, strict=True,
        )
    }  # fmt: skip
    plain = {
        (one.joint, one.ring.module_mm, one.ring.teeth, one.ring.bore_mm, one.ring.heads): one
        for one in plain_rings(study)
    }
    assert set(ours) == set(plain)
    for key, (mass, error) in ours.items():
        assert mass == pytest.approx(plain[key].blank_kg, rel=1e-12)
        assert error == pytest.approx(plain[key].error_arcsec, rel=1e-9)
