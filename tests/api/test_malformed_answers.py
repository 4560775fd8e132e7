"""An answer that a caller sends is held to its ranges: 422 with a pointer to the field, never a 5xx."""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest

from ringset import load_study, solve
from tests.api.running import JSON, Running
from tests.support.mutated import Keys, changed, mutations
from tests.support.studies import Json, two_robots

#: Changes tried by each call.
CHANGES = 60


@pytest.fixture(scope="module", name="asked")
def _asked() -> tuple[Json, Json]:
    study = load_study(json.dumps(two_robots()))
    return study.model_dump(mode="json"), json.loads(solve(study).to_json())


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("ring_parts", 0, "module_mm"), -1), (("ring_parts", 0, "teeth"), -5),
        (("ring_parts", 0, "face_width_mm"), -5), (("rings", 0, "blank_kg"), 9.22e12),
        (("rings", 0, "blank_kg"), 1e308), (("rings", 0, "heads"), 0), (("totals", "heads"), 2**63),
        (("proof", "stages", 0, "value"), -1), (("rings", 0, "budget", "terms", 0, "name"), None),
    ],
)  # fmt: skip
def test_a_field_out_of_range_is_pointed_at(
    path: Keys, value: Any, asked: tuple[Json, Json], shared: Running
) -> None:
    study, answer = asked
    made = changed(answer, path, value)
    pointer = "/".join(map(str, path))
    judged = shared.http.post("/v1/judgements", json={"study": study, "answer": made})
    entries = [{"name": "a", "answer": answer}, {"name": "b", "answer": made}]
    compared = shared.http.post("/v1/comparisons", json={"entries": entries})
    for given, before in ((judged, "/answer/"), (compared, "/entries/1/answer/")):
        assert given.status_code == 422, given.text
        assert [error["pointer"] for error in given.json()["errors"]] == [before + pointer]


def test_no_change_of_an_answer_makes_the_service_fail(
    asked: tuple[Json, Json], start: Callable[..., Running], sqlite_url: str
) -> None:
    study, answer = asked
    service = start(sqlite_url, None)
    seen: Counter[int] = Counter()
    for path, other in random.Random(5).sample(list(mutations(answer)), CHANGES):
        made = changed(answer, path, other)
        entries = [{"name": "a", "answer": answer}, {"name": "b", "answer": made}]
        for call, body in (
            ("/v1/judgements", {"study": study, "answer": made}),
            ("/v1/comparisons", {"entries": entries}),
        ):
            given = service.http.post(call, content=json.dumps(body), headers=JSON)
            assert given.status_code in (200, 400, 422), (path, other, given.text)
            seen[given.status_code] += 1
    assert seen[422] >= CHANGES // 2, seen
    assert seen[200] >= CHANGES // 2, seen
    assert '"status": 500' not in service.log.read_text()
