"""Stores and running services for the tests."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from ringset.api.client import Client
from tests.api.postgres import Postgres, programs
from tests.api.running import Running

FAULTS = "tests.api.faults:perform"


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    found = programs()
    if found is None:
        reason = "PostgreSQL is not installed (Debian: apt-get install postgresql)"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    server = Postgres(found)
    yield server
    server.stop()


@pytest.fixture(params=["sqlite", "postgresql"], scope="session")
def new_store(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[], str]:
    """Make an empty store and return its URL."""
    if request.param == "postgresql":
        server: Postgres = request.getfixturevalue("postgres")
        return server.database
    return lambda: f"sqlite:///{tmp_path_factory.mktemp('store') / 'ringset.db'}"


@pytest.fixture
def store_url(new_store: Callable[[], str]) -> str:
    return new_store()


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'ringset.db'}"


@pytest.fixture
def start() -> Iterator[Callable[..., Running]]:
    """Start services that end with the test."""
    started: list[Running] = []

    def run(
        store_url: str, perform: str | None = FAULTS, ready: bool = True, **settings: Any
    ) -> Running:
        started.append(Running(store_url, perform, **settings))
        return started[-1].ready() if ready else started[-1]

    yield run
    for service in started:
        if service.process.poll() is None:
            service.kill()
        service.log.unlink(missing_ok=True)


@pytest.fixture(scope="session")
def shared(new_store: Callable[[], str]) -> Iterator[Running]:
    """Return one service for all tests that leave it as it is, on each store."""
    service = Running(new_store(), FAULTS).ready()
    yield service
    assert service.stop() == 0
    service.log.unlink(missing_ok=True)


@pytest.fixture
def client(shared: Running) -> Iterator[Client]:
    with Client(shared.url) as client:
        yield client


#: Files whose tests say something about the store: the others run on SQLite, and on demand on PostgreSQL.
OF_STORES = {"test_store.py", "test_crash.py"}


@pytest.hookimpl(tryfirst=True)  # before pytest selects by markers
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Leave to campaigns what repeats on PostgreSQL what a test says of anything but stores."""
    for item in items:
        values = getattr(item, "callspec", None)
        of_postgres = values is not None and values.params.get("new_store") == "postgresql"
        if of_postgres and item.path.name not in OF_STORES:
            item.add_marker(pytest.mark.campaign)
