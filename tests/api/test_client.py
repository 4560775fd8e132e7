"""The Python client drives the whole job."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from ringset.api.client import Client, ServiceProblem, Submitted
from tests.api.running import Running, study
from tests.api.test_gateway import make
from tests.support.places import ROOT


def test_submit_wait_fetch(client: Client) -> None:
    text = (ROOT / "scenarios" / "two_joint_table.json").read_text()
    ended = client.wait(client.submit(text))
    answer = client.answer(ended)
    assert answer.status == "proven"
    assert json.loads(client.result(ended)) == json.loads(answer.model_dump_json())
    again = client.submit(json.loads(text), wait_s=5, repeat_key="again")
    assert (again.id, again.ended) == (ended.id, True)
    assert again.result is not None
    assert client.judge(json.loads(text), again.result) == []


def test_follow_and_cancel(client: Client) -> None:
    names = [
        event.name for event in client.follow(client.submit(study("talk 4.1".replace(".1", ""))))
    ]
    assert names[-1] == "done"
    long = client.submit(study("sleep 50"))
    for event in client.follow(long):
        if event.name == "running":
            client.cancel(long)
    assert client.wait(long).state == "cancelled"
    with pytest.raises(TimeoutError):
        client.wait(client.submit(study("sleep 51")), timeout_s=0.1)
    client.cancel(client.submit(study("sleep 51")))


def test_follow_is_taken_up_again_after_a_restart(
    start: Callable[..., Running], sqlite_url: str
) -> None:
    service = start(sqlite_url)
    with Client(service.url, tries=60) as client:
        seen = []
        for event in client.follow(client.submit(study("sleep 1.3"))):
            seen.append(event)
            if event.name == "running" and event.number == 2:
                service.kill()
                service = start(sqlite_url, port=service.port)
        names = [event.name for event in seen if event.name != "progress"]
        assert names == ["queued", "running", "queued", "running", "done"]
        numbers = [event.number for event in seen]
        assert numbers == sorted(set(numbers))


def test_answers_are_set_side_by_side(client: Client) -> None:
    loose, tight = (
        client.submit(study("side", joints=2, target={"angle_target_arcsec": angle}), wait_s=20)
        for angle in (200, 60)
    )
    found = client.compare({"loose": loose, "tight": tight})
    assert [answer.name for answer in found.answers] == ["loose", "tight"]
    assert found.inputs  # the studies are known here: what differs between them is told
    assert tight.result is not None
    again = client.compare({"loose": loose, "tight": tight.result})
    assert again.totals == found.totals
    with pytest.raises(ServiceProblem, match="cannot be compared") as raised:
        client._call("POST", "/v1/comparisons", json={"entries": [
            {"name": "same", "study_id": loose.id}, {"name": "same", "study_id": tight.id}]})  # fmt: skip
    assert raised.value.errors[0]["pointer"] == "/entries"
    with pytest.raises(ServiceProblem, match="nothing here"):
        client.compare({"a": loose, "b": Submitted("none", "answer", "done")})
    with pytest.raises(ServiceProblem, match="one of the two"):
        client._call("POST", "/v1/comparisons", json={"entries": [{"name": "a"}, {"name": "b"}]})
    waiting = client.submit(study("sleep 52"))
    with pytest.raises(ServiceProblem, match="not ended yet"):
        client.compare({"a": loose, "b": waiting})
    client.cancel(waiting)


def test_rate_and_standards(client: Client) -> None:
    ring, broken = client.rate(study("r"), "j0", 1.0, teeth=90, rim_mm=6.0, heads=2)
    assert ring.teeth == 90
    assert all(isinstance(limit, str) for limit in broken)
    assert "modules" in client.standards()
    assert client.standard("modules")[0]["source"]


def test_problems_are_raised_with_their_fields(client: Client) -> None:
    with pytest.raises(ServiceProblem, match="/target: allowed") as raised:
        client.submit({"robots": []})
    assert raised.value.code == "invalid"
    assert raised.value.status == 422
    with pytest.raises(ServiceProblem, match="nothing here"):
        client.state("none")
    with pytest.raises(ServiceProblem):
        next(client.follow("none"))


def test_a_key_is_sent_and_later_means_later(
    start: Callable[..., Running], sqlite_url: str
) -> None:
    key = make(sqlite_url, "client")["Authorization"].removeprefix("Bearer ")
    service = start(sqlite_url, require_key="true", rate_per_s=2, rate_burst=1)
    with Client(service.url, key) as client:
        for _ in range(3):
            assert client.standards()
    with Client(service.url) as nobody, pytest.raises(ServiceProblem, match="key"):
        nobody.standards()
