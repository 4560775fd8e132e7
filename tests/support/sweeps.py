"""What the tests of sweeps share: a small sweep, its command, and work that goes wrong on purpose."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.support.places import ROOT

TABLE = ROOT / "scenarios" / "two_joint_table.json"
#: 45 rows: proven, impossible (tips too low) and invalid (class 12) ones, some studies stated twice.
VARY = ("joints.turn.tip_max_mm=98:126:2", "shop.flank_class=6,5,12")
ROWS, STUDIES = 45, 30


def command(table: Path, *more: str) -> list[str]:
    """Return the command of the sweep into `table`."""
    vary = [word for option in VARY for word in ("--vary", option)]
    sweep = [sys.executable, "-m", "ringset", "sweep", str(TABLE)]
    return [*sweep, *vary, "--table", str(table), *more]


def start(table: Path, *more: str) -> subprocess.Popen[str]:
    """Start the sweep in a process of its own."""
    return subprocess.Popen(
        command(table, *more), cwd=ROOT, env=environment(), text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
    )  # fmt: skip


def environment() -> dict[str, str]:
    """Return an environment in which workers find this checkout, not an installed one."""
    return {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT / ".src"), str(ROOT)])}


def journal_of(table: Path) -> Path:
    """Return the journal beside a table."""
    return table.with_name(f"{table.name}.journal")


def solved(table: Path) -> list[str]:
    """Return the fingerprint of every whole line of a journal, in order."""
    if not journal_of(table).exists():
        return []
    text = journal_of(table).read_text()
    lines = text[: text.rfind("\n") + 1].splitlines()
    return [json.loads(line)["study"] for line in lines[1:]]


def until(condition: Callable[[], Any], seconds: float = 60.0) -> None:
    """Wait for a condition; fails if it does not come."""
    ends = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < ends, "waited in vain"
        time.sleep(0.01)


def alive(pid: int) -> bool:
    """Say whether a process runs (Linux)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


# -- work for processes, by name: the text of a task is the path of a file, or a word


def echo(text: str) -> dict[str, Any]:
    """Return the text and the process."""
    return {"status": text, "reasons": [], "pid": os.getpid()}


def die_once(text: str) -> dict[str, Any]:
    """Die over the task once; the file says that this has happened."""
    if text != "well" and not Path(text).exists():
        Path(text).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return echo(text)


def die_on_bad(text: str) -> dict[str, Any]:
    """Die over every task called bad."""
    if text == "bad":
        os.kill(os.getpid(), signal.SIGKILL)
    return echo(text)


def short_of_memory(text: str) -> dict[str, Any]:
    """Run out of memory over every task called bad."""
    if text == "bad":
        raise MemoryError
    return echo(text)


def sleep(text: str) -> dict[str, Any]:
    """Take far longer than any test; the file, if it is one, says that this has begun."""
    if Path(text).is_absolute():
        Path(text).touch()
    time.sleep(600)
    return echo(text)


class NeverBegins:
    """Work that a worker cannot even take in."""

    def __reduce__(self) -> tuple[Any, ...]:
        return os._exit, (3,)

    def __call__(self, text: str) -> dict[str, Any]:
        return echo(text)
