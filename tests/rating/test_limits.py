"""The table of limits: its entries agree with themselves, with the catalogue and with the judge."""

from __future__ import annotations

import numpy as np
import pytest

from ringset.arrays import Mask
from ringset.catalogue.enumerate import catalogue
from ringset.catalogue.limits import (
    BORE_LISTS,
    COUNT_RULES,
    SIZE_RULES,
    catalogue_size_checks,
    catalogue_size_needs,
    catalogue_sizes_kept,
)
from ringset.catalogue.ring_sizes import catalogue_ring_sizes
from ringset.catalogue.rows import Catalogue
from ringset.rating.limits import RATED_LIMITS, RULES, rated_checks_in_full, rated_needs
from ringset.rating.rate import rate, rate_in_full
from ringset.rating.rated import RatedInFull
from ringset.rating.stated_limits import rated_limit_applies, rated_limit_keeps, rated_ring_limits
from ringset.schema.study import Study
from ringset.solving.compose import composed_joint_rings
from ringset.solving.margins import FIRST, RIMS
from ringset.verification.judge.judge import _bounds, judged_ring_sizes
from tests.support.electronic_studies import HEAD
from tests.support.studies import Json, joint, load


def everything() -> Json:
    """Return a study of two joints that states every limit on single rings, on one joint or on both."""
    pressed = {
        "seat_fit": "H7/s6", "hub_bore_mm": 30.0, "acceleration_max_rad_s2": 5000.0,
        "slip_safety_min": 40.0, "stress_safety_min": 1.8, "burst_safety_min": 520.0,
        "speed_max_rpm": 120.0, "unpowered_speed_rpm": 450.0, "angle_target_arcsec": 180.0,
        "tip_min_mm": 60.0, "housing_max_mm": 93.0, "axial_room_mm": 10.0, "ring_mass_max_kg": 0.1,
        "ring_inertia_max_kg_m2": 8e-5, "bores_mm": [40.0, 41.0, 42.0, 43.0, 45.0],
        "repeatability_target_arcsec": 19.0,
    }  # fmt: skip
    return {
        "robots": [
            {
                "name": "arm",
                "joints": [joint("elbow", 40.0, **pressed), joint("wrist", 40.0, fastening="screws")],
            }
        ],
        "head": {
            **HEAD, "width_mm": 90.0, "tooth_rate_max_hz": 150.0, "gap_left_min_mm": 0.2,
            "sample_rate_hz": 1200.0, "backup_counter_bits": 6, "teeth_min": 45, "teeth_max": 80,
            "module_max_mm": 1.0,
        },
        "shop": {
            "modules": [0.8, 1.0, 1.25], "bore_step_mm": 1.0, "rim_max_mm": 12.0,
            "clamp_runout_share": 0.1, "deeper_cut_below_mm": 1.0, "screw_sizes": ["M3", "M4"],
            "bores_mm": [40.0, 42.0, 44.0, 46.0],
            "cutting": "wire", "wire_diameter_mm": 0.626, "teeth_largest_prime": 37,
            "teeth_allowed": [z for z in range(30, 99) if z % 11], "teeth_multiple_of": 1,
        },
        "target": {
            "angle_target_arcsec": 140.0, "resolution_bits": 15.8, "lag_max_arcsec": 60.0,
            "repeatability_target_arcsec": 17.0,
        },
    }  # fmt: skip


@pytest.fixture(scope="module")
def study() -> Study:
    return load(everything()).canonical()


@pytest.fixture(scope="module")
def rated(study: Study) -> RatedInFull:
    return rate_in_full(study, catalogue(study))


def beside(rows: Catalogue) -> Catalogue:
    """Return the rows with more and fewer teeth and bores: some of them beyond the windows."""
    moved = [
        Catalogue(
            rows.joints, rows.modules_mm, rows.bore_step_mm, rows.joint, rows.module,
            rows.teeth + teeth, rows.bore_steps + steps, rows.heads,
        )
        for teeth in (-3, 0, 3)
        for steps in (-4, 0, 4)
    ]  # fmt: skip
    columns = ("joint", "module", "teeth", "bore_steps", "heads")
    whole = [np.concatenate([getattr(one, name) for one in moved]) for name in columns]
    return Catalogue(rows.joints, rows.modules_mm, rows.bore_step_mm, *whole)


def sound(study: Study, rows: Catalogue) -> Mask:
    """Return which rows can be rated: they have a rim, and a hub below it."""
    return (catalogue_ring_sizes(study.shop, rows).rim > 0.5) & (rows.bore_mm() > 31.0)


def test_the_study_here_states_every_limit(study: Study, rated: RatedInFull) -> None:
    """But for second rings and kept parts, which have tests of their own (`tests/solving`)."""
    apart = {"second_ring", "keeps_part"}
    fields = {rule.field for rule in RULES} - apart
    assert {limit.field for limit in rated_ring_limits(study)} == fields
    numbers = [rule for rule in RULES if rule not in (*COUNT_RULES, *BORE_LISTS)]
    told = {rule.field for rule in numbers if not rule.told_as} - apart
    assert set(rated.checks) == told == set(rated_checks_in_full(study, rated))
    limits = [rule.field for rule in RATED_LIMITS if not rule.told_as]
    assert [*rated.limits, "second_ring", "keeps_part"] == limits
    assert told >= {*FIRST, *RIMS}


def test_what_a_row_needs_of_a_field_agrees_with_what_the_field_allows_it(study: Study) -> None:
    """Two ways to hold a row against a limit: in the terms of the ring, and in those of the field."""
    rows = beside(catalogue(study))
    checks, needs = catalogue_size_checks(study, rows), catalogue_size_needs(study, rows)
    rated = rate(study, rows.take(sound(study, rows)))
    checks_left, needs_left = rated_checks_in_full(study, rated), rated_needs(study, rated)
    divided = set()
    for limit in rated_ring_limits(study):
        told = ("angle_target_arcsec", "repeatability_target_arcsec")
        field = next((name for name in told if limit.field.endswith(name)), limit.field)
        if limit.side in ("kept", "counts", "multiples"):
            continue
        sized = limit.field in needs and limit.field not in needs_left
        places = rows if sized else rated.catalogue
        mine = np.array(
            [
                limit.joint == index
                if limit.joint is not None
                else rated_limit_applies(study, limit, ref)
                for index, ref in enumerate(places.joints)
            ]
        )[places.joint]
        need = (needs if sized else needs_left)[limit.field][mine]
        kept = (checks if sized else checks_left)[field].kept[mine]
        assert rated_limit_keeps(limit, need, limit.given).tolist() == kept.tolist(), limit.path
        divided |= {limit.field} if 0 < kept.sum() < len(kept) else set()
    assert len(divided) > 20
    assert {"repeatability_target_arcsec", "target.repeatability_target_arcsec"} <= divided


def test_the_catalogue_holds_just_the_rows_that_keep_the_limits_of_size(study: Study) -> None:
    rows = catalogue(study)
    assert catalogue_sizes_kept(study, rows).all()
    around = beside(rows)

    def keys(some: Catalogue) -> set[tuple[int, ...]]:
        columns = (some.joint, some.module, some.teeth, some.bore_steps, some.heads)
        return set(zip(*(column.tolist() for column in columns), strict=True))

    kept = catalogue_sizes_kept(study, around)
    assert keys(around.take(kept)) == keys(rows)
    assert keys(around.take(~kept)).isdisjoint(keys(rows))
    assert 0 < kept.sum() < len(kept)
    broken = {
        name for name, check in catalogue_size_checks(study, around).items() if not check.kept.all()
    }
    assert broken >= {"tip_max_mm", "tip_min_mm", "bore_min_mm", "bore_max_mm", "shop.rim_max_mm"}
    assert broken <= {rule.field for rule in SIZE_RULES}


def test_the_judge_holds_every_row_against_the_same_limits(study: Study) -> None:
    rows = beside(catalogue(study))
    rows = rows.take(np.flatnonzero(sound(study, rows))[::53])
    rated = rate_in_full(study, rows)
    seen, broken = set(), set()
    for row, ring in enumerate(composed_joint_rings(study, rated)):
        place = study.robots[0].joints[int(rows.joint[row])]
        bounds = {
            one.limit: one
            for one in _bounds(study, place, ring, judged_ring_sizes(study, place, ring))
        }
        listed = {margin.limit: margin for margin in ring.margins}
        assert len(ring.margins) == len(listed)
        assert listed.keys() == bounds.keys()
        for field, bound in bounds.items():
            check = rated.checks[field]
            assert (check.unit, check.sign) == (bound.unit, bound.sign)
            assert check.value[row] == pytest.approx(bound.value, rel=1e-9)
            assert check.allowed[row] == pytest.approx(bound.allowed, rel=1e-9)
            seen.add(field)
            broken |= set() if check.kept[row] else {field}
    assert seen | {*RIMS} == set(rated.checks)
    assert len(broken) > 12
