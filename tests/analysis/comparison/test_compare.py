"""Comparing answers: differences add up, nothing that is not like for like is passed over."""

import itertools
import json
import math
import random
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringset.analysis.alternatives.single_ring import find_joint, rate_one
from ringset.analysis.comparison.compare import Entry, compare_answers
from ringset.analysis.comparison.models import ComparedJoint, Comparison
from ringset.analysis.comparison.words import compared_numbers
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.support.studies import Json, joint, load, random_study, small, two_robots


@cache
def solved(text: str) -> tuple[Study, Answer]:
    study = load(json.loads(text))
    return study, solve(study)


def answer_to(data: Json) -> Answer:
    return solved(json.dumps(data))[1]


def entry_of(name: str, data: Json) -> Entry:
    study, answer = solved(json.dumps(data))
    return Entry(name, answer, study)


def side_by_side(*answers: Answer) -> Comparison:
    return compare_answers([Entry(f"answer {i}", answer) for i, answer in enumerate(answers)])


@cache
def variants() -> tuple[Answer, ...]:
    """Answers to random studies, to studies of our own, and to impossible ones."""
    studies = [random_study(seed) for seed in (3, 5, 8, 13, 21, 34)]
    finer = small()
    finer["target"]["angle_target_arcsec"] = 120.0
    worst = small()
    worst["target"] = {"angle_target_arcsec": 500.0, "basis": "worst_case"}
    fewer = small()
    fewer["robots"][0]["joints"].pop()
    impossible = small()
    impossible["target"]["angle_target_arcsec"] = 1.0
    found = [
        answer_to(s) for s in (*studies, small(), finer, worst, fewer, two_robots(), impossible)
    ]
    return tuple(found)


def pairs() -> list[tuple[Answer, Answer]]:
    return list(itertools.combinations(variants(), 2))


def test_the_variants_are_a_fair_mixture() -> None:
    answers = variants()
    assert {answer.status for answer in answers} >= {"proven", "impossible"}
    assert {answer.basis for answer in answers} == {"expanded", "worst_case"}
    assert len({answer.to_json() for answer in answers}) == len(answers)


def test_an_answer_beside_itself_shows_no_change() -> None:
    for answer in variants():
        comparison = side_by_side(answer, answer, answer)
        assert all(d in (0, None) for t in comparison.totals for d in t.differences)
        assert all(r is None or r.differs == [] for j in comparison.joints for r in j.rings)
        if not answer.rings:
            assert comparison.reference is None
            assert comparison.changes == []
            assert comparison.joints == []
            continue
        assert comparison.notes == []
        assert [change.summary for change in comparison.changes] == ["no change"] * 2
        for change in comparison.changes:
            assert change.joints_shared == len(answer.rings)
            lists = change.model_dump(exclude={"name", "joints_shared", "summary"})
            assert not any(lists.values())


def test_differences_are_the_differences_of_the_answers_own_totals() -> None:
    for first, second in pairs():
        comparison = side_by_side(first, second)
        for total in comparison.totals:
            for place, answer in enumerate((first, second)):
                value = total.values[place]
                if total.robot is None and total.basis is None:
                    own = getattr(answer.totals, total.name) if answer.totals else None
                    assert value == own
                elif total.name == "tool_point_um" and total.basis == answer.basis:
                    own = [p.error_um for p in answer.tool_points if p.robot == total.robot]
                    assert value == (own[0] if own else None)
                elif total.name == "largest_error_arcsec" and total.basis == answer.basis:
                    assert value == max((r.error_arcsec for r in answer.rings), default=None)
            before, after = total.values
            if before is not None and after is not None and comparison.reference == 0:
                assert total.differences == [0, after - before]
            elif comparison.reference == 0:
                assert total.differences[1] is None


def test_the_other_way_round_every_difference_changes_its_sign() -> None:
    for first, second in pairs():
        if not (first.rings and second.rings):
            continue
        here, there = side_by_side(first, second), side_by_side(second, first)
        others = {(t.name, t.robot, t.basis): t for t in there.totals}
        assert len(others) == len(here.totals)
        for total in here.totals:
            other = others[(total.name, total.robot, total.basis)]
            assert other.values == total.values[::-1]
            difference = total.differences[1]
            assert other.differences[1] == (None if difference is None else -difference)
        (change,), (back,) = here.changes, there.changes
        assert sorted(change.joints_added) == sorted(back.joints_dropped)
        assert change.joints_shared == back.joints_shared
        assert set(change.other_ring) == set(back.other_ring)
        assert set(change.other_heads) == set(back.other_heads)
        assert change.parts_added == back.parts_dropped
        assert change.parts_dropped == back.parts_added
        assert change.cutters_added == back.cutters_dropped


def test_parts_and_cutters_balance_and_rings_that_changed_are_named() -> None:
    for first, second in pairs():
        if not (first.rings and second.rings):
            continue
        (change,) = side_by_side(first, second).changes
        assert first.totals is not None
        assert second.totals is not None
        parts = len(change.parts_added) - len(change.parts_dropped)
        assert parts == second.totals.ring_parts - first.totals.ring_parts
        tools = len(change.cutters_added) - len(change.cutters_dropped)
        assert tools == second.totals.cutters - first.totals.cutters
        rings = {f"{r.robot}/{r.joint}": r for r in first.rings}
        wanted, heads = set(), set()
        for ring in second.rings:
            before = rings.get(f"{ring.robot}/{ring.joint}")
            if before is None:
                continue
            if any(
                getattr(ring, name) != getattr(before, name)
                for name in (
                    "module_mm", "teeth", "bore_mm", "tip_diameter_mm", "root_diameter_mm",
                    "face_width_mm", "flank_class",
                )
            ):  # fmt: skip
                wanted.add(f"{ring.robot}/{ring.joint}")
            if ring.heads != before.heads:
                heads.add(f"{ring.robot}/{ring.joint}")
        assert set(change.other_ring) == wanted
        assert set(change.other_heads) == heads


def test_ten_answers_are_compared_each_with_the_first_alone() -> None:
    answers = [answer for answer in variants() if answer.rings][:10]
    together = side_by_side(*answers)
    assert len(together.answers) == min(10, len(answers)) >= 8
    for place, answer in enumerate(answers[1:], start=1):
        alone = side_by_side(answers[0], answer)
        ours, theirs = together.changes[place - 1], alone.changes[0]
        assert ours.model_dump(exclude={"name", "summary", "other_settings"}) == theirs.model_dump(
            exclude={"name", "summary", "other_settings"}
        )


def joints_of(comparison: Comparison) -> dict[str, ComparedJoint]:
    return {joint.label: joint for joint in comparison.joints}


def test_a_joint_in_one_answer_only_is_shown_so() -> None:
    fewer = small()
    fewer["robots"][0]["joints"][2] = joint("joint 9", 44.0)
    comparison = side_by_side(answer_to(small()), answer_to(fewer))
    joints = joints_of(comparison)
    assert [r is None for r in joints["arm/joint 3"].rings] == [False, True]
    assert [r is None for r in joints["arm/joint 9"].rings] == [True, False]
    assert joints["arm/joint 9"].rings[1] is not None
    assert joints["arm/joint 9"].rings[1].differs == []
    (change,) = comparison.changes
    assert (change.joints_added, change.joints_dropped) == (["arm/joint 9"], ["arm/joint 3"])
    assert change.joints_shared == 2
    text = "arm/joint 9 added and arm/joint 3 missing, so its totals are not of the same joints"
    assert comparison.notes[0] == f"answer 1: {text}."
    assert "arm/joint 9 added; arm/joint 3 missing" in change.summary


def test_a_robot_in_one_answer_only_is_told_as_a_whole() -> None:
    comparison = compare_answers([entry_of("a", small()), entry_of("b", two_robots())])
    assert "b: robot table added, so its totals are not of the same joints." in comparison.notes
    assert "; robot table added" in comparison.changes[0].summary
    assert comparison.changes[0].joints_added == ["table/plate"]
    told = {line.path: line.values for line in comparison.inputs}
    assert told["table"] == ["absent", "present"]
    assert told["arm.tool_point_target_um"] == ["none", "400"]
    assert not any(path.startswith("table/") for path in told)


def test_joints_stand_base_to_tool_where_a_study_tells_the_order() -> None:
    data = small()
    names = ["shoulder", "elbow", "flange"]
    for row, name in zip(data["robots"][0]["joints"], names, strict=True):
        row["name"] = name
    study, answer = solved(json.dumps(data))
    known = compare_answers([Entry("a", answer), Entry("b", answer, study)])
    assert [joint.joint for joint in known.joints] == names
    unknown = compare_answers([Entry("a", answer), Entry("b", answer)])
    assert [joint.joint for joint in unknown.joints] == sorted(names)


@pytest.mark.parametrize("rule", ["rss", "sum"])
def test_different_bases_are_said_and_errors_shown_on_both(rule: str) -> None:
    """The other basis is what the same rings come to when rated on it."""
    data = small()
    data["robots"][0]["tool_point_rule"] = rule
    worst = json.loads(json.dumps(data))
    worst["target"] = {"angle_target_arcsec": 240.0, "basis": "worst_case"}
    study, answer = solved(json.dumps(worst))
    comparison = side_by_side(answer_to(data), answer)
    assert comparison.bases == ["expanded", "worst_case"]
    assert comparison.notes[0].startswith("The bases of the targets differ")
    assert comparison.notes[0].endswith("errors are shown on both.")
    assert "angle target 240 instead of 200 arcsec at every joint" in comparison.notes[1]
    other = study.model_copy(
        update={"target": study.target.model_copy(update={"basis": "expanded"})}
    )
    levers = []
    for ring in answer.rings:
        robot, place = find_joint(other, ring.joint, ring.robot)
        rated, _ = rate_one(
            other, robot, place, ring.module_mm, ring.teeth, ring.bore_mm, ring.heads
        )
        levers.append(rated.tool_point_um)
    wanted = math.hypot(*levers) if rule == "rss" else math.fsum(levers)
    points = {t.basis: t for t in comparison.totals if t.name == "tool_point_um"}
    assert points["expanded"].values[1] == pytest.approx(wanted, rel=1e-9)
    assert points["worst_case"].values[1] == answer.tool_points[0].error_um
    assert "(95 % of readings, k = 2)" in comparison.changes[0].summary


def test_everything_asked_or_counted_otherwise_is_noted() -> None:
    data = small()
    data["robots"][0]["count"] = 5
    data["robots"][0]["tool_point_target_um"] = 900.0
    data["robots"][0]["tool_point_rule"] = "sum"
    data["robots"][0]["joints"][1]["angle_target_arcsec"] = 250.0
    notes = side_by_side(answer_to(small()), answer_to(data)).notes
    assert "answer 1: angle target 250 instead of 200 arcsec at arm/joint 2." in notes
    assert "answer 1: tool-point target of arm 900 um instead of none." in notes
    assert "answer 1: tool point of arm combined by sum instead of rss." in notes
    assert "answer 1: 5 of arm built instead of 2; totals count all." in notes
    assert "it is not known in which inputs" in notes[-1]
    assert len(notes) == 5


def test_inputs_that_differ_are_listed_for_studies_and_only_for_them() -> None:
    data = small()
    data["shop"]["rack"] = "stub"
    data["robots"][0]["joints"][0]["reach_mm"] = 450.0
    del data["robots"][0]["joints"][2]
    before, after = entry_of("a", small()), entry_of("b", data)
    comparison = compare_answers([before, after])
    told = {line.path: line.values for line in comparison.inputs}
    assert told == {
        "shop.rack": ["full", "stub"],
        "arm/joint 1.reach_mm": ["500", "450"],
        "arm/joint 3": ["present", "absent"],
    }
    assert not any("not known" in note for note in comparison.notes)
    stranger = answer_to(two_robots())
    mixed = compare_answers([before, after, Entry("c", stranger), Entry("d", before.answer)])
    values = {line.path: line.values for line in mixed.inputs}["shop.rack"]
    assert values == ["full", "stub", None, "full"], "d answers the study of a"
    assert any("without the study of c" in note for note in mixed.notes)
    assert compare_answers([Entry("a", before.answer), Entry("b", after.answer)]).inputs == []


def test_listing_joints_in_another_order_is_no_difference() -> None:
    data = small()
    data["robots"][0]["joints"].reverse()
    comparison = compare_answers([entry_of("a", small()), entry_of("b", data)])
    assert comparison.inputs == []
    assert comparison.notes == []
    assert comparison.changes[0].summary == "no change"


def test_an_impossible_answer_leaves_the_others_compared() -> None:
    impossible, first = variants()[-1], answer_to(small())
    second = answer_to(two_robots())
    comparison = side_by_side(impossible, first, second)
    assert comparison.reference == 1
    assert comparison.answers[0].reasons == impossible.reasons != []
    cutters = comparison.totals[0]
    assert cutters.values[0] is None
    assert cutters.differences[0] is None
    assert [change.name for change in comparison.changes] == ["answer 2"]
    alone = side_by_side(first, second)
    assert comparison.changes[0].summary == alone.changes[0].summary
    assert "answer 0 holds no rings (impossible); differences are against answer 1." in (
        comparison.notes
    )


def test_a_finer_flank_class_makes_another_part_of_the_same_sizes() -> None:
    """Two parts that differ only in what their drawing says of the flanks are two parts."""
    data = small()
    data["shop"]["flank_class"] = 5
    data["shop"]["clamp_runout_share"] = None
    data["wishes"] = {"order": ["material"]}
    rough = json.loads(json.dumps(data))
    rough["shop"]["flank_class"] = 6
    comparison = side_by_side(answer_to(rough), answer_to(data))
    rings = comparison.joints[0].rings
    assert rings[1] is not None
    assert "flank_class" in rings[1].differs
    assert set(comparison.changes[0].other_ring) == {j.label for j in comparison.joints}


def test_totals_are_the_answers_own_even_where_no_judge_would_pass_them() -> None:
    answer = answer_to(small())
    assert answer.totals is not None
    wrong = answer.totals.model_copy(update={"material_kg": 99.0})
    comparison = side_by_side(answer, answer.model_copy(update={"totals": wrong}))
    material = next(t for t in comparison.totals if t.name == "material_kg")
    assert material.values[1] == 99.0


def test_answers_that_contradict_themselves_are_refused_by_name() -> None:
    answer = answer_to(small())
    ring = answer.rings[0]
    cases: dict[str, Json] = {
        "status: given impossible with 3 rings": {"status": "impossible"},
        "and no totals": {"totals": None},
        "given 2 for arm/joint 1": {"rings": [*answer.rings, ring]},
        "allowed: those the rings name": {"cutters": []},
        "module_mm: given 0": {"rings": [ring.model_copy(update={"module_mm": 0.0})]},
        "given '=1'; allowed: a name": {"rings": [ring.model_copy(update={"joint": "=1"})]},
        "tool_points: given 2 for arm": {"tool_points": [*answer.tool_points, *answer.tool_points]},
        "allowed: rss or sum": {
            "tool_points": [answer.tool_points[0].model_copy(update={"rule": "max"})]
        },
    }
    for text, changed in cases.items():
        with pytest.raises(ValueError, match="answer 1:\n") as error:
            side_by_side(answer, answer.model_copy(update=changed))
        assert text in str(error.value)


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("proven", "found", "no longer proven best"),
        ("found", "proven", "now proven best"),
        ("agreed", "found", "no longer agreed to be best"),
        ("found", "agreed", "now best as the search engines agree, not proven"),
    ],
)
def test_how_sure_an_answer_is_may_be_all_that_changes(before: str, after: str, words: str) -> None:
    both = [answer_to(small()).model_copy(update={"status": name}) for name in (before, after)]
    assert side_by_side(*both).changes[0].summary == words


def test_two_to_ten_answers_each_under_its_own_name() -> None:
    answer = answer_to(small())
    for number in (0, 1, 11):
        with pytest.raises(ValueError, match=f"answers: given {number}; allowed: 2 to 10"):
            side_by_side(*[answer] * number)
    with pytest.raises(ValueError, match="each name once"):
        compare_answers([Entry("a", answer), Entry("a", answer)])


def test_the_json_is_read_back_and_repeats() -> None:
    for first, second in random.Random(1).sample(pairs(), 8):
        comparison = side_by_side(first, second)
        text = comparison.to_json()
        assert Comparison.model_validate_json(text) == comparison
        assert side_by_side(first, second).to_json() == text


positive = st.floats(min_value=1e-3, max_value=1e6)


@given(positive, positive)
def test_two_numbers_that_differ_never_print_alike(before: float, after: float) -> None:
    texts = compared_numbers(before, after)
    if abs(before - after) > 1e-6 * max(before, after):
        assert texts[0] != texts[1]
    for text, value in zip(texts, (before, after), strict=True):
        half = 0.5 * 10.0 ** -len(text.partition(".")[2])
        # the difference of two doubles is itself good to their last bits only
        assert abs(float(text) - value) <= half * 1.000001 + 4e-16 * value
