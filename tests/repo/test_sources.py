"""Every source can be found again, or is called unnamed and carries no weight."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from tests.support.places import ROOT as TOP

TABLES = sorted(
    file
    for folder in ("optimizer/standards/data", "optimizer/physics/data", "tests/data")
    for file in (TOP / folder).glob("*.csv")
)
TEXTS = sorted(
    file
    for folder in ("optimizer", "tests", "scenarios")
    for ending in ("*.py", "*.md", "*.csv")
    for file in (TOP / folder).rglob(ending)
    if file != Path(__file__) and "api" not in file.relative_to(TOP).parts
)
#: A standard with its number, a work by its short name, an address, a computation of our own.
NAMED = re.compile(
    r"\b(ISO|DIN|EN|JIS|GB/T|AGMA|TC)(/TR)? ?[A-Z]?[ -]?[0-9]|wikipedia\.org|doi |jaish\.gr\.jp"
    r"|\bcomputed\b|simulated by tests/|MAE 324|CRC Handbook"
)
#: What has no name, told as if it had one.
NAMELESS = re.compile(
    r"\bpublic\s+(transcriptions?|pages?|lists?|tables?|test\s|verification|engineering|worked|figures)"
    r"|(?<!unnamed )\bengineering article|\btextbook form\b|\bstandard stress handbooks\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize("file", TABLES, ids=lambda file: file.name)
def test_every_row_of_a_table_names_its_source_or_says_that_it_has_none(file: Path) -> None:
    rows = list(csv.DictReader(file.read_text().splitlines()))
    assert rows
    for row in rows:
        source = row["source"]
        assert NAMED.search(source) or "unnamed" in source, source


def test_the_tables_are_those_of_standards_physics_and_tests() -> None:
    assert {file.parent.parent.name for file in TABLES} == {"standards", "physics", "tests"}
    assert NAMED.search("ISO 286-1:2010 Table 1")
    assert not NAMED.search("handbook tables, from memory")


@pytest.mark.parametrize("file", TEXTS, ids=lambda file: str(file.relative_to(TOP)))
def test_nothing_nameless_is_told_as_a_source(file: Path) -> None:
    """What the package tells of public transcriptions as a whole says that they carry no weight."""
    text = file.read_text()
    if file == TOP / "optimizer/standards/__init__.py":
        assert "carries no weight" in text
        text = text.replace("come from public transcriptions", "")
    assert not NAMELESS.search(text)


def test_that_an_unnamed_source_carries_no_weight_is_said_where_sources_stand() -> None:
    for place in (
        "optimizer/standards/__init__.py",
        "optimizer/physics/__init__.py",
        "tests/README.md",
    ):
        words = " ".join((TOP / place).read_text().split())
        assert re.search(r"carries no weight", words), place


def test_invented_series_say_that_they_are_invented() -> None:
    for place in ("tests/bench/instances.py", "optimizer/schema/starter.py", "scenarios/README.md"):
        assert "nvented" in (TOP / place).read_text(), place


@pytest.mark.parametrize("file", TABLES, ids=lambda file: file.name)
def test_every_line_of_a_table_has_the_cells_of_its_head(file: Path) -> None:
    with file.open(newline="", encoding="utf-8") as lines:
        head, *rows = csv.reader(line for line in lines if not line.startswith("#"))
    assert rows
    assert [row for row in rows if len(row) != len(head)] == []
