"""Reasons and reliefs where the shop makes no toothing that fits: its wire, or the counts that it cuts."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from ringset.analysis.alternatives.single_ring import find_joint, rate_one
from ringset.analysis.explanation.impossible import explain_impossible, explained_study_is_possible
from ringset.arrays import Ints
from ringset.catalogue.limits import catalogue_next_teeth, catalogue_teeth_cut
from ringset.errors import StudyError
from ringset.physics.tooth_factors import largest_prime_factor_of_teeth
from ringset.schema.editing import edited_study
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from ringset.verification.judge.judge import judge
from tests.support.studies import Json, joint, load
from tests.support.why_checks import check_joint, own_tight_joint


def wrist(shop: Json | None = None, row: Json | None = None) -> Study:
    """Return one joint: bore 40 to 46 mm, tips up to 70 mm, module 1, so 53 to 68 teeth."""
    return load(
        {
            "robots": [{"name": "arm", "joints": [joint("wrist", 40.0, **(row or {}))]}],
            "shop": {"modules": [1.0], "bore_step_mm": 0.5, **(shop or {})},
            "target": {"angle_target_arcsec": 250.0},
        }
    )


CAUSES: dict[str, tuple[Study, list[str]]] = {
    "wire": (
        wrist({"cutting": "wire", "wire_diameter_mm": 0.9}),
        ["shop.wire_diameter_mm 0.9: it leaves no root sharper than 0.47 mm",
         "shop.spark_gap_mm 0.02", "0.4098 mm (module 1, 49 teeth)", "at least 1.147 mm"],
    ),
    "list": (
        wrist({"teeth_allowed": [24, 90]}, {"tip_min_mm": 60.0}),
        ["shop.teeth_allowed 24, 90: 58 to 68 teeth would fit, of which none is among them",
         "the nearest count that is cut is 90"],
    ),
    "multiple": (
        wrist({"teeth_multiple_of": 40}, {"tip_min_mm": 60.0}),
        ["shop.teeth_multiple_of 40", "none is a multiple of it", "the nearest count that is cut is 80"],
    ),
    "prime": (
        wrist({"teeth_largest_prime": 2}, {"tip_min_mm": 67.0}),
        ["shop.teeth_largest_prime 2", "65 to 68 teeth", "no larger prime factor", "cut is 64"],
    ),
    "together": (
        wrist(
            {"teeth_allowed": [60, 64, 96], "teeth_multiple_of": 12, "teeth_largest_prime": 3},
            {"tip_min_mm": 60.0},
        ),
        ["shop.teeth_allowed 60, 64, 96: 58 to 68 teeth would fit, of which none is among "
         "them and keeps shop.teeth_multiple_of and shop.teeth_largest_prime", "cut is 96"],
    ),
}  # fmt: skip


def test_a_wire_that_leaves_only_rings_without_a_bore_is_the_reason() -> None:
    """0.38 + 0.87^2 / (z / 2 + 0.87) is 0.42 and more up to 36 teeth; a rim asks 49 of them at least."""
    study = wrist({"cutting": "wire", "wire_diameter_mm": 0.8})
    (reason,) = solve(study).reasons
    assert "shop.wire_diameter_mm 0.8" in reason
    assert "(module 1, 49 teeth)" in reason


@pytest.mark.parametrize("name", CAUSES)
def test_the_reason_names_the_limit_and_what_is_near(name: str) -> None:
    study, parts = CAUSES[name]
    answer = solve(study)
    assert answer.status == "impossible"
    (reason,) = answer.reasons
    for part in parts:
        assert part in reason


@pytest.mark.parametrize(
    ("name", "path", "value"),
    [
        # 0.43 - 0.02 = half of 0.81 mm for the roundest root, that of the fewest teeth that keep a rim
        ("wire", "shop.wire_diameter_mm", None),
        ("list", "shop.teeth_allowed", [24, 68, 90]),
        # 66 = 6 x 11 shares 2 with 40, 60 shares 20
        ("multiple", "shop.teeth_multiple_of", 20),
        # 65 = 5 x 13, 66 = 2 x 3 x 11, 67, 68 = 4 x 17
        ("prime", "shop.teeth_largest_prime", 11),
    ],
)
def test_the_least_change_that_helps_is_told_and_helps(name: str, path: str, value: Any) -> None:
    study, _ = CAUSES[name]
    found = explain_impossible(study)
    assert any(path in member.path for blocker in found.blockers for member in blocker.members)
    changes = [way.changes[0] for way in found.singles if way.changes[0].path == path]
    (change,) = changes
    if value is not None:
        assert change.value == value
    assert explained_study_is_possible(
        edited_study(study, {resolve_field_path(study, path): change.value})
    )


def test_the_thickest_wire_that_helps_is_the_one_told() -> None:
    study, _ = CAUSES["wire"]
    (change,) = [
        way.changes[0]
        for way in explain_impossible(study).singles
        if way.changes[0].path == "shop.wire_diameter_mm"
    ]
    assert isinstance(change.value, float)
    path = resolve_field_path(study, "shop.wire_diameter_mm")
    assert not explained_study_is_possible(
        edited_study(study, {path: round(change.value + 0.01, 9)})
    )


def test_a_multiple_is_eased_to_its_largest_divisor_that_helps() -> None:
    study = wrist({"teeth_multiple_of": 48}, {"tip_min_mm": 60.0})
    ways = {way.changes[0].path: way.changes[0] for way in explain_impossible(study).singles}
    value = ways["shop.teeth_multiple_of"].value
    helping = [
        divisor
        for divisor in range(1, 48)
        if 48 % divisor == 0 and any(count % divisor == 0 for count in range(58, 69))
    ]
    # what divides 48 and a count that fits; a rim for it is left as well
    assert value == max(helping)


def test_counts_of_the_shop_by_plain_rules() -> None:
    shop = wrist({"teeth_multiple_of": 3, "teeth_largest_prime": 7}).shop
    cut = [count for count in range(1, 400) if catalogue_teeth_cut(shop, _one(count))[0]]
    assert cut == [
        count for count in range(1, 400) if count % 3 == 0 and _greatest_prime(count) <= 7
    ]
    assert catalogue_next_teeth(shop, 60, 1, 3) == [63, 72, 75]
    assert catalogue_next_teeth(shop, 60, -1, 2) == [54, 48]
    assert catalogue_next_teeth(shop, 3, -1) == []


def _one(count: int) -> Ints:
    return np.array([count], dtype=np.int64)


def _greatest_prime(count: int) -> int:
    return max(
        (p for p in range(2, count + 1) if count % p == 0 and all(p % d for d in range(2, p))),
        default=1,
    )


def test_largest_prime_factors_by_plain_rules() -> None:
    counts = np.arange(1, 1100)
    assert largest_prime_factor_of_teeth(counts).tolist() == [
        _greatest_prime(int(c)) for c in counts
    ]


@pytest.mark.parametrize(
    ("shop", "teeth", "told"),
    [
        ({"teeth_allowed": [60, 65]}, 64, "shop.teeth_allowed: 64 teeth; 65 is the nearest count"),
        ({"teeth_multiple_of": 6}, 64, "shop.teeth_multiple_of: 64 teeth; 66 is the nearest count"),
        ({"teeth_largest_prime": 3}, 65, "shop.teeth_largest_prime: 13 largest factor, allowed 3"),
        (
            {"cutting": "wire", "wire_diameter_mm": 0.8}, 65,
            "shop.wire_diameter_mm: 0.402682 mm, allowed 0.42",
        ),
    ],
)  # fmt: skip
def test_a_ring_in_mind_is_told_which_of_them_it_breaks(shop: Json, teeth: int, told: str) -> None:
    study = wrist(shop)
    robot, place = find_joint(study, "wrist", None)
    _, faults = rate_one(study, robot, place, 1.0, teeth, 44.0, 1)
    assert [fault[: len(told)] for fault in faults if fault.startswith("shop.")] == [told]


def test_a_second_ring_has_a_count_that_the_shop_cuts() -> None:
    row = {"second_ring": True, "seat_offset_um": 2.0, "bearing_shift_um": 1.0}
    fine = {"third_harmonic": 0.0005, "residual_offset": 0.001, "stray_field": 0.0002}

    def pair(shop: Json) -> set[int]:
        data = wrist({"flank_class": 1} | shop, row).model_dump(mode="json", exclude_unset=True)
        study = load(data | {"head": fine})
        answer = solve(study)
        assert judge(study, answer) == []
        return {ring.teeth for ring in answer.every_ring}

    free = pair({})
    assert len(free) == 2
    listed = {count + 1 for count in free} | {max(free) + 2}
    found = pair({"teeth_allowed": sorted(listed)})
    assert len(found) == 2
    assert found <= listed
    assert pair({"teeth_allowed": [64, 68]}) == set()  # they share a divisor
    assert pair({"teeth_multiple_of": 3}) == set()


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("first", range(0, 60, 5))
def test_blockers_of_such_shops_are_smallest_and_complete(first: int) -> None:
    found = [check_joint(seed, own_tight_joint) for seed in range(first, first + 5)]
    assert sum(found) >= 3


BAD: dict[str, tuple[Json, str, str, str]] = {
    "empty list": ({"teeth_allowed": []}, "shop.teeth_allowed", "[]", "at least 1 item"),
    "count twice": (
        {"teeth_allowed": [60, 60]}, "shop.teeth_allowed", "2 times 60", "each value once",
    ),
    "count of a half": (
        {"teeth_allowed": [60.5]}, "shop.teeth_allowed[0]", "60.5", "a valid integer",
    ),
    "count of 0": ({"teeth_allowed": [0]}, "shop.teeth_allowed[0]", "0", "equal to 1"),
    "multiple of 0": ({"teeth_multiple_of": 0}, "shop.teeth_multiple_of", "0", "equal to 1"),
    "prime of 1": ({"teeth_largest_prime": 1}, "shop.teeth_largest_prime", "1", "equal to 2"),
    "list without a multiple": (
        {"teeth_allowed": [61, 65], "teeth_multiple_of": 4},
        "shop.teeth_allowed", "[61, 65]", "a multiple of shop.teeth_multiple_of = 4 among them",
    ),
    "list of large primes": (
        {"teeth_allowed": [61, 65], "teeth_largest_prime": 7},
        "shop.teeth_allowed", "[61, 65]",
        "a count without prime factors above shop.teeth_largest_prime = 7 among them",
    ),
    "list that keeps each but not both": (
        {"teeth_allowed": [62, 63], "teeth_multiple_of": 2, "teeth_largest_prime": 7},
        "shop.teeth_allowed", "[62, 63]", "shop.teeth_multiple_of = 2 without prime factors above",
    ),
    "multiple of a large prime": (
        {"teeth_multiple_of": 22, "teeth_largest_prime": 7},
        "shop.teeth_multiple_of", "22, which has 11", "prime factors above shop.teeth_largest_prime = 7",
    ),
    "wire beside a hob": (
        {"wire_diameter_mm": 0.25}, "shop.wire_diameter_mm", "0.25 with cutting hob", "shop.cutting wire",
    ),
    "wire beside discs": (
        {"cutting": "disc_8", "wire_diameter_mm": 0.25},
        "shop.wire_diameter_mm", "0.25 with cutting disc_8", "none, or shop.cutting wire",
    ),
    "wire wider than a gap": (
        # pi / 2 - 2 x 0.02 = 1.531
        {"cutting": "wire", "wire_diameter_mm": 1.54},
        "shop.wire_diameter_mm", "1.54", "less than 1.531, what shop.spark_gap_mm = 0.02 leaves",
    ),
    "wire of nothing": (
        {"cutting": "wire", "wire_diameter_mm": 0.0}, "shop.wire_diameter_mm", "0", "greater than 0",
    ),
    "negative spark gap": (
        {"cutting": "wire", "spark_gap_mm": -0.01}, "shop.spark_gap_mm", "-0.01", "equal to 0",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_refused_by_name(name: str) -> None:
    shop, path, given, allowed = BAD[name]
    with pytest.raises(StudyError) as caught:
        wrist(shop)
    (fault,) = caught.value.faults
    assert (fault.path, fault.given.startswith(given)) == (path, True)
    assert allowed in fault.allowed


def test_a_wire_just_narrower_than_a_gap_is_no_fault_but_impossible() -> None:
    assert solve(wrist({"cutting": "wire", "wire_diameter_mm": 1.53})).status == "impossible"
