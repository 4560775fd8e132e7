"""The examples in the README of the service run as written, one after another, against a service."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.api.running import CHECKOUT, Running
from tests.support.places import ROOT

BLOCKS = re.findall(r"```sh\n(.*?)```", (ROOT / "api" / "README.md").read_text(), re.DOTALL)


def test_the_readme_has_the_examples() -> None:
    assert BLOCKS[0] == "ringset serve\n"
    assert [block.startswith(("curl", "id=$(curl")) for block in BLOCKS[1:]] == [True] * 8


@pytest.fixture
def place(tmp_path: Path) -> Path:
    (tmp_path / "scenarios").symlink_to(ROOT / "scenarios")
    command = tmp_path / "bin" / "ringset"
    command.parent.mkdir()
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m ringset "$@"\n')
    command.chmod(0o755)
    return tmp_path


@pytest.mark.parametrize(
    "block",
    BLOCKS[1:],
    ids=["wait", "follow", "more", "sweep", "proof", "revision", "sheets", "rate and compare"],
)
def test_curl_examples_run(shared: Running, place: Path, block: str) -> None:
    assert "127.0.0.1:8730" in block
    run = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", block.replace("http://127.0.0.1:8730", shared.url)],
        cwd=place, capture_output=True, text=True, timeout=120, check=False,
        env=os.environ | {"PATH": f"{place}/bin:{os.environ['PATH']}", "PYTHONPATH": CHECKOUT},
    )  # fmt: skip
    assert run.returncode == 0, run.stdout[-1000:] + run.stderr[-2000:]
    if "sheets.zip" in block:
        assert (place / "sheets.zip").read_bytes().startswith(b"PK")
    elif "revision.json" in block:
        assert '"part_numbers":{"kept":[],"retired":["R1"]}' in run.stdout
    elif "judge.json" in block:
        assert '"complete": true' in run.stdout
    else:
        assert '"state": "done"' in run.stdout
