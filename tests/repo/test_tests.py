"""The tests themselves: every file opens with what it holds, and what a long test holds is told in words."""

from __future__ import annotations

import ast

from tests.support.places import ROOT

#: A test of more lines than these says in a docstring what it holds.
LINES = 35

TREES = {
    str(file.relative_to(ROOT)): ast.parse(file.read_text())
    for file in sorted((ROOT / "tests").rglob("*.py"))
}


def test_every_file_opens_with_what_it_holds() -> None:
    assert len(TREES) > 150
    assert [file for file, tree in TREES.items() if not ast.get_docstring(tree)] == []


def test_a_long_test_says_what_it_holds() -> None:
    silent = [
        f"{file}:{node.lineno}"
        for file, tree in TREES.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
        if (node.end_lineno or 0) - node.lineno >= LINES and not ast.get_docstring(node)
    ]
    assert silent == []
