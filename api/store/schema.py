"""The tables of the store and the numbered steps that build them, on SQLite and PostgreSQL alike.

Times are UTC seconds, JSON is text written by the service itself, so both stores hold the same.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Column,
    Connection,
    Double,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    insert,
    inspect,
    select,
    update,
)

metadata = MetaData()
_Number = BigInteger().with_variant(Integer, "sqlite")

#: One submitted study and what became of it.
job = Table(
    "job",
    metadata,
    Column("number", _Number, primary_key=True, autoincrement=True),
    Column("id", Text, nullable=False, unique=True),
    Column("holder", Text, nullable=False),  # whose: id of a key, or "" without keys
    Column("kind", Text, nullable=False),
    Column("options", Text, nullable=False, default="{}"),  # JSON, such as the axes of a front
    Column("content", Text, nullable=False),  # SHA-256 of what decides the result
    Column("body", Text, nullable=False),  # SHA-256 of the document submitted
    Column("state", Text, nullable=False),
    Column("owner", Text),  # service that works on it
    Column("attempts", Integer, nullable=False, default=0),
    Column("cancel_wanted", Integer, nullable=False, default=0),
    Column("result", Text),  # SHA-256 of the result
    Column("status", Text),  # of the answer
    Column("reusable", Integer, nullable=False, default=0),  # may answer an identical study
    Column("progress", Text),
    Column("problem", Text),
    Column("last_event", Integer, nullable=False, default=0),
    Column("created", Double, nullable=False),
    Column("started", Double),
    Column("ended", Double),
    Index("job_waiting", "state", "holder", "number"),
    Index("job_content", "content", "holder"),
    Index("job_ended", "ended"),
    Index("job_body", "body"),
    Index("job_result", "result"),
    Index("job_listed", "holder", "number"),
    sqlite_autoincrement=True,
)
#: For the choice of whose turn it is.
_waiting = Index("job_turn", job.c.state, job.c.holder, job.c.kind, job.c.number)
#: Bodies and results by the SHA-256 of their bytes, written once.
document = Table(
    "document",
    metadata,
    Column("sha256", Text, primary_key=True),
    Column("bytes", LargeBinary, nullable=False),
)
#: What happened to a job, in order.
event = Table(
    "event",
    metadata,
    Column("job", _Number, primary_key=True, autoincrement=False),
    Column("seq", Integer, primary_key=True, autoincrement=False),
    Column("name", Text, nullable=False),
    Column("data", Text, nullable=False),
)
#: Idempotency keys and the id of what each stands for: a study or a sweep.
idempotency_key = Table(
    "repeat",
    metadata,
    Column("holder", Text, primary_key=True),
    Column("key", Text, primary_key=True),
    Column("body", Text, nullable=False),
    Column("job", Text, nullable=False),
    Column("made", Double, nullable=False),
)
#: Services on this store, each with a pulse that the others watch.
service = Table(
    "service",
    metadata,
    Column("id", Text, primary_key=True),
    Column("place", Text, nullable=False),
    Column("pid", Integer, nullable=False),
    Column("pulse", Integer, nullable=False),
)
#: When each holder was last served: the fair queue.
turn = Table(
    "turn",
    metadata,
    Column("holder", Text, primary_key=True),
    Column("served", _Number, nullable=False),
)
#: API keys, only as hashes.
api_key = Table(
    "api_key",
    metadata,
    Column("id", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("made", Double, nullable=False),
    Column("withdrawn", Double),
    UniqueConstraint("name"),
)
#: One submitted sweep; its rows are jobs of the kind `row`.
sweep = Table(
    "sweep",
    metadata,
    Column("number", _Number, primary_key=True, autoincrement=True),
    Column("id", Text, nullable=False, unique=True),
    Column("holder", Text, nullable=False),
    Column("content", Text, nullable=False),  # SHA-256 of what decides its table
    Column("study", Text, nullable=False),  # SHA-256 of the study that is changed
    Column("paths", Text, nullable=False),  # JSON list of what changes
    Column("cancelled", Integer, nullable=False, default=0),
    Column("created", Double, nullable=False),
    Index("sweep_content", "holder", "content"),
    Index("sweep_study", "study"),
    sqlite_autoincrement=True,
)
#: The rows of sweeps. Equal rows, of one sweep or of several, are one job.
sweep_row = Table(
    "sweep_row",
    metadata,
    Column("sweep", _Number, primary_key=True, autoincrement=False),
    Column("place", Integer, primary_key=True, autoincrement=False),
    Column("cells", Text, nullable=False),  # JSON list of values, one for each path
    Column("job", _Number, nullable=False),
    Index("sweep_row_job", "job"),
)
version = Table(
    "schema_version", metadata, Column("version", Integer, primary_key=True, autoincrement=False)
)


class UnknownStore(RuntimeError):
    """The store was written by a later release."""


def _step_1(connection: Connection) -> None:
    first = [job, document, event, idempotency_key, service, turn, api_key, version]
    metadata.create_all(connection, tables=first)


def _step_2(connection: Connection) -> None:
    metadata.create_all(connection, tables=[sweep, sweep_row])
    _waiting.create(connection, checkfirst=True)  # a new store has it by step 1


#: Steps from version n to n + 1; forward only, never edited once released.
STEPS = [_step_1, _step_2]


def migrate_schema(connection: Connection) -> None:
    """Bring the store to the newest version; raises UnknownStore if it is newer still."""
    have = 0
    if inspect(connection).has_table("schema_version"):
        have = connection.execute(select(version.c.version)).scalar_one_or_none() or 0
    if have > len(STEPS):
        raise UnknownStore(
            f"store: given version {have}; allowed: up to {len(STEPS)} (made by a later release)"
        )
    for step in STEPS[have:]:
        step(connection)
    if have == 0:
        connection.execute(insert(version).values(version=len(STEPS)))
    elif have < len(STEPS):
        connection.execute(update(version).values(version=len(STEPS)))
