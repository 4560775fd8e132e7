"""Why a joint that asks a second ring has none: blockers by deletion of each limit, and reliefs."""

from __future__ import annotations

import random
from math import gcd

import numpy as np
import pytest

from ringset.analysis.explanation.impossible import (
    explain_blockers,
    explain_impossible,
    explained_study_is_possible,
)
from ringset.analysis.explanation.relief_pairs import explained_combined_relief
from ringset.analysis.explanation.widened import (
    ALL_BROKEN,
    MARGIN,
    Universe,
    explanation_rows_widened,
)
from ringset.rating.pair_needs import rated_needs_in_full
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.study import Study
from tests.support.narrow import present
from tests.support.studies import Json, load
from tests.support.why_checks import check_joint, check_reliefs

#: A head so good that rings on a true seat tell their pitches apart.
GOOD: Json = {
    "residual_offset": 0.001, "residual_gain": 0.001, "residual_quadrature_deg": 0.05,
    "third_harmonic": 0.0005, "stray_field": 0.0002,
}  # fmt: skip


def paired_joint(seed: int) -> Json:
    """Return a random study of one joint that asks a second ring, of a shop that bounds tooth counts."""
    rng = random.Random(seed)
    bore = rng.choice((36.0, 42.0, 48.0))
    row: Json = {
        "name": "wrist", "bore_min_mm": bore, "bore_max_mm": bore + rng.choice((0.0, 2.0)),
        "tip_max_mm": bore + rng.uniform(11.0, 17.0), "head_counts": rng.choice(([1], [2], [1, 2])),
        "second_ring": True, "seat_offset_um": rng.choice((1.0, 4.0, 30.0)), "bearing_shift_um": 1.0,
    }  # fmt: skip
    if rng.random() < 0.5:
        row["axial_room_mm"] = rng.choice((9.0, 16.0))
    if rng.random() < 0.3:
        row["ring_mass_max_kg"] = rng.choice((0.05, 0.11))
    shop: Json = {
        "modules": [1.25], "bore_step_mm": 2.0, "flank_class": rng.choice((2, 4)),
        "clamp_runout_share": rng.choice((1.0, None)),
    }  # fmt: skip
    if rng.random() < 0.5:
        shop["teeth_multiple_of"] = rng.choice((1, 2, 3, 4))
    if rng.random() < 0.3:
        shop["teeth_largest_prime"] = rng.choice((5, 7))
    if rng.random() < 0.3:
        shop["teeth_allowed"] = rng.choice(([36, 40, 42], [40, 43, 45], [60]))
    return {
        "robots": [{"name": "arm", "joints": [row]}],
        "shop": shop,
        "head": {**GOOD, "axial_width_mm": 8.0},
        "target": {"angle_target_arcsec": rng.choice((40.0, 200.0))},
    }


def beyond(**shop: object) -> Json:
    """Return a joint that two rings of 40 to 50 teeth fit, cut by a shop of its own."""
    row: Json = {
        "name": "wrist", "bore_min_mm": 42, "bore_max_mm": 44, "tip_max_mm": 64,
        "second_ring": True, "seat_offset_um": 1.0, "bearing_shift_um": 1.0,
    }  # fmt: skip
    return {
        "robots": [{"name": "arm", "joints": [row]}],
        "head": GOOD,
        "shop": {
            "modules": [1.25],
            "bore_step_mm": 2.0,
            "flank_class": 2,
            "clamp_runout_share": None,
            **shop,
        },
        "target": {"angle_target_arcsec": 200.0},
    }


def world_of(data: Json) -> Universe:
    return explanation_rows_widened(load(data).canonical(), {0: ALL_BROKEN})


def blockers_of(study: Study) -> set[frozenset[str]]:
    return {
        frozenset(member.path for member in one.members)
        for one in explain_impossible(study).blockers
    }


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("first", range(0, 24, 4))
def test_blockers_of_a_pair_are_impossible_minimal_and_all(first: int) -> None:
    """Every limit, that of the second ring too, is dropped by stating the study without it."""
    assert sum(check_joint(seed, paired_joint) for seed in range(first, first + 4)) > 0


@pytest.mark.cases(fast=1, slow=1)
@pytest.mark.parametrize("first", range(12, 36, 4))
def test_reliefs_of_a_pair_free_it_and_one_step_less_does_not(first: int) -> None:
    seeds = range(first, first + 4)
    assert sum(check_reliefs(seed, paired_joint(seed))[1] for seed in seeds) > 0


def test_a_limit_on_counts_blocks_only_together_with_the_second_ring() -> None:
    """Two multiples of 4 always share 4; one ring alone may have 40 teeth, and 41 beside 40 does."""
    data = beyond(teeth_multiple_of=4)
    joint, shop = "joints.wrist.second_ring", "shop.teeth_multiple_of"
    study = load(data)
    assert blockers_of(study) == {frozenset({joint, shop})}
    (way,) = explain_impossible(study).singles
    assert [(change.path, change.value) for change in way.changes] == [(shop, 1)]
    assert explained_study_is_possible(load(beyond(teeth_multiple_of=1)))
    del data["robots"][0]["joints"][0]["second_ring"]
    assert explained_study_is_possible(load(data))


def test_a_second_ring_that_nothing_else_stops_stands_alone() -> None:
    """No pair on so poor a seat tells its pitches apart, whatever counts are cut: none of them is named."""
    for multiple in (1, 4):
        data = beyond(teeth_multiple_of=multiple)
        data["robots"][0]["joints"][0]["seat_offset_um"] = 100.0
        assert blockers_of(load(data)) == {frozenset({"joints.wrist.second_ring"})}


def test_two_limits_that_each_block_a_pair_are_eased_together() -> None:
    """Two rings of 8 mm need 16 mm of room, and counts that are not both multiples of 4."""
    data = beyond(teeth_multiple_of=4)
    data["robots"][0]["joints"][0].update(axial_room_mm=9.0)
    data["head"] = {**GOOD, "axial_width_mm": 8.0}
    second, room, shop = (
        "joints.wrist.second_ring",
        "joints.wrist.axial_room_mm",
        "shop.teeth_multiple_of",
    )
    study = load(data)
    assert blockers_of(study) == {frozenset({second, shop}), frozenset({second, room})}
    ((way, *_),) = explain_impossible(study).fronts
    assert {change.path: change.value for change in way.changes} == {room: 16.0, shop: 1}


def test_modules_are_tried_where_no_two_rings_are_within_reach() -> None:
    """At module 2 only 24 teeth stay within 42.4 mm and a quarter, and no second count beside them."""
    data = beyond()
    data["shop"]["modules"] = [2.0]
    data["robots"][0]["joints"][0].update(bore_min_mm=28, bore_max_mm=28, tip_max_mm=42.4)
    world = world_of(data)
    assert world.margin == MARGIN
    assert set(world.rated.catalogue.teeth.tolist()) == {24}
    assert not world.rated.catalogue.paired
    study = load(data)
    assert frozenset({"joints.wrist.second_ring"}) in blockers_of(study)
    (way,) = [
        way for way in explain_impossible(study).singles if way.changes[0].path == "shop.modules"
    ]
    assert explained_study_is_possible(
        edited_study(study, {resolve_field_path(study, "shop.modules"): way.changes[0].value})
    )


def test_needs_of_counts_hold_for_both_rings() -> None:
    """A multiple that both counts are, or the one count a list lacks; NaN where it lacks both."""
    world = world_of(beyond(teeth_multiple_of=6, teeth_allowed=[42, 44]))
    rows = world.rated.catalogue
    needs = rated_needs_in_full(world.study, world.rated)
    pairs = list(zip(rows.teeth.tolist(), rows.partner_teeth().tolist(), strict=True))
    assert any(second == 0 for _, second in pairs)
    assert {gcd(*pair) for pair in pairs if pair[1]} == {1}
    for row, (one, other) in enumerate(pairs):
        both = [one, other] if other else [one]
        for value in range(1, 7):
            granted = needs["shop.teeth_multiple_of"][row] % value == 0
            assert granted == all(teeth % value == 0 for teeth in both)
        missing = [teeth for teeth in both if teeth not in (42, 44)]
        need = needs["shop.teeth_allowed"][row]
        if len(missing) > 1:
            assert np.isnan(need)
        else:
            assert need in (missing or both)
    unmet = {field for field, need in needs.items() if np.isnan(need).any()}
    assert unmet == {"shop.teeth_allowed"}


@pytest.mark.parametrize("multiple", [None, 4])
@pytest.mark.parametrize("allowed", [[60], [36, 60]])
def test_what_no_value_grants_is_no_value_of_a_relief(
    multiple: int | None, allowed: list[int]
) -> None:
    """A list that lacks both counts is granted by no count more, nor by the count of a row nearby."""
    study = load(beyond(teeth_multiple_of=multiple, teeth_allowed=allowed)).canonical()
    found = explain_blockers(study)
    feasibility = present(found.feasibility)
    limits = [limit for limit in feasibility.world.limits if limit.side != "kept"]
    for limit in limits:
        assert np.isfinite(feasibility.values_of(limit, {})).all()
        furthest = feasibility.furthest(limit, {})
        assert furthest is None or np.isfinite(furthest)
    chain = explained_combined_relief(feasibility, list(found.found.blockers), limits)
    for limit, value in () if chain is None else chain.values:
        assert np.isfinite(value), limit
    if chain is not None:
        values = {
            resolve_field_path(study, one.path): one.json_value(value)
            for one, value in chain.values
        }
        assert explained_study_is_possible(edited_study(study, values))
