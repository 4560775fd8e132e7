"""API keys: made, listed, withdrawn; the store holds only their hashes."""

from __future__ import annotations

import hmac
import re
import secrets
from dataclasses import dataclass

from sqlalchemy import insert, select, update
from sqlalchemy.exc import IntegrityError

from ringset.api.store.hashing import stored_sha256
from ringset.api.store.schema import api_key
from ringset.api.store.studies import Store

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,63}")
_KEY = re.compile(r"ringset_([0-9a-f]{12})_([A-Za-z0-9_-]{43})")


class KeyNameError(ValueError):
    """A key name that cannot be used."""


@dataclass(frozen=True)
class KeyInfo:
    """What may be shown of a key."""

    id: str
    name: str
    made: float
    withdrawn: float | None


def make_api_key(store: Store, name: str) -> str:
    """Make a key and return it: the only time it can be seen. Raises KeyNameError."""
    if not _NAME.fullmatch(name):
        allowed = "1 to 64 letters, digits, spaces, dots, dashes and underscores"
        raise KeyNameError(f"name: given {name!r}; allowed: {allowed}")
    identity, secret = secrets.token_hex(6), secrets.token_urlsafe(32)
    key = f"ringset_{identity}_{secret}"
    taken = KeyNameError(f"name: given {name!r}, which has a key; allowed: a new name")
    try:
        with store.connections.write() as c:
            if c.execute(select(api_key.c.id).where(api_key.c.name == name)).first():
                raise taken
            values = {
                "id": identity,
                "name": name,
                "sha256": stored_sha256(key.encode()),
                "made": store.clock(),
            }
            c.execute(insert(api_key).values(**values))
    except IntegrityError:
        raise taken from None
    return key


def list_api_keys(store: Store) -> list[KeyInfo]:
    """Return every key, oldest first."""
    with store.connections.read() as c:
        rows = c.execute(select(api_key).order_by(api_key.c.made, api_key.c.id)).all()
    return [KeyInfo(row.id, row.name, row.made, row.withdrawn) for row in rows]


def withdraw_api_key(store: Store, name: str) -> None:
    """Make a key useless from now on; raises KeyNameError if there is no such key in force."""
    with store.connections.write() as c:
        here = (api_key.c.name == name, api_key.c.withdrawn.is_(None))
        ended = c.execute(update(api_key).where(*here).values(withdrawn=store.clock()))
    if ended.rowcount == 0:
        names = ", ".join(key.name for key in list_api_keys(store) if key.withdrawn is None)
        raise KeyNameError(
            f"name: given {name!r}; allowed: {names or 'there are no keys in force'}"
        )


def check_api_key(store: Store, given: str) -> KeyInfo | None:
    """Return the key in force that was given, or None."""
    parts = _KEY.fullmatch(given)
    if parts is None:
        return None
    with store.connections.read() as c:
        row = c.execute(select(api_key).where(api_key.c.id == parts[1])).first()
    if row is None or row.withdrawn is not None:
        return None
    if not hmac.compare_digest(row.sha256, stored_sha256(given.encode())):
        return None
    return KeyInfo(row.id, row.name, row.made, row.withdrawn)
