"""One shape for every error, with pointers, and without the input."""

from __future__ import annotations

import json
import math
import threading
import time
from collections.abc import Iterator
from typing import Any

import httpx
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from ringset.api.contract.request_body import contract_check_body_shape
from ringset.api.problems import FAILURES, PROBLEMS, Problem, problem_pointer
from ringset.api.settings import Settings
from tests.api.running import JSON, Running, study
from tests.support.places import ROOT

BAD = sorted((ROOT / "tests" / "data" / "bad_studies").glob("*.json"))


def post(service: Running, body: bytes | Iterator[bytes], path: str = "/v1/studies") -> Any:
    return service.http.post(path, content=body, headers=JSON)


def problem(response: Any, status: int, code: str) -> dict[str, Any]:
    """Check the shape of a problem and return it."""
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    found: dict[str, Any] = response.json()
    assert found["type"] == f"/v1/problems/{code}"
    assert found["status"] == status
    assert found["title"] == PROBLEMS[code][1]
    assert found["request_id"] == response.headers["X-Request-Id"]
    return found


@pytest.mark.parametrize("file", BAD, ids=lambda file: file.stem)
def test_every_bad_study_is_a_problem(shared: Running, file: Any) -> None:
    given = post(shared, file.read_bytes())
    assert given.status_code in (400, 413, 422)
    found = problem(given, given.status_code, given.json()["code"])
    assert given.status_code != 422 or found["errors"]


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e400", "1" * 5000])
def test_numbers_that_are_none_are_refused(shared: Running, number: str) -> None:
    text = json.dumps(study("number")).replace("90", number)
    assert post(shared, text.encode()).status_code in (400, 422)


def test_faults_have_pointers_and_do_not_echo(shared: Running) -> None:
    body = study("do-not-echo-me")
    body["robots"][0]["joints"][0] |= {"bore_min_mm": "secret-text", "unknown~a/b": 1}
    body["target"]["basis"] = "guess"
    found = problem(shared.submit(body), 422, "invalid")
    pointers = {error["pointer"] for error in found["errors"]}
    assert pointers == {
        "/robots/0/joints/0/bore_min_mm",
        "/robots/0/joints/0/unknown~0a~1b",
        "/target/basis",
    }
    assert "secret-text" not in json.dumps(found)
    assert "do-not-echo-me" not in json.dumps(found)


def test_faults_between_fields_have_pointers(shared: Running) -> None:
    body = study("crossed")
    body["robots"][0]["joints"][0]["bore_max_mm"] = 10
    found = problem(shared.submit(body), 422, "invalid")
    assert found["errors"] == [
        {
            "pointer": "/robots/0/joints/0/bore_max_mm",
            "detail": "allowed: at least bore_min_mm = 60",
        }
    ]


@pytest.mark.parametrize(
    ("path", "parsed", "expected"),
    [
        ("study", {}, ""),
        ("robots[0].joints[12].name", {}, "/robots/0/joints/12/name"),
        ("heads.a.b.gap_mm", {"heads": {"a.b": {"gap_mm": 1}}}, "/heads/a.b/gap_mm"),
        ("heads.a[0].gap_mm", {"heads": {"a[0]": {}}}, "/heads/a[0]/gap_mm"),
        ("heads.x/y", {"heads": {"x/y": 1}}, "/heads/x~1y"),
        ("study.target", {"study": {}}, "/study/target"),
    ],
)
def test_paths_become_json_pointers(path: str, parsed: Any, expected: str) -> None:
    assert problem_pointer(path, parsed) == expected


@pytest.mark.parametrize("kind", [None, "text/plain", "application/x-www-form-urlencoded"])
def test_only_json_is_taken(shared: Running, kind: str | None) -> None:
    headers = {} if kind is None else {"Content-Type": kind}
    given = shared.http.post("/v1/studies", content=b"{}", headers=headers)
    problem(given, 415, "wrong-type")


def test_a_type_with_a_parameter_is_json_too(shared: Running) -> None:
    headers = {"Content-Type": "application/json; charset=utf-8"}
    body = json.dumps(study("charset")).encode()
    assert shared.http.post("/v1/studies", content=body, headers=headers).status_code in (200, 202)


def test_nothing_is_found_where_nothing_is(shared: Running) -> None:
    problem(shared.http.get("/v1/nowhere"), 404, "not-found")
    problem(shared.http.get("/v1/studies/none"), 404, "not-found")
    problem(shared.http.get("/v1/studies/none/events"), 404, "not-found")
    problem(shared.http.get("/v1/standards/none"), 404, "not-found")
    for path, methods in (("/v1/studies", "GET, POST"), ("/v1/sweeps/x/cancel", "POST")):
        refused = shared.http.delete(path)
        problem(refused, 405, "wrong-method")
        assert refused.headers["Allow"] == methods


def test_query_and_headers_are_checked(shared: Running) -> None:
    for query in ("limit=0", "limit=x", "cursor=abc", "state=odd"):
        problem(shared.http.get(f"/v1/studies?{query}"), 422, "invalid")
    problem(shared.http.post("/v1/studies?find=gold", content=b"{}", headers=JSON), 422, "invalid")
    problem(shared.submit(study("long key"), key="k" * 201), 422, "invalid")


def chunks(megabytes: int) -> Iterator[bytes]:
    yield b'{"title": "'
    for _ in range(megabytes):
        yield b"x" * 1_000_000
    yield b'"}'


def test_a_stated_length_above_the_limit_is_refused(shared: Running) -> None:
    given = post(shared, b" " * 3_000_000)
    problem(given, 413, "too-large")


def test_a_chunked_upload_is_refused_and_stops_nobody(shared: Running) -> None:
    """A body without a stated length is counted as it comes."""
    times: list[float] = []
    done = threading.Event()

    def look() -> None:
        with httpx.Client(base_url=shared.url) as http:
            while not done.is_set():
                began = time.monotonic()
                assert http.get("/livez").status_code == 200
                times.append(time.monotonic() - began)

    watcher = threading.Thread(target=look)
    watcher.start()
    uploads = 0
    ends = time.monotonic() + 30.0
    while uploads < 5 or (len(times) < 50 and time.monotonic() < ends):
        problem(post(shared, chunks(20)), 413, "too-large")
        uploads += 1
    done.set()
    watcher.join()
    assert len(times) >= 50
    assert sorted(times)[int(0.99 * len(times)) - 1] < 0.1


def test_deep_and_endless_bodies_are_refused_before_parsing(shared: Running) -> None:
    for body in (b"[" * 200_000, b'{"a":' * 50_000, b"[" + b"0," * 500_000 + b"0]"):
        began = time.monotonic()
        problem(post(shared, body), 413, "too-large")
        assert time.monotonic() - began < 1.0


def shape_by_hand(raw: bytes, settings: Settings) -> bool:
    """Say whether a body is too deep or too full, one character after another."""
    depth = deepest = values = 0
    inside = escaped = False
    for character in raw.decode("latin-1"):
        if character == '"' and not escaped:
            inside = not inside
        escaped = character == "\\" and not escaped
        if not inside:
            depth += (character in "[{") - (character in "]}")
            values += character in "[{,"
            deepest = max(deepest, depth)
    return deepest > settings.depth_max or values > settings.values_max


@given(
    st.lists(st.sampled_from([b"[", b"]", b"{", b"}", b",", b'"', b"\\", b"a", b"\xff"])),
    st.sampled_from([0, 990, 1000]),
)
@example([b'"', b"\\", b'"', *[b"["] * 20], 0)
@example([b'"', b"\\", b"\\", b'"', *[b"["] * 20], 0)
def test_structure_is_told_from_text(pieces: list[bytes], commas: int) -> None:
    limits = Settings(depth_max=8, values_max=1000)
    body = b"," * commas + b"[" * 6 + b"".join(pieces)
    try:
        contract_check_body_shape(body, limits)
        refused = False
    except Problem:
        refused = True
    assert refused == shape_by_hand(body, limits)


def test_brackets_inside_text_are_no_nesting(shared: Running) -> None:
    body = study('[[[[{{{{ "\\" ' * 12)
    assert shared.submit(body).status_code in (200, 202)


def test_a_study_that_asks_for_more_than_the_service_gives(shared: Running) -> None:
    found = problem(
        shared.submit(study("long", search={"time_limit_s": 86400, "workers": 64})), 422, "invalid"
    )
    assert [e["pointer"] for e in found["errors"]] == ["/search/time_limit_s", "/search/workers"]


def test_wrong_paths_cost_a_moment_however_many_they_are(shared: Running) -> None:
    """Each wrong path is compared with all right ones: a few are told, not ten thousand."""
    long = [".".join("j" * 30 for _ in range(9)) + f"{i}" for i in range(9_000)]
    for body in (
        study("paths", fixed=[""] * 10_000),
        study("paths", joints=3000, fixed=long[:3000]),
    ):
        began = time.monotonic()
        found = problem(shared.submit(body), 422, "invalid")
        assert len(found["errors"]) == 5
        assert time.monotonic() - began < 5.0


def test_problem_types_can_be_read(shared: Running) -> None:
    for code in (*PROBLEMS, *FAILURES):
        assert shared.http.get(f"/v1/problems/{code}").json()["code"] == code


def rating(**over: Any) -> dict[str, Any]:
    ring = {"joint": "j0", "module_mm": 1, "teeth": 90, "bore_mm": 66, "heads": 2}
    return {"study": study("rated"), **ring, **over}


def test_one_ring_is_rated_at_once(shared: Running) -> None:
    found = shared.http.post("/v1/ratings", json=rating()).json()
    assert found["ring"]["teeth"] == 90
    assert isinstance(found["broken"], list)
    by_tip = rating(tip_mm=92.5, rim_mm=5.0)
    del by_tip["teeth"], by_tip["bore_mm"]
    ring = shared.http.post("/v1/ratings", json=by_tip).json()["ring"]
    assert ring["tip_diameter_mm"] <= 92.5
    assert math.isclose(ring["rim_mm"], 5.0)
    in_inches = shared.http.post("/v1/ratings", json=rating(bore_mm="2.5 in", module_mm="25.4 DP"))
    as_numbers = shared.http.post("/v1/ratings", json=rating(bore_mm=63.5, module_mm=1.0))
    assert in_inches.json() == as_numbers.json()


@pytest.mark.parametrize(
    ("over", "where"),
    [
        ({"joint": "none"}, "/joint"),
        ({"teeth": 5}, "/teeth"),
        ({"tip_mm": 90.0}, "/teeth"),
        ({"rim_mm": 3.0}, "/bore_mm"),
        ({"bore_mm": 500.0}, "/bore"),
        ({"module_mm": "1"}, "/module_mm"),
        ({"study": {**study("x"), "title": 3}}, "/study/title"),
        ({"study": study("x", heads={"o": {"gap_mm": 0.01}})}, "/study/heads/o/gap_tolerance_mm"),
    ],
)  # fmt: skip
def test_rings_that_cannot_be_rated(shared: Running, over: dict[str, Any], where: str) -> None:
    found = problem(shared.http.post("/v1/ratings", json=rating(**over)), 422, "invalid")
    assert where in {error["pointer"] for error in found["errors"]}


def test_an_answer_is_judged(shared: Running) -> None:
    asked = study("judged")
    answer = shared.submit(asked, wait=20).json()["answer"]
    sound = shared.http.post("/v1/judgements", json={"study": asked, "answer": answer}).json()
    assert sound == {"violations": [], "sound": True}
    answer["rings"][0]["bore_mm"] += 1.0
    broken = shared.http.post("/v1/judgements", json={"study": asked, "answer": answer}).json()
    assert not broken["sound"]
    answer["rings"][0]["bore_mm"] = None
    found = problem(
        shared.http.post("/v1/judgements", json={"study": asked, "answer": answer}), 422, "invalid"
    )
    assert found["errors"][0]["pointer"] == "/answer/rings/0/bore_mm"


def test_standards_tables_are_listed_and_read(shared: Running) -> None:
    for name in shared.http.get("/v1/standards").json()["tables"]:
        table = shared.http.get(f"/v1/standards/{name}").json()
        assert table["rows"]
        assert all(row["source"] for row in table["rows"])


def test_about_tells_limits_and_expiry(shared: Running) -> None:
    about = shared.http.get("/v1/about").json()
    assert about["limits"]["body_max_bytes"] == Settings().body_max_bytes
    assert "30 days" in about["expiry"]
    assert about["versions"]["ortools"]
