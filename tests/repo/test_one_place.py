"""One thing in one place: what is said once is said nowhere else, read off the syntax tree of the product.

The judge is left out throughout: it keeps its own copy of everything, so that it can disagree.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.support.places import ROOT

JUDGE = "verification/judge/"
FILES = {
    name: file
    for file in sorted((ROOT / "optimizer").rglob("*.py"))
    for name in [str(file.relative_to(ROOT / "optimizer"))]
    if not name.startswith((JUDGE, "api/"))
}


def tree(file: Path) -> ast.Module:
    return ast.parse(file.read_text())


def attributes(node: ast.AST) -> set[str]:
    """Return the names of all attributes that are read in a node."""
    return {one.attr for one in ast.walk(node) if isinstance(one, ast.Attribute)}


def defaults_filled_in(nodes: ast.AST, field: str) -> Iterator[int]:
    """Yield the lines where something stands in for a field that is not stated: `or`, `if ... else`."""
    for node in ast.walk(nodes):
        if isinstance(node, ast.BoolOp | ast.IfExp) and field in attributes(node):
            yield node.lineno


def test_the_default_of_a_seat_is_filled_in_once() -> None:
    assert list(
        defaults_filled_in(
            ast.parse("x = 15.0 if j.seat_offset_um is None else 2"), "seat_offset_um"
        )
    )
    assert list(defaults_filled_in(ast.parse("x = j.seat_offset_um or 15.0"), "seat_offset_um"))
    found = {
        name
        for name, file in FILES.items()
        if list(defaults_filled_in(tree(file), "seat_offset_um"))
    }
    assert found == {"schema/study.py"}
