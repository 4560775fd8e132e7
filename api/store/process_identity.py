"""Where a service runs: enough to tell on the same machine whether its process still lives."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path


@cache
def _machine() -> str:
    """Return what two processes share exactly if one can see the other by its number."""
    try:
        boot = Path("/proc/sys/kernel/random/boot_id").read_text().strip()
        return f"{boot} {os.readlink('/proc/self/ns/pid')}"
    except OSError:  # no Linux: then only silence tells
        return ""


def this_process_identity() -> tuple[str, int]:
    """Return this machine and the number of this process."""
    machine, pid = _machine(), os.getpid()
    return (f"{machine} {_started(pid)}" if machine else f"? {pid}"), pid


def process_may_live(place: str, pid: int) -> bool:
    """Return whether the process that gave `place` may still live; True if that cannot be known."""
    machine, _, started = place.rpartition(" ")
    return not machine or machine != _machine() or _started(pid) == started


def _started(pid: int) -> str:
    """Return when a process started, in ticks since the machine did; empty if there is none."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text()
    except OSError:
        return ""
    fields = stat.rpartition(")")[2].split()
    return "" if fields[0] == "Z" else fields[19]
