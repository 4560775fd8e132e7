"""The content hash: what decides the result of a study, and nothing else. Computed only here."""

from __future__ import annotations

import json
from collections import OrderedDict
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from threading import Lock

import ringset
from ringset import Answer, Study, assumed_inputs
from ringset.api.contract.questions import OF_DEFAULTS
from ringset.api.store.hashing import stored_sha256


@cache
def service_versions() -> dict[str, str]:
    """Return the versions on which a result depends."""
    found = {"ringset": ringset.__version__}
    for package in ("ortools", "scipy", "numpy"):
        try:
            found[package] = version(package)
        except PackageNotFoundError:  # pragma: no cover - they are required
            found[package] = "?"
    return found


def service_content_hash(
    kind: str, study: Study, options: dict[str, object] | None = None,
    previous: Answer | None = None,
) -> str:  # fmt: skip
    """Return the SHA-256 of what is asked of which study, by which versions.

    The study counts in its canonical form with its defaults filled in, so that spelling, order of
    joints and fields left out make no difference; fields left out only where the question is about them.
    An earlier answer whose names are kept counts too.
    """
    options = dict(options or {})
    if previous is not None:
        options["previous"] = stored_sha256(previous.model_dump_json().encode())
    if kind in OF_DEFAULTS:
        # a default that is stated is no assumption any more
        options["assumed"] = [list(one.places) for one in assumed_inputs(study.canonical())]
    return service_content_hash_of(kind, study.fingerprint(), options)


def service_content_hash_of(kind: str, fingerprint: str, options: dict[str, object]) -> str:
    """Return the content hash for a study of a known fingerprint."""
    whole = {"kind": kind, "study": fingerprint, "options": options, "versions": service_versions()}
    return stored_sha256(json.dumps(whole, sort_keys=True, separators=(",", ":")).encode())


class Memo:
    """Content hashes of bodies seen lately, by the bytes: reading the same body again is of no use."""

    def __init__(self, most: int = 2048) -> None:
        self._most, self._lock = most, Lock()
        self._known: OrderedDict[tuple[str, str], str] = OrderedDict()

    def get(self, kind: str, raw: bytes) -> str | None:
        """Return the content hash of a body that was valid, or None."""
        key = (kind, stored_sha256(raw))
        with self._lock:
            if key in self._known:
                self._known.move_to_end(key)
            return self._known.get(key)

    def put(self, kind: str, raw: bytes, content: str) -> None:
        """Remember the content hash of a valid body."""
        with self._lock:
            self._known[kind, stored_sha256(raw)] = content
            while len(self._known) > self._most:
                self._known.popitem(last=False)
