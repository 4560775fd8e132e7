"""The command: exit codes, what is written, and what is not."""

import io
import json
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

from ringset.cli import main
from ringset.schema.answer import Answer
from tests.support.electronic_studies import STARTS_WITH_A_SEARCH, with_batteries
from tests.support.places import SCENARIOS

TABLE = SCENARIOS / "two_joint_table.json"


def changed(tmp_path: Path, source: Path = TABLE, **fields: object) -> Path:
    """Write a copy of a scenario with top-level fields replaced."""
    study = json.loads(source.read_text()) | fields
    path = tmp_path / "study.json"
    path.write_text(json.dumps(study))
    return path


def test_solve_reports_and_writes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    answer, table = tmp_path / "a.json", tmp_path / "t.csv"
    assert main.main(["solve", str(TABLE), "--answer", str(answer), "--table", str(table)]) == 0
    printed = capsys.readouterr()
    assert printed.out.startswith("Tilt and turn table\nProven.")
    # a slow machine tells how far it is
    assert all(": best " in line for line in printed.err.splitlines())
    stored = Answer.model_validate_json(answer.read_text())
    frame = pd.read_csv(table)
    assert frame["joint"].tolist() == ["turn", "tilt"], "joints in the order of the study"
    by_name = {ring.joint: ring for ring in stored.rings}
    for line in frame.itertuples():
        assert line.bore_mm == by_name[str(line.joint)].bore_mm
        assert line.error_arcsec == by_name[str(line.joint)].error_arcsec
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.json", "t.csv"]


def test_solve_prints_json_only_on_request(capsys: pytest.CaptureFixture[str]) -> None:
    assert main.main(["solve", str(TABLE), "--answer", "-"]) == 0
    assert Answer.model_validate_json(capsys.readouterr().out).status == "proven"


def test_verbose_names_every_stage(capsys: pytest.CaptureFixture[str]) -> None:
    assert main.main(["solve", str(TABLE), "--verbose"]) == 0
    stages = [line.split("  ")[0] for line in capsys.readouterr().err.splitlines()]
    wanted = [
        "read and import",
        "catalogue and rate",
        "choose",
        "compose",
        "certify and verify",
        "judge",
        "next steps",
        "what decides",
        "all",
    ]
    assert stages == wanted


def test_bad_input_exits_2_without_traceback_and_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = changed(tmp_path, target={"angle_target_arcsec": -1})
    answer = tmp_path / "a.json"
    assert main.main(["solve", str(study), "--answer", str(answer)]) == 2
    err = capsys.readouterr().err
    assert err == "target.angle_target_arcsec: given -1; allowed: greater than 0\n"
    assert not answer.exists()


def test_a_missing_file_and_an_unwritable_place_exit_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main.main(["solve", str(tmp_path / "none.json")]) == 2
    assert "cannot be read" in capsys.readouterr().err
    assert main.main(["solve", str(TABLE), "--answer", str(tmp_path / "no" / "a.json")]) == 2
    assert "cannot be written" in capsys.readouterr().err


def test_impossible_exits_3_names_joint_and_limit_and_is_judged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = tmp_path / "a.json"
    study = SCENARIOS / "impossible_wrist.json"
    assert main.main(["solve", str(study), "--answer", str(answer)]) == 3
    out = capsys.readouterr().out
    assert "arm/wrist: bore_min_mm 50 with tip_max_mm 58" in out
    assert main.main(["judge", str(study), str(answer)]) == 0


@pytest.mark.slow
def test_no_answer_in_the_time_given_exits_4(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A study to which no row of least error per joint is an answer, so that a search must start."""
    study = tmp_path / "study.json"
    data = with_batteries(STARTS_WITH_A_SEARCH)
    study.write_text(json.dumps(data))
    assert main.main(["solve", str(study)]) == 0
    assert "Proven." in capsys.readouterr().out
    study.write_text(json.dumps(data | {"search": {"work_limit": 1e-9}}))
    assert main.main(["solve", str(study)]) == 4
    out = capsys.readouterr().out
    assert "Undecided in the time given." in out
    assert "search.work_limit" in out


def test_judge_names_violations_and_exits_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = tmp_path / "a.json"
    main.main(["solve", str(TABLE), "--answer", str(answer)])
    tighter = changed(tmp_path, target={"angle_target_arcsec": 30})
    capsys.readouterr()
    assert main.main(["judge", str(tighter), str(answer)]) == 1
    out = capsys.readouterr().out
    assert "table/turn: error" in out
    assert "above angle_target_arcsec 30" in out


def test_judge_refuses_what_is_no_answer(capsys: pytest.CaptureFixture[str]) -> None:
    assert main.main(["judge", str(TABLE), str(TABLE)]) == 2
    assert "is not an answer" in capsys.readouterr().err


def test_rate_gives_the_hand_calculation(capsys: pytest.CaptureFixture[str]) -> None:
    ring = ["--joint", "turn", "--module", "1", "--tip", "180", "--rim", "6.75"]
    assert main.main(["rate", str(TABLE), *ring]) == 0
    out = capsys.readouterr().out
    assert "module 1 mm, 178 teeth, bore 162 mm, 1 head" in out
    assert "pitch diameter  178 mm" in out
    assert "root diameter   175.5 mm" in out
    assert "tip_max_mm: 180 mm, allowed 130" in out, "broken limits are named"


@pytest.mark.parametrize(
    ("ring", "text"),
    [
        (["--module", "1", "--teeth", "9", "--bore", "3"], "teeth: given 9"),
        (["--module", "1", "--teeth", "90", "--bore", "95"], "bore: given 95 mm"),
        (["--module", "1", "--teeth", "90", "--bore", "-4"], "bore: given -4 mm"),
        (["--module", "1", "--teeth", "90", "--bore", "80", "--heads", "9"], "heads: given 9"),
        (["--module", "0", "--teeth", "90", "--bore", "80"], "--module: given 0"),
        (["--module", "nan", "--teeth", "90", "--bore", "80"], "--module: given nan"),
        (["--module", "1", "--tip", "nan", "--bore", "80"], "--tip: given nan"),
        (["--module", "1", "--teeth", "90", "--rim", "inf"], "--rim: given inf"),
        (["--module", "1", "--teeth", "90", "--bore", "nan"], "--bore: given nan"),
        (["--module", "1", "--teeth", "999999", "--bore", "80"], "teeth: given 999999"),
    ],
)
def test_rate_refuses_rings_that_cannot_be(
    ring: list[str], text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main.main(["rate", str(TABLE), "--joint", "turn", *ring]) == 2
    assert text in capsys.readouterr().err


def test_rate_wants_a_joint_of_the_study(capsys: pytest.CaptureFixture[str]) -> None:
    ring = ["--module", "1", "--teeth", "90", "--bore", "80"]
    assert main.main(["rate", str(TABLE), "--joint", "elbow", *ring]) == 2
    assert "table/turn, table/tilt" in capsys.readouterr().err


def test_new_writes_a_study_that_solves_and_never_overwrites(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "mine.json"
    assert main.main(["new", str(path), "--joints", "4"]) == 0
    assert main.main(["solve", str(path)]) == 0
    before = path.read_text()
    capsys.readouterr()
    assert main.main(["new", str(path)]) == 2
    assert "exists" in capsys.readouterr().err
    assert path.read_text() == before


@pytest.mark.slow
def test_a_study_may_come_from_standard_input(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(TABLE.read_bytes())))
    assert main.main(["solve", "-"]) == 0
    assert "Proven." in capsys.readouterr().out


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\nfrom ringset.cli.main import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'scipy', 'ortools', 'pandas', 'pydantic', 'fastapi'} & set(sys.modules)\n"
        "print('HEAVY', sorted(heavy))\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.rstrip().endswith("HEAVY []")


@pytest.mark.slow
def test_a_closed_pipe_is_no_error() -> None:
    code = "import sys\nfrom ringset.cli.main import main\nsys.exit(main(sys.argv[1:]))"
    command = [sys.executable, "-c", code, "solve", str(TABLE)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
        assert run.stdout is not None
        assert run.stderr is not None
        run.stdout.close()
        assert b"Traceback" not in run.stderr.read()
