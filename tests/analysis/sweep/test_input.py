"""Sweeps: bad input is refused before any work, and said in words."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from ringset.analysis.sweep.sweep import ROWS_MAX
from ringset.cli import main
from ringset.schema.loading import load_study
from tests.support.places import ROOT
from tests.support.sweeps import TABLE

BASE = load_study(TABLE.read_text())


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["--vary", "joints.turn.tip_max=1"], "allowed: joints.turn.tip_max_mm"),
        (["--vary", "joints.turm.tip_max_mm=1"], "allowed: joints.turn.tip_max_mm"),
        (["--vary", "joints.turn.tip_max_mm"], "given no values"),
        (["--vary", "joints.turn.tip_max_mm="], "given an empty value"),
        (["--vary", "joints.turn.tip_max_mm=60:70"], "allowed: start:stop:step"),
        (["--vary", "search.workers=1,2"], "searched by one thread"),
        (["--vary", "head.gap_mm=0.3", "--vary", "head.gap_mm=0.4"], "given twice"),
        (
            ["--vary", "head.gap_mm=0.3", "--vary", "joints.turn.tip_max_mm=1", "--vary",
             "robots.table.joints.turn.tip_max_mm=2"],
            "given twice",
        ),
        (["--vary", "head.gap_mm=1:1000:1", "--vary", "shop.clamp_force_n=1:1000:1"], "1000000 rows"),
        ([], "given neither"),
        (["--vary", "head.gap_mm=0.3", "--list", "x.csv"], "given both"),
        (["--list", "none.csv"], "cannot be read"),
        (["--vary", "head.gap_mm=0.3", "--processes", "0"], "allowed: 1 to 256"),
        (["--vary", "head.gap_mm=0.3", "--scheduler", "here"], "allowed: tcp://HOST:PORT"),
        (
            ["--vary", "head.gap_mm=0.3", "--scheduler", "tcp://h:1", "--processes", "2"],
            "beside --scheduler",
        ),
    ],
)  # fmt: skip
def test_bad_options_are_refused_before_any_work(
    words: list[str], text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main.main(["sweep", str(TABLE), "--table", str(tmp_path / "t.csv"), *words]) == 2
    assert text in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", ["t.txt", "t", "-", "no/t.csv", "t.csv/"])
def test_a_table_that_cannot_be_is_refused(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "t.csv").mkdir()
    assert main.main(["sweep", str(TABLE), "--table", name, "--vary", "head.gap_mm=0.3"]) == 2
    assert "--table: given" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "0 lines with text"),
        ("head.gap_mm\n", "1 lines with text"),
        ("head.gap_mm,head.gap_mm\n1,2\n", "given twice"),
        ("head.gap\n1\n", "allowed: head.gap_mm"),
        ("head.gap_mm,shop.rack\n0.3\n", "list line 2: given 1 cells; allowed: 2 cells"),
        ("head.gap_mm\n0.3\n[1\n", "list line 3: head.gap_mm: given [1; allowed: JSON"),
        ('head.gap_mm\n"0.3\n', "given text that is no CSV"),
        ("head.gap_mm\n" + "0.3\n" * (ROWS_MAX + 1), f"at most {ROWS_MAX}"),
    ],
)
def test_a_bad_list_is_refused_by_line(
    text: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "l.csv"
    file.write_text(text)
    words = ["sweep", str(TABLE), "--table", str(tmp_path / "t.csv"), "--list", str(file)]
    assert main.main(words) == 2
    assert told in capsys.readouterr().err
    file.write_bytes(b"\xff\xfe\x00")
    assert main.main(words) == 2
    assert "not UTF-8" in capsys.readouterr().err


@pytest.mark.parametrize("module", ["pyarrow", "distributed"])
def test_a_missing_extra_is_named(
    module: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("ringset.cli.sweep.find_spec", lambda name: None)
    ending, more = (
        (".parquet", []) if module == "pyarrow" else (".csv", ["--scheduler", "tcp://h:1"])
    )
    words = [
        "sweep",
        str(TABLE),
        "--table",
        str(tmp_path / f"t{ending}"),
        "--vary",
        "head.gap_mm=1",
    ]
    assert main.main([*words, *more]) == 2
    assert f"needs {module}; install it with: pip install '.[" in capsys.readouterr().err


def test_planning_loads_no_solver() -> None:
    code = (
        "import sys\nfrom ringset.analysis.sweep.sweep import sweep_grid\n"
        "from ringset.analysis.sweep.processes import sweep_in_processes\n"
        "print(sorted({'ortools', 'pandas', 'scipy', 'distributed'} & set(sys.modules)))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert ran.stdout == "[]\n"
