"""A ring part is what one drawing makes: joints whose fits ask different bores do not share one.

The reproduced case: two joints at 60 mm, H7/h6 and N7/h6, and at most one ring part. Limits of the zones
are those of published tables of ISO 286-2 for 50 to 80 mm: H7 0/+30 um, N7 -39/-9 um.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

import pytest

from ringset.analysis.alternatives.alternatives import alternatives_of
from ringset.analysis.alternatives.single_ring import find_joint
from ringset.analysis.comparison.compare import Entry, compare_answers
from ringset.analysis.front.front import find_front
from ringset.drawing.frame import Release
from ringset.drawing.part import drawn_parts
from ringset.drawing.ring_sheet import ring_sheet
from ringset.errors import StudyError
from ringset.manufacturing.part_data import shop_data
from ringset.reporting.comparison_text import comparison_text
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.standards import iso286
from ringset.standards.iso286 import iso286_deviations_um
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.support.studies import Json, load


def two_joints(*fits: str | None, **wishes: int) -> Json:
    """Return joints of one size each, with a fit each."""
    sizes = {"bore_min_mm": 60.0, "bore_max_mm": 60.0, "tip_min_mm": 80.0, "tip_max_mm": 90.0}
    joints = [
        {"name": f"joint {i}", **sizes} | ({} if fit is None else {"seat_fit": fit})
        for i, fit in enumerate(fits, start=1)
    ]
    return {
        "robots": [{"name": "arm", "joints": joints}],
        "shop": {"modules": [1.0, 1.25]},
        "target": {"angle_target_arcsec": 300.0},
        "wishes": wishes,
    }


def solved(data: Json) -> tuple[Study, Answer]:
    study = load(data)
    return study, solve(study)


def test_disjoint_zones_are_no_one_part() -> None:
    _, answer = solved(two_joints("H7/h6", "N7/h6", ring_parts_max=1))
    assert answer.status == "impossible"
    assert answer.reasons == [
        "wishes.ring_parts_max 1: the least possible is 2 (a part has one bore, and the joints ask the "
        "zones H7, N7)"
    ]


def test_each_part_states_its_zone_and_its_limits() -> None:
    study, answer = solved(two_joints("H7/h6", "N7/h6"))
    assert answer.status == "proven"
    zones = {p.bore_zone: (p.bore_lower_um, p.bore_upper_um) for p in answer.ring_parts}
    assert zones == {"H7": (0.0, 30.0), "N7": (-39.0, -9.0)}
    assert {p.bore_zone: p.used_on for p in answer.ring_parts} == {
        "H7": ["arm/joint 1"],
        "N7": ["arm/joint 2"],
    }
    assert judge(study, answer) == []
    # nothing but the zone tells them apart
    same = ("module_mm", "teeth", "bore_mm", "face_width_mm")
    first, second = answer.ring_parts
    assert [getattr(first, name) for name in same] == [getattr(second, name) for name in same]


@pytest.mark.parametrize(
    ("fits", "count"),
    [
        (("H7/h6", "H7/g6", None), 1),  # one hole, other shafts; without a fit H7 is assumed
        (("N7/h6", None), 2),
        (("H7/h6", "H8/f7", "N7/h6"), 3),
        (("N7/h6", "N7/g6"), 1),
    ],
)
def test_the_hole_counts_and_not_the_shaft(fits: tuple[str | None, ...], count: int) -> None:
    study, answer = solved(two_joints(*fits))
    assert len(answer.ring_parts) == count
    assert judge(study, answer) == []


def test_no_two_hole_zones_have_the_same_limits() -> None:
    """So that parts with other limits always have another name, and the other way round."""
    grades = {"K": range(4, 9), "M": range(4, 9), "N": range(4, 9)}
    grades |= {letter: range(4, 8) for letter in "PRS"}
    names = [f"{a}{g}" for a in iso286.HOLES for g in grades.get(a, iso286.GRADES)]
    for bore in (2.0, 3.0, 8.0, 40.0, 60.0, 110.0, 260.0, 300.0, 500.0):
        limits = {name: tuple(map(float, iso286_deviations_um(bore, name))) for name in names}
        assert all(limits[a] != limits[b] for a, b in combinations(names, 2)), bore


def merged(answer: Answer) -> Answer:
    """Return the answer with both rings as one part, the first."""
    first, second = answer.ring_parts
    part = first.model_copy(
        update={"used_on": sorted(first.used_on + second.used_on), "quantity": 2}
    )
    rings = [ring.model_copy(update={"ring_part": first.id}) for ring in answer.rings]
    cutters = [c.model_copy(update={"ring_parts": [first.id]}) for c in answer.cutters]
    assert answer.totals is not None
    totals = answer.totals.model_copy(update={"ring_parts": 1})
    stages = [
        s.model_copy(update={"value": 1, "bound": 1}) if s.wish == "ring_parts" else s
        for s in answer.proof.stages
    ]
    proof = answer.proof.model_copy(update={"stages": stages})
    return answer.model_copy(
        update={
            "ring_parts": [part], "rings": rings, "cutters": cutters, "totals": totals,
            "proof": proof,
        }
    )  # fmt: skip


def one_zone(answer: Answer) -> Answer:
    """Return the merged answer with the limits of the first part on every ring."""
    part = answer.ring_parts[0]
    limits = {"bore_lower_um": part.bore_lower_um, "bore_upper_um": part.bore_upper_um}
    one = merged(answer)
    return one.model_copy(update={"rings": [r.model_copy(update=limits) for r in one.rings]})


def other_name(answer: Answer) -> Answer:
    first, second = answer.ring_parts
    named = first.model_copy(update={"bore_zone": second.bore_zone})
    return answer.model_copy(update={"ring_parts": [named, second]})


@pytest.mark.parametrize(
    ("forge", "words"),
    [
        (merged, "ring_parts: ['R1'] listed"),
        (merged, "totals.ring_parts"),
        (merged, "proof.stages.ring_parts"),
        (one_zone, "arm/joint 1: bore_lower_um: -39.0 stated, 0.0 recomputed"),
        (other_name, "ring_parts R1: bore_zone 'H7' listed, 'N7' wanted"),
    ],
)
def test_the_judge_refuses_one_part_with_two_bores(
    forge: Callable[[Answer], Answer], words: str
) -> None:
    study, answer = solved(two_joints("H7/h6", "N7/h6"))
    assert answer.ring_parts[0].bore_zone == "N7"  # parts by size, then by limits
    violations = judge(study, forge(answer))
    assert any(v.startswith(words) for v in violations), violations


def test_the_certificate_counts_so_too() -> None:
    study, answer = solved(two_joints("H7/h6", "N7/h6"))
    certificate = certify(study, answer)
    assert verify_certificate(study, answer, certificate).complete
    assert verify_certificate(study, merged(answer), certificate).refused


def test_every_point_of_a_front_counts_so() -> None:
    study = load(two_joints("H7/h6", "N7/h6"))
    found = find_front(study)
    assert len(found.points) >= 1
    assert {len(point.answer.ring_parts) for point in found.points} == {2}


def test_the_sheets_draw_both_bores_and_the_shop_is_told_both() -> None:
    study, answer = solved(two_joints("H7/h6", "N7/h6"))
    sheets = [ring_sheet(part, Release()) for part in drawn_parts(study, answer)]
    shown = [[label.text for label in sheet.labels()] for sheet in sheets]
    assert ["Ø60 N7 (-0.009/-0.039)" in one for one in shown] == [True, False]
    assert ["Ø60 H7 (+0.030/0)" in one for one in shown] == [False, True]
    limits = [data.inspection.bore for data in shop_data(study, answer)]
    assert [one.source for one in limits] == ["ISO 286 N7", "ISO 286 H7"]
    assert [(one.lower_mm, one.upper_mm) for one in limits] == [
        pytest.approx((59.961, 59.991)),
        pytest.approx((60.0, 60.03)),
    ]


def test_a_comparison_tells_parts_of_other_zones_apart() -> None:
    before, after = (solved(two_joints("H7/h6", fit)) for fit in ("H7/g6", "N7/h6"))
    found = compare_answers([Entry("before", before[1]), Entry("after", after[1])])
    (change,) = found.changes
    assert change.other_ring == ["arm/joint 2"]
    assert [(p.bore_lower_um, p.bore_upper_um) for p in change.parts_added] == [(-39.0, -9.0)]
    assert change.parts_dropped == []
    ring = found.joints[1].rings[1]
    assert ring is not None
    assert {"bore_lower_um", "bore_upper_um"} <= set(ring.differs)
    assert "-39/-9*" in comparison_text(found)


def test_a_comparison_tells_parts_of_other_materials_and_holes_apart() -> None:
    plain, steel = two_joints("H7/h6", None), two_joints("H7/h6", None)
    steel["shop"] |= {"material": "42crmo4", "material_treatment": "+QT"}
    screwed = two_joints("H7/h6", None)
    for row in screwed["robots"][0]["joints"]:
        row["fastening"] = "screws"
    answers = [solved(data)[1] for data in (plain, steel, screwed)]
    found = compare_answers(
        [Entry(n, a) for n, a in zip(("plain", "steel", "held"), answers, strict=True)]
    )
    added = [(c.parts_added[0].material, c.parts_added[0].holes) for c in found.changes]
    assert added[0] == ("42crmo4 +QT", "none")
    assert added[1][0] == "c45"
    assert added[1][1].startswith("3 for M")


def test_a_part_of_another_bore_is_no_neighbour_without_its_fit() -> None:
    study, answer = solved(two_joints("H7/h6", "N7/h6"))
    grounds = alternatives_of(study, answer, *find_joint(study, "joint 1"))
    (other,) = [ground for ground in grounds if ground.kind == "other_part"]
    first = other.breaks[0]
    assert (first.limit, first.value, first.allowed) == ("seat_fit", -9.0, 30.0)


@pytest.mark.parametrize(
    ("fit", "words"),
    [
        ("N9/h6", "N9"),  # held here: N in IT4 to IT8
        ("Q7/h6", "letter of 'Q7'"),
    ],
)
def test_a_bore_that_no_zone_allows_is_refused_by_field(fit: str, words: str) -> None:
    with pytest.raises(StudyError) as caught:
        load(two_joints(fit))
    assert "robots[0].joints[0].seat_fit" in str(caught.value)
    assert words in str(caught.value)
