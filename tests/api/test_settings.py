"""Settings from environment, file and command line; code and documentation name the same."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from ringset.api.settings import Settings, SettingsError, read_settings, settings_text
from ringset.cli import main
from tests.api.running import CHECKOUT
from tests.support.places import ROOT


@pytest.fixture(autouse=True)
def _clean(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("RINGSET_FILE", raising=False)


def test_given_beats_environment_beats_file(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "ringset.toml"
    file.write_text('port = 1001\nslots = 7\nhost = "127.0.0.2"\n')
    monkeypatch.setenv("RINGSET_FILE", str(file))
    monkeypatch.setenv("RINGSET_SLOTS", "8")
    monkeypatch.setenv("RINGSET_HOST", "127.0.0.3")
    found = read_settings(host="127.0.0.4")
    assert (found.port, found.slots, found.host) == (1001, 8, "127.0.0.4")


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("RINGSET_SLOTS", "0", "slots: given .*allowed"),
        ("RINGSET_PORT", "many", "port: given"),
        ("RINGSET_SLOT", "2", "RINGSET_SLOT: given an unknown setting"),
        ("RINGSET_FILE", "/none/there.toml", "RINGSET_FILE: given"),
        ("RINGSET_HOSTS", "no json", "given"),
        ("RINGSET_LOG_LEVEL", "loud", "log_level: given"),
    ],
)
def test_settings_that_are_no_good(
    monkeypatch: pytest.MonkeyPatch, name: str, value: str, words: str
) -> None:
    monkeypatch.setenv(name, value)
    with pytest.raises(SettingsError, match=words):
        read_settings()


@pytest.mark.parametrize("text", ["unknown = 1\n", "not toml", "slots = 'x'\n"])
def test_files_that_are_no_good(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, text: str) -> None:
    file = tmp_path / "bad.toml"
    file.write_text(text)
    monkeypatch.setenv("RINGSET_FILE", str(file))
    with pytest.raises(SettingsError, match="given"):
        read_settings()


def test_every_setting_is_listed_and_documented(capsys: pytest.CaptureFixture[str]) -> None:
    assert main.main(["serve", "--settings"]) == 0
    listed = capsys.readouterr().out
    assert listed == settings_text()
    readme = (ROOT / "api" / "README.md").read_text()
    table = dict(re.findall(r"^\| `RINGSET_([A-Z_]+)` \| (.*?) \|", readme, re.MULTILINE))
    assert set(table) == {name.upper() for name in Settings.model_fields} | {"FILE"}
    for name, info in Settings.model_fields.items():
        assert info.description
        assert f"RINGSET_{name.upper()}" in listed
        default = str(info.default).replace("'", '"').removesuffix(".0").lower()
        assert table[name.upper()].strip("`").lower() == default, name


def run(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "ringset", *arguments],
        cwd=cwd, capture_output=True, text=True, timeout=60, check=False,
        env=os.environ | {"PYTHONPATH": CHECKOUT},
    )  # fmt: skip


def test_keys_from_the_command_line(tmp_path: Path) -> None:
    store = ["--store", f"sqlite:///{tmp_path / 'ringset.db'}"]
    made = run("keys", "make", "line 1", *store, cwd=tmp_path)
    assert made.returncode == 0
    assert re.fullmatch(r"ringset_[0-9a-f]{12}_\S{43}\n", made.stdout)
    assert run("keys", "make", "line 1", *store, cwd=tmp_path).returncode == 2
    assert run("keys", "list", *store, cwd=tmp_path).stdout.startswith("line 1  made 2")
    assert run("keys", "withdraw", "line 1", *store, cwd=tmp_path).returncode == 0
    assert run("keys", "list", *store, cwd=tmp_path).stdout.endswith("withdrawn\n")
    assert run("keys", "withdraw", "line 2", *store, cwd=tmp_path).returncode == 2
    assert run("keys", "make", *store, cwd=tmp_path).returncode == 2
    assert run("keys", "list", "x", *store, cwd=tmp_path).returncode == 2


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--store", "nonsense"], "store_url: given"),
        (["--store", "sqlite:////none/there/x.db"], "store_url: given"),
        (["--host", "0.0.0.0"], "ringset keys make"),
        (["--port", "99999999"], "port: given"),
        (["--host", "203.0.113.7"], "given"),
    ],
)
def test_a_service_that_cannot_start_says_why(
    tmp_path: Path, arguments: list[str], words: str
) -> None:
    if "--store" not in arguments:
        arguments = [*arguments, "--store", f"sqlite:///{tmp_path / 'ringset.db'}"]
    ended = run("serve", *arguments, cwd=tmp_path)
    assert ended.returncode == 2, ended.stderr
    assert words in ended.stderr
    assert "Traceback" not in ended.stderr


def test_a_port_in_use_is_said(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as busy:
        port = str(busy.getsockname()[1])
        store = f"sqlite:///{tmp_path / 'ringset.db'}"
        ended = run("serve", "--port", port, "--store", store, cwd=tmp_path)
    assert ended.returncode == 2
    assert "a port that is free" in ended.stderr
