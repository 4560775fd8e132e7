"""Work that goes wrong costs one study, never the service."""

from __future__ import annotations

import ast
import time
from collections.abc import Callable

import pytest

from tests.service.running import ROOT, Running, study

API = sorted((ROOT / "api").rglob("*.py"))


@pytest.mark.parametrize(
    ("title", "code", "words"),
    [
        ("abort", "worker-died", "signal 6"),
        ("leave", "worker-died", "exit code 3"),
        ("raise", "faulty-result", "on purpose"),
        ("nan", "faulty-result", "material_kg"),  # it would leave as null
        ("burst", "out-of-memory", "memory"),
    ],
)
def test_a_study_that_kills_its_worker_fails_alone(
    shared: Running, title: str, code: str, words: str
) -> None:
    beside = shared.submit(study(f"sleep 0.{len(title)}11")).json()
    given = shared.submit(study(title)).json()
    state = shared.wait(given["id"])
    assert state["state"] == "failed"
    assert state["problem"]["code"] == code
    assert words in state["problem"]["detail"]
    assert shared.wait(beside["id"])["state"] == "done"
    after = shared.submit(study(f"after {title}"), wait=20)
    assert after.json()["status"] == "proven"
    again = shared.submit(study(title))  # a failure is no answer: the same study may be tried again
    assert again.json()["id"] != given["id"]
    shared.wait(again.json()["id"])


def test_memory_and_time_have_ceilings(start: Callable[..., Running], store_url: str) -> None:
    service = start(store_url, study_time_max_s=3, memory_max_mb=400)
    short = {"search": {"time_limit_s": 1.0}}
    eater = service.submit(study("eat", **short)).json()
    sleeper = service.submit(study("hog 20", **short)).json()
    state = service.wait(eater["id"])
    assert state["problem"]["code"] == "out-of-memory"
    state = service.wait(sleeper["id"])
    assert state["problem"]["code"] == "out-of-time"
    assert service.submit(study("after", **short), wait=20).json()["status"] == "proven"


def test_workers_are_replaced_after_their_share(
    start: Callable[..., Running], sqlite_url: str
) -> None:
    service = start(sqlite_url, worker_jobs=1, slots=1)
    for i in range(4):
        assert service.submit(study(f"share {i}"), wait=20).json()["status"] == "proven"
    metrics = service.http.get("/metrics").text
    assert "ringset_worker_deaths 0.0" in metrics


def test_the_server_process_has_loaded_no_solver(shared: Running) -> None:
    shared.submit(study("loaded"), wait=20)
    mapped = (ROOT / "/proc" / str(shared.process.pid) / "maps").read_text()
    assert "ortools" not in mapped
    assert "highs" not in mapped
    assert "numpy" in mapped  # or this test would see nothing at all


def test_workers_end_within_a_second_of_their_service(
    start: Callable[..., Running], store_url: str
) -> None:
    service = start(store_url)
    busy = [service.submit(study(f"sleep 60.{i}")).json() for i in range(2)]
    for job in busy:
        service.until(job["id"], "running")
    assert len(service.family()) >= 3  # the template and two workers
    service.kill()
    time.sleep(1.0)
    assert not service.family()


def imports_and_calls(source: str) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Attribute):
            found.add(node.attr)
        elif isinstance(node, ast.Name):
            found.add(node.id)
        elif isinstance(node, ast.ImportFrom):
            found |= {alias.name for alias in node.names}
    return found


@pytest.mark.parametrize("file", API, ids=lambda f: str(f.relative_to(ROOT)))
def test_known_traps_are_not_in_the_code(file: object) -> None:
    """Pools that hang or break, middleware that hides a hang-up, work lost with the process."""
    names = imports_and_calls(file.read_text())  # type: ignore[attr-defined]
    for trap in ("ProcessPoolExecutor", "BaseHTTPMiddleware", "BackgroundTasks", "prctl"):
        assert trap not in names
    assert "middleware" not in names or file.name == "app.py"  # type: ignore[attr-defined]
    assert "@app.middleware" not in file.read_text()  # type: ignore[attr-defined]
