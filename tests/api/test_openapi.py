"""The OpenAPI document says what the service does: examples run, clients can be made from it."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.api.running import Running, study
from tests.support.places import ROOT

COMMITTED = json.loads((ROOT / "api" / "openapi.json").read_text())
OPERATIONS = {
    operation["operationId"]: (method, path, operation)
    for path, methods in COMMITTED["paths"].items()
    for method, operation in methods.items()
}
#: Stable: a client made from an older document must go on working. Only ever added to.
RELEASED = {
    "submit_study", "list_studies", "get_study", "get_answer", "get_front", "get_blockers",
    "get_assumptions", "get_band", "get_steps", "cancel_study",
    "follow_study", "rate_ring", "judge_answer", "compare_answers", "is_alive", "is_ready", "read_metrics",
    "about", "list_standards", "get_standard", "get_problem", "submit_sweep", "list_sweeps", "get_sweep",
    "get_sweep_rows", "get_row_study", "get_sweep_table", "follow_sweep", "cancel_sweep",
    "list_fields", "list_scenarios", "get_scenario", "get_outline", "advise_ring", "get_sheets",
    "get_sheet_file", "get_certificate",
}  # fmt: skip


def test_the_committed_document_is_the_services(shared: Running) -> None:
    """Written again by: python -m ringset.api.openapi > api/openapi.json."""
    assert shared.http.get("/v1/openapi.json").json() == COMMITTED
    assert COMMITTED["openapi"].startswith("3.1")


def test_released_operations_stay() -> None:
    assert set(OPERATIONS) >= RELEASED
    assert all(re.fullmatch("[a-z][a-z_]*", name) for name in OPERATIONS)


def test_every_answer_is_described() -> None:
    for name, (method, _, operation) in OPERATIONS.items():
        assert operation["summary"], name
        assert operation["description"], name
        assert {"400", "401", "429", "500", "503"} <= set(operation["responses"]), name
        if method == "post" and "requestBody" in operation:
            assert {"413", "415", "422"} <= set(operation["responses"]), name
        for status, response in operation["responses"].items():
            if status.startswith(("4", "5")):
                assert list(response["content"]) == ["application/problem+json"], (name, status)
    assert "HTTPValidationError" not in json.dumps(COMMITTED)


def test_references_lead_somewhere() -> None:
    schemas = COMMITTED["components"]["schemas"]
    for name in re.findall(r'"#/components/schemas/([^"]+)"', json.dumps(COMMITTED)):
        assert name in schemas
    assert "prefixItems" not in json.dumps(COMMITTED)  # tuples break client generators


def bodies() -> list[tuple[str, str, Any]]:
    found = []
    for method, path, operation in OPERATIONS.values():
        content = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
        for name, example in content.get("examples", {}).items():
            found.append((f"{method} {path} {name}", path, example["value"]))
    return found


@pytest.mark.parametrize(
    ("label", "path", "body"), bodies(), ids=lambda v: v if isinstance(v, str) else ""
)
def test_every_example_is_answered(shared: Running, label: str, path: str, body: Any) -> None:
    answer = shared.http.post(path, json=body, headers={"Prefer": "wait=20"})
    assert answer.status_code == 200, answer.text
    if path in ("/v1/studies", "/v1/sweeps"):
        assert answer.json()["state"] == "done"
    if path == "/v1/judgements":
        assert answer.json()["sound"]


def test_every_body_has_an_example() -> None:
    told = {path for _, path, _ in bodies()}
    assert told == {
        path for _, path, operation in OPERATIONS.values() if "requestBody" in operation
    }


@pytest.fixture(scope="module")
def generated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a client that a public generator makes from the committed document."""
    place = tmp_path_factory.mktemp("generated")
    run = subprocess.run(
        [
            sys.executable, "-m", "openapi_python_client", "generate", "--meta", "none",
            "--path", str(ROOT / "api" / "openapi.json"), "--output-path", str(place / "made_client"),
        ],
        cwd=place, capture_output=True, text=True, timeout=120, check=False,
        env=os.environ | {"PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}"},
    )  # fmt: skip
    assert run.returncode == 0, run.stdout + run.stderr
    assert "Unable to parse" not in run.stdout
    return place


#: How a program begins that drives the service at the address it is given by a generated client.
BEGIN = """
import json, sys, time
from made_client import Client
from made_client.api.at_once import compare_answers, judge_answer, rate_ring
from made_client.api.service import about, is_alive, is_ready
from made_client.api.standards import get_standard, list_standards
from made_client.api.studies import (
    cancel_study, get_answer, get_assumptions, get_band, get_blockers, get_certificate, get_front, get_steps,
    get_study, list_studies, submit_study)
from made_client.api.sweeps import get_sweep, get_sweep_rows, get_sweep_table, submit_sweep
from made_client.models import (
    CompareRequest, JudgeRequest, RateRequest, Study, SubmitStudyFind, SweepRequest)
client = Client(base_url=sys.argv[1])
document = json.loads(sys.stdin.read())

def ended(state, look):
    while state.state in ("queued", "running"):
        time.sleep(0.02)
        state = look(state.id, client=client)
    return state

def submit(document, **more):
    made = submit_study.sync(client=client, body=Study.from_dict(document), **more)
    return ended(made, get_study.sync)

state = submit(document)
answer = get_answer.sync(state.id, client=client)
"""
#: What such a program goes on to ask and to hold, by subject.
ASKED = {
    "a study": """
assert answer.status == "proven", answer.status
assert answer.rings[0].budget.terms
again = submit_study.sync(client=client, body=Study.from_dict(document), prefer="wait=5")
assert again.answer.to_dict() == answer.to_dict()
assert state.id in [row.id for row in list_studies.sync(client=client).studies]
assert cancel_study.sync(state.id, client=client).state == "done"
wrong = submit_study.sync(client=client, body=Study.from_dict(dict(document, title="x" * 300)))
assert wrong.status == 422 and wrong.errors[0].pointer == "/title", wrong
""",
    "judging, rating and comparing": """
judged = judge_answer.sync(client=client, body=JudgeRequest.from_dict(
    {"study": document, "answer": answer.to_dict()}))
assert judged.sound and judged.violations == [] and not judged.certificate
made = get_certificate.sync(submit(document, find=SubmitStudyFind.CERTIFICATE).id, client=client)
judged = judge_answer.sync(client=client, body=JudgeRequest.from_dict({"study": document, **made.to_dict()}))
assert judged.sound and judged.certificate.complete and not judged.certificate.faults
other = submit(dict(document, target={"angle_target_arcsec": 120}))
compared = compare_answers.sync(client=client, body=CompareRequest.from_dict({"entries": [
    {"name": "a", "study_id": state.id}, {"name": "b", "study_id": other.id}]}))
assert [entry.name for entry in compared.answers] == ["a", "b"]
rated = rate_ring.sync(client=client, body=RateRequest.from_dict(
    {"study": document, "joint": "j0", "module_mm": 1, "teeth": 90, "rim_mm": 5}))
assert rated.ring.teeth == 90
""",
    "front and blockers": """
steps = submit(document, find=SubmitStudyFind.STEPS)
found = get_steps.sync(steps.id, client=client)
assert [step.wish for step in found.steps] == ["cutters", "ring_parts"]
assert found.open_[0].startswith("heads: every joint has the most")
front = submit(document, find=SubmitStudyFind.FRONT)
assert get_front.sync(front.id, client=client).points
tight = dict(document, target={"angle_target_arcsec": 0.01})
why = submit(tight, find=SubmitStudyFind.BLOCKERS)
assert get_blockers.sync(why.id, client=client).status == "impossible"
ranked = submit(document, find=SubmitStudyFind.ASSUMPTIONS)
assert get_assumptions.sync(ranked.id, client=client).inputs[0].path
band = submit(document, find=SubmitStudyFind.BAND)
assert get_band.sync(band.id, client=client).stated.status == "proven"
""",
    "a sweep": """
made = submit_sweep.sync(client=client, body=SweepRequest.from_dict(
    {"study": document, "vary": ["target.angle_target_arcsec=80,100"]}))
made = ended(made, get_sweep.sync)
assert made.rows.done == 2
rows = get_sweep_rows.sync(made.id, client=client).rows
assert [row.status for row in rows] == ["proven", "proven"]
assert get_sweep_table.sync_detailed(made.id, client=client).content.startswith(b"target.")
""",
    "facts": """
assert about.sync(client=client).limits
assert is_alive.sync(client=client).status == is_ready.sync(client=client).status == "ok"
name = list_standards.sync(client=client).tables[0]
assert get_standard.sync(name, client=client).rows
""",
}


@pytest.mark.parametrize("subject", ASKED)
def test_a_generated_client_drives_the_job(subject: str, shared: Running, generated: Path) -> None:
    """A program that knows only the generated client asks for all of a subject and finds it as it must be."""
    run = subprocess.run(
        [sys.executable, "-c", f"{BEGIN}{ASKED[subject]}print('driven')", shared.url],
        input=json.dumps(study("generated", joints=2)),
        cwd=generated, capture_output=True, text=True, timeout=120, check=False,
        env=os.environ | {"PYTHONPATH": str(generated)},
    )  # fmt: skip
    assert (run.returncode, run.stdout) == (0, "driven\n"), run.stderr
