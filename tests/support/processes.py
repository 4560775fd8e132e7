"""The processes of this machine, as Linux tells of them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path


def processes() -> Iterator[tuple[int, list[str]]]:
    """Yield every process that has not ended: its number, and what its `stat` says after its name.

    Of that, 0 is the state, 1 the parent and 3 the session.
    """
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            after_name = stat.read_text().rpartition(")")[2].split()
        except OSError:  # it ended meanwhile
            continue
        if after_name[0] != "Z":
            yield int(stat.parent.name), after_name


def children(pid: int) -> list[int]:
    """Return the processes that a process has begun."""
    return [child for child, after_name in processes() if after_name[1] == str(pid)]
