"""The command `sheet` and its folder: all or nothing, nothing overwritten unless asked."""

import os
from importlib.util import find_spec
from pathlib import Path

import pytest

from ringset.cli import main, sheet
from ringset.export import folder
from tests.drawing.cases import answered
from tests.support.places import SCENARIOS

STUDY = str(SCENARIOS / "two_joint_table.json")
FILES = {
    "R1.svg", "R1.pdf", "R1.dxf", "R1.step", "robot-table.svg", "robot-table.pdf",
    "robot-table.inertial.xml", "order.csv", "cutters.csv", "joints.csv", "notes.csv", "tables.xlsx",
}  # fmt: skip


@pytest.fixture
def answer(tmp_path: Path) -> str:
    file = tmp_path / "answer.json"
    file.write_text(answered("two_joint_table")[1].to_json())
    return str(file)


def run(answer: str, out: Path, *options: str) -> int:
    return main.main(["sheet", STUDY, answer, "--out", str(out), *options])


def names(out: Path) -> set[str]:
    return {path.name for path in out.iterdir()}


@pytest.mark.cad
def test_everything_by_default(
    answer: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert run(answer, tmp_path / "out") == 0
    assert names(tmp_path / "out") == FILES
    printed = capfd.readouterr().out
    assert printed.startswith("12 files written to ")
    assert printed.count("\n") == 1  # the CAD kernel is kept quiet
    assert all(path.stat().st_size > 50 for path in (tmp_path / "out").iterdir())
    assert names(tmp_path) == {"answer.json", "out"}


def test_the_command_and_the_folder_know_the_same_kinds() -> None:
    assert set(sheet.KINDS) == set(folder.KINDS)


def test_chosen_kinds_into_a_folder_that_holds_others(answer: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert run(answer, out, "--only", "dxf") == 0
    assert names(out) == {"R1.dxf"}
    assert run(answer, out, "--only", "tables", "inertial") == 0
    assert names(out) == {
        "R1.dxf", "order.csv", "cutters.csv", "joints.csv", "notes.csv", "tables.xlsx",
        "robot-table.inertial.xml",
    }  # fmt: skip


def test_existing_files_stay_unless_replace_is_given(
    answer: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "R1.dxf").write_text("mine")
    (out / "notes.txt").write_text("mine too")
    assert run(answer, out, "--only", "dxf", "inertial") == 2
    assert "holds R1.dxf; allowed: a new one, or --replace" in capsys.readouterr().err
    assert names(out) == {"R1.dxf", "notes.txt"}
    assert (out / "R1.dxf").read_text() == "mine"
    assert run(answer, out, "--only", "dxf", "inertial", "--replace") == 0
    assert (out / "R1.dxf").read_text() != "mine"
    assert (out / "notes.txt").read_text() == "mine too"


def job(name: str, text: str, error: Exception | None = None) -> folder.Job:
    def write(place: Path) -> None:
        (place / name).write_text(text)
        if error is not None:
            raise error

    return folder.Job((name,), write)


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), RuntimeError("broken")])
def test_a_failure_in_the_middle_leaves_nothing(tmp_path: Path, error: Exception) -> None:
    work = [job("a", "good"), job("b", "half", error)]
    kind = folder.Withheld if isinstance(error, OSError) else RuntimeError
    with pytest.raises(kind, match=r"No space left|broken"):
        folder.write_export_folder(work, tmp_path / "out")
    assert names(tmp_path) == set()


def test_an_interrupt_leaves_nothing(
    answer: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(folder, "profile_dxf", interrupted)
    assert run(answer, tmp_path / "out", "--only", "inertial", "dxf") == 2
    assert "interrupted, nothing is written" in capsys.readouterr().err
    assert names(tmp_path) == {"answer.json"}


@pytest.mark.parametrize("error", [OSError(5, "Input/output error"), KeyboardInterrupt()])
def test_a_failure_while_moving_puts_everything_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: BaseException
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "a").write_text("old")
    (out / "d").write_text("old")
    real = Path.replace

    def failing(self: Path, target: Path) -> Path:
        if self.name == "c" and Path(target).parent.name == "out":
            raise error
        return real(self, target)

    monkeypatch.setattr(Path, "replace", failing)
    kind = folder.Withheld if isinstance(error, OSError) else KeyboardInterrupt
    with pytest.raises(kind):
        folder.write_export_folder([job(name, "new") for name in "abcd"], out, replace=True)
    assert names(out) == {"a", "d"}
    assert {path.read_text() for path in out.iterdir()} == {"old"}
    assert names(tmp_path) == {"out"}


@pytest.mark.slow
def test_several_processes_write_the_same_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study, solved = answered("two_joint_table")
    work = folder.export_jobs(study, solved, ["rings", "robots", "inertial", "dxf"])
    folder.write_export_folder(work, tmp_path / "one")
    monkeypatch.setattr(folder, "SHARED_FROM", 1)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    folder.write_export_folder(work, tmp_path / "two")
    one, two = ({p.name: p.read_bytes() for p in (tmp_path / n).iterdir()} for n in ("one", "two"))
    assert set(one) == set(two)
    assert all(one[name] == two[name] for name in one if not name.endswith(".dxf"))


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--chord-um", "0"], "--chord-um: given 0; allowed: 0.05 to 100"),
        (["--chord-um", "nan"], "--chord-um: given nan"),
        (["--out", ""], "--out: given nothing; allowed: a folder in a place that exists"),
        (["--date", "tomorrow"], "--date: given 'tomorrow'; allowed: YYYY-MM-DD"),
    ],
)
def test_bad_options_are_refused_by_name(
    answer: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], options: list[str], words: str
) -> None:
    assert run(answer, tmp_path / "out", *options) == 2
    assert words in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_an_answer_that_the_judge_faults_is_not_drawn(
    answer: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = Path(answer).read_text().replace('"bore_mm": 90.5', '"bore_mm": 89.5')
    Path(answer).write_text(text)
    assert run(answer, tmp_path / "out") == 2
    assert "cannot be drawn:\ntable/" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_an_impossible_study_has_nothing_to_draw(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study, nothing = answered("impossible_wrist")
    file = tmp_path / "answer.json"
    file.write_text(nothing.to_json())
    code = main.main(
        ["sheet", str(SCENARIOS / "impossible_wrist.json"), str(file), "--out", str(tmp_path / "o")]
    )
    assert code == 2
    assert "it holds no rings" in capsys.readouterr().err
    assert study.robots


@pytest.mark.parametrize("place", ["no/such/place", "answer.json"])
def test_places_that_cannot_be_written_are_refused(
    answer: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], place: str
) -> None:
    assert run(answer, tmp_path / place) == 2
    assert "allowed: a folder" in capsys.readouterr().err


def test_what_is_not_installed_is_left_out_or_refused(
    answer: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    real = find_spec
    monkeypatch.setattr(folder, "find_spec", lambda name: None if name == "OCP" else real(name))
    assert run(answer, tmp_path / "out") == 0
    assert "step: left out; to have them: pip install '.[cad]'" in capsys.readouterr().err
    assert names(tmp_path / "out") == FILES - {"R1.step"}
    assert run(answer, tmp_path / "other", "--only", "step") == 2
    assert "--only: given step" in capsys.readouterr().err


def test_names_become_file_names_that_no_two_share() -> None:
    stems = folder.export_file_stems(["arm", "ARM", "a/b", "a b", "../x", "关节"])
    assert stems == ["arm", "ARM_2", "a_b", "a_b_2", "_x", "_"]


@pytest.fixture(scope="module")
def six(tmp_path_factory: pytest.TempPathFactory) -> str:
    file = tmp_path_factory.mktemp("six") / "answer.json"
    file.write_text(answered("six_joint_arm")[1].to_json())
    return str(file)


def run_six(six: str, out: Path, *options: str) -> int:
    study = str(SCENARIOS / "six_joint_arm.json")
    return main.main(["sheet", study, six, "--out", str(out), *options])


def test_all_ring_parts_may_be_chosen_by_name(answer: str, tmp_path: Path) -> None:
    assert run(answer, tmp_path / "out", "--parts", "R1", "--only", "dxf") == 0
    assert names(tmp_path / "out") == {"R1.dxf"}


@pytest.mark.slow
def test_chosen_ring_parts_alone(six: str, tmp_path: Path) -> None:
    assert run_six(six, tmp_path / "a", "--parts", "R3", "R1", "--only", "dxf") == 0
    assert names(tmp_path / "a") == {"R1.dxf", "R3.dxf"}
    assert run_six(six, tmp_path / "b", "--parts", "R2") == 0
    assert {"R2.dxf", "R2.pdf", "R2.svg"} <= names(tmp_path / "b")
    assert all(name.startswith("R2.") for name in names(tmp_path / "b"))


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--parts", "R1", "R9"], "--parts: given R9; allowed: R1, R2, R3, R4"),
        (
            ["--parts", "R1", "--only", "tables"],
            "--only: given tables; allowed with --parts: rings",
        ),
    ],
)
def test_unknown_parts_and_kinds_that_show_all_are_refused(
    six: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], options: list[str], words: str
) -> None:
    assert run_six(six, tmp_path / "out", *options) == 2
    assert words in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
