"""The command with an earlier answer: names are kept, judged, drawn and compared, and bad files refused."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from ringset.cli import main
from ringset.schema.loading import load_answer
from ringset.solving.certified_answer import solve_certified
from ringset.solving.pipeline import solve
from tests.support.revisions import renamed
from tests.support.studies import Json, joint, load, small


def more(**shop: object) -> Json:
    """Return the small study with a joint more, whose ring is the smallest."""
    data = small()
    data["robots"][0]["joints"].append(joint("tiny", 20.0, tip_min_mm=42.0))
    data["shop"].update(shop)
    return data


def written(path: Path, data: Json) -> str:
    path.write_text(json.dumps(data))
    return str(path)


@pytest.fixture
def first(tmp_path: Path) -> str:
    """Return the file of an earlier answer, whose ring parts are R1 and R2."""
    file = tmp_path / "first.json"
    file.write_text(solve(load(small())).to_json())
    return str(file)


def test_solve_keeps_names_and_judge_holds_them(
    first: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study, answer = written(tmp_path / "s.json", more(part_prefix="RX-")), str(tmp_path / "a.json")
    assert main.main(["solve", study, "--previous", first, "--answer", answer, "--bare"]) == 0
    printed = capsys.readouterr().out
    assert "Names of an earlier answer: kept R1, R2; new RX-3; given up so far none" in printed
    assert "RX-3: module 1, " in printed
    assert main.main(["judge", study, answer]) == 0
    assert "is checked with --previous ANSWER" in capsys.readouterr().out
    assert main.main(["judge", study, answer, "--previous", first]) == 0
    assert "--previous" not in capsys.readouterr().out
    turned = renamed(load_answer(Path(answer).read_text()), {"R1": "R2", "R2": "R1"})
    Path(answer).write_text(turned.to_json())
    assert main.main(["judge", study, answer]) == 0
    capsys.readouterr()
    assert main.main(["judge", study, answer, "--previous", first]) == 1
    assert "which this ring is in the earlier answer" in capsys.readouterr().out


def test_an_earlier_answer_may_come_with_its_certificate_or_by_standard_input(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    study = written(tmp_path / "s.json", more())
    both = solve_certified(load(small())).model_dump_json()
    (tmp_path / "both.json").write_text(both)
    answers = []
    for previous in (str(tmp_path / "both.json"), "-"):
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(both.encode())))
        assert main.main(["solve", study, "--previous", previous, "--answer", "-"]) == 0
        answers.append(capsys.readouterr().out)
    assert answers[0] == answers[1]
    assert load_answer(answers[0]).part_numbers is not None


@pytest.mark.parametrize("command", ["solve", "judge"])
@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (lambda text: text[:-9], "is not an answer:\nanswer: given text that is not JSON; allowed: JSON"),
        (lambda text: json.dumps(small()), "is not an answer:\ntitle: given nothing; allowed: this"),
        (lambda text: text.replace('"R1"', '"R2"'), "its names cannot be kept:\n--previous.ring_parts[1].id"),
        (
            lambda text: text.replace('"R1"', '"../R1"'),
            '--previous.ring_parts[0].id: given "../R1"; allowed: a prefix and a number from 1',
        ),
        (
            lambda text: text.replace('"cutters": [', '"part_numbers": {"kept": [], "retired": ["R0"]}, '
                                      '"cutters": [', 1),
            'part_numbers.retired[0]: given "R0"; allowed: a prefix and a number from 1',
        ),
    ],
    ids=["cut off", "study", "clash", "hostile", "hostile retired"],
)  # fmt: skip
def test_an_earlier_answer_that_cannot_be_used_exits_2(
    command: str, change: object, fault: str, first: str, tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    study = written(tmp_path / "s.json", small())
    good = Path(first).read_text()
    (tmp_path / "wrong.json").write_text(change(good))  # type: ignore[operator]
    asked = [command, study, *([first] if command == "judge" else [])]
    assert main.main([*asked, "--previous", str(tmp_path / "wrong.json")]) == 2
    assert fault in capsys.readouterr().err


def test_an_impossible_earlier_answer_and_a_missing_file_exit_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    none = small()
    none["target"]["angle_target_arcsec"] = 1.0
    (tmp_path / "none.json").write_text(solve(load(none)).to_json())
    study = written(tmp_path / "s.json", small())
    assert main.main(["solve", study, "--previous", str(tmp_path / "none.json")]) == 2
    assert (
        "given none (impossible); allowed: the last answer that has rings"
        in capsys.readouterr().err
    )
    assert main.main(["solve", study, "--previous", str(tmp_path / "missing.json")]) == 2
    assert "cannot be read" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "fault"),
    [
        (["STUDY", "--previous", "STUDY"], "--previous: given the same file as STUDY"),
        (["STUDY", "--previous", "FIRST", "--answer", "FIRST"], "--answer: given the same file as"),
        (["-", "--previous", "-"], "--previous: given -; allowed: a file name where STUDY is -"),
    ],
)
def test_an_earlier_answer_is_no_other_file_of_the_command(
    options: list[str], fault: str, first: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is never written over: the drawings of the earlier revision name its numbers."""
    names = {"STUDY": written(tmp_path / "s.json", small()), "FIRST": first}
    before = Path(first).read_bytes()
    assert main.main(["solve", *(names.get(option, option) for option in options)]) == 2
    assert fault in capsys.readouterr().err
    assert Path(first).read_bytes() == before


def test_an_impossible_revision_states_no_names(
    first: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data = small()
    data["target"]["angle_target_arcsec"] = 1.0
    study = written(tmp_path / "s.json", data)
    assert main.main(["solve", study, "--previous", first, "--answer", "-"]) == 3
    assert "part_numbers" not in json.loads(capsys.readouterr().out)


def test_sheets_and_comparisons_use_the_names(
    first: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """File names are made of names; the same name is the same ring in a comparison."""
    study, answer = written(tmp_path / "s.json", more(part_prefix="AB.c_")), tmp_path / "a.json"
    assert main.main(["solve", study, "--previous", first, "--answer", str(answer), "--bare"]) == 0
    out = tmp_path / "out"
    asked = ["sheet", study, str(answer), "--out", str(out)]
    assert main.main([*asked, "--only", "rings", "tables"]) == 0
    assert {path.name for path in out.iterdir()} == {
        "R1.svg", "R1.pdf", "R2.svg", "R2.pdf", "AB_c_3.svg", "AB_c_3.pdf", "order.csv", "joints.csv",
        "cutters.csv", "notes.csv", "tables.xlsx",
    }  # fmt: skip
    ordered = [line.split(",")[0] for line in (out / "order.csv").read_text().splitlines()]
    assert ordered == ["ring_part", "R1", "R2", "AB.c_3"]
    assert "Target ring AB.c_3" in (out / "AB_c_3.svg").read_text()
    again = ["sheet", study, str(answer), "--out", str(tmp_path / "one"), "--only", "rings"]
    assert main.main([*again, "--parts", "AB.c_3"]) == 0
    assert {path.name for path in (tmp_path / "one").iterdir()} == {"AB_c_3.svg", "AB_c_3.pdf"}
    capsys.readouterr()
    assert main.main(["compare", first, str(answer), "--json", "-"]) == 0
    (change,) = json.loads(capsys.readouterr().out)["changes"]
    assert change["other_ring"] == []
    assert [part["id"] for part in change["parts_added"]] == ["AB.c_3"]
    assert change["parts_dropped"] == []


def test_a_comparison_tells_that_the_prefix_differs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = written(tmp_path / "plain.json", small())
    data = small()
    data["shop"]["part_prefix"] = "RX-"
    other = written(tmp_path / "other.json", data)
    assert main.main(["compare", plain, other, "--json", "-"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["inputs"] == [{"path": "shop.part_prefix", "values": ["none", "RX-"]}]
    assert told["changes"][0]["summary"] == "no change"
