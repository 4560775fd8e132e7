"""Speed and endurance of the service: `python -m tests.bench.bench_service [speed] [kill] [bodies] [sqlite]`.

Without words all parts run, on SQLite and on PostgreSQL (`sqlite` leaves that out). Service, load and bare
solver share the machine. The bare solver is two warm processes that solve one study after another. Seconds of
a processor are told beside rates: other work on the machine disturbs rates, and those hardly.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import socket
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[2]))

import httpx
from hypothesis import HealthCheck, given, settings

from tests.api.bodies import cases, send
from tests.api.ledger import rounds
from tests.api.postgres import Postgres, programs
from tests.api.running import Running
from tests.support.places import ROOT

SIX = json.loads((ROOT / "scenarios" / "six_joint_arm.json").read_text())
LONG = json.loads((ROOT / "scenarios" / "family_three_arms.json").read_text())


def titled(study: dict[str, Any], title: str) -> dict[str, Any]:
    """Return the study under another title: another study to the store, the same work to the solver."""
    return study | {"title": title}


def p99(seconds: list[float]) -> float:
    """Return the value below which 99 % lie."""
    return sorted(seconds)[max(0, int(0.99 * len(seconds)) - 1)]


def bare(texts: list[str], results: Any) -> None:
    """Solve studies one after another in this process; tells seconds, and those of a processor."""
    from ringset import load_study, solve

    solve(load_study(json.dumps(titled(SIX, "warm up"))))
    results.put("ready")
    began, used = time.perf_counter(), time.process_time()
    for text in texts:
        solve(load_study(text)).model_dump_json()
    results.put((time.perf_counter() - began, time.process_time() - used))


def bare_seconds(texts: list[str], processes: int) -> tuple[float, float]:
    """Return the seconds that warm processes need for all studies, and those of a processor."""
    context = multiprocessing.get_context("spawn")
    lines = [context.Queue() for _ in range(processes)]
    workers = [
        context.Process(target=bare, args=(texts[i::processes], lines[i])) for i in range(processes)
    ]
    for worker in workers:
        worker.start()
    for line in lines:
        assert line.get() == "ready"
    told = [line.get() for line in lines]
    for worker in workers:
        worker.join()
    return max(seconds for seconds, _ in told), sum(used for _, used in told)


def used_seconds(service: Running) -> float:
    """Return the seconds of a processor that a service has used, its workers' with it."""
    used = 0.0
    for pid in (service.process.pid, *service.family()):
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        used += sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")
    return used


def start_seconds(url: Callable[[], str]) -> float:
    """Return the median seconds from start to ready."""
    found = []
    for _ in range(5):
        service = Running(url(), None).ready()
        found.append(time.monotonic() - service.started)
        service.stop()
    return statistics.median(found)


def cold(service: Running) -> tuple[float, float]:
    """Return the median seconds of an unknown six-joint study: over HTTP, and bare."""
    texts = [json.dumps(titled(SIX, f"cold {i}")) for i in range(20)]
    served = []
    for text in texts:
        began = time.perf_counter()
        answer = service.submit(json.loads(text), wait=30)
        served.append(time.perf_counter() - began)
        assert answer.json()["status"] == "proven"
    return statistics.median(served), bare_seconds(texts, 1)[0] / len(texts)


def load(port: int, body: bytes, calls: int, connections: int, line: Any) -> None:
    """Post one body over and over on some connections; tells the seconds of each call."""
    head = (
        f"POST /v1/studies HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    ).encode()
    seconds: list[float] = []

    def one() -> None:
        with socket.create_connection(("127.0.0.1", port)) as s:
            s.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            for _ in range(calls // connections):
                began = time.perf_counter()
                s.sendall(head + body)
                read_answer(s)
                seconds.append(time.perf_counter() - began)

    threads = [threading.Thread(target=one) for _ in range(connections)]
    began = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    line.put((len(seconds) / (time.perf_counter() - began), seconds))


def read_answer(s: socket.socket) -> None:
    """Read one answer of 200 from a connection."""
    data = b""
    while b"\r\n\r\n" not in data:
        data += s.recv(65536)
    head, _, rest = data.partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 200"), head
    length = int(head.lower().partition(b"content-length: ")[2].split(b"\r\n")[0])
    while len(rest) < length:
        rest += s.recv(65536)


def known(service: Running, calls: int = 2000) -> tuple[float, float]:
    """Return calls a second and p99 of a study that is in the store."""
    body = json.dumps(titled(SIX, "known")).encode()
    service.submit(json.loads(body), wait=30)
    context = multiprocessing.get_context("spawn")
    line = context.Queue()
    process = context.Process(target=load, args=(service.port, body, calls, 8, line))
    process.start()
    rate, seconds = line.get()
    process.join()
    return rate, p99(seconds)


def health_while_solving(service: Running) -> float:
    """Return the p99 of /livez while two long studies are being solved."""
    jobs = [service.submit(titled(LONG, f"long {i}")).json() for i in range(40)]
    service.until(jobs[1]["id"], "running")
    seconds = []
    with httpx.Client(base_url=service.url) as http:
        while service.http.get(f"/v1/studies/{jobs[38]['id']}").json()["state"] == "queued":
            for _ in range(20):
                began = time.perf_counter()
                http.get("/livez")
                seconds.append(time.perf_counter() - began)
                time.sleep(0.005)
    for job in jobs:
        service.wait(job["id"], 120.0)
    assert len(seconds) > 500
    return p99(seconds)


def state_of(service: Running, job: str) -> str:
    """Return the state of a study."""
    return str(service.http.get(f"/v1/studies/{job}").json()["state"])


def queued(service: Running, count: int = 500) -> str:
    """Return, in words, the rate at which a long queue is served, beside the bare solver's.

    Told from the first call on, while the load still submits, and from when all are in the queue.
    """
    texts = [json.dumps(titled(SIX, f"queued {i}")) for i in range(count)]
    began, used = time.perf_counter(), used_seconds(service)
    with ThreadPoolExecutor(4) as pool:
        jobs = list(pool.map(lambda text: service.submit(json.loads(text)).json()["id"], texts))
    accepted = time.perf_counter()
    early = sum(state_of(service, job) != "queued" for job in jobs[:50])
    while state_of(service, jobs[-1]) != "done":
        time.sleep(0.25)
    ended, used = time.perf_counter(), used_seconds(service) - used
    assert early < 50, "some were served before all were in the queue, and which is known"
    for identity in jobs:
        assert service.wait(identity)["state"] == "done"
    alone, needed = bare_seconds(texts, 2)
    bare = count / alone
    served, whole = (count - early) / (ended - accepted), count / (ended - began)
    return (
        f"{served:.2f} a second once queued, bare {bare:.2f}: {100 * served / bare:.0f} % "
        f"(with the time to submit them {whole:.2f}: {100 * whole / bare:.0f} %; by seconds of a "
        f"processor {1000 * used / count:.0f} ms a study, bare {1000 * needed / count:.0f}: "
        f"{100 * needed / used:.0f} %)"
    )


def memory(service: Running, calls: int = 10_000) -> list[float]:
    """Return the resident MB of the server process after every tenth of the calls."""
    found = [resident_mb(service)]
    for _ in range(10):
        known(service, calls // 10)
        found.append(resident_mb(service))
    return found


def resident_mb(service: Running) -> float:
    """Return the resident memory of the server process in MB."""
    pages = int(Path(f"/proc/{service.process.pid}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def speed(name: str, url: Callable[[], str]) -> None:
    """Print the speed table of one store."""
    row = f"| {name} | {{}} | {{}} | {{}} |"
    print(row.format("start to ready", f"{start_seconds(url):.2f} s", "2 s"), flush=True)
    service = Running(url(), None).ready()
    served, alone = cold(service)
    words = f"{1000 * served:.0f} ms, bare {1000 * alone:.0f} ms: +{1000 * (served - alone):.0f} ms"
    print(row.format("unknown six-joint study", words, "+150 ms"), flush=True)
    rate, slow = known(service)
    words = f"{rate:.0f} a second, p99 {1000 * slow:.0f} ms"
    print(row.format("known study", words, "300 a second, 50 ms"), flush=True)
    slow = health_while_solving(service)
    words = f"p99 {1000 * slow:.0f} ms"
    print(row.format("health while two studies are solved", words, "50 ms"), flush=True)
    print(row.format("500 queued six-joint studies", queued(service), "90 %"), flush=True)
    curve = memory(service)
    words = ", ".join(f"{mb:.0f}" for mb in curve)
    print(row.format("server's MB after 0, 1,000, ... 10,000 calls", words, "flat"), flush=True)
    service.stop()
    service.log.unlink()


def kill(name: str, url: Callable[[], str]) -> None:
    """Kill and restart 200 times."""
    began = time.monotonic()
    place = url()
    path = place.removeprefix("sqlite:///") if place.startswith("sqlite") else None
    ledger = rounds(place, 200, seed=int(began), path=path)
    print(
        f"{name}: 200 kills, {len(ledger.accepted)} studies accepted, {len(ledger.answers)} answered, "
        f"faults: {ledger.faults or 'none'} ({time.monotonic() - began:.0f} s)",
        flush=True,
    )


def odd_bodies(name: str, url: Callable[[], str]) -> None:
    """Send 5,000 bodies."""
    service = Running(url(), None).ready()

    @settings(
        max_examples=5000, deadline=None, database=None, suppress_health_check=list(HealthCheck)
    )
    @given(case=cases)
    def run(case: tuple[str, bytes]) -> None:
        send(service.http, *case)

    run()
    faults = service.log.read_text().count('"event": "fault"')
    print(f"{name}: 5,000 odd bodies, faults in the log: {faults}", flush=True)
    service.stop()
    service.log.unlink()


def main(words: list[str]) -> None:
    """Run the parts asked for on both stores."""
    parts = {"speed": speed, "kill": kill, "bodies": odd_bodies}
    wanted = [part for part in parts if part in words] or list(parts)
    with tempfile.TemporaryDirectory() as folder:
        numbers = iter(range(10_000))
        stores = {"SQLite": lambda: f"sqlite:///{folder}/{next(numbers)}.db"}
        place = None if "sqlite" in words else programs()
        server = None if place is None else Postgres(place)
        if server is not None:
            stores["PostgreSQL"] = server.database
        for part in wanted:
            if part == "speed":
                print(f"load average {os.getloadavg()[0]:.2f}, {os.cpu_count()} processors")
                print("| store | what | measured | reach |\n| --- | --- | --- | --- |", flush=True)
            for name, url in stores.items():
                parts[part](name, url)
        if server is not None:
            server.stop()


if __name__ == "__main__":
    main(sys.argv[1:])
