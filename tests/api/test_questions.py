"""What else can be asked of a study: its front, and what stands in its way."""

from __future__ import annotations

import json
from typing import Any

import pytest

from ringset import (
    explain_study,
    find_band,
    find_front,
    load_study,
    rank_assumptions,
    solve_certified,
    solve_losses,
    solve_steps,
)
from ringset.api.client import Client, ServiceProblem
from tests.api.running import Running, study
from tests.support.places import ROOT


def test_a_front_comes_point_by_point(client: Client) -> None:
    asked = study("front", joints=3)
    made = client.submit(asked, "front", over=["ring_parts", "material"], targets_arcsec=[90, 150])
    events = list(client.follow(made))
    ended = client.wait(made)
    front = client.front(ended)
    points = [event for event in events if event.name == "point"]
    assert len(points) >= len({json.dumps(p.answer.model_dump(mode="json")) for p in front.points})
    assert points[0].data["totals"]["ring_parts"] >= 1
    direct = find_front(load_study(json.dumps(asked)), ["ring_parts", "material"], [90, 150])
    assert front == direct
    assert ended.status == "complete"
    again = client.submit(asked, "front", over=["ring_parts", "material"], targets_arcsec=[90, 150])
    assert (again.id, again.ended) == (made.id, True)
    other = client.submit(asked, "front", over=["ring_parts", "material"])
    assert other.id != made.id  # the options are part of what is asked
    with pytest.raises(ServiceProblem, match="find=front"):
        client._call("GET", f"/v1/studies/{other.id}/answer")


def test_steps_of_the_wishes_are_those_of_the_package(client: Client) -> None:
    """What one step more buys, as data: the same as in Python, and none for an impossible study."""
    text = (ROOT / "scenarios" / "heavy_for_a_head.json").read_text()
    made = client.wait(client.submit(text, "steps", wait_s=60))
    found = client.steps(made)
    assert made.status == found.status == "proven"
    assert found == solve_steps(load_study(text))
    assert [step.wish for step in found.steps] == ["cutters", "ring_parts", "heads"]
    tight = (ROOT / "scenarios" / "impossible_wrist.json").read_text()
    assert client.steps(client.wait(client.submit(tight, "steps", wait_s=60))).steps == []


def test_losses_are_those_of_the_package(client: Client) -> None:
    """What it costs to lose a thing of the answer; nothing is lost of a study that has none."""
    asked = study("losses", joints=2)
    made = client.wait(client.submit(asked, "losses", wait_s=60))
    found = client.losses(made)
    assert made.status == found.status == "proven"
    assert found == solve_losses(load_study(json.dumps(asked)))
    assert {loss.kind for loss in found.losses} == {"cutter", "head", "ring part"}
    answers = [loss.answer for loss in found.losses if loss.answer is not None]
    assert answers
    for answer in answers:
        assert client.judge(asked, json.loads(answer.to_json())) == []
    assert client.submit(asked, "losses", wait_s=60).id == made.id
    tight = (ROOT / "scenarios" / "impossible_wrist.json").read_text()
    nothing = client.wait(client.submit(tight, "losses", wait_s=60))
    assert nothing.status == "impossible"
    assert client.losses(nothing).losses == []


def test_blockers_are_found_and_reliefs_free(client: Client) -> None:
    text = (ROOT / "scenarios" / "impossible_wrist.json").read_text()
    made = client.submit(text, "blockers", wait_s=60)
    found = client.blockers(client.wait(made))
    assert found == explain_study(load_study(text))
    assert found.status == "impossible"
    assert found.blockers
    assert found.singles
    kept = client.submit(text, "blockers", wait_s=60, fixed=["joints.wrist.tip_max_mm"])
    paths = [c.path for way in client.blockers(client.wait(kept)).singles for c in way.changes]
    assert not any("tip_max_mm" in path for path in paths)


def test_a_possible_study_tells_what_its_limits_cost(client: Client) -> None:
    made = client.submit(study("costs", joints=2), "blockers", wait_s=60, step_percent=2.5)
    found = client.blockers(client.wait(made))
    assert found.status == "possible"
    assert found.prices


def test_assumptions_and_band_are_those_of_the_library(client: Client) -> None:
    asked = study("rests on", joints=2)
    direct = load_study(json.dumps(asked))
    made = client.submit(asked, "assumptions", wait_s=60)
    assert client.assumptions(client.wait(made)) == rank_assumptions(direct)
    band = client.submit(asked, "band", wait_s=60)
    assert client.band(client.wait(band)) == find_band(direct)


def test_a_certificate_comes_with_its_answer_and_is_checked_without_a_solver(
    client: Client,
) -> None:
    asked = study("proven", joints=2)
    made = client.certificate(client.wait(client.submit(asked, "certificate", wait_s=60)))
    assert made == solve_certified(load_study(json.dumps(asked)))
    assert made.certificate is not None
    answer, proofs = json.loads(made.answer.to_json()), json.loads(made.certificate.to_json())
    found = client.verify(asked, answer, proofs)
    assert found["complete"]
    states = [stage["state"] for stage in found["stages"]]
    assert states == ["verified"] * len(made.answer.proof.stages)
    proofs["stages"][0]["value"] += 1
    spoilt = client.verify(asked, answer, proofs)
    assert spoilt["refused"]
    assert spoilt["faults"] == [
        "seal: given another than that of the content; the file was changed"
    ]
    tight = {**asked, "target": {"angle_target_arcsec": 0.01}}
    nothing = client.certificate(client.wait(client.submit(tight, "certificate", wait_s=60)))
    assert nothing.answer.status == "impossible"
    assert nothing.certificate is None


def test_a_default_that_is_stated_is_another_question(client: Client) -> None:
    asked = study("stated default", joints=1)
    stated = {**asked, "head": {**asked.get("head", {}), "noise_ratio": 0.001}}
    answers = [client.submit(one, wait_s=60).id for one in (asked, stated)]
    ranked = [client.submit(one, "assumptions", wait_s=60) for one in (asked, stated)]
    assert answers[0] == answers[1]
    assert ranked[0].id != ranked[1].id
    paths = [{i.path for i in client.assumptions(client.wait(one)).inputs} for one in ranked]
    assert paths[0] - paths[1] == {"head.noise_ratio"}


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ({"find": "front", "over": ["cutters"]}, "over"),
        ({"find": "front", "over": ["cutters", "cutters"]}, "over"),
        ({"find": "front", "over": ["material", "cost"]}, "over"),
        ({"find": "front", "over": ["gold", "cutters"]}, "over"),
        ({"find": "front", "targets_arcsec": [-1]}, "targets_arcsec"),
        ({"find": "front", "over": ["heads", "heads"]}, "over"),
        ({"find": "front", "step": 0}, "step"),
        ({"find": "front", "step": 50.5}, "step"),
        ({"find": "front", "step": "fine"}, "step"),
        ({"find": "front", "step": 5}, "step: allowed: a step where both material and cost"),
        ({"find": "blockers", "step": 5}, "step: allowed: not with find=blockers"),
        ({"find": "front", "fixed": ["x"]}, "fixed: allowed: not with find=front"),
        ({"find": "answer", "over": ["cutters", "heads"]}, "over: allowed: not with find=answer"),
        ({"find": "blockers", "fixed": ["joints.none.tip_max_mm"]}, "fixed"),
        ({"find": "blockers", "step_percent": 0}, "step_percent"),
        ({"find": "losses", "only": ["dxf"]}, "only: allowed: not with find=losses"),
        ({"find": "band", "over": ["cutters", "heads"]}, "over: allowed: not with find=band"),
        ({"find": "gold"}, "find"),
    ],
)
def test_questions_that_make_no_sense(shared: Running, query: dict[str, Any], words: str) -> None:
    given = shared.http.post("/v1/studies", params=query, json=study("query"))
    assert given.status_code == 422
    assert given.json()["code"] == "invalid"
    assert words in json.dumps(given.json()["errors"])


def test_a_front_over_both_amounts_takes_a_step(client: Client) -> None:
    asked = study("both amounts", joints=2)
    asked["shop"] = {
        **asked.get("shop", {}),
        "prices": {
            "cutter": 90.0, "set_up_per_ring_part": 35.0, "material_per_kg": 4.0, "head": 12.0,
            "machine_per_hour": 60.0, "cutting_minutes_per_tooth": {"6": 0.05},
        },
    }  # fmt: skip
    over = ["material", "cost"]
    for step, percent in ((None, 5.0), (10, 10.0), ("exact", 0.0)):
        options: dict[str, Any] = {} if step is None else {"step": step}
        made = client.submit(asked, "front", wait_s=60, over=over, **options)
        found = client.front(made)
        assert (found.step_percent, found.minimised) == (percent, "cost")
        assert found.points
        assert found.notes == []
    noted = client.front(client.submit(asked, "front", wait_s=60))
    assert "shop.prices count nothing here" in noted.notes[0]
