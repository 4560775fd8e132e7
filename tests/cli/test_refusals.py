"""What the commands say where something is missing, cannot be read or written, or is stopped."""

from __future__ import annotations

import io
import json
import os
import signal
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest

from ringset.analysis.sweep.processes import EngineError
from ringset.cli import assumptions, files, front, main, sweep
from ringset.errors import Refused
from ringset.schema.loading import load_study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve, solve_in_full
from ringset.verification.certificate.document import BY_SEARCH
from tests.support.places import SCENARIOS
from tests.support.solved import solved_scenario
from tests.support.studies import load, small

TABLE = str(SCENARIOS / "two_joint_table.json")
GAP = ["--vary", "head.gap_mm=0.3"]


def refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """Return what a command that is refused says."""
    assert main.main(words) == 2
    told = capsys.readouterr()
    assert told.out == ""
    return " ".join(told.err.split())


@pytest.fixture(name="answer")
def _answer(tmp_path: Path) -> str:
    path = tmp_path / "answer.json"
    path.write_text(solved_scenario("two_joint_table").to_json())
    return str(path)


# -- standard output -------------------------------------------------------------------------------


def test_a_closed_standard_output_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdout", None)
    assert main.main(["judge", TABLE, TABLE]) == 2
    assert capsys.readouterr().err == "standard output: closed\n"


@pytest.mark.parametrize(
    ("error", "code", "told"),
    [
        (BrokenPipeError(), 0, ""),
        (
            OSError(28, "No space left on device"),
            2,
            "standard output: cannot be written (No space left on device)\n",
        ),
    ],
    ids=["reader gone", "disk full"],
)
def test_an_output_that_breaks_ends_the_command(
    error: OSError, code: int, told: str, answer: str,
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """A reader that has seen enough is no error, a full disk is; Python then complains of neither at exit."""

    class Broken(io.StringIO):
        def flush(self) -> None:
            raise error

    silenced: list[int] = []

    def dup2(source: int, place: int) -> None:
        os.close(source)
        silenced.append(place)

    monkeypatch.setattr(sys, "stdout", Broken())
    own = SimpleNamespace(open=os.open, devnull=os.devnull, O_WRONLY=os.O_WRONLY, dup2=dup2)
    monkeypatch.setattr(main, "os", own)
    assert main.main(["judge", TABLE, answer]) == code
    assert silenced == [1]
    assert capsys.readouterr().err == told


def test_the_installed_command_ends_with_the_code(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["ringset", "new", "--joints", "101", "study.json"])
    with pytest.raises(SystemExit) as ended:
        main.script()
    assert ended.value.code == 2
    assert capsys.readouterr().err == "--joints: given 101; allowed: 1 to 100\n"


# -- files -----------------------------------------------------------------------------------------


def test_a_device_is_written_to_and_stays_a_device() -> None:
    files.write_whole(Path("/dev/null"), "text")
    assert Path("/dev/null").is_char_device()
    with pytest.raises(
        Refused, match=r"/dev/full: given a place that cannot be written \(No space"
    ):
        files.write_whole(Path("/dev/full"), "text")


def test_a_file_that_names_a_certificate_and_holds_none_is_no_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a.json"
    path.write_text('{"certificate": 1}')
    assert f"{path} is not an answer:" in refused(["judge", TABLE, str(path)], capsys)


@pytest.mark.parametrize("command", ["why", "front", "simulate"])
def test_a_picture_without_matplotlib_names_what_to_install(
    command: str, answer: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    given = [TABLE, answer] if command == "simulate" else [TABLE]
    told = refused([command, *given, "--plot", "p.svg"], capsys)
    assert told == "--plot: needs matplotlib; install it with: pip install '.[plot]'"


@pytest.mark.parametrize("option", ["table", "certificate"])
def test_a_second_output_needs_a_file(option: str, capsys: pytest.CaptureFixture[str]) -> None:
    told = refused(["solve", TABLE, f"--{option}", "-"], capsys)
    assert told == f"--{option}: given -; allowed: a file name"


# -- studies and answers ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [
        ["solve", TABLE], ["assumptions", TABLE], ["assumptions", TABLE, "--band"], ["front", TABLE],
        ["compare", TABLE, TABLE], ["why", TABLE],
    ],
    ids=" ".join,
)  # fmt: skip
def test_a_study_of_too_many_rows_is_refused_by_every_command(
    words: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("ringset.catalogue.enumerate.ROWS_MAX", 10)
    assert "shop.bore_step_mm: given 0.5" in refused(words, capsys)


def test_a_second_ring_that_is_not_asked_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    ring = ["--joint", "turn", "--module", "1", "--teeth", "101", "--bore", "90.5"]
    told = refused(["rate", TABLE, *ring, "--second-teeth", "100"], capsys)
    assert told.endswith("given 100; allowed: none, for the joint asks no second_ring")


def test_a_ring_may_be_stated_in_inches_and_by_its_pitch(
    capsys: pytest.CaptureFixture[str],
) -> None:
    ring = ["--joint", "turn", "--teeth", "101"]
    assert main.main(["rate", TABLE, *ring, "--module", "20 DP", "--bore", "4 in"]) == 0
    assert "module 1.27 mm, 101 teeth, bore 101.6 mm" in capsys.readouterr().out
    with pytest.raises(SystemExit):
        main.main(["rate", TABLE, *ring, "--module", "20 furlongs", "--bore", "90"])
    assert "argument --module: given '20 furlongs'; allowed: " in capsys.readouterr().err


def test_answers_are_compared_from_their_files_and_written(
    answer: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other, table, data = tmp_path / "other.json", tmp_path / "t.csv", tmp_path / "c.json"
    other.write_text(Path(answer).read_text())
    words = ["compare", answer, str(other), "--csv", str(table), "--json", str(data)]
    assert main.main(words) == 0
    assert "no change" in capsys.readouterr().out
    assert json.loads(data.read_text())["changes"][0]["summary"] == "no change"
    assert len(table.read_text().splitlines()) == 1 + 2 * 2  # a line per joint and answer
    other.write_text(Path(answer).read_text().replace('"proven"', '"impossible"', 1))
    told = refused(["compare", answer, str(other)], capsys)
    assert "other.json: status: given impossible with 2 rings" in told


def test_an_answer_that_cannot_be_proven_is_refused_or_told_so(
    answer: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = ["--out", str(tmp_path / "proofs")]
    told = refused(["prove", TABLE, answer, *out, "--only", "weight"], capsys)
    assert "only: given weight; allowed: cutters, ring_parts" in told
    none = tmp_path / "none.json"
    wrist = str(SCENARIOS / "impossible_wrist.json")
    none.write_text(solve(load_study(Path(wrist).read_text())).to_json())
    told = refused(["prove", wrist, str(none), *out], capsys)
    assert told == "answer: given one without rings; allowed: one with rings to prove best"
    told = refused(["prove", str(SCENARIOS / "finer_table.json"), answer, *out], capsys)
    assert told.startswith("answer: given an answer of another study")
    study = load_study(Path(TABLE).read_text())
    made = certify(study, solved_scenario("two_joint_table"))
    blank = {"proof": "search", "rows": "none", "steps": [], "note": BY_SEARCH}
    stages = [*made.stages[:-1], made.stages[-1].model_copy(update=blank)]
    certificate = tmp_path / "c.json"
    certificate.write_text(made.model_copy(update={"stages": stages}).sealed().to_json())
    assert main.main(["prove", TABLE, answer, *out, "--certificate", str(certificate)]) == 4
    assert "material: given a bound by search" in capsys.readouterr().err
    assert not (tmp_path / "proofs").exists()


def test_a_point_of_a_front_is_told_to_a_terminal_only(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    point = solved_scenario("two_joint_table")
    front._tell(point)
    assert capsys.readouterr().err == ""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    front._tell(point)
    front._tell(point.model_copy(update={"totals": None}))
    assert capsys.readouterr().err == "proven: 1 cutter, 1 ring part, 4 heads, 0.2386 kg\n"


def test_points_of_a_front_need_a_place_for_their_directory(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study, taken = tmp_path / "s.json", tmp_path / "taken"
    study.write_text(json.dumps(small()))
    taken.write_text("mine")
    assert main.main(["front", str(study), "--answers", str(taken / "points")]) == 2
    assert f"{taken / 'points'}: given a place that cannot be written" in capsys.readouterr().err
    assert taken.read_text() == "mine"


# -- what decides an answer ------------------------------------------------------------------------


def test_where_the_time_is_over_what_decides_is_not_looked_for(
    capsys: pytest.CaptureFixture[str],
) -> None:
    study = load(small())
    begun = time.monotonic() - study.search.time_limit_s
    assumptions.print_what_decides(study, solve_in_full(study), None, "Proven.", begun)
    told = capsys.readouterr().out
    assert told.startswith(
        "\nIn short\n\nProven.\n\nThe study's time (search.time_limit_s) was over"
    )


def test_without_room_for_a_second_process_one_does_the_work(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def full() -> None:
        raise OSError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 1})
    monkeypatch.setattr("ringset.analysis.assumptions.helper.Helper", full)
    six = load_study((SCENARIOS / "six_joint_arm.json").read_text())
    assert assumptions.start_assumptions_helper(six) is None


# -- sweeps ----------------------------------------------------------------------------------------


def test_a_file_in_the_place_of_the_journal_is_refused_and_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "t.csv"
    journal = tmp_path / "t.csv.journal"
    journal.write_text("notes\n")
    assert "no sweep wrote" in refused(["sweep", TABLE, "--table", str(table), *GAP], capsys)
    assert journal.read_text() == "notes\n"
    journal.unlink()
    journal.mkdir()
    told = refused(["sweep", TABLE, "--table", str(table), *GAP], capsys)
    assert told == f"{journal}: given a place that cannot be written (Is a directory)"
    assert not table.exists()


def test_study_and_list_cannot_both_be_standard_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = refused(["sweep", "-", "--list", "-", "--table", str(tmp_path / "t.csv")], capsys)
    assert told == "--list: given - beside STUDY -; allowed: - once"


def test_a_sweep_without_workers_says_that_it_can_go_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: list[int] = []

    def none(*_: object, processes: int, **__: object) -> None:
        asked.append(processes)
        raise EngineError("a worker cannot be started (no memory)")

    monkeypatch.setattr("ringset.analysis.sweep.processes.sweep_in_processes", none)
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 1, 2})
    table = tmp_path / "t.csv"
    told = refused(["sweep", TABLE, "--table", str(table), *GAP], capsys)
    assert told == (
        "a worker cannot be started (no memory) the same command goes on with what is solved by now"
    )
    assert not table.exists()
    monkeypatch.delattr(os, "sched_getaffinity")  # as on other systems
    monkeypatch.setattr(os, "cpu_count", lambda: 5)
    refused(["sweep", TABLE, "--table", str(table), *GAP], capsys)
    assert asked == [3, 5]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_sweep_that_is_stopped_ends_by_the_signal_that_came(
    number: signal.Signals, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A second signal is ignored while the first one is heeded; then all is as before."""
    ended: list[tuple[int, int]] = []
    monkeypatch.setattr(os, "kill", lambda *given: ended.append(given))
    before = [signal.getsignal(each) for each in (signal.SIGINT, signal.SIGTERM)]
    with sweep._ending_at_once():
        try:
            signal.raise_signal(number)
        finally:
            signal.raise_signal(signal.SIGTERM)
    assert ended == [(os.getpid(), number)]
    assert capsys.readouterr().err.startswith("stopped; the same command goes on")
    assert [signal.getsignal(each) for each in (signal.SIGINT, signal.SIGTERM)] == before
