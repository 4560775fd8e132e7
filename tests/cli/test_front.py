"""The command `front`: what it writes and refuses, and what it leaves behind where it is stopped."""

from __future__ import annotations

import json
import signal
from pathlib import Path
from typing import Any

import pytest

from ringset.analysis.front.front import Front
from ringset.cli import front as front_command
from ringset.cli.main import main
from ringset.reporting.front_text import front_text
from ringset.schema.answer import Answer
from tests.support.places import SCENARIOS
from tests.support.studies import small


def test_the_command_writes_what_it_prints(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = tmp_path / "s.json"
    study.write_text(json.dumps(small()))
    endings = {"json": "json", "csv": "csv", "plot": "svg"}
    places = {option: str(tmp_path / f"f.{ending}") for option, ending in endings.items()}
    options = [part for option, place in places.items() for part in (f"--{option}", place)]
    answers = tmp_path / "points"
    assert main(["front", str(study), *options, "--answers", str(answers)]) == 0
    found = Front.model_validate_json((tmp_path / "f.json").read_text())
    assert capsys.readouterr().out == front_text(found)
    assert len(list(answers.iterdir())) == 2 * len(found.points)
    pair = [str(answers / f"point 1 {kind}.json") for kind in ("study", "answer")]
    assert main(["judge", *pair]) == 0


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--over", "cutters,weight"], "--over: given 'weight'"),
        (["--over", "material"], "over: given material"),
        (["--over", "heads,heads"], "over: given heads, heads"),
        (["--step", "0"], "step: given 0; allowed: more than 0, at most 50 percent, or exact"),
        (
            ["--step", "5"],
            "step: given 5 over cutters, ring_parts, heads, material; allowed: a step",
        ),
        (["--step", "fine"], "--step: given 'fine'; allowed: a number of percent, or exact"),
        (["--across", "weight"], "--across: given 'weight'; allowed: cutters, ring_parts,"),
        (["--across", "heads"], "--across: given heads without --plot"),
        (["--across", "cost", "--plot", "f.svg"], "--across: given cost without shop.prices"),
        (["--targets", "40,many"], "--targets: given '40,many'"),
        (["--targets", "-4"], "targets: given -4"),
        (["--csv", "-"], "--csv: given '-'"),
        (["--csv", "f.txt"], "--csv: given f.txt; allowed: a name that ends with .csv"),
        (["--plot", "f.pdf"], "--plot: given f.pdf; allowed: a name that ends with .svg"),
    ],
)
def test_bad_options_are_refused_by_name(
    options: list[str], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = tmp_path / "s.json"
    study.write_text(json.dumps(small()))
    assert main(["front", str(study), *options]) == 2
    assert words in capsys.readouterr().err


def test_a_directory_that_exists_is_left_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = tmp_path / "s.json"
    study.write_text(json.dumps(small()))
    assert main(["front", str(study), "--answers", str(tmp_path)]) == 2
    assert "which exists" in capsys.readouterr().err


def test_answers_that_cannot_be_written_leave_nothing_behind(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    study = tmp_path / "s.json"
    study.write_text(json.dumps(small()))
    honest = Path.write_text
    calls: list[Path] = []

    def full(self: Path, *args: Any, **kwargs: Any) -> int:
        calls.append(self)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")
        return honest(self, *args, **kwargs)

    monkeypatch.setattr(Path, "write_text", full)
    assert main(["front", str(study), "--answers", str(tmp_path / "points")]) == 2
    assert "cannot be written" in capsys.readouterr().err
    assert len(calls) == 2
    assert [path.name for path in tmp_path.iterdir()] == ["s.json"]


def test_an_impossible_study_has_no_front_and_says_why(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["front", str(SCENARIOS / "impossible_wrist.json")]) == 3
    out = capsys.readouterr().out
    assert "Impossible" in out
    assert "wrist" in out


def test_an_interrupt_prints_and_writes_what_is_proven(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def interrupted(answer: Answer) -> None:
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(front_command, "_tell", interrupted)
    before = signal.getsignal(signal.SIGINT)
    table, written = str(SCENARIOS / "two_joint_table.json"), tmp_path / "f.json"
    assert main(["front", table, "--json", str(written)]) == 4
    assert signal.getsignal(signal.SIGINT) is before
    out = capsys.readouterr().out
    assert "1 answer over" in out
    assert "Not complete" in " ".join(out.split())
    assert "not searched" in out
    found = Front.model_validate_json(written.read_text())
    assert len(found.points) == 1
    assert not found.complete


def test_a_sweep_says_down_to_which_target_a_point_holds(
    capsys: pytest.CaptureFixture[str],
) -> None:
    arm = str(SCENARIOS / "six_joint_arm.json")
    options = ["--over", "cutters,material", "--targets", "200,150,60"]
    assert main(["front", arm, *options]) == 0
    out = capsys.readouterr().out
    assert "200 down to 150" in out
    assert "target 60 arcsec: arm/flange" in out
