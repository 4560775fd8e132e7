"""Connections to the store: readers that never wait for a writer, writers one at a time."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout

#: Longest wait for another writer, in seconds.
BUSY_S = 10.0
#: SQLite looks ever more rarely whether a lock is free: after so long it is asked anew, in milliseconds.
_PATIENCE_MS = 100
#: Any number known to all services on one PostgreSQL database: the writers' lock.
_WRITERS = 826_110_317


class StoreUnavailable(RuntimeError):
    """The store cannot be used now: full, locked, gone."""


class StoreUrlError(ValueError):
    """A store URL that cannot be used."""


class Connections:
    """Two ways into one database: `read` for queries, `write` for one short transaction at a time."""

    def __init__(self, url: str) -> None:
        try:
            parsed = make_url(url)
        except ArgumentError:
            raise StoreUrlError(
                "store_url: given no URL; allowed: sqlite:///FILE or postgresql://…"
            ) from None
        if parsed.drivername == "postgresql":
            parsed = parsed.set(drivername="postgresql+psycopg")
        self.sqlite = parsed.drivername == "sqlite"
        if not (self.sqlite and parsed.database) and parsed.drivername != "postgresql+psycopg":
            raise StoreUrlError(
                f"store_url: given {parsed.drivername}; allowed: sqlite:///FILE or postgresql://…"
            )
        try:
            self.readers = self._engine(parsed, "BEGIN")
            self.writers = self._engine(parsed, "BEGIN IMMEDIATE") if self.sqlite else self.readers
        except (ModuleNotFoundError, NoSuchModuleError):
            raise StoreUrlError(
                "store_url: given PostgreSQL; allowed with: pip install '.[postgres]'"
            ) from None

    def _engine(self, url: Any, begin: str) -> Engine:
        if not self.sqlite:
            return create_engine(
                url, pool_size=10, max_overflow=30, pool_timeout=BUSY_S, pool_pre_ping=True
            )
        engine = create_engine(
            url,
            pool_size=10,
            max_overflow=30,
            pool_timeout=BUSY_S,
            connect_args={"timeout": BUSY_S},
        )

        @event.listens_for(engine, "connect")
        def prepare(connection: Any, _: Any) -> None:
            connection.isolation_level = None  # transactions are begun below, not by the driver
            for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
                connection.execute(f"PRAGMA {pragma}")
            connection.execute(f"PRAGMA busy_timeout={_PATIENCE_MS}")

        @event.listens_for(engine, "begin")
        def start(connection: Connection) -> None:
            # a writer takes its lock at once: upgrading a read transaction fails without waiting
            end = time.monotonic() + BUSY_S
            while True:
                try:
                    connection.exec_driver_sql(begin)
                    return
                except OperationalError as error:
                    if "locked" not in str(error.orig) or time.monotonic() > end:
                        raise

        return engine

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """Open a transaction that only reads; raises StoreUnavailable."""
        with _store_errors(), self.readers.begin() as connection:
            yield connection

    @contextmanager
    def write(self) -> Iterator[Connection]:
        """Open a transaction that writes, alone among all services; raises StoreUnavailable."""
        with _store_errors(), self.writers.begin() as connection:
            if not self.sqlite:
                connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": _WRITERS})
            yield connection

    def close(self) -> None:
        """Close every connection."""
        self.readers.dispose()
        self.writers.dispose()


@contextmanager
def _store_errors() -> Iterator[None]:
    try:
        yield
    except (DBAPIError, PoolTimeout) as error:
        cause = getattr(error, "orig", None) or error
        raise StoreUnavailable(
            str(cause).strip().splitlines()[0] if str(cause) else "gone"
        ) from error
