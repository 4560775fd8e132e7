"""The one hash of the store: documents, questions and keys are known by it."""

from __future__ import annotations

import hashlib


def stored_sha256(data: bytes) -> str:
    """Return the SHA-256 of bytes, as hex."""
    return hashlib.sha256(data).hexdigest()
