"""An earlier answer sent beside a study: its names are kept, told apart, judged, and refused by field."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from ringset.api.client import Client, ServiceProblem
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.solving.pipeline import solve
from tests.api.running import Running, study
from tests.support.revisions import renamed


def revised(title: str, **shop: Any) -> dict[str, Any]:
    """Return a study whose first joint is gone and whose other one has another one beside it."""
    data = study(title, joints=2)
    data["robots"][0]["joints"] = [
        data["robots"][0]["joints"][1],
        {"name": "tiny", "bore_min_mm": 30, "bore_max_mm": 40, "tip_max_mm": 62},
    ]
    data["shop"].update(shop)
    return data


@pytest.fixture(scope="module")
def earlier() -> Answer:
    """Return an earlier answer whose ring is called OLD-7."""
    answer = solve(load_study(json.dumps(revised("first"))))
    assert len(answer.ring_parts) == 2
    data = revised("first")
    data["robots"][0]["joints"].pop()
    answer = solve(load_study(json.dumps(data)))
    return renamed(answer, {"R1": "OLD-7"})


def sent(service: Running, body: Any, **query: Any) -> dict[str, Any]:
    given = service.http.post("/v1/studies", params=query, json=body, headers={"Prefer": "wait=40"})
    assert given.status_code == 200, given.text
    document: dict[str, Any] = given.json()
    return document


def plain(answer: Answer) -> dict[str, Any]:
    document: dict[str, Any] = answer.model_dump(mode="json")
    return document


def test_names_are_kept_and_the_same_question_is_the_same_resource(
    shared: Running, earlier: Answer
) -> None:
    asked = revised("kept", part_prefix="RX-")
    body = {"study": asked, "previous": plain(earlier)}
    made = sent(shared, body)
    assert [part["id"] for part in made["answer"]["ring_parts"]] == ["OLD-7", "RX-8"]
    assert made["answer"]["part_numbers"] == {"kept": ["OLD-7"], "retired": []}
    same = solve(load_study(json.dumps(asked)), previous=earlier)
    assert made["answer"] == plain(same)
    assert shared.http.get(made["links"]["result"]).json() == made["answer"]
    alone, wrapped = sent(shared, asked), sent(shared, {"study": asked})
    assert "part_numbers" not in alone["answer"]
    assert wrapped["id"] == alone["id"] == sent(shared, {"study": asked, "previous": None})["id"]
    assert made["id"] != alone["id"]
    assert sent(shared, {"previous": plain(earlier), "study": asked})["id"] == made["id"]
    other = renamed(earlier, {"OLD-7": "OLD-9"})
    assert sent(shared, {"study": asked, "previous": plain(other)})["id"] != made["id"]


def test_certificate_and_sheets_bear_the_names(shared: Running, earlier: Answer) -> None:
    body = {"study": revised("sheets", part_prefix="RX-"), "previous": plain(earlier)}
    certified = sent(shared, body, find="certificate")["certificate"]
    assert [part["id"] for part in certified["answer"]["ring_parts"]] == ["OLD-7", "RX-8"]
    assert certified["certificate"]["stages"]
    made = sent(shared, body, find="sheets", only=["rings", "tables"])
    names = [file["name"] for file in made["sheets"]["files"]]
    assert {"OLD-7.svg", "OLD-7.pdf", "RX-8.svg", "RX-8.pdf"} <= set(names)
    one = shared.http.get(f"/v1/studies/{made['id']}/sheets/RX-8.svg")
    assert "Target ring RX-8" in one.text
    assert one.headers["Content-Disposition"] == 'attachment; filename="RX-8.svg"'


def test_a_comparison_knows_a_study_that_came_with_an_earlier_answer(
    shared: Running, earlier: Answer
) -> None:
    asked = revised("compared")
    ids = [
        sent(shared, {"study": asked, "previous": plain(earlier)})["id"],
        sent(shared, asked | {"target": {"angle_target_arcsec": 80}})["id"],
    ]
    entries = [{"name": name, "study_id": one} for name, one in zip("ab", ids, strict=True)]
    told = shared.http.post("/v1/comparisons", json={"entries": entries}).json()
    assert [one["path"] for one in told["inputs"]] == ["target.angle_target_arcsec"]


def clash(answer: dict[str, Any]) -> None:
    answer["ring_parts"].append({**answer["ring_parts"][0], "id": "RX-7"})


def hostile(answer: dict[str, Any]) -> None:
    answer["ring_parts"][0]["id"] = answer["rings"][0]["ring_part"] = "../../7"


def impossible(answer: dict[str, Any]) -> None:
    answer["rings"].clear()


def retired(answer: dict[str, Any]) -> None:
    answer["part_numbers"] = {"kept": [], "retired": ["=7"]}


def unknown(answer: dict[str, Any]) -> None:
    answer["colour"] = "red"


@pytest.mark.parametrize(
    ("spoil", "pointer"),
    [
        (clash, "/previous/ring_parts/1/id"),
        (hostile, "/previous/ring_parts/0/id"),
        (impossible, "/previous/rings"),
        (retired, "/previous/part_numbers/retired/0"),
        (unknown, "/previous/colour"),
    ],
)
def test_an_earlier_answer_that_cannot_be_used_is_refused_by_field(
    spoil: Callable[[dict[str, Any]], None], pointer: str, shared: Running, earlier: Answer
) -> None:
    """By the submission, for all that names rings, and by the judgement, before anything is worked on."""
    asked, wrong = revised("refused"), plain(earlier)
    spoil(wrong)
    answer = plain(solve(load_study(json.dumps(asked))))
    for path, body in (
        ("/v1/studies", {"study": asked, "previous": wrong}),
        ("/v1/studies?find=sheets", {"study": asked, "previous": wrong}),
        ("/v1/judgements", {"study": asked, "answer": answer, "previous": wrong}),
    ):
        given = shared.http.post(path, json=body)
        assert given.status_code == 422, given.text
        assert pointer in [fault["pointer"] for fault in given.json()["errors"]]


def test_a_part_in_production_under_the_name_of_another_ring_is_refused_by_field(
    shared: Running, earlier: Answer
) -> None:
    part = {"name": "OLD-7", "module": 1.0, "teeth": 20, "bore_mm": 10.0, "face_width_mm": 8.0}
    body = {"study": revised("clash", parts_in_production=[part]), "previous": plain(earlier)}
    given = shared.http.post("/v1/studies", json=body)
    assert given.status_code == 422, given.text
    (fault,) = given.json()["errors"]
    assert fault == {
        "pointer": "/study/shop/parts_in_production/0/name",
        "detail": "allowed: that ring, or a name that the earlier answer does not have",
    }


@pytest.mark.parametrize("find", ["steps", "front", "blockers", "assumptions", "band"])
def test_what_names_no_ring_part_takes_no_earlier_answer(
    find: str, shared: Running, earlier: Answer
) -> None:
    asked = revised("no names")
    body = {"study": asked, "previous": plain(earlier)}
    given = shared.http.post("/v1/studies", params={"find": find}, json=body)
    assert given.status_code == 422
    (fault,) = given.json()["errors"]
    assert fault == {
        "pointer": "/previous",
        "detail": f"allowed: none with find={find}; with answer, certificate, sheets",
    }
    assert sent(shared, {"study": asked}, find=find)["find"] == find


def test_faults_of_the_study_point_into_the_body(shared: Running, earlier: Answer) -> None:
    """To the study where it stands in the body, whatever is wrong with it."""

    def pointers(data: dict[str, Any], **query: Any) -> list[str]:
        body = {"study": data, "previous": plain(earlier)}
        given = shared.http.post("/v1/studies", params=query, json=body)
        assert given.status_code == 422
        return [fault["pointer"] for fault in given.json()["errors"]]

    good = revised("pointers")
    assert pointers(good | {"target": {"angle_target_arcsec": -1}}) == [
        "/study/target/angle_target_arcsec"
    ]
    crossed = json.loads(json.dumps(good))
    crossed["robots"][0]["joints"][0]["bore_min_mm"] = 99
    assert pointers(crossed)[0].startswith("/study/robots/0/joints/0/")
    assert pointers(good | {"search": {"time_limit_s": 5000}}) == ["/study/search/time_limit_s"]
    named = json.loads(json.dumps(good))
    named["robots"][0]["name"] = "关节"
    assert pointers(named, find="sheets") == ["/study/robots/0/name"]
    assert pointers(good | {"shop": {"part_prefix": "a b"}}) == ["/study/shop/part_prefix"]


def test_the_judgement_holds_the_names(shared: Running, earlier: Answer) -> None:
    asked = revised("judged")
    kept = solve(load_study(json.dumps(asked)), previous=earlier)
    fresh = solve(load_study(json.dumps(asked)))

    def violations(answer: Answer, **more: Any) -> list[str]:
        body = {"study": asked, "answer": plain(answer), **more}
        found = shared.http.post("/v1/judgements", json=body).json()
        assert found["sound"] == (found["violations"] == [])
        return list(found["violations"])

    assert violations(kept) == violations(kept, previous=plain(earlier)) == violations(fresh) == []
    assert violations(fresh, previous=plain(earlier)) == [
        "part_numbers: missing, although an earlier answer is given; the answer was not solved with it "
        "(solve --previous)"
    ]


def test_the_client_sends_an_earlier_answer(client: Client, earlier: Answer) -> None:
    asked = revised("client", part_prefix="RX-")
    first = client.submit(asked, wait_s=20, previous=earlier)
    answer = client.answer(first)
    assert [part.id for part in answer.ring_parts] == ["OLD-7", "RX-8"]
    assert client.submit(json.dumps(asked), wait_s=20, previous=plain(earlier)).id == first.id
    assert client.judge(asked, plain(answer), earlier) == client.judge(asked, plain(answer)) == []
    turned = plain(renamed(answer, {"OLD-7": "RX-8", "RX-8": "OLD-7"}))
    assert any("which this ring is" in one for one in client.judge(asked, turned, plain(earlier)))
    again = client.submit(asked, wait_s=20, previous=answer)
    assert client.answer(again).ring_parts == answer.ring_parts
    with pytest.raises(ServiceProblem) as refused:
        client.submit(asked, previous=renamed(answer, {"OLD-7": "x"}))
    assert refused.value.errors[0]["pointer"] == "/previous/ring_parts/0/id"
