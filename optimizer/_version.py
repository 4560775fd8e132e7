"""The version of Ringset, and the versions that decide an answer's bytes."""

from __future__ import annotations

from functools import cache
from importlib.metadata import version

__version__ = "0.2.0"


def versions() -> dict[str, str]:
    """Return the versions that decide an answer's bytes."""
    libraries = ("numpy", "ortools", "scipy")
    return {"ringset": __version__, **{name: _installed(name) for name in libraries}}


@cache
def _installed(library: str) -> str:
    """Return the version of a library, looked up on the disk once: a sweep asks for every study."""
    return version(library)
