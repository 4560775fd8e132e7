"""README and DEVELOPERS say what is so: examples run, commands exist, nothing is left out."""

import json
import re

import pytest

from ringset import errors
from ringset.cli import main
from ringset.physics.budget import TERMS
from ringset.schema import field_docs
from ringset.wording import TERM_WORDS
from tests.support.places import ROOT

TOP = ROOT
README = (TOP / "README.md").read_text()
DEVELOPERS = (TOP / "DEVELOPERS.md").read_text()


def block(kind: str, number: int = 0) -> str:
    """Return a fenced block of the README."""
    return re.findall(rf"```{kind}\n(.*?)```", README, re.DOTALL)[number]


def test_the_readme_study_is_the_scenario() -> None:
    scenario = (TOP / "scenarios" / "two_joint_table.json").read_text()
    assert json.loads(block("json")) == json.loads(scenario)


def test_the_readme_answer_is_what_the_command_prints(capsys: pytest.CaptureFixture[str]) -> None:
    assert main.main(["solve", str(TOP / "scenarios" / "two_joint_table.json")]) == 0
    assert capsys.readouterr().out.startswith(block("text"))


def test_the_readme_comparison_is_what_the_command_prints(
    capsys: pytest.CaptureFixture[str],
) -> None:
    blocks = re.findall(r"```text\n(.*?)```", README, re.DOTALL)
    (written,) = [text for text in blocks if text.startswith("Not like for like")]
    names = ("two_joint_table.json", "finer_table.json")
    assert main.main(["compare", *(str(TOP / "scenarios" / name) for name in names)]) == 0
    assert capsys.readouterr().out.endswith(f"\n\n{written}")


def test_the_readme_front_is_what_the_command_prints(capsys: pytest.CaptureFixture[str]) -> None:
    blocks = re.findall(r"```text\n(.*?)```", README, re.DOTALL)
    (written,) = [text for text in blocks if "What each step changes" in text]
    assert main.main(["front", str(TOP / "scenarios" / "two_joint_table.json")]) == 0
    assert capsys.readouterr().out.startswith(written)


def test_the_readme_explanation_is_what_the_command_prints(
    capsys: pytest.CaptureFixture[str],
) -> None:
    study = TOP / "scenarios" / "impossible_one_cutter.json"
    assert main.main(["why", str(study)]) == 0
    printed = capsys.readouterr().out
    assert printed in re.findall(r"```text\n(.*?)```", README, re.DOTALL)


def test_the_readme_names_every_command_option_and_exit_code() -> None:
    parser = main._parser()
    commands = parser._subparsers._group_actions[0].choices  # type: ignore[union-attr]
    assert set(commands) == {
        "solve", "why", "front", "sweep", "rate", "judge", "simulate", "compare", "sheet", "new", "fields",
        "serve", "keys",
    }  # fmt: skip
    for name, command in commands.items():
        assert f"`ringset {name}" in README
        for action in command._actions:
            for option in action.option_strings:
                if option not in ("-h", "--help"):
                    assert option in README, f"{name} {option}"
    for code in (
        errors.ANSWERED,
        errors.BROKEN,
        errors.BAD_INPUT,
        errors.IMPOSSIBLE,
        errors.UNDECIDED,
    ):
        assert re.search(rf"\b{code} \w+", README.split("Exit codes:")[1])


def test_every_budget_term_has_words_and_the_readme_counts_them() -> None:
    assert set(TERM_WORDS) == set(TERMS)
    assert f"budget of {len(TERMS)} terms" in README


def test_every_field_tells_where_its_default_comes_from() -> None:
    for place, model in field_docs.PLACES:
        for name, info in model.model_fields.items():
            assert info.description, f"{place}{name}"
            default = info.default
            if isinstance(default, float) and default != 0.0 and place != "search.":
                text = info.description
                assert re.search(r"Assumed|assumed|ISO|DIN|JCGM|by default", text), f"{place}{name}"


def test_developers_names_every_module_of_the_line() -> None:
    line = TOP / "optimizer"
    for path in [*line.glob("*.py"), *(line / "commands").glob("*.py")]:
        if path.name != "__init__.py":
            assert f"`{path.relative_to(line).as_posix()}`" in DEVELOPERS, path


def test_developers_names_every_file_of_the_api() -> None:
    for path in (TOP / "api").rglob("*.py"):
        if path.name != "__init__.py":
            name = path.relative_to(TOP / "api").as_posix()
            assert f"`{name}`" in DEVELOPERS, name
