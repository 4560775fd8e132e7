"""Rounds of SIGKILL and restart with a ledger that the service never sees.

The ledger notes what the service accepted, as a caller knows it: by the answers it got. At the end every
accepted study is answered, and each was answered once, by one result.
"""

from __future__ import annotations

import random
import sqlite3
import time
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

import httpx

from tests.api.running import Running, study


@dataclass
class Ledger:
    """What the caller knows."""

    accepted: dict[str, str] = field(default_factory=dict)  # id of the study by Idempotency-Key
    answers: dict[str, bytes] = field(default_factory=dict)  # by id, as first read
    faults: list[str] = field(default_factory=list)
    sent: int = 0

    def submit(self, service: Running, title: str) -> None:
        """Submit one study; a call that broke is repeated after the restart with the same key."""
        self.sent += 1
        given = service.submit(study(title, joints=2), key=title)
        if given.status_code not in (200, 202):
            self.faults.append(f"{title}: {given.status_code}")
            return
        identity = given.json()["id"]
        if self.accepted.setdefault(title, identity) != identity:
            self.faults.append(f"{title}: two studies for one key")

    def read(self, service: Running) -> None:
        """Read what has been answered and compare with what was read before."""
        for title, identity in self.accepted.items():
            got = service.http.get(f"/v1/studies/{identity}")
            if got.status_code != 200:
                self.faults.append(f"{title}: lost ({got.status_code})")
            elif got.json()["state"] == "done":
                answer = service.http.get(f"/v1/studies/{identity}/answer").content
                if self.answers.setdefault(identity, answer) != answer:
                    self.faults.append(f"{title}: its answer changed")
            elif got.json()["state"] not in ("queued", "running"):
                self.faults.append(f"{title}: {got.json()['state']}")


def rounds(store_url: str, count: int, seed: int, path: str | None = None) -> Ledger:
    """Run rounds; returns the ledger, whose `faults` must be empty."""
    draw, ledger, pending = random.Random(seed), Ledger(), list[str]()
    for number in range(count):
        service = Running(store_url, None)
        ends = time.monotonic() + draw.uniform(0.3, 2.2)
        try:
            while time.monotonic() < ends:
                try:
                    service.http.get("/livez")
                    break
                except httpx.TransportError:
                    time.sleep(0.02)
            fresh = [f"round-{number}-study-{i}" for i in range(draw.randint(1, 6))]
            pending += fresh
            while pending and time.monotonic() < ends:
                ledger.submit(service, pending[0])
                pending.pop(0)
            if number % 5 == 4:
                ledger.read(service)
            time.sleep(max(0.0, ends - time.monotonic()))
        except httpx.TransportError:
            pass
        finally:
            service.kill()
            service.log.unlink(missing_ok=True)
        if path is not None:
            check = sqlite3.connect(path)
            found = check.execute("PRAGMA integrity_check").fetchone()
            check.close()
            if found != ("ok",):
                ledger.faults.append(f"round {number}: {found}")
    _settle(store_url, ledger, pending)
    return ledger


def _settle(store_url: str, ledger: Ledger, pending: list[str]) -> None:
    """Start once more, repeat what was cut off, wait for all, and count."""
    service = Running(store_url, None).ready()
    for title in [*pending, *ledger.accepted]:
        ledger.submit(service, title)
    for identity in ledger.accepted.values():
        state = service.wait(identity, 120.0)
        if state["state"] != "done":
            ledger.faults.append(f"{identity}: {state}")
        numbers = [int(e) for e in _event_names(service, identity)["id"]]
        if numbers != sorted(set(numbers)):
            ledger.faults.append(f"{identity}: events out of order")
        if _event_names(service, identity)["event"].count("done") != 1:
            ledger.faults.append(f"{identity}: not answered exactly once")
    ledger.read(service)
    listed = _all(service)
    doubled = [name for name, times in Counter(listed).items() if times > 1]
    strangers = set(listed) - set(ledger.accepted.values())
    ledger.faults += [f"doubled: {name}" for name in doubled]
    ledger.faults += [f"never accepted, yet there: {name}" for name in strangers]
    if len(set(ledger.accepted.values())) != len(ledger.accepted):
        ledger.faults.append("two studies share one id")
    assert service.stop() == 0
    service.log.unlink(missing_ok=True)


def _all(service: Running) -> list[str]:
    found: list[str] = []
    query: dict[str, Any] = {"limit": 200}
    while True:
        page = service.http.get("/v1/studies", params=query).json()
        found += [row["id"] for row in page["studies"]]
        if "next" not in page:
            return found
        query["cursor"] = page["next"]


def _event_names(service: Running, identity: str) -> dict[str, list[str]]:
    text = service.http.get(f"/v1/studies/{identity}/events").text
    lines = [line.partition(": ") for line in text.splitlines()]
    return {name: [v for n, _, v in lines if n == name] for name in ("id", "event")}
