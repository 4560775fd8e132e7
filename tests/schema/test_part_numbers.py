"""Prefixes and names of ring parts: which are allowed, how they are ordered, and which rings are the same."""

from __future__ import annotations

import json
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from ringset.analysis.comparison.compare import _ring, compared_ring_key
from ringset.analysis.comparison.models import RING_FIELDS
from ringset.errors import StudyError
from ringset.schema.answer import Answer, FaceScrews
from ringset.schema.earlier_names import answer_ring_key
from ringset.schema.loading import load_study
from ringset.schema.part_numbers import (
    PartName,
    PartPrefix,
    part_name_number,
    part_names_sorted,
)
from ringset.schema.study import Study
from ringset.verification.judge.part_names import _named
from tests.drawing.cases import answered
from tests.support.studies import small

PREFIX, NAME = TypeAdapter[str](PartPrefix), TypeAdapter[str](PartName)
GOOD = ["", "R", "RX-", "a", "7-", "4711-", "A1.5_", "x" * 24, "1" * 23 + "-", "INF", "E", "0x"]
BAD = [
    "1", "A9", "-", "-A", ".A", "_A", "=A", "@A", "+A", "A B", " A", "A ", "A/", "A\\", "../", "A:", "Ä",
    "A\n", "\nA", "A\x00", "A\u202e", "\u0410", "A\u0661", "x" * 25, "A\uff0d", "A\u00b2",
]  # fmt: skip
#: With which names would read as numbers.
NUMBERS = ["1.", "12.", "1e", "1E", "12e-", "0.5E-", "1_"]


def study(prefix: object) -> Study:
    data = small()
    data["shop"]["part_prefix"] = prefix
    return load_study(json.dumps(data))


def test_prefixes_that_are_allowed() -> None:
    for prefix in GOOD:
        assert study(prefix).shop.part_prefix == prefix
        name = f"{prefix or 'R'}10"
        assert NAME.validate_python(name) == name
        assert part_name_number(name) == 10
        assert PREFIX.validate_python(prefix) == prefix


@pytest.mark.parametrize("prefix", [*BAD, *NUMBERS, None, 5, [], "x" * 100_000])
def test_prefixes_that_are_refused(prefix: object) -> None:
    with pytest.raises(StudyError) as caught:
        study(prefix)
    (fault,) = caught.value.faults
    assert fault.path == "shop.part_prefix"
    if prefix in NUMBERS:
        assert fault.allowed == f"a text whose names read as no number, as {prefix}1 does"
    elif isinstance(prefix, str):
        assert fault.allowed.startswith(
            "at most 24 letters (A to Z, a to z), digits, hyphens, dots"
        )
    assert len(fault.given) <= 60


@pytest.mark.parametrize(
    "name", ["", "R", "R0", "R01", "1", "R1a", "R 1", "R1\n", "R1 ", "R" + "1" * 11]
)
def test_names_that_are_none(name: str) -> None:
    with pytest.raises(ValidationError):
        NAME.validate_python(name)


def test_names_are_ordered_by_their_numbers() -> None:
    given = ["R10", "R9", "RX-11", "A1.5-2", "R1"]
    assert part_names_sorted(given) == ["R1", "A1.5-2", "R9", "R10", "RX-11"]


# -- which rings are the same ----------------------------------------------------------------------

SAME: dict[str, Any] = {
    "gap_mm": 0.9, "heads": 1, "cutter": None, "error_arcsec": 1.0, "profile_error_um": 3.0, "joint": "x",
    "second": True, "finished_kg": 9.0, "target_arcsec": 2.0,
}  # fmt: skip
OTHER: dict[str, Any] = {
    "module_mm": 1.5, "teeth": 30, "bore_mm": 11.0, "bore_lower_um": -4.0, "bore_upper_um": 44.0,
    "face_width_mm": 9.0, "tooth_depth_mm": 2.4, "profile_shift": 0.2, "flank_class": 5, "material": "x +N",
}  # fmt: skip


def keys(answer: Answer) -> tuple[object, object, object]:
    """Return what makes the first ring the same: as names are kept, as the judge has it, as compared."""
    ring, part = answer.rings[0], answer.ring_parts[0]
    by_judge = [key for key, name in _named(answer).items() if name == ring.ring_part]
    return (
        answer_ring_key(ring, part.screws),
        by_judge,
        compared_ring_key(_ring(answer, ring)),
    )


def changed(answer: Answer, **fields: Any) -> Answer:
    return answer.model_copy(
        update={"rings": [ring.model_copy(update=fields) for ring in answer.rings]}
    )


def test_naming_judge_and_comparison_mean_the_same_ring() -> None:
    """Each field changed alone tells a ring from another in all three, or in none of them."""
    answer = answered("two_joint_table")[1]
    before = keys(answer)
    assert set(RING_FIELDS) == set(OTHER) | {"rim_mm", "holes"}  # the rim follows from the others
    for name, value in SAME.items():
        assert keys(changed(answer, **{name: value})) == before, name
    for name, value in OTHER.items():
        after = keys(changed(answer, **{name: value}))
        assert all(one != other for one, other in zip(before, after, strict=True)), name
    for name in ("bore_mm", "bore_lower_um", "bore_upper_um", "tooth_depth_mm"):  # as computed
        dust = getattr(answer.rings[0], name) + 4e-13
        assert keys(changed(answer, **{name: dust})) == before, name
    screws = FaceScrews(size="M3", count=4, circle_mm=97.0, hole_mm=3.4)
    held = [
        answer.model_copy(
            update={"ring_parts": [answer.ring_parts[0].model_copy(update={"screws": one})]}
        )
        for one in (
            screws,
            screws.model_copy(update={"count": 5}),
            screws.model_copy(update={"circle_mm": 98.0}),
            screws.model_copy(update={"size": "M4"}),
        )
    ]
    found = [keys(one) for one in (answer, *held)]
    for kind in range(3):
        assert len({str(one[kind]) for one in found}) == len(found)
