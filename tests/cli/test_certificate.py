"""The commands that write and check certificates; checking loads no solver."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from ringset.cli import main
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.document import BY_SEARCH, Certificate
from tests.support.cutting_planes import check_proof
from tests.support.places import ROOT, SCENARIOS
from tests.support.studies import two_robots


@pytest.fixture(scope="module", name="arm")
def _arm() -> tuple[Study, Answer, Certificate]:
    study = load_study((SCENARIOS / "six_joint_arm.json").read_text())
    answer = solve(study)
    return study, answer, certify(study, answer)


def test_the_commands_write_and_verify(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    study, answer, certificate = (tmp_path / n for n in ("s.json", "a.json", "c.json"))
    study.write_text(json.dumps(two_robots()))
    assert (
        main.main(["solve", str(study), "--answer", str(answer), "--certificate", str(certificate)])
        == 0
    )
    capsys.readouterr()
    judge = ["judge", str(study), str(answer), "--certificate", str(certificate)]
    assert main.main(judge) == 0
    assert capsys.readouterr().out.count(": verified; nothing below ") == 4
    both = tmp_path / "both.json"  # as the service gives them
    parts = f'{{"answer": {answer.read_text()}, "certificate": {certificate.read_text()}}}'
    both.write_text(parts)
    assert main.main(["judge", str(study), str(both), "--certificate", str(both)]) == 0
    assert capsys.readouterr().out.count(": verified; nothing below ") == 4
    data = json.loads(certificate.read_text())
    data["stages"][0]["value"] += 1
    certificate.write_text(json.dumps(data))
    assert main.main(judge) == 1
    assert "certificate refused: seal: given" in capsys.readouterr().out
    certificate.write_text("{}")
    assert main.main(judge) == 2
    assert "is not a certificate" in capsys.readouterr().err


def test_a_stage_proven_by_search_is_told_and_has_its_own_exit_code(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arm: tuple[Study, Answer, Certificate]
) -> None:
    study, answer, certificate = arm
    stages = list(certificate.stages)
    stages[-1] = stages[-1].model_copy(
        update={"proof": "search", "rows": "none", "steps": [], "note": BY_SEARCH}
    )
    files = [tmp_path / n for n in ("s.json", "a.json", "c.json")]
    texts = [
        study.model_dump_json(), answer.to_json(),
        certificate.model_copy(update={"stages": stages}).sealed().to_json(),
    ]  # fmt: skip
    for file, text in zip(files, texts, strict=True):
        file.write_text(text)
    assert main.main(["judge", *map(str, files[:2]), "--certificate", str(files[2])]) == 4
    assert f"material: not verified; {BY_SEARCH}" in capsys.readouterr().out


def test_no_certificate_is_written_without_rings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = SCENARIOS / "impossible_wrist.json"
    file = tmp_path / "c.json"
    assert main.main(["solve", str(study), "--certificate", str(file)]) == 3
    assert not file.exists()
    assert "no certificate written" in capsys.readouterr().err


def test_verification_loads_no_solver(
    tmp_path: Path, arm: tuple[Study, Answer, Certificate]
) -> None:
    study, answer, certificate = arm
    for name, text in zip(
        "sac", (study.model_dump_json(), answer.to_json(), certificate.to_json()), strict=True
    ):
        (tmp_path / name).write_text(text)
    program = (
        "import sys\n"
        "from ringset.cli.main import main\n"
        "assert main(['judge', 's', 'a', '--certificate', 'c']) == 0\n"
        "print([m for m in sys.modules if m.split('.')[0] == 'ortools' or m == 'scipy.optimize'"
        " or m.startswith(('ringset.search.', 'ringset.solving.'))])\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], cwd=tmp_path, capture_output=True, text=True, check=False,
        env={"PYTHONPATH": str(ROOT / ".src"), "PATH": ""},
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    assert run.stdout.endswith("[]\n")


def test_prove_writes_open_proofs_or_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study, answer, certificate = (tmp_path / n for n in ("s.json", "a.json", "c.json"))
    study.write_text((SCENARIOS / "finer_table.json").read_text())
    solved = ["solve", str(study), "--answer", str(answer), "--certificate", str(certificate)]
    assert main.main([*solved, "--bare"]) == 0
    out = tmp_path / "proofs"
    prove = ["prove", str(study), str(answer), "--out", str(out)]
    capsys.readouterr()
    assert main.main(prove) == 0
    assert "material.opb, material.pbp: 352 rows, " in capsys.readouterr().out
    wishes = ("cutters", "heads", "material", "ring_parts")
    names = {"names.csv", *(f"{wish}.{end}" for wish in wishes for end in ("opb", "pbp"))}
    assert {path.name for path in out.iterdir()} == names
    assert check_proof((out / "material.opb").read_text(), (out / "material.pbp").read_text())
    again = [*prove, "--only", "heads", "--format", "veripb-2.0", "--certificate", str(certificate)]
    assert main.main(again) == 2
    assert "given a folder that holds" in capsys.readouterr().err
    assert main.main([*again, "--replace"]) == 0
    assert (out / "heads.pbp").read_text().startswith("pseudo-Boolean proof version 2.0\n")
    answer.write_text("{}")
    nothing = tmp_path / "nothing"
    for bad in ([*prove[:-1], str(nothing)], [*prove[:-1], str(nothing / "below")]):
        assert main.main(bad) == 2
        assert capsys.readouterr().err.strip()
    assert not nothing.exists()
