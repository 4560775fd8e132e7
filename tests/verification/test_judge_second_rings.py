"""The judge of second rings: every misstatement of a pair, and every limit that it breaks, is named."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from ringset.schema.answer import Answer, SecondRing
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.verification.judge.judge import judge
from ringset.verification.judge.pairs import judge_pair
from tests.support.narrow import present
from tests.support.places import SCENARIOS
from tests.support.solved import solved_scenario
from tests.support.studies import load


@pytest.fixture(scope="module")
def study() -> Study:
    return load_study((SCENARIOS / "power_loss.json").read_text())


@pytest.fixture(scope="module")
def answer() -> Answer:
    return solved_scenario("power_loss")


def second(answer: Answer, **fields: Any) -> Answer:
    """Return the answer with fields of its second ring changed."""
    (ring,) = answer.second_rings
    return answer.model_copy(update={"second_rings": [ring.model_copy(update=fields)]})


def told(answer: Answer, **fields: Any) -> Answer:
    """Return the answer with what the first ring says of the second changed."""
    ring = answer.rings[0]
    piece = present(ring.electronics.second_ring).model_copy(update=fields)
    electronics = ring.electronics.model_copy(update={"second_ring": piece})
    ring = ring.model_copy(update={"electronics": electronics})
    return answer.model_copy(update={"rings": [ring, *answer.rings[1:]]})


CHANGES: dict[str, Callable[[Answer], Answer]] = {
    "wrist/bend: 0 second rings, exactly one wanted": lambda a: a.model_copy(
        update={"second_rings": []}
    ),
    "wrist/bend: 2 second rings, exactly one wanted": lambda a: a.model_copy(
        update={"second_rings": a.second_rings * 2}
    ),
    "wrist/swing: a second ring that is not asked": lambda a: a.model_copy(
        update={"second_rings": [*a.second_rings, a.rings[1].model_copy(update={"second": True})]}
    ),
    "second ring: module_mm": lambda a: second(a, module_mm=1.5),
    "second ring: bore_mm": lambda a: second(a, bore_mm=43.0),
    "second ring: 2 heads": lambda a: second(a, heads=2),
    "second: not as the rings stand": lambda a: second(a, second=False),
    "second ring: absolute_by or turns_known": lambda a: second(a, absolute_by="none"),
    "electronics.second_ring: 42 teeth of R2": lambda a: told(a, ring_part="R2"),
    "electronics.second_ring: 41 teeth of R1": lambda a: told(a, teeth=41),
    "electronics.second_ring.feasible": lambda a: told(a, feasible=False),
    "electronics.second_ring.tolerance": lambda a: told(a, tolerance_arcsec=400.0),
    "electronics.second_ring.error": lambda a: told(a, relative_error_arcsec=None),
    "second: stated of the first ring": lambda a: a.model_copy(
        update={"rings": [a.rings[0].model_copy(update={"second": True}), *a.rings[1:]]}
    ),
    "margins: ": lambda a: second(a, margins=[]),
    "blank_kg": lambda a: second(a, blank_kg=0.05),
}


@pytest.mark.cases(fast=2, slow=4)
@pytest.mark.parametrize("fault", CHANGES)
def test_a_misstated_second_ring_is_named(fault: str, study: Study, answer: Answer) -> None:
    assert judge(study, answer) == []
    violations = judge(study, CHANGES[fault](answer))
    assert any(fault in violation for violation in violations), violations


def pair_faults(study: Study, answer: Answer, **fields: Any) -> set[str]:
    """Return what the judge finds of the pair alone, with fields of its second ring changed."""
    (other,) = answer.second_rings
    other = other.model_copy(update=fields)
    joint = study.robots[0].joints[0]
    return set(judge_pair(study, joint, answer.rings[0], other, 500.0, 400.0))


def test_misstatements_of_one_pair_are_all_named(study: Study, answer: Answer) -> None:
    """However many there are: none hides another."""
    fields = {"module_mm": 1.5, "bore_mm": 43.0, "second": False, "heads": 2, "turns_known": False}
    assert pair_faults(study, answer, **fields) >= {
        "second ring: module_mm 1.5, 1.25 wanted", "second ring: bore_mm 43.0, 42.5 wanted",
        "second: not as the rings stand", "second ring: 2 heads, one wanted",
        "second ring: absolute_by or turns_known not that of the first",
        "electronics.second_ring.feasible: True, recomputed False",
    }  # fmt: skip
    first = answer.rings[0].model_copy(update={"second": True})
    wrong = answer.model_copy(update={"rings": [first, *answer.rings[1:]]})
    assert "wrist/bend: second: stated of the first ring" in judge(study, wrong)


def test_rings_that_one_disc_cutter_does_not_cut_are_no_pair(study: Study, answer: Answer) -> None:
    """Of a set of eight, one disc cuts 35 to 54 teeth and the next 55 to 134."""
    shop = study.shop.model_copy(update={"cutting": "disc_8"})
    study = study.model_copy(update={"shop": shop})
    fault = "second ring: needs another cutter than the first"
    assert fault in pair_faults(study, answer, teeth=55)
    assert fault not in pair_faults(study, answer, teeth=42)


def test_a_first_ring_that_says_nothing_of_its_second_one_is_named(
    study: Study, answer: Answer
) -> None:
    ring = answer.rings[0]
    electronics = ring.electronics.model_copy(update={"second_ring": None})
    silent = ring.model_copy(update={"electronics": electronics})
    wrong = answer.model_copy(update={"rings": [silent, *answer.rings[1:]]})
    violations = judge(study, wrong)
    assert "wrist/bend: electronics.second_ring: not as the study asks" in violations
    assert "wrist/bend: electronics.second_ring: missing" in violations


def test_every_field_of_what_is_told_is_checked(study: Study, answer: Answer) -> None:
    piece = present(answer.rings[0].electronics.second_ring)
    for name in SecondRing.model_fields:
        value = getattr(piece, name)
        other = not value if isinstance(value, bool) else None
        assert judge(study, told(answer, **{name: other})), name


def test_teeth_with_a_common_divisor_tolerate_nothing(study: Study, answer: Answer) -> None:
    """43 and 42 teeth are coprime; a second ring of 43 is the same ring."""
    violations = judge(study, second(answer, teeth=43))
    assert any("error of the pair" in v and "above second_ring 0" in v for v in violations)


@pytest.mark.parametrize(
    ("field", "value", "named"),
    [("tip_max_mm", 55.5, "tip_max_mm"), ("bore_min_mm", 43.0, "bore_min_mm")],
)
def test_a_second_ring_keeps_the_sizes_of_its_joint(
    field: str, value: float, named: str, study: Study, answer: Answer
) -> None:
    """Tips of 55 mm, the smaller of the two, break a window from 56; the first ring of 56.25 does not."""
    data = study.model_dump(mode="json")
    bend = next(j for j in data["robots"][0]["joints"] if j["name"] == "bend")
    bend[field] = value
    violations = judge(load(data), answer)
    assert any(named in violation for violation in violations)
    bend.update(tip_max_mm=80.0, bore_min_mm=42.0, tip_min_mm=56.0)
    violations = judge(load(data), answer)
    assert any(v.startswith("wrist/bend, second ring: tip diameter") for v in violations)
    assert not any(v.startswith("wrist/bend: tip diameter") for v in violations)


def test_a_pair_beyond_its_tolerance_breaks_the_limit(study: Study, answer: Answer) -> None:
    data = study.model_dump(mode="json")
    bend = next(j for j in data["robots"][0]["joints"] if j["name"] == "bend")
    bend["seat_offset_um"] = 6.0
    violations = judge(load(data), answer)
    assert any("error of the pair" in v and "above second_ring" in v for v in violations)


def test_a_second_ring_keeps_no_target(study: Study, answer: Answer) -> None:
    (ring,) = answer.second_rings
    limits = {margin.limit for margin in ring.margins}
    assert "angle_target_arcsec" not in limits
    assert {
        "tip_max_mm",
        "bore_min_mm",
        "head.gap_left_min_mm",
        "shop.clamp_runout_share",
    } <= limits


def test_money_battery_and_totals_count_both_rings(study: Study, answer: Answer) -> None:
    totals = present(answer.totals)
    for name, less in (
        ("heads", 1),
        ("ring_parts", 1),
        ("material_kg", answer.second_rings[0].blank_kg),
    ):
        wrong = totals.model_copy(update={name: getattr(totals, name) - less})
        violations = judge(study, answer.model_copy(update={"totals": wrong}))
        assert any(f"totals.{name}" in violation for violation in violations)
