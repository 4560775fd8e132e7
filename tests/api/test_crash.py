"""Power cuts, signals, full disks, two services: nothing accepted is lost, nothing is done twice."""

from __future__ import annotations

import contextlib
import signal
import sqlite3
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest

from tests.api.ledger import rounds
from tests.api.running import Running, study

ROUNDS = 10  # on each store


def test_kill_and_restart_loses_and_doubles_nothing(store_url: str) -> None:
    path = store_url.removeprefix("sqlite:///") if store_url.startswith("sqlite") else None
    ledger = rounds(store_url, ROUNDS, seed=1, path=path)
    assert ledger.faults == []
    assert len(ledger.accepted) >= ROUNDS
    assert len(ledger.answers) == len(ledger.accepted)


def test_a_running_study_survives_the_kill(start: Callable[..., Running], store_url: str) -> None:
    service = start(store_url)
    made = service.submit(study("sleep 1.5")).json()
    waiting = [service.submit(study(f"sleep 0.{i}")).json() for i in range(1, 4)]
    service.until(made["id"], "running")
    service.kill()
    service = start(store_url)
    state = service.wait(made["id"])
    assert (state["state"], state["attempts"]) == ("done", 2)
    assert all(service.wait(job["id"])["state"] == "done" for job in waiting)


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("sig", [signal.SIGTERM, signal.SIGINT])
def test_stopping_in_order_is_quick_and_clean(
    start: Callable[..., Running], sqlite_url: str, sig: int
) -> None:
    """With three open streams, a waiting call and work under way; after a real solve."""
    service = start(sqlite_url)
    assert service.submit(study("before the signal"), wait=20).json()["status"] == "proven"
    job = service.submit(study("sleep 60.1")).json()
    service.until(job["id"], "running")
    with contextlib.ExitStack() as stack:
        for _ in range(3):
            stream = stack.enter_context(
                httpx.stream("GET", service.url + job["links"]["events"], timeout=20.0)
            )
            next(stream.iter_lines())
        began = time.monotonic()
        assert service.stop(sig) == 0
        assert time.monotonic() - began < 5.0
    assert "shutdown complete" in service.log.read_text()
    ends = time.monotonic() + 1.0
    while service.family() and time.monotonic() < ends:
        time.sleep(0.02)
    assert not service.family()
    service = start(sqlite_url)
    assert service.until(job["id"], "running")["attempts"] == 1  # the stop cost no attempt


def test_two_services_share_one_store(start: Callable[..., Running], store_url: str) -> None:
    one, two = start(store_url), start(store_url)
    given = [(one, two)[i % 2].submit(study(f"shared {i}")).json()["id"] for i in range(12)]
    for i, identity in enumerate(given):
        state = (two, one)[i % 2].wait(identity)
        assert (state["state"], state["attempts"]) == ("done", 1)
    job = one.submit(study("sleep 60.2")).json()
    one.until(job["id"], "running")
    began = time.monotonic()
    two.http.post(job["links"]["cancel"])
    one.http.post(job["links"]["cancel"])
    two.until(job["id"], "cancelled")
    assert time.monotonic() - began < 1.0
    long = [one.submit(study(f"sleep 1.{i}")).json()["id"] for i in range(4)]
    for identity in long:
        if one.http.get(f"/v1/studies/{identity}").json()["state"] == "running":
            break
    one.kill()
    for identity in long:
        assert two.wait(identity)["state"] == "done"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    place = tmp_path / "disk"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=2m", "ringset-test", str(place)]
    mounted = subprocess.run(command, capture_output=True, text=True, check=False)
    if mounted.returncode != 0:
        pytest.skip(f"no small disk can be mounted here: {mounted.stderr.strip()}")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_full_disk_is_said_and_survived(start: Callable[..., Running], small_disk: Path) -> None:
    service = start(f"sqlite:///{small_disk / 'ringset.db'}")
    kept = service.submit(study("kept"), wait=20).json()
    under_way = service.submit(study("sleep 2.5")).json()
    service.until(under_way["id"], "running")
    filler = small_disk / "filler"
    with filler.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(b"x" * 4096)
    refused = [service.submit(study(f"refused {i}", joints=30)) for i in range(40)]
    full = [given for given in refused if given.status_code == 503]
    assert full
    assert full[0].json()["code"] == "store-unavailable"
    assert {given.status_code for given in refused} <= {202, 503}
    assert service.http.get("/livez").status_code == 200
    assert service.http.get(kept["links"]["result"]).status_code == 200  # reading goes on
    time.sleep(6.0)
    assert service.http.get("/readyz").status_code == 503
    filler.unlink()
    accepted = [given.json()["id"] for given in refused if given.status_code == 202]
    assert service.wait(under_way["id"])["state"] == "done"
    for identity in accepted:
        assert service.wait(identity)["state"] == "done"
    again = service.submit(study("after the full disk"), wait=20)
    assert again.json()["status"] == "proven"
    assert service.http.get("/readyz").status_code == 200


def test_a_locked_store_is_said_and_survived(
    start: Callable[..., Running], sqlite_url: str
) -> None:
    """Somebody else holds the file for longer than any call waits."""
    service = start(sqlite_url)
    kept = service.submit(study("before the lock"), wait=20).json()
    with contextlib.closing(sqlite3.connect(sqlite_url.removeprefix("sqlite:///"))) as other:
        other.isolation_level = None
        other.execute("BEGIN IMMEDIATE")
        began = time.monotonic()
        refused = service.submit(study("during the lock"))
        assert (refused.status_code, refused.json()["code"]) == (503, "store-unavailable")
        assert int(refused.headers["Retry-After"]) >= 1
        assert time.monotonic() - began < 15.0
        assert service.http.get("/livez").status_code == 200
        assert service.http.get(kept["links"]["result"]).status_code == 200  # reading goes on
        assert service.http.get("/readyz").status_code == 503
        other.execute("ROLLBACK")
    assert service.submit(study("during the lock"), wait=20).json()["status"] == "proven"


def test_a_store_that_goes_away_is_said_and_survived(
    start: Callable[..., Running], postgres: object, new_store: Callable[[], str]
) -> None:
    """Every connection is cut; the next call gets a new one."""
    url = new_store()
    if not url.startswith("postgresql"):
        pytest.skip("a SQLite file cannot be cut off")
    import psycopg

    service = start(url)
    job = service.submit(study("sleep 1.2")).json()
    name = url.rpartition("/")[2]
    with psycopg.connect(url.replace(name, "postgres"), autocommit=True) as admin:
        for _ in range(5):
            admin.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [name]
            )
            time.sleep(0.1)
    assert service.wait(job["id"])["state"] == "done"
    assert service.submit(study("after the cut"), wait=20).json()["status"] == "proven"
