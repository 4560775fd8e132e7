"""The house: who may import whom, how long a file may be, what the checkout holds."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
OPTIMIZER = sorted((ROOT / "optimizer").rglob("*.py"))
API = sorted((ROOT / "api").rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))


def name_of(file: Path) -> str:
    """Return the dotted name of a module of the checkout."""
    parts = file.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(file: Path) -> set[str]:
    """Return every module a file imports, anywhere in it, with the names taken from it."""
    return imports_of(file.read_text(), name_of(file), file.name == "__init__.py")


def imports_of(text: str, module: str, is_package: bool) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            source = node.module or ""
            if node.level:
                depth = node.level - (1 if is_package else 0)
                package = module.split(".")[: len(module.split(".")) - depth]
                source = ".".join([*package, *([source] if source else [])])
            found |= {f"{source}.{alias.name}" for alias in node.names}
    return found


def matching(names: set[str], *packages: str) -> set[str]:
    """Return the names that lie in one of the packages."""
    return {n for n in names if any(n == p or n.startswith(f"{p}.") for p in packages)}


def test_imports_are_read_wherever_they_stand():
    text = (
        "import numpy as np, ortools.sat\n"
        "from scipy import optimize\n"
        "def f():\n    from optimizer.physics import rim\n"
        "if TYPE_CHECKING:\n    from .study import Study\n    from . import rate\n"
    )
    assert imports_of(text, "optimizer.judge", is_package=False) == {
        "numpy", "ortools.sat", "scipy.optimize", "optimizer.physics.rim",
        "optimizer.study.Study", "optimizer.rate",
    }  # fmt: skip
    assert imports_of("from .study import X", "optimizer", is_package=True) == {"optimizer.study.X"}
    assert matching({"scipy", "scipy.optimize", "scipyx"}, "scipy") == {"scipy", "scipy.optimize"}


@pytest.mark.parametrize("package", ["physics", "standards"])
def test_physics_and_standards_know_no_study_and_no_solver(package):
    allowed = (f"optimizer.{package}",)
    files = [f for f in OPTIMIZER if f.parent == ROOT / "optimizer" / package]
    assert len(files) >= 5
    for file in files:
        names = imports(file)
        assert matching(names, "optimizer") == matching(names, *allowed), file.name
        assert not matching(names, "ortools", "scipy.optimize", "pydantic", "api"), file.name


def test_only_the_command_line_knows_the_commands():
    """A command is for people at a terminal: the line, its reports and the API do without it."""
    commands = [f for f in OPTIMIZER if f.parent == ROOT / "optimizer" / "commands"]
    assert len(commands) >= 5
    for file in sorted({*OPTIMIZER, *API} - {*commands, ROOT / "optimizer" / "cli.py"}):
        assert not matching(imports(file), "optimizer.commands", "optimizer.cli"), file.name
    for file in commands:
        assert not matching(imports(file), "optimizer.cli"), file.name


def test_drawings_and_files_hang_on_the_line_and_not_the_line_on_them():
    """Nothing but the command draws, and a drawing library is imported only where one is drawn."""
    packages = {name: ROOT / "optimizer" / name for name in ("drawing", "handover", "commands")}
    assert len([f for f in OPTIMIZER if f.parent == packages["drawing"]]) >= 8
    assert len([f for f in OPTIMIZER if f.parent == packages["handover"]]) >= 5
    libraries = ("reportlab", "ezdxf", "openpyxl", "OCP")
    exports = ROOT / "optimizer" / "__init__.py"  # names what it loads only when it is used
    for file in OPTIMIZER + API:
        names = imports(file)
        if file.parent not in packages.values() and file != exports:
            assert not matching(names, "optimizer.drawing", "optimizer.handover", *libraries), file
        if file.parent == packages["drawing"]:
            assert not matching(names, "optimizer.handover"), file.name
        assert not matching(imports_at_top(file), *libraries), file.name


def imports_at_top(file: Path) -> set[str]:
    """Return what a file imports when it is itself imported."""
    tree = ast.parse(file.read_text())
    top = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
    text = "\n".join(ast.unparse(node) for node in top)
    return imports_of(text, name_of(file), file.name == "__init__.py")


def test_only_the_engines_and_the_linear_program_know_a_solver():
    """Nothing else of the search, so that one place sets every engine's limits and settings."""
    knowing = {
        file.stem
        for file in OPTIMIZER + API
        if matching(imports(file), "ortools", "scipy.optimize")
    }
    assert knowing == {"engines", "linear"}
    linear = imports(ROOT / "optimizer" / "linear.py")
    assert not matching(linear, "ortools.sat", "scipy.optimize")


def test_the_rest_of_scipy_is_for_sparse_matrices_only():
    for file in OPTIMIZER + API:
        names = matching(imports(file), "scipy")
        rest = names - matching(names, "scipy.optimize", "scipy.sparse")
        assert not rest, file.name
        if file.stem not in (
            "program",
            "lines",
            "linear",
            "stairs",
            "branch",
            "islands",
            "multipliers",
        ):
            assert not matching(names, "scipy.sparse"), file.name


def test_what_the_search_sees_of_the_rings_is_a_table():
    """Of the parts of the search only `table` knows how rings are rated, none the rings' physics."""
    search = (
        "sift",
        "patterns",
        "program",
        "multipliers",
        "relax",
        "listing",
        "engines",
        "choose",
        "columns",
        "stage",
        "ascent",
        "apart",
        "branch",
        "greedy",
        "linear",
        "lines",
        "stairs",
        "island",
        "islands",
        "second",
    )
    for name in search:
        names = matching(imports(ROOT / "optimizer" / f"{name}.py"), "optimizer")
        shared = matching(
            names, *(f"optimizer.{part}" for part in (*search, "table", "quiet")),
            "optimizer.catalogue.Floats", "optimizer.catalogue.Ints", "optimizer.physics.limits",
            "optimizer.study.Search", "optimizer.study.Wish",
        )  # fmt: skip
        assert names == shared, name


def test_the_judge_shares_nothing_with_the_accused():
    for name in ("judge", "judge_budget", "judge_electronics", "judge_mounting", "judge_whole"):
        names = matching(imports(ROOT / "optimizer" / f"{name}.py"), "optimizer")
        allowed = matching(
            names, "optimizer.study", "optimizer.equipment", "optimizer.answer",
            "optimizer.physics", "optimizer.standards", "optimizer.judge_whole",
            "optimizer.judge_budget", "optimizer.judge_electronics", "optimizer.judge_mounting",
        )  # fmt: skip
        assert names == allowed
        assert not matching(imports(ROOT / "optimizer" / f"{name}.py"), "ortools", "scipy")


@pytest.mark.parametrize("start", ["judge", "compare", "compare_text"])
def test_what_judge_and_comparison_use_does_not_reach_the_search_either(start):
    """Followed through every module they import."""
    known = {name_of(file): imports(file) for file in OPTIMIZER}
    reached, todo = set(), [f"optimizer.{start}"]
    while todo:
        module = todo.pop()
        if module in reached or module not in known:
            continue
        reached.add(module)
        for name in known[module]:
            todo += [name, name.rpartition(".")[0]]
    forbidden = {
        "catalogue",
        "rate",
        "head_checks",
        "mount_checks",
        "shop_data",
        "shop_inspection",
        "shop_mounting",
        "face_screws",
        "electronics",
        "sift",
        "program",
        "choose",
        "multipliers",
        "table",
        "patterns",
        "relax",
        "listing",
        "engines",
        "compose",
        "line",
    }
    assert not {module.rpartition(".")[2] for module in reached - {"optimizer"}} & forbidden


def test_the_api_knows_only_what_the_optimizer_exports():
    tree = ast.parse((ROOT / "optimizer" / "__init__.py").read_text())
    (exported,) = [
        ast.literal_eval(node.value)
        for node in tree.body
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "__all__"
    ]
    allowed = {"optimizer", "optimizer.__version__", *(f"optimizer.{name}" for name in exported)}
    assert API
    for file in API:
        assert matching(imports(file), "optimizer") <= allowed, file.name


@pytest.mark.parametrize("first", ["", "import optimizer.line, optimizer.judge"])
def test_the_exported_functions_can_be_called(first):
    """In a fresh process: importing a module of the same name must not hide the function."""
    program = (
        f"{first}\n"
        "import optimizer\n"
        "from optimizer import judge_answer, load_study, solve\n"
        "assert all(map(callable, (judge_answer, load_study, solve)))\n"
        "assert all(callable(getattr(optimizer, name)) for name in optimizer.__all__)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr


def test_nothing_of_the_optimizer_imports_the_api_or_the_tests():
    for file in OPTIMIZER:
        names = matching(imports(file), "api", "tests")
        if file.name == "serving.py":  # the command that starts the service
            names -= matching(names, "api")
        assert not names, file.name
    for file in API:
        assert not matching(imports(file), "tests"), file.name


@pytest.mark.parametrize("file", OPTIMIZER + API + TESTS, ids=lambda f: str(f.relative_to(ROOT)))
def test_no_file_is_longer_than_400_lines(file):
    assert len(file.read_text().splitlines()) <= 400


def test_the_top_level_of_the_checkout_is_what_it_should_be():
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    top = {path.split("/")[0] for path in listed.stdout.split("\0") if path}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "optimizer", "api", "tests", "scenarios",
    }  # fmt: skip
