"""What the store keeps, for how long, and through which releases."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import insert, inspect, select, update

from ringset.api.store.connections import Connections
from ringset.api.store.hashing import stored_sha256
from ringset.api.store.records import Outcome
from ringset.api.store.schema import STEPS, UnknownStore, document, sweep_row, version
from ringset.api.store.studies import Store
from ringset.api.store.sweeps import RowSubmission, SweepStore, SweepSubmission
from ringset.api.store.work_queue import WorkQueue
from tests.api.test_store import WIDE, Clock, submit


def test_old_studies_are_forgotten_with_all_that_was_theirs(store_url: str) -> None:
    clock = Clock()
    store = Store(store_url, clock)
    queue = WorkQueue(store.connections, clock)
    old = submit(store, "old")
    queue.claim()
    queue.finish(old.number, Outcome("done", b"result", "proven", True))
    clock.now += 100
    young = submit(store, "young")
    queue.claim()
    queue.finish(young.number, Outcome("done", b"result", "proven", True))
    waiting = submit(store, "waiting")
    assert store.expire(before=clock.now - 50) == 1
    assert store.get(old.id) is None
    assert store.events(old.number, 0) == []
    assert store.document(stored_sha256(b"result")) == b"result"  # another still has it
    clock.now += 1e9
    assert store.expire(before=clock.now) == 1
    assert store.get(waiting.id) is not None  # what has not ended is never forgotten
    with store.connections.read() as c:
        assert set(c.execute(select(document.c.sha256)).scalars()) == {stored_sha256(b"waiting")}
    store.close()


def sweep(store: Store, name: str, *rows: str) -> Any:
    asked = [RowSubmission([row], "{}", stored_sha256(row.encode())) for row in rows]
    whole = SweepSubmission(
        "", stored_sha256(name.encode()), b"study", ["path"], asked, stored_sha256(name.encode())
    )
    return SweepStore(store.connections, store.clock).submit(whole, WIDE)[0]


def test_rows_are_kept_as_long_as_their_sweep(store_url: str) -> None:
    clock = Clock()
    store = Store(store_url, clock)
    sweeps, queue = SweepStore(store.connections, clock), WorkQueue(store.connections, clock)
    first = sweep(store, "first", "a", "b", "a")
    assert first.counts["queued"] == 3
    for line in (b'{"n": 1}', b'{"n": 2}'):
        claimed = queue.claim()
        assert claimed is not None
        assert claimed[1] == b"study"
        queue.finish(claimed[0].number, Outcome("done", line, "proven", True))
    assert queue.claim() is None  # equal rows are one job
    clock.now += 100
    second = sweep(store, "second", "b", "c")
    assert (second.counts["done"], second.counts["queued"]) == (1, 1)
    assert store.expire(before=clock.now - 50) == 2  # the first sweep, and the row that only it had
    assert sweeps.get(first.id, "") is None
    assert [row.line for row in sweeps.rows(second.number)] == [{"n": 2}, None]
    clock.now += 1e9
    assert store.expire(before=clock.now) == 0  # it has not ended
    claimed = queue.claim()
    assert claimed is not None
    queue.finish(claimed[0].number, Outcome("done", b'{"n": 3}', "proven", True))
    clock.now += 100
    assert store.expire(before=clock.now) == 3
    with store.connections.read() as c:
        assert c.execute(select(document.c.sha256)).all() == []
        assert c.execute(select(sweep_row)).all() == []
    store.close()


def test_a_store_is_opened_again_and_a_later_one_refused(store_url: str) -> None:
    store = Store(store_url)
    made = submit(store, "kept")
    store.close()
    store = Store(store_url)
    assert store.get(made.id) is not None
    with store.connections.write() as c:
        c.execute(update(version).values(version=len(STEPS) + 1))
    store.close()
    with pytest.raises(UnknownStore, match="later release"):
        Store(store_url)


def test_a_store_of_an_older_release_is_brought_up(store_url: str) -> None:
    engines = Connections(store_url)
    with engines.write() as c:
        STEPS[0](c)
        c.execute(insert(version).values(version=1))
        c.exec_driver_sql("DROP INDEX job_turn")  # the older one had none
    store = Store(store_url)
    made = submit(store, "old and new")
    assert sweep(store, "new", "row").counts["queued"] == 1
    claimed = WorkQueue(store.connections, store.clock).claim()
    assert claimed is not None
    assert claimed[0].id == made.id
    with store.connections.read() as c:
        assert c.execute(select(version.c.version)).scalar_one() == len(STEPS)
        assert "job_turn" in {index["name"] for index in inspect(c).get_indexes("job")}
    store.close()
    engines.close()
