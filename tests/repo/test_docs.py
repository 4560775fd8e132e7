"""The documents say what is so: examples run, commands exist, links and files exist, nothing is left out."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

import ringset
from ringset import errors
from ringset.cli import main
from ringset.physics.budget import TERMS
from ringset.schema import field_docs
from ringset.wording import TERM_WORDS
from tests.repo.folders import FOLDERS
from tests.repo.option_list import option_list
from tests.support.places import ROOT

TOP = ROOT
ROOMS = sorted(
    file
    for top in ("optimizer", "api", "tests", "scenarios")
    for file in (TOP / top).rglob("README.md")
    if not file.is_relative_to(TOP / "optimizer" / "api")
)
DOCUMENTS = [TOP / "README.md", TOP / "DEVELOPERS.md", *ROOMS]
FILE_NAMES = {
    file.name for top in ("optimizer", "api", "tests") for file in (TOP / top).rglob("*.*")
}
PYTHON = [file for top in ("optimizer", "api", "tests") for file in (TOP / top).rglob("*.py")]
#: What stands after the dot where a code span names a file and no name in one.
ENDINGS = {"py", "pyi", "js", "css", "json", "csv", "toml", "md", "svg", "pdf", "xlsx"}
README = (TOP / "README.md").read_text()
MAP = (TOP / "optimizer" / "README.md").read_text()
COMMANDS = (TOP / "optimizer" / "cli" / "README.md").read_text()
ANALYSES = (TOP / "optimizer" / "analysis" / "README.md").read_text()


def name(document: Path) -> str:
    return document.relative_to(TOP).as_posix()


def block(text: str, kind: str, holding: str = "") -> str:
    """Return the one fenced block of a kind that holds some words."""
    blocks = re.findall(rf"```{kind}\n(.*?)```", text, re.DOTALL)
    (found,) = [one for one in blocks if holding in one]
    return str(found)


def test_the_readme_study_is_the_scenario() -> None:
    scenario = (TOP / "scenarios" / "two_joint_table.json").read_text()
    assert json.loads(block(README, "json")) == json.loads(scenario)


def test_the_readme_answer_is_what_the_command_prints(capsys: pytest.CaptureFixture[str]) -> None:
    assert main.main(["solve", str(TOP / "scenarios" / "two_joint_table.json")]) == 0
    assert capsys.readouterr().out.startswith(block(README, "text"))


def test_the_comparison_is_what_the_command_prints(capsys: pytest.CaptureFixture[str]) -> None:
    written = block(ANALYSES, "text", "Not like for like")
    names = ("two_joint_table.json", "finer_table.json")
    assert main.main(["compare", *(str(TOP / "scenarios" / name) for name in names)]) == 0
    assert capsys.readouterr().out.endswith(f"\n\n{written}")


def test_the_front_is_what_the_command_prints(capsys: pytest.CaptureFixture[str]) -> None:
    written = block(ANALYSES, "text", "What each step changes")
    assert main.main(["front", str(TOP / "scenarios" / "two_joint_table.json")]) == 0
    assert capsys.readouterr().out.startswith(written)


def test_the_losses_are_what_the_command_prints(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    written = block(ANALYSES, "text", "Without a cutter")
    study, answer = str(TOP / "scenarios" / "two_joint_table.json"), str(tmp_path / "answer.json")
    assert main.main(["solve", study, "--bare", "--answer", answer]) == 0
    capsys.readouterr()
    assert main.main(["losses", study, answer]) == 0
    assert capsys.readouterr().out == written


@pytest.mark.slow
def test_the_explanation_is_what_the_command_prints(capsys: pytest.CaptureFixture[str]) -> None:
    study = TOP / "scenarios" / "impossible_one_cutter.json"
    assert main.main(["why", str(study)]) == 0
    assert capsys.readouterr().out == block(ANALYSES, "text", "What cannot hold together")


def test_the_prices_are_those_of_the_scenario() -> None:
    scenario = json.loads((TOP / "scenarios" / "priced_arm.json").read_text())
    written = json.loads("{" + block(ANALYSES, "text", '"prices"') + "}")
    assert written["prices"] == scenario["shop"]["prices"]


def test_the_example_of_rate_runs(capsys: pytest.CaptureFixture[str]) -> None:
    words = block(COMMANDS, "sh", "ringset rate").split()
    words[2] = str(TOP / words[2])
    assert main.main(words[1:]) == 0
    assert capsys.readouterr().out


def test_the_option_list_is_that_of_the_parser() -> None:
    assert COMMANDS.endswith(f"\n\n{option_list()}\n")


def test_every_command_and_exit_code_is_told() -> None:
    commands = main.parser()._subparsers._group_actions[0].choices  # type: ignore[union-attr]
    assert set(commands or ()) == {
        "solve", "assumptions", "why", "losses", "front", "sweep", "rate", "judge", "prove", "simulate",
        "compare", "sheet", "new", "fields", "serve", "keys",
    }  # fmt: skip
    table, _, codes = COMMANDS.partition("## Exit codes")
    for command in commands or ():
        assert f"| `ringset {command}` |" in table
    for code in (
        errors.ANSWERED,
        errors.BROKEN,
        errors.BAD_INPUT,
        errors.IMPOSSIBLE,
        errors.UNDECIDED,
    ):
        assert re.search(rf"^\| {code} \| \w+", codes, re.MULTILINE)


def test_every_budget_term_has_words_and_the_map_counts_them() -> None:
    assert set(TERM_WORDS) == set(TERMS)
    assert f"budget of {len(TERMS)} terms" in MAP


def test_what_repeats_is_told_for_every_term_as_the_budget_has_it() -> None:
    told = re.findall(r"^\| ([a-z ,]+) \| (yes|no) \| (.+) \|$", MAP, re.MULTILINE)
    wanted = [
        (TERM_WORDS[name], "yes" if kind.repeats else "no", kind.because)
        for name, kind in TERMS.items()
    ]
    assert told == wanted
    assert "seven terms" in MAP
    assert sum(not kind.repeats for kind in TERMS.values()) == 7


def test_every_field_tells_where_its_default_comes_from() -> None:
    for place, model in field_docs.PLACES:
        for name, info in model.model_fields.items():
            assert info.description, f"{place}{name}"
            default = info.default
            if isinstance(default, float) and default != 0.0 and place != "search.":
                text = info.description
                assert re.search(r"Assumed|assumed|ISO|DIN|JCGM|by default", text), f"{place}{name}"


@pytest.mark.parametrize("top", ["optimizer", "api"])
def test_every_folder_stands_in_its_map(top: str) -> None:
    """A folder that holds nothing but folders stands there by them."""
    text = (TOP / top / "README.md").read_text()
    for folder in FOLDERS:
        within, path = (
            ("api", folder.removeprefix("api/"))
            if folder.startswith("api")
            else ("optimizer", folder)
        )
        place = TOP / within / path
        if within == top and place.is_dir() and len(list(place.glob("*.py"))) > 1:
            assert re.search(rf"^\| `{path}/` \|", text, re.MULTILINE), folder


def test_every_room_is_told_of_in_the_readme_or_its_parent() -> None:
    """Somebody who begins at the README comes to every other document by links."""
    reached, todo = set(), [TOP / "README.md"]
    while todo:
        document = todo.pop()
        if document not in reached and document.suffix == ".md":
            reached.add(document)
            todo += [target for target, _ in links(document)]
    assert set(DOCUMENTS) <= reached


def links(document: Path) -> list[tuple[Path, str]]:
    """Return every link of a document to a file or folder of the checkout, and the heading it names."""
    found = []
    for target in re.findall(r"\]\(([^)\s]+)\)", document.read_text()):
        if not re.match(r"\w+:", target):
            path, _, anchor = target.partition("#")
            place = (document.parent / path).resolve() if path else document
            if place.is_dir() and (place / "README.md").exists():
                place = place / "README.md"
            found.append((place, anchor))
    return found


def headings(document: Path) -> set[str]:
    """Return the names by which the headings of a document are linked to."""
    lines = re.findall(r"^#+ (.*)$", document.read_text(), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", line.lower()).replace(" ", "-") for line in lines}


@pytest.mark.parametrize("document", DOCUMENTS, ids=name)
def test_links_lead_to_files_and_headings_that_exist(document: Path) -> None:
    for place, anchor in links(document):
        assert place.exists(), place
        assert not anchor or anchor in headings(place), f"{place}#{anchor}"


@pytest.mark.parametrize("document", DOCUMENTS, ids=name)
def test_files_and_folders_that_a_document_names_exist(document: Path) -> None:
    """A path counts from the document's folder, from a package or from the top; a bare name from anywhere."""
    starts = (document.parent, TOP / "optimizer", TOP / "api", TOP / "tests", TOP)
    text = re.sub(r"^```.*?^```", "", document.read_text(), flags=re.DOTALL | re.MULTILINE)
    for span in re.findall(r"`([\w./-]+\.(?:py|pyi|js|css|toml|md)|[\w./-]+/)`", text):
        assert span in FILE_NAMES or any((start / span).exists() for start in starts), span


@pytest.mark.parametrize("document", DOCUMENTS, ids=name)
def test_names_that_a_document_places_in_a_file_stand_there(document: Path) -> None:
    """Code spans such as `verify.try_certificate_step`, or `supply_of` in `rating/limits.py`."""
    text = document.read_text()
    told = re.findall(r"`(\w+)\.(\w+)(?:\([^`]*\))?`", text)
    told += [(file, word) for word, file in re.findall(r"`(\w+)` (?:in|of)\s+`([\w/]+)\.py`", text)]
    for file, word in told:
        places = [place for place in PYTHON if place.as_posix().endswith(f"/{file}.py")]
        if places and word not in {*ENDINGS, "FIELD"}:
            found = any(re.search(rf"\b{word}\b", place.read_text()) for place in places)
            assert found, f"{word} in {file}.py"


def test_documents_are_short_enough_to_be_read() -> None:
    assert len((TOP / "README.md").read_text().splitlines()) <= 140
    told, _, _ = (TOP / "DEVELOPERS.md").read_text().partition("\n## Changes\n")
    assert len(told.splitlines()) <= 150  # changes grow with every version


def test_names_that_documents_import_can_be_imported() -> None:
    for document in DOCUMENTS:
        for listed in re.findall(r"from ringset import ([\w, ]+)", document.read_text()):
            for public in re.split(r",\s*", listed.strip()):
                assert hasattr(ringset, public), f"{name(document)}: {public}"
        for public in re.findall(r"`ringset\.(\w+)\(", document.read_text()):
            assert hasattr(ringset, public), f"{name(document)}: {public}"
