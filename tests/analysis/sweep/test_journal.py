"""The journal of a sweep: cut short, of others, in use."""

from __future__ import annotations

from pathlib import Path

import pytest

from ringset._version import versions
from ringset.analysis.sweep.journal import Journal, JournalError


def filled(path: Path, lines: int) -> bytes:
    with Journal(path, versions()) as journal:
        for n in range(lines):
            journal.add(f"{n:02d}", {"status": "proven", "reasons": [], "material_kg": n / 7})
    return path.read_bytes()


def test_a_journal_cut_at_any_byte_keeps_its_whole_lines(tmp_path: Path) -> None:
    path = tmp_path / "j"
    text = filled(path, 3)
    for cut in range(len(text) + 1):
        path.write_bytes(text[:cut])
        with Journal(path, versions()) as journal:
            whole_lines = max(0, text[:cut].count(b"\n") - 1)
            assert list(journal.lines) == ["00", "01", "02"][:whole_lines]
            journal.add("new", {"status": "proven", "reasons": []})
        with Journal(path, versions()) as journal:
            assert list(journal.lines) == [*["00", "01", "02"][:whole_lines], "new"]


def test_the_end_of_a_journal_may_be_zeros_but_not_its_middle(tmp_path: Path) -> None:
    path = tmp_path / "j"
    text = filled(path, 3)
    path.write_bytes(text + b"\0" * 100)
    with Journal(path, versions()) as journal:
        assert len(journal.lines) == 3
    assert path.read_bytes() == text
    lines = text.split(b"\n")
    path.write_bytes(b"\n".join([*lines[:2], b"rubbish", *lines[2:]]))
    with pytest.raises(JournalError, match="line 3"), Journal(path, versions()):
        pass
    assert b"rubbish" in path.read_bytes(), "left as it was"


@pytest.mark.parametrize("text", ["a,b\n1,2\n", "notes", "{}\n", "[]\n", '{"journal": 1}\n', "\n"])
def test_a_file_that_is_no_journal_is_refused_and_left_alone(text: str, tmp_path: Path) -> None:
    path = tmp_path / "j"
    path.write_text(text)
    with pytest.raises(JournalError, match="no sweep wrote"), Journal(path, versions()):
        pass
    assert path.read_text() == text


def test_a_journal_of_other_versions_is_refused(tmp_path: Path) -> None:
    filled(tmp_path / "j", 1)
    with (
        pytest.raises(JournalError, match="given a journal of ringset"),
        Journal(tmp_path / "j", versions() | {"numpy": "1.0"}),
    ):
        pass


def test_two_sweeps_do_not_write_one_journal(tmp_path: Path) -> None:
    path = tmp_path / "j"
    with (
        Journal(path, versions()),
        pytest.raises(JournalError, match="in use"),
        Journal(path, versions()),
    ):
        pass
