"""The contract: submit, wait, read, cancel, follow; the same study is the same resource."""

from __future__ import annotations

import json
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from tests.api.running import JSON, Running, study
from tests.support.places import ROOT

SCENARIO = (ROOT / "scenarios" / "two_joint_table.json").read_bytes()


def test_a_study_is_accepted_then_answered(shared: Running) -> None:
    given = shared.submit(study("accepted"))
    assert given.status_code == 202
    identity = given.json()["id"]
    assert given.headers["Location"] == f"/v1/studies/{identity}"
    assert int(given.headers["Retry-After"]) >= 1
    state = shared.wait(identity)
    assert (state["state"], state["status"], state["attempts"]) == ("done", "proven", 1)
    answer = shared.http.get(state["links"]["result"])
    assert answer.status_code == 200
    assert answer.json()["proof"]["versions"]
    assert answer.json()["proof"]["seed"] == 1


def test_a_quick_study_is_answered_in_the_same_call(shared: Running) -> None:
    given = shared.submit(study("quick"), wait=20)
    assert given.status_code == 200
    assert given.headers["Preference-Applied"] == "wait=20"
    assert given.json()["answer"]["status"] == "proven"


def test_the_scenario_is_answered_as_on_the_command_line(
    shared: Running, capsys: pytest.CaptureFixture[str]
) -> None:
    from ringset.cli import main

    main.main(["solve", str(ROOT / "scenarios" / "two_joint_table.json"), "--answer", "-"])
    headers = JSON | {"Prefer": "wait=20"}
    given = shared.http.post("/v1/studies", content=SCENARIO, headers=headers)
    assert given.json()["answer"] == json.loads(capsys.readouterr().out)


def test_an_impossible_study_is_an_answer(shared: Running) -> None:
    given = shared.submit(study("impossible", target={"angle_target_arcsec": 0.01}), wait=20)
    assert given.status_code == 200
    assert given.json()["status"] == "impossible"
    assert given.json()["answer"]["reasons"]


def test_the_same_study_is_answered_from_the_store_at_once(shared: Running) -> None:
    first = shared.submit(study("same", joints=2), wait=20).json()
    turned = study("same", joints=2)
    turned["robots"][0]["joints"].reverse()
    turned["search"] = {"seed": 1}  # the default, spelled out
    again = shared.submit(turned)
    assert again.status_code == 200
    assert again.json() == first
    other = shared.submit(study("same", joints=2, search={"seed": 2}))
    assert other.json()["id"] != first["id"]


def test_the_answer_never_changes_and_has_its_hash_as_tag(shared: Running) -> None:
    links = shared.submit(study("tag"), wait=20).json()["links"]
    first = shared.http.get(links["result"])
    tag = first.headers["ETag"]
    assert not tag.startswith("W/")
    assert "immutable" in first.headers["Cache-Control"]
    again = shared.http.get(links["result"], headers={"If-None-Match": f'"x", {tag}'})
    assert (again.status_code, again.content) == (304, b"")
    assert shared.http.get(links["result"]).content == first.content


def test_an_unmoved_state_is_not_sent_again(shared: Running) -> None:
    links = shared.submit(study("unmoved"), wait=20).json()["links"]
    tag = shared.http.get(links["state"]).headers["ETag"]
    assert shared.http.get(links["state"], headers={"If-None-Match": tag}).status_code == 304


def test_an_answer_is_not_ready_before_its_time(shared: Running) -> None:
    given = shared.submit(study("sleep 20"))
    early = shared.http.get(given.json()["links"]["result"])
    assert (early.status_code, early.json()["code"]) == (409, "not-ready")
    shared.http.post(given.json()["links"]["cancel"])
    shared.until(given.json()["id"], "cancelled")
    late = shared.http.get(given.json()["links"]["result"])
    assert (late.status_code, late.json()["code"]) == (409, "no-result")


@pytest.mark.parametrize("after_ms", [0, 1, 10, 100, 1000])
def test_cancelling_stops_within_a_second(shared: Running, after_ms: int) -> None:
    links = shared.submit(
        study(f"sleep 30 {after_ms}".replace(f" {after_ms}", f".{after_ms + 1}"))
    ).json()
    time.sleep(after_ms / 1000.0)
    began = time.monotonic()
    asked = shared.http.post(links["links"]["cancel"])
    assert asked.status_code in (200, 202)
    shared.until(links["id"], "cancelled", 2.0)
    assert time.monotonic() - began < 1.0
    again = shared.http.post(links["links"]["cancel"])
    assert (again.status_code, again.json()["state"]) == (200, "cancelled")


def test_a_study_that_hogs_the_interpreter_can_be_cancelled(shared: Running) -> None:
    given = shared.submit(study("hog 30")).json()
    shared.until(given["id"], "running")
    began = time.monotonic()
    shared.http.post(given["links"]["cancel"])
    shared.until(given["id"], "cancelled")
    assert time.monotonic() - began < 1.0


def test_a_long_wait_ends_with_202(shared: Running) -> None:
    began = time.monotonic()
    given = shared.submit(study("sleep 21"), wait=1)
    assert given.status_code == 202
    assert 0.9 < time.monotonic() - began < 2.0
    shared.http.post(given.json()["links"]["cancel"])


def test_an_ended_study_stays_as_it_is_when_cancelled(shared: Running) -> None:
    links = shared.submit(study("ended"), wait=20).json()["links"]
    asked = shared.http.post(links["cancel"])
    assert (asked.status_code, asked.json()["state"]) == (200, "done")


def test_fifty_calls_with_one_key_make_one_study(shared: Running) -> None:
    body = study("sleep 0.2")

    def call(_: int) -> tuple[int, str]:
        given = shared.submit(body, key="fifty")
        return given.status_code, given.json()["id"]

    with ThreadPoolExecutor(25) as pool:
        found = list(pool.map(call, range(50)))
    assert {status for status, _ in found} <= {200, 202}
    assert len({identity for _, identity in found}) == 1


def test_a_key_is_for_one_body_only(shared: Running) -> None:
    key = "one-body"
    first = shared.submit(study("key one"), key=key).json()["id"]
    other = shared.submit(study("key two"), key=key)
    assert (other.status_code, other.json()["code"]) == (422, "key-reused")
    assert shared.submit(study("key one"), key=key).json()["id"] == first


def events(
    service: Running, identity: str, after: int | None = None, resource: str = "studies"
) -> list[dict[str, Any]]:
    headers = {} if after is None else {"Last-Event-ID": str(after)}
    found: list[dict[str, Any]] = []
    with service.http.stream("GET", f"/v1/{resource}/{identity}/events", headers=headers) as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        now: dict[str, Any] = {}
        for line in stream.iter_lines():
            if not line and now:
                found.append(now)
                now = {}
            elif line and not line.startswith(":"):
                name, _, value = line.partition(": ")
                now[name] = value
    return found


def test_a_study_can_be_followed_to_its_end(shared: Running) -> None:
    identity = shared.submit(study("talk 8")).json()["id"]
    seen = events(shared, identity)
    names = [event["event"] for event in seen]
    assert names[0] == "queued"
    assert names[-1] == "done"
    assert "progress" in names
    assert names.count("point") == 8
    numbers = [int(event["id"]) for event in seen]
    assert numbers == sorted(set(numbers))
    later = events(shared, identity, after=numbers[3])
    kept = [event for event in seen if event["event"] != "progress"]
    again = [event for event in later if event["event"] != "progress"]
    assert again == [event for event in kept if int(event["id"]) > numbers[3]]


def test_a_reader_that_hangs_up_changes_nothing(shared: Running) -> None:
    given = shared.submit(study("sleep 1.01")).json()
    with shared.http.stream("GET", given["links"]["events"]) as stream:
        next(stream.iter_lines())
    with pytest.raises(Exception, match="timed out"):
        shared.http.post(
            "/v1/studies", json=study("sleep 1.01"), headers={"Prefer": "wait=20"}, timeout=0.2
        )
    assert shared.wait(given["id"])["state"] == "done"


def test_studies_are_listed_newest_first_page_by_page(shared: Running) -> None:
    made = [shared.submit(study(f"listed {i}")).json()["id"] for i in range(5)]
    seen: list[str] = []
    query: dict[str, Any] = {"limit": 2}
    for _ in range(100):
        page = shared.http.get("/v1/studies", params=query).json()
        assert len(page["studies"]) <= 2
        seen += [row["id"] for row in page["studies"]]
        if "next" not in page or set(made) <= set(seen):
            break
        query["cursor"] = page["next"]
    assert [identity for identity in seen if identity in made] == made[::-1]
    assert len(seen) == len(set(seen))


def test_other_calls_are_answered_while_both_slots_work(shared: Running) -> None:
    busy = [shared.submit(study(f"sleep 5.{i}")).json() for i in range(2)]
    for job in busy:
        shared.until(job["id"], "running")
    times = []
    for _ in range(50):
        began = time.monotonic()
        assert shared.http.get("/livez").status_code == 200
        times.append(time.monotonic() - began)
    assert max(times) < 0.5
    waiting = shared.submit(study("behind"), wait=1)
    assert (waiting.status_code, waiting.json()["state"]) == (202, "queued")
    for job in busy:
        shared.http.post(job["links"]["cancel"])
    assert shared.wait(waiting.json()["id"])["state"] == "done"


def test_no_answer_waits_for_the_network(shared: Running) -> None:
    """Small answers leave at once: with Nagle's algorithm each would take 40 ms more."""
    body = study("network")
    shared.submit(body, wait=20)
    times = []
    for _ in range(30):
        began = time.monotonic()
        assert shared.submit(body).status_code == 200
        times.append(time.monotonic() - began)
    assert sorted(times)[3] < 0.03  # a loaded machine delays some


def test_waiting_calls_do_not_stop_others(shared: Running) -> None:
    held = shared.submit(study("sleep 2.02")).json()
    bodies = [study("sleep 2.02") for _ in range(60)]
    threads = [threading.Thread(target=shared.submit, args=(b, 20)) for b in bodies]
    for thread in threads:
        thread.start()
    began = time.monotonic()
    assert shared.http.get("/v1/about").status_code == 200
    assert time.monotonic() - began < 1.0
    for thread in threads:
        thread.join()
    assert shared.wait(held["id"])["state"] == "done"
