"""Advice: every change is the ring rated again, only helpful ones are told, the best first."""

from __future__ import annotations

import json

import pytest

from ringset.analysis.alternatives.advice import WORTH, advice_on_answer, error_changes
from ringset.analysis.alternatives.single_ring import rate_one
from ringset.catalogue.rows import Catalogue
from ringset.rating.error_budget import rated_error_budget
from ringset.reporting.answer_text import answer_text
from ringset.schema.answer import JointRing
from ringset.schema.joint import Joint
from ringset.schema.loading import load_study
from ringset.schema.study import Robot, Study
from ringset.solving.pipeline import solve
from tests.support.studies import load, small


def one(
    heads: int, teeth: int, head: dict[str, float] | None = None, **joint: object
) -> tuple[Study, Robot, Joint, JointRing]:
    """Return the study's parts and the ring of one joint with these heads and teeth."""
    row = {"name": "joint", "bore_min_mm": 40, "bore_max_mm": 200, "tip_max_mm": 220} | joint
    data = {
        "robots": [{"name": "arm", "joints": [row]}],
        "head": head or {},
        "target": {"angle_target_arcsec": 300},
    }
    study: Study = load_study(json.dumps(data))
    robot = study.robots[0]
    ring, _ = rate_one(study, robot, robot.joints[0], 1.0, teeth, teeth - 14.0, heads)
    return study, robot, robot.joints[0], ring


def test_a_second_head_comes_first_for_a_single_one() -> None:
    study, robot, joint, ring = one(1, 100)
    found = error_changes(study, robot, joint, ring)
    assert found[0].text == "a second, opposed head"
    again, _ = rate_one(study, robot, joint, 1.0, 100, 86.0, 2)
    assert found[0].error_arcsec == again.error_arcsec
    assert found[0].within


def test_the_limits_that_a_change_breaks_are_named() -> None:
    study, robot, joint, ring = one(1, 100, head_counts=[1], tip_max_mm=104)
    found = {change.kind: change for change in error_changes(study, robot, joint, ring)}
    assert found["heads"].breaks == ["head_counts"]
    assert found["larger"].breaks == ["tip_max_mm"]
    assert found["flank_class"].breaks == []
    assert all(change.within == (change.breaks == []) for change in found.values())


def test_changes_help_and_stand_in_order() -> None:
    for heads in (1, 2, 3):
        study, robot, joint, ring = one(heads, 96)
        errors = [change.error_arcsec for change in error_changes(study, robot, joint, ring)]
        assert errors == sorted(errors)
        assert all(error < (1.0 - WORTH) * ring.error_arcsec for error in errors)


def test_odd_teeth_are_told_where_they_pay() -> None:
    """With well placed heads and common errors, an even count wastes what two heads could cancel."""
    placed = {"placement_tolerance_deg": 0.02, "common_share": 1.0, "residual_offset": 0.01}
    texts = [change.text for change in error_changes(*one(2, 96, placed))]
    assert "95 teeth, an odd count" in texts
    assert not any("odd count" in change.text for change in error_changes(*one(2, 97, placed)))
    assert not any("odd count" in change.text for change in error_changes(*one(1, 96, placed)))


def test_a_smaller_offset_is_told_by_how_the_ring_is_seated() -> None:
    texts = [change.text for change in error_changes(*one(1, 100, seat_offset_um=40.0))]
    assert "the ring set to 20 um off centre (dial reading 40 um)" in texts
    read = [change.text for change in error_changes(*one(1, 100, seat_tir_um=80.0))]
    assert read == texts
    texts = [change.text for change in error_changes(*one(1, 100, seat_fit="H8/f7"))]
    words = "the ring set by its bore to 5 um off centre instead of seated by its fit"
    assert f"{words} (dial reading 10 um)" in texts


def test_a_ring_set_by_its_tips_is_advised_to_be_set_by_its_bore() -> None:
    """With the error that the same ring has where its joint states the bore; else nothing of it is told."""
    study, robot, joint, ring = one(1, 100, set_by="tips", seat_tir_um=24.0)
    found = {change.kind: change for change in error_changes(study, robot, joint, ring)}
    by_bore = one(1, 100, set_by="bore", seat_tir_um=24.0)[3]
    assert found["set_by"].error_arcsec == by_bore.error_arcsec < ring.error_arcsec
    assert found["set_by"].value == 12.0
    # a smaller offset leaves the tips as the circle
    halved = one(1, 100, set_by="tips", seat_offset_um=6.0)[3]
    assert found["offset"].error_arcsec == halved.error_arcsec
    for plain in (
        one(1, 100),
        one(1, 100, set_by="bore"),
        one(1, 100, seat_fit="H7/h6"),
    ):
        assert all(change.kind != "set_by" for change in error_changes(*plain))


def test_the_search_picks_odd_teeth_where_they_pay() -> None:
    """Between 96 and 97 teeth the lighter ring wins unless only the odd one meets the target."""
    head = {
        "placement_tolerance_deg": 0.02, "common_share": 1.0, "residual_offset": 0.01,
        "teeth_min": 96, "teeth_max": 97,
    }  # fmt: skip
    study, robot, joint, even = one(2, 96, head, head_counts=[2])
    odd, _ = rate_one(study, robot, joint, 1.0, 97, 83.0, 2)
    assert odd.error_arcsec < 0.95 * even.error_arcsec

    def chosen(target: float) -> int:
        tighter = study.target.model_copy(update={"angle_target_arcsec": target})
        shop = study.shop.model_copy(update={"modules": [1.0]})
        answer = solve(study.model_copy(update={"target": tighter, "shop": shop}))
        return answer.rings[0].teeth

    assert chosen(1.2 * even.error_arcsec) == 96
    assert chosen((odd.error_arcsec + even.error_arcsec) / 2.0) == 97


def test_the_report_tells_it(capsys: pytest.CaptureFixture[str]) -> None:
    study = load(small())
    answer = solve(study)
    text = answer_text(study, answer, advice_on_answer(study, answer))
    assert "What would lower the error most" in text
    assert "arm/joint 1: now" in text


def test_joints_advised_together_are_advised_as_each_alone() -> None:
    study = load(small())
    answer = solve(study)
    advice = advice_on_answer(study, answer)
    joints = {(r.name, j.name): (r, j) for r in study.robots for j in r.joints}
    assert set(advice) == set(joints)
    assert any(advice.values())
    for ring in answer.rings:
        place = (ring.robot, ring.joint)
        assert advice[place] == error_changes(study, *joints[place], ring)


def test_an_answer_is_rated_once_more_to_compose_it_and_its_advice_once_a_flank_class(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Every joint's rows in one block, the chosen ones again in full, and the changes of all joints."""
    rows: list[int] = []

    def counted(study: Study, some: Catalogue, *more: object) -> object:
        rows.append(len(some))
        return rated_error_budget(study, some, *more)  # type: ignore[arg-type]

    monkeypatch.setattr("ringset.rating.rate.rated_error_budget", counted)
    study = load(small())
    answer = solve(study)
    assert rows[1:] == [len(answer.rings)]
    advice_on_answer(study, answer)
    assert len(rows) == 4
