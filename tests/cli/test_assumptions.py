"""`ringset assumptions` and `ringset solve --band`: what they print and write is what the package finds."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ringset.analysis.assumptions.models import Assumptions, Band
from ringset.cli import main
from ringset.schema.answer import Answer
from tests.support.studies import two_robots


@pytest.fixture(scope="module", name="study")
def _study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two joints whose rings must change where assumed inputs are at their careful ends."""
    data = two_robots()
    data["robots"] = data["robots"][:1]
    del data["robots"][0]["joints"][0]
    path = tmp_path_factory.mktemp("assumptions") / "study.json"
    path.write_text(json.dumps(data))
    return path


def test_the_ranking_is_printed_and_written(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "ranked.json"
    assert main.main(["assumptions", str(study), "--json", str(file)]) == 0
    text = capsys.readouterr().out
    found = Assumptions.model_validate_json(file.read_text())
    assert found.answer.status == "proven"
    solved = [one for one in found.inputs if one.solved]
    assert solved
    assert all(one.path in text for one in solved)


def test_the_band_is_printed_beside_the_answer_and_alone(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = tmp_path / "answer.json"
    assert main.main(["solve", str(study), "--band", "--answer", str(answer)]) == 0
    beside = capsys.readouterr().out
    file = tmp_path / "band.json"
    assert main.main(["assumptions", str(study), "--band", "--json", str(file)]) == 0
    text = capsys.readouterr().out
    assert beside.endswith(text)
    stated = Answer.model_validate_json(answer.read_text())
    assert Band.model_validate_json(file.read_text()).stated.rings == stated.rings
    assert all(name in text for name in ("hopeful", "as stated", "careful"))


def test_a_refused_study_is_named_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad, file = tmp_path / "bad.json", tmp_path / "out.json"
    bad.write_text("{}")
    assert main.main(["assumptions", str(bad), "--json", str(file)]) == 2
    assert "robots" in capsys.readouterr().err
    assert not file.exists()
