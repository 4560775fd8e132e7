"""One thing in one place: what is said once is said nowhere else, read off the syntax tree of the product.

The judge is left out throughout: it keeps its own copy of everything, so that it can disagree.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from ringset.rating.limits import RULES
from ringset.rating.stated_limits import ROBOT_LIMITS
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


@pytest.mark.slow
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
    assert found == {"schema/joint.py"}


# -- limits ----------------------------------------------------------------------------------------------

#: Fields of limits: of single rings by the table, over several joints by the limits of one study with all.
LIMIT_FIELDS = {rule.name for rule in RULES} | {path.rpartition(".")[2] for path in ROBOT_LIMITS}
#: Calls that hold a value against a limit, or one limit against another.
HOLDING = {
    "number_at_least", "number_at_most", "max", "min", "maximum", "minimum", "less", "less_equal", "greater",
    "greater_equal", "clip", "isin", "where",
}  # fmt: skip
#: Where limits are held against values, and in the study's own checks against each other.
TABLES = ("schema/", "catalogue/limits.py", "rating/limits.py")
#: Where such a field is looked at for something else.
BESIDE = {
    "analysis/alternatives/sizes_beyond.py": {"head_counts"},  # the nearest count, to be told
    "analysis/explanation/widened.py": {"head_counts", "teeth_min"},  # how far windows are widened
    "cli/check.py": {"head_counts"},  # the fewest heads where none are stated
    "drawing/views.py": {"width_mm"},  # the width of a pen
    "rating/mounting_checks.py": {"screw_sizes"},  # which screws are meant
}


def limits_compared(nodes: ast.AST) -> set[str]:
    """Return the fields of limits that are compared (but with None) or given to a call of `HOLDING`."""
    found: set[str] = set()
    for node in ast.walk(nodes):
        if isinstance(node, ast.Compare):
            if not all(isinstance(op, ast.Is | ast.IsNot) for op in node.ops):
                found |= attributes(node)
        elif isinstance(node, ast.Call):
            called = node.func.attr if isinstance(node.func, ast.Attribute) else None
            called = node.func.id if isinstance(node.func, ast.Name) else called
            if called in HOLDING:
                found |= attributes(node)
    return found & LIMIT_FIELDS


@pytest.mark.parametrize(
    "text",
    [
        "tip <= joint.tip_max_mm",
        "a = 2.0 < shop.rim_max_mm * 2 if x else 1",
        "number_at_most(tips, joint.tip_max_mm)",
        "fits &= limit_rule.number_at_least(bits, study.target.resolution_bits)",
        "np.minimum(ref.joint.bore_max_mm, root)",
        "heads in joint.head_counts",
        "number_at_most(tip, rows.per_joint(lambda r: r.joint.tip_max_mm))",
        "worst > robot.tool_point_target_um",
    ],
)
def test_a_compared_limit_is_seen(text: str) -> None:
    assert len(limits_compared(ast.parse(text))) == 1


def test_a_limit_that_is_only_named_or_missing_is_none() -> None:
    text = "if joint.tip_min_mm is not None: f'{joint.tip_min_mm:g}'; x = {'tip_max_mm': tip < 3}"
    assert limits_compared(ast.parse(text)) == set()


@pytest.mark.parametrize("name", [name for name in FILES if not name.startswith(TABLES)])
def test_limits_are_compared_in_their_table_only(name: str) -> None:
    assert limits_compared(tree(FILES[name])) == BESIDE.get(name, set())


# -- names -----------------------------------------------------------------------------------------------

#: One name for one thing in several files: commands, programs, and one quantity by two beam theories.
SHARED_NAMES = {"add", "main", "n_force_deflection_mm", "lobe_stiffness_n_per_mm2"}


def test_no_two_public_functions_have_one_name() -> None:
    """So that a name tells its place."""
    places: dict[str, set[str]] = {}
    for folder in ("optimizer", "api"):
        for file in sorted((ROOT / folder).rglob("*.py")):
            for node in tree(file).body:
                if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.name[0] != "_":
                    places.setdefault(node.name, set()).add(str(file.resolve()))
    assert len(places) > 900
    assert {name for name, files in places.items() if len(files) > 1} == SHARED_NAMES
