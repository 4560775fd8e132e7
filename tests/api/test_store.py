"""The store by itself: both databases behave alike, clocks decide nothing, nothing is doubled."""

from __future__ import annotations

import multiprocessing
import sqlite3
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from sqlalchemy import insert, update

from ringset.api.store.connections import Connections, StoreUrlError
from ringset.api.store.hashing import stored_sha256
from ringset.api.store.idempotency import IdempotencyKey, KeyReused
from ringset.api.store.process_identity import process_may_live, this_process_identity
from ringset.api.store.records import Limits, Outcome, QueueFull
from ringset.api.store.schema import job, service
from ringset.api.store.studies import Store, Submission
from ringset.api.store.work_queue import WorkQueue

WIDE = Limits(10_000, 10_000)


class Clock:
    """A clock that does as it is told."""

    def __init__(self, now: float = 1_000_000.0) -> None:
        self.now = now

    def __call__(self) -> float:
        return self.now


def submit(store: Store, name: str, holder: str = "", **over: Any) -> Any:
    limits = over.pop("limits", WIDE)
    return store.submit(
        Submission(holder, "answer", stored_sha256(name.encode()), name.encode(), **over), limits
    )[0]


def test_a_job_goes_its_way(store_url: str) -> None:
    store = Store(store_url)
    queue = WorkQueue(store.connections, store.clock)
    queue.pulse()
    made = submit(store, "one")
    taken = queue.claim()
    assert taken is not None
    assert (taken[0].id, taken[1]) == (made.id, b"one")
    assert queue.claim() is None
    queue.progress(made.number, "progress", {"best": 1.0})
    queue.progress(made.number, "progress", {"best": 2.0})
    assert queue.finish(made.number, Outcome("done", b"{}", "proven", True))
    assert not queue.finish(made.number, Outcome("failed"))
    ended = store.get(made.id)
    assert ended is not None
    assert (ended.state, ended.status, ended.result) == ("done", "proven", stored_sha256(b"{}"))
    assert store.document(stored_sha256(b"{}")) == b"{}"
    names = [name for _, name, _ in store.events(made.number, 0)]
    assert names == ["queued", "running", "progress", "done"]
    store.close()


def test_the_same_study_is_one_job_and_answers_others_at_once(store_url: str) -> None:
    store = Store(store_url)
    queue = WorkQueue(store.connections, store.clock)
    queue.pulse()
    first = submit(store, "same", "a")
    assert submit(store, "same", "a").id == first.id
    other = submit(store, "same", "b")  # not answered yet: another's waits for itself
    assert other.id != first.id
    queue.claim()
    queue.finish(first.number, Outcome("done", b"{}", "proven", True))
    third = submit(store, "same", "c")
    assert (third.state, third.result) == ("done", stored_sha256(b"{}"))
    assert store.get(third.id, "a") is None
    store.close()


def test_an_answer_that_may_not_be_reused_is_worked_out_again(store_url: str) -> None:
    store = Store(store_url)
    queue = WorkQueue(store.connections, store.clock)
    first = submit(store, "unrepeatable")
    queue.claim()
    queue.finish(first.number, Outcome("done", b"{}", "found", False))
    assert submit(store, "unrepeatable").id != first.id
    store.close()


def test_turns_are_fair(store_url: str) -> None:
    """One holder's hundred studies do not make another wait for all of them."""
    store = Store(store_url)
    queue = WorkQueue(store.connections, store.clock)
    for i in range(100):
        submit(store, f"many {i}", "many")
    for i in range(3):
        submit(store, f"few {i}", "few")
    order = []
    for _ in range(6):
        claimed = queue.claim()
        assert claimed is not None
        order.append(claimed[0].holder)
        queue.finish(claimed[0].number, Outcome("done", b"{}", "proven", True))
    assert order == ["many", "few"] * 3
    running = [queue.claim(), queue.claim()]
    assert all(taken is not None and taken[0].holder == "many" for taken in running)
    submit(store, "late", "late")
    claimed = queue.claim()
    assert claimed is not None
    assert claimed[0].holder == "late"  # who has nothing running comes first
    store.close()


def test_the_queue_has_bounds(store_url: str) -> None:
    store = Store(store_url)
    limits = Limits(queue_max=5, queue_per_key=3)
    for i in range(3):
        submit(store, f"a {i}", "a", limits=limits)
    with pytest.raises(QueueFull) as mine:
        submit(store, "a 3", "a", limits=limits)
    assert not mine.value.in_all
    submit(store, "b 0", "b", limits=limits)
    submit(store, "b 1", "b", limits=limits)
    with pytest.raises(QueueFull) as whole:
        submit(store, "c 0", "c", limits=limits)
    assert whole.value.in_all
    assert submit(store, "a 1", "a", limits=limits).state == "queued"  # known: it takes no room
    store.close()


def test_idempotency_keys_are_kept_for_their_time(store_url: str) -> None:
    clock = Clock()
    store = Store(store_url, clock)
    first = submit(store, "x", idempotency_key=IdempotencyKey("k", clock.now - 10))
    with pytest.raises(KeyReused):
        submit(store, "y", idempotency_key=IdempotencyKey("k", clock.now - 10))
    clock.now += 20
    assert submit(store, "y", idempotency_key=IdempotencyKey("k", clock.now - 10)).id != first.id
    store.close()


def _write_many(url: str, name: str, count: int, errors: Any) -> None:
    store = Store(url)
    failed = 0
    for i in range(count):
        try:
            submit(store, f"{name} {i}", name, idempotency_key=IdempotencyKey(f"{i}"))
        except Exception:
            failed += 1
    errors.put(failed)


def test_four_processes_write_without_a_single_failure(store_url: str) -> None:
    Store(store_url).close()
    each = 120 if store_url.startswith("sqlite") else 75
    context = multiprocessing.get_context("spawn")
    errors = context.Queue()
    writers = [
        context.Process(target=_write_many, args=(store_url, f"w{i}", each, errors))
        for i in range(4)
    ]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(120)
    assert [errors.get(timeout=10) for _ in writers] == [0, 0, 0, 0]
    store = Store(store_url)
    assert store.counts() == {"queued": 4 * each, "running": 0}
    store.close()


def test_four_services_claim_each_job_once(store_url: str) -> None:
    store = Store(store_url)
    for i in range(60):
        submit(store, f"job {i}", f"h{i % 3}")
    taken: list[int] = []

    def claim_all() -> None:
        own = Store(store_url)
        queue = WorkQueue(own.connections, own.clock)
        while (claimed := queue.claim()) is not None:
            taken.append(claimed[0].number)
        own.close()

    threads = [threading.Thread(target=claim_all) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(taken) == len(set(taken)) == 60
    store.close()


def test_readers_do_not_wait_for_a_writer(sqlite_url: str) -> None:
    store = Store(sqlite_url)
    submit(store, "there")
    with store.connections.write() as c:
        c.execute(update(job).values(cancel_wanted=0))
        began = time.monotonic()
        assert store.counts()["queued"] == 1
        assert time.monotonic() - began < 0.5
    store.close()


def test_many_threads_submit_one_study_once(store_url: str) -> None:
    store = Store(store_url)
    with ThreadPoolExecutor(20) as pool:
        found = set(pool.map(lambda _: submit(store, "once", "h").id, range(40)))
    assert len(found) == 1
    store.close()


def test_a_clock_that_goes_backwards_changes_nothing(store_url: str) -> None:
    clock = Clock()
    store = Store(store_url, clock)
    queue = WorkQueue(store.connections, clock)
    made = [submit(store, f"clock {i}") for i in range(2)]
    clock.now -= 1e6
    made += [submit(store, f"clock {i}") for i in range(2, 4)]
    claimed = [queue.claim() for _ in made]
    assert [taken[0].id for taken in claimed if taken] == [row.id for row in made]
    for row in made:
        assert queue.finish(row.number, Outcome("done", b"{}", "proven", True))
    assert store.expire(before=clock.now - 1.0) == 0
    assert [row.id for row in store.listed("", None, None, 10)] == [row.id for row in made[::-1]]
    store.close()


def test_a_silent_service_is_taken_over_by_the_steady_clock(store_url: str) -> None:
    wall, steady = Clock(), Clock(0.0)
    store = Store(store_url, wall)
    one, two = (WorkQueue(store.connections, wall, steady) for _ in range(2))
    one.pulse()
    two.pulse()
    made = submit(store, "taken over")
    one.claim()
    assert two.dead(10.0) == []
    wall.now -= 1e9  # no wall clock is asked
    steady.now += 9.0
    assert two.dead(10.0) == []
    one.pulse()
    steady.now += 9.0
    assert two.dead(10.0) == []  # it has shown that it lives
    steady.now += 11.0
    assert two.dead(10.0) == [one.owner]
    two.bury(one.owner, 10, {})
    again = two.claim()
    assert again is not None
    assert (again[0].id, again[0].attempts) == (made.id, 2)
    assert not one.finish(
        made.number, Outcome("done", b"late", "proven", True)
    )  # it comes too late
    assert two.finish(made.number, Outcome("done", b"{}", "proven", True))
    store.close()


def test_a_process_that_is_gone_is_known_at_once(store_url: str) -> None:
    place, pid = this_process_identity()
    assert process_may_live(place, pid)
    assert not process_may_live(
        place.rpartition(" ")[0] + " 1", pid
    )  # another process with its number
    assert process_may_live("another-machine pid:[1] 1", pid)  # cannot be known from here
    store = Store(store_url)
    queue = WorkQueue(store.connections, store.clock)
    with store.connections.write() as c:
        gone = {"id": "gone", "place": place.rpartition(" ")[0] + " 1", "pid": pid, "pulse": 5}
        c.execute(insert(service).values(**gone))
    assert queue.dead(1000.0) == ["gone"]
    store.close()


def test_too_many_deaths_fail_a_study(store_url: str) -> None:
    store = Store(store_url)
    made = submit(store, "poison")
    for _ in range(3):
        dying = WorkQueue(store.connections, store.clock)
        assert dying.claim() is not None
        dying.bury(dying.owner, 3, {"code": "service-died"})
    ended = store.get(made.id)
    assert ended is not None
    assert (ended.state, ended.attempts) == ("failed", 3)
    assert ended.problem == '{"code": "service-died"}'
    store.close()


def test_a_stop_in_order_costs_no_attempt(store_url: str) -> None:
    store = Store(store_url)
    made = submit(store, "stopped")
    queue = WorkQueue(store.connections, store.clock)
    for _ in range(5):
        queue.claim()
        queue.leave()
    left = store.get(made.id)
    assert left is not None
    assert (left.state, left.attempts) == ("queued", 0)
    store.close()


def test_a_claim_lost_on_the_way_is_put_back(store_url: str) -> None:
    store = Store(store_url)
    first, second = submit(store, "held"), submit(store, "lost")
    queue = WorkQueue(store.connections, store.clock)
    queue.claim()
    queue.claim()
    assert queue.requeue(queue.owner, None, 0, held={first.number}) == [second.id]
    store.close()


def test_several_services_may_make_one_store_at_once(new_store: Callable[[], str]) -> None:
    url = new_store()
    with ThreadPoolExecutor(6) as pool:
        stores = list(pool.map(lambda _: Store(url), range(6)))
    for store in stores:
        assert store.counts() == {"queued": 0, "running": 0}
        store.close()


@pytest.mark.parametrize("url", ["nonsense", "mysql://x/y", "sqlite://", "oracle://x"])
def test_other_stores_are_refused(url: str) -> None:
    with pytest.raises(StoreUrlError, match=r"store_url: given .*allowed"):
        Connections(url)


def test_sqlite_is_set_for_safety(sqlite_url: str, tmp_path: Any) -> None:
    store = Store(sqlite_url)
    with store.connections.read() as c:
        assert c.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert c.exec_driver_sql("PRAGMA synchronous").scalar() == 2
    store.close()
    with sqlite3.connect(tmp_path / "ringset.db") as plain:
        assert plain.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    plain.close()
