"""Sweeps on a cluster: a scheduler and workers of this machine, each a process of its own."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from ringset.analysis.sweep.cluster import sweep_on_cluster
from ringset.analysis.sweep.processes import EngineError, Task
from ringset.cli import main
from tests.support import sweeps
from tests.support.places import ROOT
from tests.support.sweeps import ROWS, STUDIES, TABLE, solved, start, until


class Cluster:
    """A scheduler, and workers with one thread each that nobody starts again."""

    def __init__(self, place: Path) -> None:
        self.place = place
        self.processes: list[subprocess.Popen[bytes]] = []
        told = place / "scheduler.json"
        self._start(
            "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0",
            "--scheduler-file", str(told),
        )  # fmt: skip
        until(lambda: told.exists() and told.read_text().endswith("}"))
        self.address = json.loads(told.read_text())["address"]

    def worker(self, **environment: str) -> subprocess.Popen[bytes]:
        """Start a worker."""
        return self._start(
            "distributed.cli.dask_worker", self.address, "--nthreads", "1", "--no-nanny",
            "--local-directory", str(self.place), **environment,
        )  # fmt: skip

    def _start(self, module: str, *words: str, **environment: str) -> subprocess.Popen[bytes]:
        process = subprocess.Popen(
            [sys.executable, "-m", module, "--no-dashboard", *words],
            cwd=self.place, env=sweeps.environment() | environment,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self.processes.append(process)
        return process

    def end(self) -> None:
        """End every process."""
        for process in reversed(self.processes):
            process.kill()
            process.wait()


@contextmanager
def cluster(place: Path) -> Iterator[Cluster]:
    """Begin and end a cluster."""
    begun = Cluster(place)
    try:
        yield begun
    finally:
        begun.end()


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the table of the small sweep by one process of this machine."""
    path = tmp_path_factory.mktemp("whole") / "t.csv"
    sweep = start(path, "--processes", "1")
    _, err = sweep.communicate(timeout=120)
    assert sweep.returncode == 0, err
    return path.read_bytes()


def test_a_worker_killed_in_the_middle_changes_nothing(whole: bytes, tmp_path: Path) -> None:
    with cluster(tmp_path) as there:
        workers = [there.worker(), there.worker()]
        path = tmp_path / "t.csv"
        sweep = start(path, "--scheduler", there.address)
        until(lambda: len(solved(path)) >= 5 or sweep.poll() is not None, 120.0)
        assert sweep.poll() is None, "killed before the end"
        workers[0].send_signal(signal.SIGKILL)
        out, err = sweep.communicate(timeout=120)
        assert sweep.returncode == 0, err
        assert workers[1].poll() is None
    assert all(line.endswith("s left") for line in err.splitlines()), "progress and no more"
    assert f"{ROWS} rows" in out
    assert path.read_bytes() == whole
    assert len(solved(path)) == len(set(solved(path))) == STUDIES


@pytest.mark.campaign
def test_a_sweep_killed_on_a_cluster_goes_on_here(whole: bytes, tmp_path: Path) -> None:
    with cluster(tmp_path) as there:
        there.worker()
        path = tmp_path / "t.csv"
        sweep = start(path, "--scheduler", there.address)
        until(lambda: len(solved(path)) >= 3 or sweep.poll() is not None, 120.0)
        sweep.kill()
        sweep.communicate(timeout=60)
    before = solved(path)
    assert 3 <= len(before) < STUDIES
    sweep = start(path, "--processes", "1")
    out, err = sweep.communicate(timeout=120)
    assert sweep.returncode == 0, err
    assert f"{STUDIES - len(before)} studies solved now" in out
    assert solved(path)[: len(before)] == before
    assert path.read_bytes() == whole


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("reached", [2, 3, 5, 9])
def test_a_lost_scheduler_ends_the_sweep_and_keeps_what_is_solved(
    reached: int, tmp_path: Path
) -> None:
    # the library tells the loss in several ways, depending on what it was at
    with cluster(tmp_path) as there:
        there.worker()
        path = tmp_path / "t.csv"
        sweep = start(path, "--scheduler", there.address)
        until(lambda: len(solved(path)) >= reached or sweep.poll() is not None, 120.0)
        there.processes[0].kill()
        _, err = sweep.communicate(timeout=120)
    assert sweep.returncode == 2, err
    assert "the scheduler is lost\nthe same command goes on" in err
    assert "Traceback" not in err
    assert len(solved(path)) >= reached
    assert not path.exists()


def test_a_study_that_kills_every_worker_is_told_as_lost(tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(
        "import os, sys\nimport ringset.analysis.sweep.worker as work\n"
        "work.solve_sweep_line = lambda text: os._exit(9) if text == 'bad' else {'status': text}\n"
    )
    path = f"{tmp_path}{os.pathsep}{ROOT}"
    with cluster(tmp_path) as there:
        for _ in range(5):
            there.worker(PYTHONPATH=path)
        done = {s.key: s for s in sweep_on_cluster(iter([Task("a", "bad")]), there.address)}
    assert done["a"].lost
    assert done["a"].line["status"] == "failed"
    assert "worker after worker died" in done["a"].line["reasons"][0]


def test_a_worker_of_other_versions_ends_the_sweep(tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(
        "import ringset._version as version\nversion.versions = lambda: {'ringset': '0.0'}\n"
    )
    with cluster(tmp_path) as there:
        there.worker(PYTHONPATH=f"{tmp_path}{os.pathsep}{ROOT}")
        with pytest.raises(EngineError, match=r"a worker has ringset 0\.0, the sweep .* same ver"):
            list(sweep_on_cluster(iter([Task("a", TABLE.read_text())]), there.address))


def test_no_scheduler_there_is_said_at_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ringset.analysis.sweep.cluster.CONNECT_S", 1.0)
    words = ["--vary", "head.gap_mm=0.3", "--scheduler", "tcp://127.0.0.1:1"]
    began = time.monotonic()
    assert main.main(["sweep", str(TABLE), "--table", str(tmp_path / "t.csv"), *words]) == 2
    assert "no scheduler answers there" in capsys.readouterr().err
    assert time.monotonic() - began < 20.0
    assert not list(tmp_path.iterdir())


def test_a_cluster_without_workers_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ringset.analysis.sweep.cluster.FIRST_WORKER_S", 1.0)
    with cluster(tmp_path) as there, pytest.raises(EngineError, match="no worker joined in 1 s"):
        list(sweep_on_cluster(iter([Task("a", "{}")]), there.address))
