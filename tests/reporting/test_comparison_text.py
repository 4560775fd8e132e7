"""The comparison for people: its tables, marks and names, its CSV, and the command."""

import io
import json
import re
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ringset.analysis.comparison.compare import compare_answers
from ringset.analysis.comparison.models import Comparison
from ringset.cli import main
from ringset.cli.compare import column_names
from ringset.reporting.comparison_text import comparison_csv, comparison_text, cut_middle_text
from ringset.reporting.comparison_text import side_by_side_text as tables
from ringset.wording import WIDTH
from tests.analysis.comparison.test_compare import answer_to, entry_of, side_by_side, variants
from tests.support.places import SCENARIOS
from tests.support.studies import small, two_robots

TABLE, FINER = SCENARIOS / "two_joint_table.json", SCENARIOS / "finer_table.json"
IMPOSSIBLE = SCENARIOS / "impossible_wrist.json"


def section(text: str, title: str) -> list[str]:
    """Return the lines below a title, up to the next section."""
    (block,) = [b for b in re.split(r"\n\n(?=\S)", text) if b.startswith(title)]
    return block.splitlines()[1:]


def test_every_ring_is_shown_and_marked_exactly_where_it_differs() -> None:
    """The table read back: cells against the answers, marks against the cells of the first."""
    for second in [a for a in variants() if a.rings]:
        first = answer_to(small())
        lines = section(comparison_text(side_by_side(first, second)), "Rings (*")
        label, cells = "", {}
        for line in lines[1:]:
            parts = re.split(r" {2,}", line.strip())
            if line[2] != " ":
                label = parts.pop(0)
            cells[label, parts[0]] = parts[1:]
        for place, answer in enumerate((first, second)):
            for ring in answer.rings:
                name = f"{ring.robot}/{ring.joint}"
                shown = {
                    "module x teeth": f"{ring.module_mm:g} x {ring.teeth}",
                    "bore mm": f"{ring.bore_mm:.5g}",
                    "rim mm": f"{ring.rim_mm:.3f}",
                    "heads": f"{ring.heads}",
                }
                for row, value in shown.items():
                    cell = cells[name, row][place]
                    assert cell.rstrip("*") == value
                    both = all(c not in ("-", "no such joint") for c in cells[name, row])
                    alike = cells[name, row][0] == cell
                    assert cell.endswith("*") == (place == 1 and both and not alike)
        joints = {f"{r.robot}/{r.joint}" for answer in (first, second) for r in answer.rings}
        assert {label for label, _ in cells} == joints


def test_the_totals_table_shows_values_and_changes() -> None:
    comparison = side_by_side(answer_to(small()), answer_to(two_robots()))
    lines = section(comparison_text(comparison), "Totals")
    rows = {re.split(r" {2,}", line.strip())[0]: line.split() for line in lines}
    for total in comparison.totals[:3]:
        name = total.name.replace("_", " ")
        first, second = (f"{value}" for value in total.values)
        difference = total.differences[1]
        change = f"{difference:+d}" if difference else "same"
        assert rows[name][-3:] == [first, second, change]
    assert "tool point of arm um" in rows


def test_a_comparison_says_which_answers_were_judged() -> None:
    study = entry_of("mine", small())
    taken = compare_answers([study, entry_of("other", two_robots())])
    assert "not judged" not in comparison_text(taken)
    text = comparison_text(side_by_side(study.answer, study.answer))
    assert len(re.findall("answer as it was given, not judged here", text)) == 2
    assert "and judged" not in text


def test_an_impossible_column_says_so_with_its_reasons() -> None:
    impossible, answer = variants()[-1], answer_to(small())
    text = comparison_text(side_by_side(answer, impossible, answer_to(two_robots())))
    assert "impossible" in section(text, "Totals")[1]
    assert f"answer 1: {impossible.reasons[0][:40]}" in "\n".join(section(text, "Reasons"))
    assert "answer 1: impossible, no rings to compare." in text
    told = [line.partition(":")[0].strip() for line in section(text, "In short")]
    assert [name for name in told if name.startswith("answer")] == ["answer 1", "answer 2"]
    nothing = comparison_text(side_by_side(impossible, impossible))
    assert "No answer holds rings: there is nothing to compare." in nothing
    assert "In short" not in nothing


def test_no_line_is_wider_than_a_page_and_nothing_steers_the_terminal() -> None:
    found = [a for a in variants() if a.rings][:10]
    evil = found[0].model_copy(update={"title": "red \x1b[31m and a\nline"})
    text = comparison_text(side_by_side(evil, *found[1:]))
    assert max(map(len, text.splitlines())) <= WIDTH
    assert "\x1b" not in text
    assert "red ?[31m and a line" in text


@given(st.text(min_size=0, max_size=60), st.integers(min_value=8, max_value=30))
def test_names_are_cut_in_the_middle(name: str, width: int) -> None:
    short = cut_middle_text(name, width)
    assert len(short) == min(len(name), width)
    assert short == name or (name.startswith(short[:3]) and name.endswith(short[-3:]))


def test_a_group_of_columns_stays_together_and_the_fixed_ones_are_repeated() -> None:
    groups = [[[f"value {i}", "1" * 20], ["change", "+1"]] for i in range(6)]
    blocks = tables([["", "row"], ["first", "0"]], groups).split("\n\n")
    assert len(blocks) > 1
    assert "".join(blocks).count("value") == "".join(blocks).count("change") == 6
    for block in blocks:
        assert "first" in block
        assert block.splitlines()[0].count("value") == block.splitlines()[0].count("change")


def test_the_csv_has_one_line_per_joint_and_answer_unrounded() -> None:
    first, second = answer_to(small()), answer_to(two_robots())
    comparison = side_by_side(first, second)
    frame = pd.read_csv(io.StringIO(comparison_csv(comparison)), dtype=str, keep_default_na=False)
    assert len(frame) == 2 * len(comparison.joints)
    rings = {("answer 0", r.robot, r.joint): r for r in first.rings}
    rings |= {("answer 1", r.robot, r.joint): r for r in second.rings}
    for line in frame.itertuples():
        ring = rings.pop((str(line.answer), str(line.robot), str(line.joint)), None)
        assert line.has_ring == ("no" if ring is None else "yes")
        if ring is None:
            assert (line.teeth, line.bore_mm, line.worst_case_arcsec) == ("", "", "")
            continue
        assert line.teeth == str(ring.teeth)
        assert float(str(line.bore_mm)) == ring.bore_mm
        assert float(str(line.expanded_arcsec)) == ring.budget.expanded_arcsec
    assert rings == {}


@pytest.mark.parametrize(
    ("files", "names"),
    [
        (["a/one.json", "b/two.json"], ["one.json", "two.json"]),
        (["a/x.json", "b/x.json"], ["a/x.json", "b/x.json"]),
        (["v1/a/x.json", "v2/a/x.json", "y.json"], ["v1/a/x.json", "v2/a/x.json", "y.json"]),
        (["x.json", "b/x.json"], ["x.json", "b/x.json"]),
        (["x.json", "x.json"], ["x.json (1)", "x.json (2)"]),
        (["-", "x.json"], ["standard input", "x.json"]),
        (["=1.json", "a\nb.json"], ["./=1.json", "a?b.json"]),
    ],
)
def test_columns_bear_the_names_of_their_files(files: list[str], names: list[str]) -> None:
    assert column_names(files) == names


@pytest.mark.slow
def test_studies_and_answers_may_be_mixed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answer, out, csv = tmp_path / "a.json", tmp_path / "c.json", tmp_path / "c.csv"
    assert main.main(["solve", str(FINER), "--answer", str(answer)]) == 0
    capsys.readouterr()
    command = ["compare", str(TABLE), str(answer), str(IMPOSSIBLE)]
    assert main.main([*command, "--json", str(out), "--csv", str(csv)]) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    assert printed.out.startswith("Compared\n  two_joint_table.json: study ")
    comparison = Comparison.model_validate_json(out.read_text())
    assert [a.source for a in comparison.answers] == ["study", "answer", "study"]
    assert [a.status for a in comparison.answers] == ["proven", "proven", "impossible"]
    assert len(pd.read_csv(csv)) == 6
    assert main.main([*command, "--json", "-"]) == 0
    assert capsys.readouterr().out == out.read_text()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.json", "c.csv", "c.json"]


def test_one_file_may_come_from_standard_input(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(FINER.read_bytes())))
    assert main.main(["compare", str(TABLE), "-"]) == 0
    assert "standard input: one ring part exchanged" in capsys.readouterr().out
    assert main.main(["compare", "-", "-"]) == 2
    assert capsys.readouterr().err == "FILE: given - 2 times; allowed: once\n"


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (["TABLE"], "FILE: given 1; allowed: 2 to 10"),
        (["TABLE"] * 11, "FILE: given 11; allowed: 2 to 10"),
        (["TABLE", "TABLE", "--csv", "-"], "--csv: given -; allowed: a file name"),
        (["TABLE", "FINER", "--csv", "FINER"], "--csv: given the same file as FILE"),
        (["TABLE", "FINER", "--json", "TABLE"], "--json: given the same file as FILE"),
        (["TABLE", "FINER", "--json", "new", "--csv", "new"], "--csv: given the same file as json"),
        (["TABLE", "none"], "none: given a file that cannot be read"),
        (["TABLE", "study"], "study is not a study:\ntitle: given 1; allowed: a valid string"),
        (["TABLE", "answer"], "answer is not an answer:\nstudy_sha256: given nothing"),
        (["TABLE", "text"], "text is not a study:\nstudy: given text that is not JSON"),
    ],
)
def test_bad_input_is_named_and_nothing_is_written(
    arguments: list[str], text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    (tmp_path / "study").write_text('{"robots": [], "title": 1}')
    data = json.loads(answer_to(small()).to_json())
    del data["study_sha256"]
    (tmp_path / "answer").write_text(json.dumps(data))
    (tmp_path / "text").write_text("no study")
    known = {"TABLE": str(TABLE), "FINER": str(FINER)}
    before = {path: path.read_bytes() for path in (TABLE, FINER)}
    assert main.main(["compare", *(known.get(a, a) for a in arguments)]) == 2
    printed = capsys.readouterr()
    assert text in printed.err
    assert printed.out == ""
    assert sorted(path.name for path in tmp_path.iterdir()) == ["answer", "study", "text"]
    assert before == {path: path.read_bytes() for path in (TABLE, FINER)}


def test_without_rings_there_is_no_csv(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    csv = tmp_path / "c.csv"
    assert main.main(["compare", str(IMPOSSIBLE), str(IMPOSSIBLE), "--csv", str(csv)]) == 0
    printed = capsys.readouterr()
    assert printed.err == "no CSV written: no answer holds rings\n"
    assert not csv.exists()
    assert "impossible_wrist.json (1)" in printed.out


def test_comparing_answers_loads_no_solver(tmp_path: Path) -> None:
    path = tmp_path / "a.json"
    path.write_text(answer_to(small()).to_json())
    code = (
        "import sys\nfrom ringset.cli.main import main\n"
        f"code = main(['compare', {str(path)!r}, {str(path)!r}])\n"
        "print('SOLVERS', code, sorted({'ortools', 'scipy'} & set(sys.modules)))\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.rstrip().endswith("SOLVERS 0 []")
