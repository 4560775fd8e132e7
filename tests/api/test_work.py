"""Work that goes wrong costs one study, never the service."""

from __future__ import annotations

import ast
import json
import multiprocessing
import threading
import time
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

from ringset.api.workers.process import Worker, WorkerFactory
from ringset.api.workers.tasks import perform_task
from ringset.api.workers.worker import _one
from tests.api.running import Running, study
from tests.support.places import ROOT

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
    short = {"time_limit_s": 1.0}
    eater = service.submit(study("eat", search=short)).json()
    sleeper = service.submit(study("hog 20", search=short)).json()
    state = service.wait(eater["id"])
    assert state["problem"]["code"] == "out-of-memory"
    state = service.wait(sleeper["id"])
    assert state["problem"]["code"] == "out-of-time"
    assert service.submit(study("after", search=short), wait=20).json()["status"] == "proven"


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


def _answers(times: int, line: Any) -> None:
    body = json.dumps(study("repeated", joints=3, search={"seed": 3})).encode()
    for _ in range(times):
        line.put(perform_task("answer", body, {}, lambda _name, _data: None)[2])


def test_ten_runs_under_load_give_the_same_bytes() -> None:
    """Three processes on two processors, each a load to the others."""
    context = multiprocessing.get_context("spawn")
    line = context.Queue()
    runs = [context.Process(target=_answers, args=(times, line)) for times in (4, 3, 3)]
    for run in runs:
        run.start()
    found = [line.get(timeout=60) for _ in range(10)]
    for run in runs:
        run.join()
    assert len(set(found)) == 1
    assert json.loads(found[0])["proof"]["repeatable"]


def test_a_worker_speaks_plain_data_only() -> None:
    """Solver objects cannot be pickled, and must not be."""
    said: list[tuple[Any, ...]] = []
    ends = SimpleNamespace(send=said.append)
    for kind, options in (
        ("answer", {}),
        ("steps", {}),
        ("losses", {}),
        ("front", {}),
        ("blockers", {}),
        ("row", {"changes": {"target.angle_target_arcsec": 80}}),
    ):
        _one(ends, perform_task, kind, json.dumps(study("plain")).encode(), options)  # type: ignore[arg-type]
        assert said[-1][0] == "done"
        json.loads(said[-1][3])
    for _, *rest in said:
        assert all(type(part) in (str, bool, bytes, dict) for part in rest)
        json.dumps([part for part in rest if type(part) is dict], allow_nan=False)


def test_a_worker_outlives_the_thread_that_started_it() -> None:
    started: list[Worker] = []
    thread = threading.Thread(
        target=lambda: started.append(
            WorkerFactory("ringset.api.workers.tasks:perform_task", 2000).start()
        )
    )
    thread.start()
    thread.join()
    (worker,) = started
    ends = time.monotonic() + 30.0
    while not worker.messages() and time.monotonic() < ends:
        time.sleep(0.02)
    time.sleep(0.5)
    assert not worker.dead
    worker.kill()
    assert worker.dead


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
