"""`ringset losses`: what it prints and writes is what the package finds, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ringset.analysis.losses.losses import find_losses
from ringset.analysis.losses.models import Losses
from ringset.cli import losses as losses_command
from ringset.cli.main import main
from ringset.reporting.losses_text import losses_text
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.solving.pipeline import solve
from tests.support.studies import small


@pytest.fixture(scope="module", name="files")
def _files(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Return study and answer as files; the study states stock."""
    place = tmp_path_factory.mktemp("losses")
    data = {**small(), "title": "small arm"}
    data["shop"]["bars_mm"] = [70.0, 300.0, 320.0]
    study, answer = place / "study.json", place / "answer.json"
    study.write_text(json.dumps(data))
    answer.write_text(solve(load_study(study.read_text())).to_json())
    return str(study), str(answer)


def test_the_losses_are_printed_and_written(
    files: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, answers = tmp_path / "losses.json", tmp_path / "answers"
    assert main(["losses", *files, "--json", str(file), "--answers", str(answers)]) == 0
    text = capsys.readouterr().out
    found = Losses.model_validate_json(file.read_text())
    study, answer = (Path(one).read_text() for one in files)
    assert found == find_losses(load_study(study), Answer.model_validate_json(answer))
    assert text == losses_text(found)
    assert text.startswith("small arm\nWhat it costs to lose a thing of this answer: ")
    titles = [line for line in text.splitlines() if line.startswith("Without a ")]
    assert [title.split(" (")[0] for title in titles] == [
        "Without a cutter", "Without a head", "Without a ring part", "Without a stock size",
    ]  # fmt: skip
    for loss in found.losses:
        assert loss.thing.split(",")[0] in text
    written = {path.stem: path for path in answers.iterdir()}
    assert set(written) == {f"without-{loss.name}" for loss in found.losses if loss.answer}
    assert written
    for path in written.values():
        assert main(["judge", files[0], str(path)]) == 0
    assert main(["losses", *files, "--json", "-"]) == 0
    capsys.readouterr()
    assert main(["losses", *files, "--answers", str(answers)]) == 2
    assert "which exists; allowed: a new directory" in capsys.readouterr().err


def test_what_was_not_solved_in_time_ends_with_4(
    files: tuple[str, str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    parsed = losses_command._losses

    def late(options: object) -> int:
        options.begun = -1e9  # type: ignore[attr-defined]
        return parsed(options)  # type: ignore[arg-type]

    monkeypatch.setattr(losses_command, "_losses", late)
    assert main(["losses", *files]) == 4
    assert "not solved in the time given" in capsys.readouterr().out


def test_a_refused_answer_is_named_and_nothing_is_written(
    files: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, other = tmp_path / "out.json", tmp_path / "other.json"
    other.write_text(json.dumps({**small(), "title": "another"}))
    assert main(["losses", str(other), files[1], "--json", str(out)]) == 2
    assert capsys.readouterr().err.startswith("answer.study_sha256: given ")
    tight, none = small(), tmp_path / "none.json"
    tight["target"]["angle_target_arcsec"] = 0.01
    other.write_text(json.dumps(tight))
    none.write_text(solve(load_study(json.dumps(tight))).to_json())
    assert main(["losses", str(other), str(none), "--json", str(out)]) == 2
    assert capsys.readouterr().err.startswith(
        "answer.rings: given none, for its status is impossible"
    )
    assert main(["losses", files[0], str(other), "--json", str(out)]) == 2
    assert "is not an answer" in capsys.readouterr().err
    assert main(["losses", *files, "--answers", "-"]) == 2
    assert "--answers: given '-'; allowed: a name" in capsys.readouterr().err
    assert not out.exists()


def test_part_numbers_live_on_in_the_answers_of_losses(
    files: tuple[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = tmp_path / "answers"
    assert main(["losses", *files, "--answers", str(answers)]) == 0
    capsys.readouterr()
    for path in answers.iterdir():
        assert main(["judge", files[0], str(path), "--previous", files[1]]) == 0
        assert "keep their names" in capsys.readouterr().out
