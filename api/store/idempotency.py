"""Idempotency keys in the store: what a holder's key stood for, inside the transaction that uses it."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Connection, and_, delete, insert, select

from ringset.api.store.schema import idempotency_key


class KeyReused(Exception):
    """An idempotency key came with another body."""


@dataclass(frozen=True)
class IdempotencyKey:
    """A key that came with a call; one made before `oldest` is forgotten."""

    key: str
    oldest: float = 0.0


def recall_idempotency_key(
    c: Connection, holder: str, given: IdempotencyKey | None, request_hash: str
) -> str | None:
    """Return the id of what the key stood for, None if it is new; raises KeyReused.

    `request_hash` is the hash of what the call said: the same key must come with the same.
    """
    if given is None:
        return None
    c.execute(delete(idempotency_key).where(idempotency_key.c.made < given.oldest))
    mine = and_(idempotency_key.c.holder == holder, idempotency_key.c.key == given.key)
    known = c.execute(select(idempotency_key.c.body, idempotency_key.c.job).where(mine)).first()
    if known is None:
        return None
    if known.body != request_hash:
        raise KeyReused
    identity: str = known.job
    return identity


def remember_idempotency_key(
    c: Connection,
    holder: str,
    given: IdempotencyKey | None,
    request_hash: str,
    identity: str,
    now: float,
) -> None:
    """Keep what the key stands for from now on."""
    if given is None:
        return
    mine = and_(idempotency_key.c.holder == holder, idempotency_key.c.key == given.key)
    c.execute(delete(idempotency_key).where(mine))
    row = {"holder": holder, "key": given.key, "body": request_hash, "job": identity, "made": now}
    c.execute(insert(idempotency_key).values(**row))
