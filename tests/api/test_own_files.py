"""A user may have files of his own called api.py and optimizer.py where he runs the service."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.api.running import CHECKOUT, Running, study


def test_a_users_own_files_break_neither_the_service_nor_its_workers(
    tmp_path: Path, sqlite_url: str
) -> None:
    for name in ("api.py", "optimizer.py"):
        (tmp_path / name).write_text("raise SystemExit('the wrong file was loaded')\n")
    first = subprocess.run(
        [sys.executable, "-c", "import optimizer"], cwd=tmp_path, capture_output=True, text=True,
        check=False, env={"PYTHONPATH": CHECKOUT},
    )  # fmt: skip
    assert "the wrong file was loaded" in first.stderr  # they would be found, had anyone asked
    service = Running(sqlite_url, cwd=tmp_path).ready()
    assert service.submit(study("own files"), wait=20).json()["status"] == "proven"
    assert service.stop() == 0
    assert "wrong file" not in service.log.read_text()
    service.log.unlink()
