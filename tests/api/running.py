"""A service in a process of its own, for tests that call it as anybody would."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import httpx

from tests.support.places import ROOT
from tests.support.processes import processes

JSON = {"Content-Type": "application/json"}
#: Where a program finds this checkout, whatever else is installed.
CHECKOUT = os.pathsep.join((str(ROOT / ".src"), str(ROOT)))


def free_port() -> int:
    """Return a port nobody listens on."""
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


class Running:
    """`ringset serve`, or with `perform_task` the same with work done by that function.

    `stop` ends it in order, `kill` as a power cut would.
    """

    def __init__(
        self, store_url: str, perform: str | None = None, cwd: Path = ROOT, **settings: Any
    ) -> None:
        self.port = settings.pop("port", None) or free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.log = Path(tempfile.mkstemp(prefix="ringset-", suffix=".log")[1])
        env = {name: value for name, value in os.environ.items() if not name.startswith("RINGSET_")}
        env["PYTHONPATH"] = CHECKOUT
        given = {"store_url": store_url, "port": self.port, **settings}
        env |= {f"RINGSET_{name.upper()}": str(value) for name, value in given.items()}
        program = ["tests.api.start", perform] if perform else ["ringset", "serve"]
        command = [sys.executable, "-m", *program]
        self.started = time.monotonic()
        with self.log.open("w") as log:
            self.process = subprocess.Popen(
                command, cwd=cwd, env=env, stdout=log, stderr=log, start_new_session=True
            )
        self.http = httpx.Client(base_url=self.url, timeout=30.0)

    def ready(self, timeout_s: float = 90.0) -> Running:
        """Wait until it is ready; fails with its log if it never is."""
        ends = time.monotonic() + timeout_s
        while time.monotonic() < ends and self.process.poll() is None:
            try:
                if self.http.get("/readyz").status_code == 200:
                    return self
            except httpx.TransportError:
                pass
            time.sleep(0.02)
        self.kill()
        raise AssertionError(f"never ready:\n{self.log.read_text()[-3000:]}")

    def stop(self, sig: int = signal.SIGTERM, timeout_s: float = 15.0) -> int:
        """End it in order; returns its exit code."""
        self.process.send_signal(sig)
        code = self.process.wait(timeout_s)
        self.http.close()
        return code

    def kill(self) -> None:
        """End it at once, and nothing but it: its workers must notice by themselves."""
        self.process.kill()
        self.process.wait(10.0)
        self.http.close()

    def family(self) -> list[int]:
        """Return the numbers of all processes of its session but itself."""
        own = self.process.pid
        return [pid for pid, told in processes() if int(told[3]) == own != pid]

    def submit(
        self, study: dict[str, Any], wait: int | None = None, key: str | None = None
    ) -> httpx.Response:
        """Submit a study, with an idempotency key or without."""
        given = {} if key is None else {"Idempotency-Key": key}
        if wait is not None:
            given["Prefer"] = f"wait={wait}"
        return self.http.post("/v1/studies", json=study, headers=given)

    def wait(self, identity: str, timeout_s: float = 30.0) -> dict[str, Any]:
        """Return the state of a study once it has ended."""
        ends = time.monotonic() + timeout_s
        while True:
            state: dict[str, Any] = self.http.get(f"/v1/studies/{identity}").json()
            if state["state"] not in ("queued", "running") or time.monotonic() > ends:
                return state
            time.sleep(0.02)

    def until(self, identity: str, state: str, timeout_s: float = 15.0) -> dict[str, Any]:
        """Return the state of a study once it is in a state; fails if it never is."""
        ends = time.monotonic() + timeout_s
        while time.monotonic() < ends:
            now: dict[str, Any] = self.http.get(f"/v1/studies/{identity}").json()
            if now["state"] == state:
                return now
            time.sleep(0.02)
        raise AssertionError(f"never {state}: {now}")


def study(title: str = "", joints: int = 1, **over: Any) -> dict[str, Any]:
    """Return a study that is answered in some hundredths of a second."""
    rows = [
        {"name": f"j{i}", "bore_min_mm": 60 + i, "bore_max_mm": 72 + i, "tip_max_mm": 100 + i}
        for i in range(joints)
    ]
    return {
        "title": title,
        "robots": [{"name": "arm", "joints": rows}],
        "shop": {"modules": [1], "bore_step_mm": 1.0},
        "target": {"angle_target_arcsec": 90},
        **over,
    }
