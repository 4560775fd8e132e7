"""Sweeps over the API: a table of many changed studies that nothing can lose and one row cannot spoil."""

from __future__ import annotations

import csv
import io
import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from ringset.api.client import Client, ServiceProblem
from ringset.cli import main
from tests.api.running import Running, study
from tests.api.test_contract import events
from tests.api.test_gateway import make
from tests.api.test_problems import problem
from tests.support.places import ROOT

TABLE = ROOT / "scenarios" / "two_joint_table.json"
POISON = 66.6  # tests/api/faults.py


def targets(title: str, *values: float, **over: Any) -> dict[str, Any]:
    """Return a sweep over the angle target."""
    option = "target.angle_target_arcsec=" + ",".join(map(str, values))
    return {"study": study(title, **over), "vary": [option]}


def busy(service: Running) -> float:
    lines = service.http.get("/metrics").text.splitlines()
    return float(next(line for line in lines if line.startswith("ringset_slots_busy")).split()[1])


def test_the_table_has_the_bytes_of_the_command_line(client: Client, tmp_path: Path) -> None:
    """Proven, impossible and invalid rows, some of them equal."""
    vary = ["joints.turn.tip_max_mm=98:126:7", "shop.flank_class=6,12,6"]
    file = tmp_path / "t.csv"
    words = [word for option in vary for word in ("--vary", option)]
    assert main.main(["sweep", str(TABLE), *words, "--table", str(file)]) == 0
    made = client.sweep(json.loads(TABLE.read_text()), vary)
    ended = client.wait_sweep(made)
    assert (ended.state, ended.rows["all"], ended.rows["done"]) == ("done", 15, 15)
    assert client.table(ended) == file.read_bytes()
    rows = list(client.rows(ended))
    assert [row["row"] for row in rows] == list(range(15))
    assert {row["status"] for row in rows} == {"proven", "impossible", "invalid"}
    told = list(csv.DictReader(io.StringIO(file.read_text())))
    for row, line in zip(rows, told, strict=True):
        assert row["values"]["joints.turn.tip_max_mm"] == float(line["joints.turn.tip_max_mm"])
        assert (row["status"], row.get("study_sha256", "")) == (
            line["status"],
            line["study_sha256"],
        )
        if row["status"] == "proven":
            assert row["material_kg"] == float(line["material_kg"])


def test_a_list_of_changes_and_the_study_of_a_row(shared: Running, client: Client) -> None:
    paths = ["target.angle_target_arcsec", "shop.modules"]
    given: list[list[Any]] = [[90, [1]], [120, [1, 1.25]], [0.01, [1]], ["wide", [1]]]
    made = client.sweep(study("listed", joints=2), paths=paths, rows=given, wait_s=30)
    assert made.ended
    rows = list(client.rows(made))
    assert [list(row["values"].values()) for row in rows] == given
    assert [row["status"] for row in rows][2:] == ["impossible", "invalid"]
    there = shared.http.get(f"/v1/sweeps/{made.id}/rows/1/study")
    whole = client.submit(there.content, wait_s=30).result
    assert whole is not None
    assert whole["study_sha256"] == rows[1]["study_sha256"]
    assert whole["totals"]["material_kg"] == rows[1]["material_kg"]
    problem(shared.http.get(f"/v1/sweeps/{made.id}/rows/3/study"), 409, "no-result")
    problem(shared.http.get(f"/v1/sweeps/{made.id}/rows/4/study"), 404, "not-found")


def test_rows_come_page_by_page(shared: Running, client: Client) -> None:
    made = client.sweep(**targets("pages", *range(60, 67)), wait_s=30)
    seen, query = [], {"limit": 3}
    while True:
        page = shared.http.get(f"/v1/sweeps/{made.id}/rows", params=query).json()
        seen += [row["row"] for row in page["rows"]]
        if "next" not in page:
            break
        query["cursor"] = page["next"]
    assert seen == list(range(7))
    newest = shared.http.get("/v1/sweeps", params={"limit": 1}).json()
    assert [row["id"] for row in newest["sweeps"]] == [made.id]
    assert newest["next"]


def test_the_same_sweep_is_the_same_resource(shared: Running, client: Client) -> None:
    body = targets("same sweep", 70, 80)
    first = shared.http.post("/v1/sweeps", json=body, headers={"Prefer": "wait=30"})
    assert first.status_code == 200
    again = shared.http.post("/v1/sweeps", json=body)
    assert (again.status_code, again.json()) == (200, first.json())
    assert again.headers["Location"] == first.json()["links"]["state"]
    wider = client.sweep(**targets("same sweep", 70, 75, 80))
    assert wider.id != first.json()["id"]
    assert wider.rows["done"] >= 2  # what another sweep has solved is not solved again
    table = shared.http.get(first.json()["links"]["table"])
    tag = {"If-None-Match": table.headers["ETag"]}
    assert shared.http.get(first.json()["links"]["table"], headers=tag).status_code == 304
    key = {"Idempotency-Key": "sweep-key"}
    made = shared.http.post("/v1/sweeps", json=body, headers=key)
    assert made.json()["id"] == first.json()["id"]
    other = shared.http.post("/v1/sweeps", json=targets("other", 70), headers=key)
    problem(other, 422, "key-reused")
    problem(shared.http.post("/v1/studies", json=study("k"), headers=key), 422, "key-reused")


def test_one_poisoned_row_fails_alone_and_by_name(shared: Running, client: Client) -> None:
    body = targets("poison", 60, POISON, 70)
    made = client.wait_sweep(client.sweep(**body))
    assert made.state == "done"
    assert (made.rows["done"], made.rows["failed"]) == (2, 1)
    rows = list(client.rows(made))
    assert [row["state"] for row in rows] == ["done", "failed", "done"]
    assert rows[1]["problem"]["code"] == "worker-died"
    line = client.table(made).decode().splitlines()[2]
    assert line.startswith("66.6,failed,The process that worked on the study died: ")
    again = client.sweep(**body)  # a failure is no answer: it is tried again, the others are known
    assert again.id != made.id
    assert again.rows["done"] == 2
    client.wait_sweep(again)


def test_a_sweep_is_followed_to_its_end(shared: Running, client: Client) -> None:
    made = client.sweep(**targets("sleep 0.15", *range(60, 66)))
    seen = list(client.follow_sweep(made))
    assert [event.name for event in seen[:-1]] == ["progress"] * (len(seen) - 1)
    assert seen[-1].name == "done"
    assert seen[-1].data["rows"]["done"] == 6
    done = [event.data["rows"]["done"] for event in seen]
    assert done == sorted(done)
    numbers = [event.number for event in seen]
    assert numbers == sorted(set(numbers))
    assert len(seen) >= 3
    later = events(shared, made.id, after=numbers[-2], resource="sweeps")
    assert [event["event"] for event in later] == ["done"]


def test_cancelling_a_sweep_stops_its_rows_within_a_second(shared: Running, client: Client) -> None:
    made = client.sweep(**targets("sleep 30.5", 60, 61, 62, 63, 64))
    ends = time.monotonic() + 10.0
    while client.sweep_state(made).rows["running"] < 2 and time.monotonic() < ends:
        time.sleep(0.02)
    problem(shared.http.get(f"/v1/sweeps/{made.id}/table"), 409, "not-ready")
    began = time.monotonic()
    asked = client.cancel_sweep(made)
    while not asked.ended:
        asked = client.sweep_state(made)
        time.sleep(0.01)
    assert time.monotonic() - began < 1.0
    assert asked.state == "cancelled"
    assert (asked.rows["cancelled"], busy(shared)) == (5, 0.0)
    assert client.cancel_sweep(made).state == "cancelled"
    assert [event.name for event in client.follow_sweep(made)] == ["cancelled"]
    assert client.table(made).decode().splitlines()[1].split(",")[1] == "cancelled"
    done = client.sweep(**targets("done", 60), wait_s=30)
    assert client.cancel_sweep(done).state == "done"
    again = client.sweep(**targets("sleep 30.5", 60, 61, 62, 63, 64))
    assert again.id != made.id  # what was cancelled may be asked again
    client.cancel_sweep(again)


def test_cancelling_leaves_rows_that_another_sweep_wants(client: Client) -> None:
    one = client.sweep(**targets("sleep 1.15", 60, 61, 62))
    two = client.sweep(**targets("sleep 1.15", 61, 62))
    cancelled = client.cancel_sweep(one)
    ended = client.wait_sweep(two)
    assert (ended.state, ended.rows["done"]) == ("done", 2)
    assert client.wait_sweep(cancelled).state == "cancelled"
    assert client.sweep_state(one).rows["cancelled"] == 1


def test_studies_go_before_rows(start: Callable[..., Running], sqlite_url: str) -> None:
    service = start(sqlite_url, slots=1)
    with Client(service.url) as client:
        made = client.sweep(**targets("sleep 0.5", *range(60, 70)))
        quick = client.submit(study("between"), wait_s=20)
        assert quick.status == "proven"
        standing = client.sweep_state(made)
        assert standing.rows["queued"] >= 6
        listed = service.http.get("/v1/studies").json()["studies"]
        assert [row["id"] for row in listed] == [quick.id]  # rows are no studies of one's own
        client.cancel_sweep(made)


def test_a_kill_in_the_middle_loses_no_row(start: Callable[..., Running], store_url: str) -> None:
    service = start(store_url)
    body = targets("sleep 0.3", *range(60, 70))
    with Client(service.url) as client:
        made = client.sweep(**body)
        assert made.state in ("queued", "running")
        while client.sweep_state(made).rows["done"] < 3:
            time.sleep(0.02)
        kept = [row for row in client.rows(made) if row["state"] == "done"]
    service.kill()
    service = start(store_url)
    with Client(service.url) as client:
        assert client.sweep(**body).id == made.id
        ended = client.wait_sweep(made.id)
        assert (ended.state, ended.rows["done"]) == ("done", 10)
        rows = list(client.rows(ended))
        assert all(row in rows for row in kept)  # not solved twice, not changed


def test_sweeps_have_bounds(start: Callable[..., Running], sqlite_url: str) -> None:
    service = start(sqlite_url, slots=1, sweep_rows_max=5, queue_max=8)
    post = service.http.post
    found = problem(post("/v1/sweeps", json=targets("many", *range(60, 66))), 422, "invalid")
    assert found["errors"] == [{"pointer": "/vary/0", "detail": "allowed: at most 5"}]
    grid = {"study": study("grid"), "vary": ["head.gap_mm=0.3:0.5:0.1", "shop.flank_class=5,6"]}
    assert problem(post("/v1/sweeps", json=grid), 422, "invalid")["errors"][0]["pointer"] == "/vary"
    hold = service.submit(study("sleep 40")).json()
    service.until(hold["id"], "running")
    assert post("/v1/sweeps", json=targets("first", 60, 61, 62)).status_code == 202
    full = post("/v1/sweeps", json=targets("second", 60, 61, 62))
    problem(full, 429, "queue-full")
    assert int(full.headers["Retry-After"]) >= 1
    for i in range(5):
        assert service.submit(study(f"waiting {i}")).status_code == 202
    problem(post("/v1/sweeps", json=targets("third", 60)), 503, "busy")
    service.http.post(hold["links"]["cancel"])


def test_holders_do_not_see_each_others_sweeps(
    start: Callable[..., Running], store_url: str
) -> None:
    one, two = make(store_url, "one"), make(store_url, "two")
    service = start(store_url, require_key="true")
    call, body = service.http, targets("mine", 60, 70)
    mine = call.post("/v1/sweeps", json=body, headers=one | {"Prefer": "wait=30"}).json()
    for link in ("state", "rows", "table", "events"):
        problem(call.get(mine["links"][link], headers=two), 404, "not-found")
    problem(call.post(mine["links"]["cancel"], headers=two), 404, "not-found")
    assert call.get("/v1/sweeps", headers=two).json() == {"sweeps": []}
    theirs = call.post("/v1/sweeps", json=body, headers=two)
    assert theirs.status_code == 200  # every row is known
    assert theirs.json()["id"] != mine["id"]
    tables = [call.get(w["links"]["table"], headers=h).content
              for w, h in ((mine, one), (theirs.json(), two))]  # fmt: skip
    assert tables[0] == tables[1]


@pytest.mark.parametrize(
    ("over", "pointer", "words"),
    [
        ({"vary": []}, "", "vary, or paths and rows"),
        ({"vary": ["head.gap_mm=0.3"], "paths": ["head.gap_mm"], "rows": [[1]]}, "", "vary, or"),
        ({"vary": ["head.gap=0.3"]}, "/vary/0", "head.gap_mm"),
        ({"vary": ["head.gap_mm=0.3", "head.gap_mm=0.4"]}, "/vary", "once"),
        ({"vary": ["head.gap_mm=1:2"]}, "/vary/0", "start:stop:step"),
        ({"vary": ["search.workers=1,2"]}, "/vary/0", "one thread"),
        ({"vary": [7]}, "/vary/0", "string"),
        ({"vary": [], "paths": ["head.gap_mm"], "rows": []}, "/rows", "1 to"),
        ({"vary": [], "paths": ["head.gap_mm", "head.no"], "rows": [[1, 2]]}, "/paths/1", "head.n"),
        ({"vary": [], "paths": ["head.gap_mm"], "rows": [[1], [1, 2]]}, "/rows", "1 values"),
        ({"study": {"title": "x"}}, "/study/robots", ""),
        ({"study": study("x", search={"time_limit_s": 86400})}, "/study/search/time_limit_s", "600"),
        ({"more": 1}, "/more", ""),
    ],
)  # fmt: skip
def test_sweeps_that_cannot_be(
    shared: Running, over: dict[str, Any], pointer: str, words: str
) -> None:
    body = {"study": study("refused"), "vary": ["head.gap_mm=0.3,0.4"], **over}
    found = problem(shared.http.post("/v1/sweeps", json=body), 422, "invalid")
    assert pointer in {error["pointer"] for error in found["errors"]}
    assert words in json.dumps(found["errors"])


@pytest.mark.parametrize("number", ["NaN", "-Infinity", "1e400"])
def test_cells_are_finite(shared: Running, number: str) -> None:
    for cell in (number, f"[{number}]"):
        body = json.dumps({"study": study("n"), "paths": ["head.gap_mm"], "rows": [[1], ["x"]]})
        given = shared.http.post(
            "/v1/sweeps",
            content=body.replace('"x"', cell),
            headers={"Content-Type": "application/json"},
        )
        found = problem(given, 422, "invalid")
        assert found["errors"] == [{"pointer": "/rows/1", "detail": "allowed: finite numbers"}]
    vary = {"study": study("n"), "vary": [f"head.gap_mm=1,{number}"]}
    assert shared.http.post("/v1/sweeps", json=vary, headers={"Prefer": "wait=20"}).status_code in (
        200,
        422,
    )


def test_what_is_no_sweep_is_not_found(shared: Running, client: Client) -> None:
    made = client.submit(study("no sweep"), wait_s=20)
    with pytest.raises(ServiceProblem, match="nothing here"):
        client.sweep_state(made.id)
    problem(shared.http.get("/v1/sweeps/none/rows/x/study"), 422, "invalid")
