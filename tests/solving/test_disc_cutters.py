"""Disc cutters of a set leave their form on the flanks, special ones do not: answer, judge and sheets."""

from __future__ import annotations

import json
from typing import Any

import pytest

from ringset.analysis.alternatives.single_ring import rate_one
from ringset.analysis.comparison.compare import Entry, compare_answers
from ringset.drawing.frame import Release
from ringset.drawing.part import drawn_parts
from ringset.drawing.ring_sheet import ring_sheet
from ringset.errors import StudyError
from ringset.manufacturing.part_data import shop_data
from ringset.reporting.answer_text import answer_text
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.standards.iso1328 import iso1328_profile_total_um, iso1328_round_um
from ringset.verification.certificate.verify import verify_certificate
from ringset.verification.judge.judge import judge
from tests.support.places import SCENARIOS
from tests.support.studies import Json, load, small

Solved = tuple[Study, Answer]


def arm(**shop: Any) -> Solved:
    data = json.loads((SCENARIOS / "seven_joint_arm.json").read_text())
    data["shop"].update(shop)
    study = load_study(json.dumps(data))
    return study, solve(study)


@pytest.fixture(scope="module")
def of_a_set() -> Solved:
    return arm()


@pytest.fixture(scope="module")
def special() -> Solved:
    return arm(cutting="disc_special")


def by_teeth(answer: Answer) -> dict[int, float | None]:
    return {ring.teeth: ring.profile_error_um for ring in answer.rings}


def test_the_seven_joint_arm_states_what_its_cutter_gives(of_a_set: Solved) -> None:
    """Module 1, one cutter of 55..134 teeth. Spans found by rolled racks and search in test_cutter_form."""
    _, answer = of_a_set
    assert {cutter.tooth_range[:7] for cutter in answer.cutters} == {"55..134"}
    found = by_teeth(answer)
    assert found == {
        113: pytest.approx(
            46.397, abs=5e-4
        ),  # 44.50 too thin at the tip, 1.90 too thick in between
        89: pytest.approx(34.200, abs=5e-4),  # 32.79 and 1.41
        61: pytest.approx(8.629, abs=5e-4),
        55: 0.0,
    }
    permitted = iso1328_profile_total_um(113.0, 1.0, 5)
    assert iso1328_round_um(permitted) == 7.0
    told = [warning for warning in answer.warnings if ": profile: " in warning]
    assert [warning.split(":")[0] for warning in told] == ["R2", "R3", "R4"]
    assert "off by up to 46.4 um at 113 teeth, class 5 permits 7 um" in told[-1]


def test_hob_and_wire_bring_no_form_of_another_count() -> None:
    for cutting in ("hob", "wire"):
        study = load({**small(), "shop": {"modules": [1.0, 1.25], "cutting": cutting}})
        answer = solve(study)
        assert {ring.profile_error_um for ring in answer.rings} == {None}
        assert not any(": profile: " in warning for warning in answer.warnings)
        assert judge(study, answer) == []


def test_a_form_in_the_middle_of_the_range_leaves_less_at_its_ends() -> None:
    study, answer = arm(disc_form="range_middle")
    assert judge(study, answer) == []
    found = by_teeth(answer)
    assert found[113] == pytest.approx(19.731, abs=5e-4)
    assert found[55] == pytest.approx(25.651, abs=5e-4)


# -- special cutters -----------------------------------------------------------------------------------


def test_a_special_cutter_is_made_for_every_module_and_tooth_count(special: Solved) -> None:
    study, answer = special
    assert answer.status == "proven"
    needed = {(ring.module_mm, ring.teeth) for ring in answer.rings}
    assert answer.totals is not None
    assert answer.totals.cutters == len(answer.cutters) == len(needed)
    assert {(c.kind, c.module_mm, c.tooth_range) for c in answer.cutters} == {
        ("disc cutter", m, f"{z} teeth") for m, z in needed
    }
    assert set(by_teeth(answer).values()) == {0.0}
    assert not any(": profile: " in warning for warning in answer.warnings)
    assert judge(study, answer) == []


def test_the_wish_for_few_cutters_counts_special_ones() -> None:
    """Two joints that share no tip: a hob serves both, special cutters are two, or one with one ring."""
    data = small()
    data["robots"][0]["joints"] = data["robots"][0]["joints"][1:]
    data["wishes"] = {"order": ["cutters", "material"]}
    data["shop"]["cutting"] = "disc_special"
    assert {c.tooth_range for c in solve(load(data)).cutters} == {
        f"{ring.teeth} teeth" for ring in solve(load(data)).rings
    }
    together = solve(load({**data, "wishes": {"cutters_max": 1}}))
    assert len({ring.teeth for ring in together.rings}) == 1


def test_the_shift_belongs_to_a_special_cutter() -> None:
    data = small()
    data["shop"].update(cutting="disc_special", profile_shift=0.2)
    study = load(data)
    answer = solve(study)
    assert all(cutter.tooth_range.endswith(" teeth, x = +0.2") for cutter in answer.cutters)
    assert judge(study, answer) == []


def test_money_counts_every_special_cutter() -> None:
    data = small()
    data["shop"].update(cutting="disc_special")
    data["shop"]["prices"] = {
        "cutter": 300.0, "set_up_per_ring_part": 50.0, "material_per_kg": 4.0, "head": 20.0,
        "machine_per_hour": 60.0, "cutting_minutes_per_tooth": {"6": 0.5},
    }  # fmt: skip
    data["wishes"] = {"order": ["cost"]}
    study = load(data)
    answer = solve(study)
    assert answer.totals is not None
    assert answer.totals.cost is not None
    assert answer.totals.cost.cutters == 300.0 * len({(r.module_mm, r.teeth) for r in answer.rings})
    assert answer.proof.cost_unit == 0.01  # numbers of cutters that no ring needs do not coarsen it
    assert judge(study, answer) == []


def test_a_certificate_names_special_cutters() -> None:
    data: Json = {**small(), "wishes": {"order": ["cutters", "material"]}}
    data["shop"]["cutting"] = "disc_special"
    study = load(data)
    answer = solve(study)
    certificate = certify(study, answer)
    assert verify_certificate(study, answer, certificate).complete
    names = {name for stage in certificate.stages for step in stage.steps for name in step.cutters}
    assert names
    assert all(name.endswith(" teeth") for name in names)


# -- the judge -----------------------------------------------------------------------------------------


def test_the_judge_finds_a_profile_that_is_not_the_cutters(
    of_a_set: Solved, special: Solved
) -> None:
    for study, answer in (of_a_set, special):
        for error in (None, 1.0):
            ring = answer.rings[0].model_copy(update={"profile_error_um": error})
            wrong = answer.model_copy(update={"rings": [ring, *answer.rings[1:]]})
            assert any(": profile_error_um: " in v for v in judge(study, wrong))


def test_the_judge_misses_a_warning_that_is_left_out(of_a_set: Solved) -> None:
    study, answer = of_a_set
    silent = answer.model_copy(update={"warnings": []})
    assert any(
        "R4: a profile that its class does not permit: missing" in v for v in judge(study, silent)
    )


def test_the_judge_knows_special_cutters_apart(special: Solved) -> None:
    study, answer = special
    merged = [r.model_copy(update={"cutter": "C1"}) for r in answer.rings]
    wrong = answer.model_copy(update={"rings": merged, "cutters": answer.cutters[:1]})
    assert any("cutters" in violation for violation in judge(study, wrong))


# -- sheets, inspection, texts, comparison ---------------------------------------------------------------


def sheet_words(solved: Solved, part: str) -> list[str]:
    data = next(one for one in drawn_parts(*solved) if one.part.id == part)
    return [label.text for label in ring_sheet(data, Release()).labels()]


def test_the_sheet_states_pitch_by_class_and_profile_by_cutter(of_a_set: Solved) -> None:
    words = sheet_words(of_a_set, "R4")
    assert "F_{αT}" not in words
    assert words[words.index("Profile, by the cutter") + 2] == "47"
    assert "not by the class" in words
    said = " ".join(words)
    assert "helix by class 5" in said
    assert "up to 47 µm off" in said
    assert "root by the cutter" in words
    assert not any("rack corner" in word or "ρ_{f}" in word for word in words)


def test_the_sheet_of_a_special_cutter_keeps_the_class(special: Solved) -> None:
    words = sheet_words(special, "R1")
    assert "F_{αT}" in words
    assert "not by the class" not in words
    assert not any("rack corner" in word or "ρ_{f}" in word for word in words)


def test_inspection_says_where_the_profile_comes_from(of_a_set: Solved, special: Solved) -> None:
    found = {one.part.id: one.inspection for one in shop_data(*of_a_set)}
    assert found["R4"].profile_source == "form of the cutter"
    assert found["R4"].profile_total_um == pytest.approx(46.397, abs=5e-4)
    for own in (found["R1"], *(one.inspection for one in shop_data(*special))):
        assert (own.profile_source, own.profile_total_um <= 7.5) == ("class 5", True)


def test_the_text_tells_the_profile(of_a_set: Solved) -> None:
    text = " ".join(answer_text(*of_a_set, {}).split())
    assert "(profile off by 46.4 um)" in text
    assert "(profile off by 0.0 um)" in text


def test_a_comparison_tells_another_profile_of_the_same_ring(of_a_set: Solved) -> None:
    middle = arm(disc_form="range_middle")
    comparison = compare_answers([Entry("start", of_a_set[1]), Entry("middle", middle[1])])
    told = comparison.changes[0].other_settings
    assert len(told["profile_error_um"]) == 7


# -- what cannot be cut ----------------------------------------------------------------------------------


def test_a_shift_that_no_form_of_the_set_reaches_is_refused() -> None:
    data = small()
    data["shop"].update(cutting="disc_8", profile_shift=0.7)
    with pytest.raises(StudyError) as refused:
        load(data)
    (fault,) = refused.value.faults
    assert (fault.path, fault.given) == ("shop.profile_shift", "0.7")
    assert "at most 0.597 with disc_8 and head.teeth_min = 32" in fault.allowed
    for cutting in ("disc_special", "hob", "wire"):
        data["shop"]["cutting"] = cutting
        load(data)


@pytest.mark.parametrize("teeth", [11, 12])
def test_a_single_ring_that_no_cutter_of_the_set_mills_is_refused(teeth: int) -> None:
    """Twelve teeth are in the set, but at this shift its flank ends outside of their pitch circle."""
    data = small()
    data["shop"].update(cutting="disc_8", profile_shift=0.5)
    data["head"] = {"teeth_min": 40}
    study = load(data)
    robot = study.robots[0]
    with pytest.raises(StudyError) as refused:
        rate_one(study, robot, robot.joints[0], 1.0, teeth, 2.0, 1)
    assert ("teeth", str(teeth)) in {(f.path, f.given) for f in refused.value.faults}
    assert any("12 or more" in fault.allowed for fault in refused.value.faults)


def test_an_unknown_form_is_named() -> None:
    with pytest.raises(StudyError, match=r"shop\.disc_form.*'range_start' or 'range_middle'"):
        load({**small(), "shop": {"disc_form": "best"}})
